"""What the tool finds to be constant: registers that nothing ever changes, and arithmetic on a choice of two constants."""

from __future__ import annotations

import dataclasses

from ..netlist import Netlist, Node
from ..netlist.ops import evaluate
from ..netlist.passes import fold
from .rewrite import add, rewritten

MOVED = ("add", "sub", "neg", "mul", "eq", "ne", "lt", "le", "not", "wrap", "bits")
"""Operators that are done on both constants instead of on the choice between them."""


def folded(netlist: Netlist) -> Netlist:
    """The same values from the start on, without registers that only hold what they start with."""
    while True:
        still = {
            index: netlist.regs[node.attr].reset
            for index, node in enumerate(netlist.nodes)
            if node.op == "reg" and not netlist.regs[node.attr].cross and _holds(netlist, index)
        }
        if not still:
            return netlist
        nodes = [
            Node("const", (), node.type, still[index], node.loc) if index in still else node
            for index, node in enumerate(netlist.nodes)
        ]
        netlist = fold(dataclasses.replace(netlist, nodes=nodes))


def chosen_late(netlist: Netlist) -> Netlist:
    """The same values, with ``(a if c else b) + 1`` as ``a + 1 if c else b + 1`` where a and b are constants."""
    return fold(rewritten(netlist, _chosen_late))


def _chosen_late(nodes: list[Node], node: Node) -> int:
    open_args = [a for a in node.args if nodes[a].op != "const"]
    source = nodes[open_args[0]] if len(open_args) == 1 else node
    if node.op not in MOVED or source.op != "mux" or any(nodes[a].op != "const" for a in source.args[1:]):
        return add(nodes, node)
    condition, *legs = source.args
    made = [
        add(nodes, _evaluated(node, [nodes[leg] if a == open_args[0] else nodes[a] for a in node.args])) for leg in legs
    ]
    return add(nodes, node._replace(op="mux", args=(condition, *made), attr=0))


def _evaluated(node: Node, args: list[Node]) -> Node:
    raw = evaluate(node, [a.attr for a in args], [a.type for a in args])
    return Node("const", (), node.type, raw, node.loc)


def _holds(netlist: Netlist, index: int) -> bool:
    """True if the register takes only itself, or its start value again."""
    reg = netlist.regs[netlist.nodes[index].attr]
    todo, seen = [reg.next], set[int]()
    while todo:
        at = todo.pop()
        node = netlist.nodes[at]
        if at in seen or at == index or (node.op == "const" and node.attr == reg.reset):
            continue
        seen.add(at)
        if node.op != "mux":
            return False
        todo += node.args[1:]
    return True
