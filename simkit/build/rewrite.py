"""Rewriting a netlist node by node."""

from __future__ import annotations

from collections.abc import Callable

from ..netlist import Netlist, Node
from ..netlist.passes import _renumber, moved

Step = Callable[[list[Node], Node], int]
"""Gets the nodes made so far and a node whose arguments are among them; gives the index of what stands for it, which it may add."""


def add(nodes: list[Node], node: Node) -> int:
    """Append a node; its index."""
    nodes.append(node)
    return len(nodes) - 1


def rewritten(netlist: Netlist, step: Step) -> Netlist:
    """The netlist with each node, in order, replaced by what ``step`` makes of it."""
    nodes: list[Node] = []
    place: list[int] = []
    for node in netlist.nodes:
        place.append(step(nodes, moved(node, place)))
    return _renumber(netlist, nodes, place)


def taken(netlist: Netlist) -> list[int]:
    """Nodes that registers, timers, memories and outputs take, as often as they do."""
    found = [reg.next for reg in netlist.regs] + [port.node for port in netlist.outputs]
    found += [i for timer in netlist.timers for i in (timer.load, timer.value)]
    found += [i for read in netlist.reads for i in (read.enable, read.addr)]
    return found + [i for write in netlist.writes for i in (write.enable, write.addr, write.data)]
