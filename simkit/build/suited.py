"""The same circuit in the form that synthesis makes the least logic of.

yosys finds a signed comparison's result from the last two carries and the signs, and that of ``<=`` from the carry and a test
for zero.  Where such a bit selects a word, its mapper then spends up to seven tables on each bit of the word instead of one
(measured: limiting a 24-bit signed value takes 267 tables, 50 in the form made here).  An unsigned ``<`` is the carry alone.

A chain of choices by one selector becomes a tree over the selector's bits (:mod:`.balance`; measured: a register file of eight
words of 16 bits takes 169 tables as a chain and 123 as a tree, and is 6 % faster).  The square of a wide word is made of three products
(:mod:`.squares`).  A sum of many wide numbers becomes a tree of additions (:mod:`.sums`).
"""

from __future__ import annotations

from ..netlist import BIT, Netlist, Node, make
from ..netlist.ops import common_type
from ..netlist.passes import share
from .balance import balanced
from .rewrite import add, rewritten
from .squares import squares_in_three
from .sums import sums_as_trees


def suited(netlist: Netlist) -> Netlist:
    """Every ``le`` as the opposite of an ``lt``, ``ne`` of ``eq``; every signed ``lt`` as an unsigned one with the sign bits turned over.

    Same values, same places.
    """
    return sums_as_trees(squares_in_three(balanced(share(rewritten(netlist, _compared)))))


def _compared(nodes: list[Node], node: Node) -> int:
    if node.op == "ne":
        equal = add(nodes, Node("eq", node.args, BIT, 0, node.loc))
        return add(nodes, Node("not", (equal,), node.type, 0, node.loc, node.name))
    if node.op not in ("lt", "le"):
        return add(nodes, node)
    a, b = node.args if node.op == "lt" else node.args[::-1]
    kind = common_type([nodes[a].type, nodes[b].type])
    if kind.signed:
        a, b = (_turned(nodes, i, kind.width, node) for i in (a, b))
    if node.op == "lt":
        return add(nodes, node._replace(args=(a, b)))
    less = add(nodes, Node("lt", (a, b), BIT, 0, node.loc))
    return add(nodes, Node("not", (less,), node.type, 0, node.loc, node.name))


def _turned(nodes: list[Node], index: int, width: int, origin: Node) -> int:
    """The argument as an unsigned word whose order is that of the signed one: the sign bit turned over."""
    kind = make("unsigned", width)
    sign = 1 << (width - 1)
    if nodes[index].op == "const":
        return add(nodes, Node("const", (), kind, (nodes[index].attr + sign) & (2 * sign - 1), origin.loc))
    if nodes[index].type.width < width:
        index = add(nodes, Node("wrap", (index,), make("signed", width), 0, origin.loc))
    word = add(nodes, Node("wrap", (index,), kind, 0, origin.loc))
    turn = add(nodes, Node("const", (), kind, sign, origin.loc))
    return add(nodes, Node("xor", (word, turn), kind, 0, origin.loc))
