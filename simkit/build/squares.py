"""Squares of words that are wider than a multiplier.

The tool cuts both factors in two and multiplies each part with each: four multipliers.  In a square the two mixed products are one:
(h 2^k + l)² = h² 2^2k + h l 2^(k+1) + l².  So three do, and one adder instead of three, because h² and l² lie side by side
(measured: the RMS of 24-bit samples takes 3 multipliers instead of 4).
"""

from __future__ import annotations

from ..netlist import Netlist, Node, make
from .rewrite import add, rewritten

FACTOR = 18
"""Bits of a multiplier's factor."""


def squares_in_three(netlist: Netlist) -> Netlist:
    """The same values, with the square of every word of 19 to 34 bits as the sum of three products."""
    if not any(_is_wide_square(netlist.nodes, node) for node in netlist.nodes):
        return netlist
    return rewritten(
        netlist, lambda nodes, node: _square(nodes, node) if _is_wide_square(nodes, node) else add(nodes, node)
    )


def _is_wide_square(nodes: list[Node], node: Node) -> bool:
    if node.op != "mul" or node.args[0] != node.args[1]:
        return False
    width = nodes[node.args[0]].type.width
    return FACTOR < width <= 2 * (FACTOR - 1) and node.type.width >= 2 * width - 1  # a product cut short takes fewer


def _square(nodes: list[Node], node: Node) -> int:
    """Add the nodes of a square; the last one's index."""
    word, loc = node.args[0], node.loc
    kind = nodes[word].type
    sign, width = "signed" if kind.signed else "unsigned", kind.width
    cut = FACTOR - kind.signed  # the low part has no sign, and a multiplier's factors are both signed or both not
    rest = width - cut

    def new(op: str, args: tuple[int, ...], sign: str, width: int, attr: int = 0) -> int:
        return add(nodes, Node(op, args, make(sign, width), attr, loc))

    def signed(index: int) -> int:
        return new("wrap", (index,), "signed", nodes[index].type.width) if kind.signed else index

    low = new("bits", (word,), "unsigned", cut)
    high = signed(new("bits", (word,), "unsigned", rest, cut))
    low_square = new("mul", (low, low), "unsigned", 2 * cut)
    high_square = new("mul", (high, high), "unsigned", 2 * rest)
    mixed = new("mul", (high, low), sign, width)
    shift = cut + 1
    side_by_side = new(
        "cat",
        (high_square, new("bits", (low_square,), "unsigned", 2 * cut - shift, shift)),
        "unsigned",
        2 * width - shift,
    )
    total = new("add", (side_by_side, mixed), "unsigned", 2 * width - shift)
    whole = new("cat", (total, new("bits", (low_square,), "unsigned", shift)), "unsigned", 2 * width)
    return add(nodes, Node("wrap", (whole,), node.type, 0, loc, node.name))
