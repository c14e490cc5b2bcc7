"""Netlist nodes as IR: one node after another, with the operator table's emitters."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ...netlist import OPS, Netlist, Node, Type
from ...netlist.ops import common_type
from .irtext import Builder, Value, integer

DIVISIONS = ("div", "rem", "mod")


def needed(netlist: Netlist, roots: Sequence[int]) -> list[int]:
    """Operator nodes that the roots need, in the netlist's order (so that no recursion is needed)."""
    seen: set[int] = set()
    todo = list(roots)
    while todo:
        index = todo.pop()
        if index not in seen:
            seen.add(index)
            todo += netlist.nodes[index].args
    return sorted(i for i in seen if netlist.nodes[i].args)


def weight(node: Node) -> int:
    """About how many machine instructions a node makes."""
    parts = -(-node.type.width // 64)
    return {"mul": parts * parts, "shl": 4 * parts, "shr": 4 * parts}.get(node.op, parts) if parts > 1 else 1


class Expressions:
    """Emits nodes, each once.

    Parameters
    ----------
    b : where the instructions go
    leaf : gives the value of a ``reg``, ``input``, ``rdata`` or ``expired`` node
    fetch : gives the value of an operator node that was computed elsewhere
    """

    def __init__(
        self, netlist: Netlist, b: Builder, leaf: Callable[[Node], Value], fetch: Callable[[int], Value] | None = None
    ) -> None:
        self.nodes = netlist.nodes
        self.b = b
        self.leaf = leaf
        self.fetch = fetch
        self.known: dict[int, Value] = {}

    def emit(self, order: Sequence[int]) -> None:
        """Compute these nodes; what they need stands before them or is fetched."""
        for index in order:
            self.known[index] = self._emit(self.nodes[index])

    def value(self, index: int) -> Value:
        """The IR value of a node; a leaf is emitted where it is first used."""
        if index not in self.known:
            node = self.nodes[index]
            self.known[index] = self.fetch(index) if node.args and self.fetch else self._emit(node)
        return self.known[index]

    def _emit(self, node: Node) -> Value:
        if node.op == "const":
            return integer(node.type.width)(node.attr)
        if not node.args:
            return self.leaf(node)
        row = OPS[node.op]
        types = [self.nodes[a].type for a in node.args]
        args = [self.value(a) for a in node.args]
        if row.prepare == "result":
            width = node.type.width
            first = 1 if node.op == "mux" else 0
            args[first:] = [self.b.resize(a, width, t.signed) for a, t in zip(args[first:], types[first:], strict=True)]
            return row.llvm(self.b, args, node.type, node, types)
        common = _division_type(types) if node.op in DIVISIONS else common_type(types)
        if row.prepare == "common":
            args = [self.b.resize(a, common.width, t.signed) for a, t in zip(args, types, strict=True)]
        result = row.llvm(self.b, args, common, node, types)
        signed = types[0].signed if node.op == "shr" else common.signed
        return self.b.resize(result, node.type.width, signed)


def _division_type(types: Sequence[Type]) -> Type:
    """One spare bit, because the smallest signed value divided by -1 does not fit its own type."""
    return common_type(types, spare=1 if any(t.signed for t in types) else 0)
