"""Netlist nodes as Verilog expressions, by the ``verilog`` column of the operator table.

Verilog extends an operand by its own sign to the width of the whole expression, provided that *all* operands
are signed or none is.  So where signed meets unsigned, the unsigned operand gets a zero in front and becomes signed;
the rest is left to the language, and what comes out reads like what a person would write.
"""

from __future__ import annotations

from ..netlist import OPS, Netlist, Node, Type
from .identifiers import Identifiers

SIGN_MATTERS = ("result", "common")
LOGIC = {"and": "{0} && {1}", "or": "{0} || {1}", "not": "!{0}"}
"""For single bits these equal the bitwise operators, and stay one bit wide wherever they are put."""
INLINED = ("and", "or", "not", "eq", "ne", "lt", "le")


def literal(raw: int, kind: Type) -> str:
    """A sized constant."""
    if kind.width == 1 and not kind.signed:
        return f"1'b{raw}"
    sign = "s" if kind.signed else ""
    if kind.width > 64 or raw == kind.low < 0:
        return f"{kind.width}'{sign}h{raw & ((1 << kind.width) - 1):x}"
    return f"(-{kind.width}'{sign}d{-raw})" if raw < 0 else f"{kind.width}'{sign}d{raw}"


def declared(kind: Type) -> str:
    """``signed [7:0] `` and the like, to be put before a name."""
    size = f"[{kind.width - 1}:0] " if kind.width > 1 else ""
    return ("signed " if kind.signed else "") + size


class Wires:
    """Decides which nodes get a wire of their own, and writes every node."""

    def __init__(self, netlist: Netlist, names: Identifiers) -> None:
        self.net, self.names = netlist, names
        self.live = _live(netlist)
        uses = [0] * len(netlist.nodes)
        sliced = set()
        for index in self.live:
            node = netlist.nodes[index]
            for a in node.args:
                uses[a] += 1
            if node.op == "bits":
                sliced.add(node.args[0])
        self.wired: list[int] = []
        for index in self.live:
            node = netlist.nodes[index]
            plain_leaf = not node.args and node.op != "expired" and not (node.op == "const" and index in sliced)
            once = uses[index] <= 1 and node.op in INLINED and self._single_bits(node) and not node.name
            if not plain_leaf and (not once or index in sliced):
                self.wired.append(index)
        for index in self.wired:
            node = netlist.nodes[index]
            names.add("node", index, node.name or f"{node.op}_{index}", node.loc)

    def _single_bits(self, node: Node) -> bool:
        if node.op in LOGIC:
            return all(_is_bit(self.net.nodes[a].type) for a in (*node.args,)) and _is_bit(node.type)
        return _is_bit(node.type)

    def operand(self, index: int) -> str:
        """A node as something to compute with: a name, a constant, or a one-bit expression in parentheses."""
        name = self.names.of.get(("node", index))
        if name is not None:
            return name
        node = self.net.nodes[index]
        if not node.args:
            return self._leaf(node)
        return f"({self.expression(index)})"

    def expression(self, index: int) -> str:
        """The right-hand side of a node's own wire."""
        node = self.net.nodes[index]
        if not node.args:
            return self._leaf(node)
        types = [self.net.nodes[a].type for a in node.args]
        args = [self.operand(a) for a in node.args]
        if node.op in LOGIC and self._single_bits(node):
            return LOGIC[node.op].format(*args)
        if node.op == "bits" and types[0].width == 1:
            return args[0]
        row = OPS[node.op]
        if row.prepare in SIGN_MATTERS:
            args = _same_sign(args, types, skip=1 if node.op == "mux" else 0)
        if callable(row.verilog):
            return row.verilog(args, node.type, node, types)
        return row.verilog.format(*args, attr=node.attr, high=node.attr + node.type.width - 1)

    def _leaf(self, node: Node) -> str:
        if node.op == "const":
            return literal(node.attr, node.type)
        if node.op == "expired":
            return f"{self.names.of['timer', node.attr]} == 0"
        return self.names.of[{"rdata": "read"}.get(node.op, node.op), node.attr]


def _is_bit(kind: Type) -> bool:
    return kind.width == 1 and not kind.signed


def _same_sign(args: list[str], types: list[Type], skip: int) -> list[str]:
    data = types[skip:]
    if all(t.signed for t in data) or not any(t.signed for t in data):
        return args
    return args[:skip] + [a if t.signed else f"$signed({{1'b0, {a}}})" for a, t in zip(args[skip:], data, strict=True)]


def _live(net: Netlist) -> list[int]:
    """Nodes that something needs, in order."""
    todo = [o.node for o in net.outputs] + [r.next for r in net.regs]
    todo += [n for t in net.timers for n in (t.load, t.value)] + [n for r in net.reads for n in (r.addr, r.enable)]
    todo += [n for w in net.writes for n in (w.addr, w.data, w.enable)]
    live: set[int] = set()
    while todo:
        index = todo.pop()
        if index not in live:
            live.add(index)
            todo += net.nodes[index].args
    return sorted(live)
