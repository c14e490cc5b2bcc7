"""Chains of choices by one selector as trees, the way a synthesiser builds them.

``if s == 0 … elif s == 1 …`` is a chain of multiplexers; its last choice would have to pass through all of them.  Since the
conditions exclude each other, the tool chooses by the bits of the selector instead.
"""

from __future__ import annotations

from collections.abc import Callable

from ..netlist import BIT, Netlist, Node
from ..netlist.passes import _renumber, moved

SHORTEST = 4
"""Chains of fewer choices stay as they are."""
WIDEST = 8
"""Selectors of more bits stay as they are."""


def balanced(netlist: Netlist) -> Netlist:
    """The same values, with every long chain of choices by one selector as a tree over the selector's bits."""
    old = netlist.nodes
    chains = {index: chain for index in range(len(old)) if (chain := _chain(old, index)) is not None}
    if not chains:
        return netlist
    nodes: list[Node] = []
    place: list[int] = []
    known: dict[Node, int] = {}

    def add(node: Node) -> int:
        if node not in known:
            known[node] = len(nodes)
            nodes.append(node)
        return known[node]

    for index, node in enumerate(old):
        if index not in chains:
            place.append(add(moved(node, place)))
        else:
            selector, words, rest = chains[index]
            place.append(_tree(add, nodes, place[selector], {k: place[n] for k, n in words.items()}, place[rest], node))
    return _renumber(netlist, nodes, place)


def _chain(nodes: list[Node], index: int) -> tuple[int, dict[int, int], int] | None:
    """Selector, word for each of its values, and the word for all others, if a node begins a chain."""
    if nodes[index].op != "mux":
        return None
    words: dict[int, int] = {}
    selector = -1
    at = index
    while nodes[at].op == "mux":
        condition, yes, no = nodes[at].args
        test = nodes[condition]
        if test.op != "eq" or nodes[test.args[1]].op != "const" or selector not in (-1, test.args[0]):
            break
        selector = test.args[0]
        words.setdefault(nodes[test.args[1]].attr, yes)
        at = no
    if len(words) < SHORTEST or nodes[selector].type.width > WIDEST or nodes[selector].type.signed:
        return None
    return selector, words, at


def _tree(
    add: Callable[[Node], int], nodes: list[Node], selector: int, words: dict[int, int], rest: int, top: Node
) -> int:
    """A tree of two-way choices, the selector's highest bit at the root."""

    def part(bit: int, first: int) -> int:
        if bit < 0:
            return words.get(first, rest)
        low, high = part(bit - 1, first), part(bit - 1, first + (1 << bit))
        if low == high:
            return low
        width = nodes[selector].type.width
        choice = selector if width == 1 else add(Node("bits", (selector,), BIT, bit, top.loc))
        return add(Node("mux", (choice, high, low), top.type, 0, top.loc))

    return part(nodes[selector].type.width - 1, 0)
