"""Netlist nodes as Verilog expressions, by the ``verilog`` column of the operator table.

Verilog extends an operand by its own sign to the width of the whole expression, provided that *all* operands
are signed or none is.  So where signed meets unsigned, the unsigned operand gets a zero in front and becomes signed;
the rest is left to the language, and what comes out reads like what a person would write.
"""

from __future__ import annotations

from ..netlist import OPS, Netlist, Node, Type, make
from ..netlist.check import same_bits
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
        roots = _roots(netlist)
        live = _live(netlist, roots)
        self.uses = [0] * len(netlist.nodes)
        for index in (*roots, *(a for i in live for a in netlist.nodes[i].args)):
            self.uses[index] += 1
        sliced = {netlist.nodes[i].args[0] for i in live if netlist.nodes[i].op == "bits"}
        self.choices = {i: chain for i in range(len(netlist.regs)) if (chain := self._choices(i))}
        in_chain = {link for chain in self.choices.values() for link, _, _ in chain}
        self.wired = [
            i
            for i in live
            if i not in in_chain and (i in sliced or not self._inlined(i)) and not self._plain_leaf(i, sliced)
        ]
        for index in self.wired:
            node = netlist.nodes[index]
            names.add("node", index, node.name or f"{node.op}_{index}", node.loc)

    def _plain_leaf(self, index: int, sliced: set[int]) -> bool:
        op = self.net.nodes[index].op
        return op in ("reg", "input", "rdata") or (op == "const" and index not in sliced)

    def _inlined(self, index: int) -> bool:
        node = self.net.nodes[index]
        return self.uses[index] <= 1 and node.op in INLINED and self._single_bits(node) and not node.name

    def _choices(self, index: int) -> list[tuple[int, int, int]]:
        """(mux, condition, value) of each branch where a register takes a value under conditions and else holds; or []."""
        reg, nodes = self.net.regs[index], self.net.nodes
        chain, place = [], reg.next
        while (
            not reg.cross
            and nodes[place].op == "mux"
            and self.uses[place] == 1
            and same_bits(nodes[place].type, reg.type)
        ):
            condition, yes, other = nodes[place].args
            chain.append((place, condition, yes))
            place = other
        holds = nodes[place].op == "reg" and nodes[place].attr == index
        return chain if holds else []

    def _single_bits(self, node: Node) -> bool:
        if node.op in LOGIC:
            return all(_is_bit(self.net.nodes[a].type) for a in node.args) and _is_bit(node.type)
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
            first = 1 if node.op == "mux" else 0
            args[first:] = _same_sign(args[first:], [self.net.nodes[a] for a in node.args[first:]])
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


def _same_sign(args: list[str], nodes: list[Node]) -> list[str]:
    """The arguments, made signed where one of them is."""
    if not any(n.type.signed for n in nodes):
        return args
    return [a if n.type.signed else _made_signed(a, n) for a, n in zip(args, nodes, strict=True)]


def _made_signed(text: str, node: Node) -> str:
    if node.op == "const" and "'" in text:
        return literal(node.attr, make("signed", node.type.width + 1))
    return f"$signed({{1'b0, {text}}})"


def _roots(net: Netlist) -> list[int]:
    """Nodes that ports and state take."""
    roots = [o.node for o in net.outputs] + [r.next for r in net.regs]
    roots += [n for t in net.timers for n in (t.load, t.value)] + [n for r in net.reads for n in (r.addr, r.enable)]
    return roots + [n for w in net.writes for n in (w.addr, w.data, w.enable)]


def _live(net: Netlist, roots: list[int]) -> list[int]:
    """Nodes that something needs, in order."""
    todo, live = list(roots), set()
    while todo:
        index = todo.pop()
        if index not in live:
            live.add(index)
            todo += net.nodes[index].args
    return sorted(live)
