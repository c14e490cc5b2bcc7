"""Words made of exclusive-or alone, such as checksums and feedback shift registers, bit by bit.

``c << 1 ^ 0x1021 if bit 15 of c else c << 1``, done eight times, is for every bit of the result the exclusive-or of some bits of
what it began with.  The tool finds that; counting each step's tables would give several times too many.
"""

from __future__ import annotations

from typing import NamedTuple

from ..netlist import BIT, Netlist, Node, make
from ..netlist.passes import _renumber, moved
from .rewrite import taken

STEPS = 3
"""Words fewer steps deep stay as they are: tables take in so much by themselves."""
MOST_BITS = 64
"""Wider words stay as they are."""

Bit = tuple[frozenset[tuple[int, int]], int]
"""An exclusive-or: the bits in it (node, place) and a constant."""


class Word(NamedTuple):
    """A word as exclusive-ors, the lowest bit first, and how many steps it is deep."""

    bits: tuple[Bit, ...]
    steps: int


NOTHING: Bit = (frozenset(), 0)
JOINING = {"xor", "eq", "ne", "mux"}
"""Operators whose words may be exclusive-ors of the bits of their arguments."""
MOVING = {"const", "not", "wrap", "bits", "cat", "shl", "shr"}
"""Operators whose words may be bits of their arguments, moved."""


def flattened(netlist: Netlist) -> Netlist:
    """The same values, with every deep word of exclusive-ors as one parity for each of its bits.

    A parity takes as many one-bit arguments as it has bits, which only the estimate understands; so the result is for it alone.
    """
    old = netlist.nodes
    if not _may_be_deep(old):
        return netlist
    words = Words(old)
    if not any(words.steps(i) >= STEPS for i in range(len(old))):
        return netlist
    inner = {a for i, node in enumerate(old) if words.steps(i) for a in node.args}
    outer = {a for i, node in enumerate(old) if not words.steps(i) for a in node.args} | set(taken(netlist))
    nodes: list[Node] = []
    place: list[int] = []
    known: dict[Node, int] = {}

    def add(node: Node) -> int:
        if node not in known:
            known[node] = len(nodes)
            nodes.append(node)
        return known[node]

    def parity(bit: Bit, origin: Node) -> int:
        found = [
            add(Node("bits", (place[i],), BIT, b, origin.loc)) if old[i].type.width > 1 else place[i]
            for i, b in sorted(bit[0])
        ]
        if len(found) <= 1:
            return found[0] if found else add(Node("const", (), BIT, bit[1], origin.loc))
        return add(Node("parity", tuple(found), BIT, 0, origin.loc))

    for index, node in enumerate(old):
        last = index in outer or index not in inner
        if words.steps(index) >= STEPS and last and node.op in ("xor", "mux") and _pays(old, words, index):
            parts = tuple(parity(bit, node) for bit in reversed(words[index].bits))
            place.append(
                parts[0] if len(parts) == 1 else add(Node("cat", parts, make("unsigned", len(parts)), 0, node.loc))
            )
        else:
            place.append(add(moved(node, place)))
    return _renumber(netlist, nodes, place)


def _may_be_deep(nodes: list[Node]) -> bool:
    """False if no word can be :data:`STEPS` deep: quick, and true of most designs."""
    depth = [-1] * len(nodes)  # an upper bound; -1: no exclusive-or on the way to it
    for index, node in enumerate(nodes):
        words = node.op in ("eq", "ne") and nodes[node.args[0]].type.width > 1
        if (node.op in JOINING or node.op in MOVING) and not words:
            below = max([depth[a] for a in node.args], default=-1)
            if node.op == "xor":
                below = max(below, 0)
            depth[index] = below + (below >= 0 and node.op in JOINING)
    return max(depth, default=-1) >= STEPS


def _pays(nodes: list[Node], words: Words, index: int) -> bool:
    """True if a parity for each bit takes less than the steps do, two of which fit a table."""
    steps, todo, seen = 0, [index], set[int]()
    while todo:
        at = todo.pop()
        if at not in seen and words.steps(at):
            seen.add(at)
            steps += nodes[at].type.width * (nodes[at].op in ("xor", "mux"))
            todo += nodes[at].args
    return sum(max(len(bits) - 1, 0) / 3 for bits, _ in set(words[index].bits)) < steps / 2


class Words:
    """Each node's word by its index; what only moves bits that no exclusive-or has joined is looked at when it is asked for."""

    def __init__(self, nodes: list[Node]) -> None:
        self._nodes = nodes
        self._found: list[Word | None] = [None] * len(nodes)
        for index, node in enumerate(nodes):
            if node.op in JOINING or node.op in MOVING and any(self.steps(a) for a in node.args):
                self._found[index] = self._word(index)

    def __getitem__(self, index: int) -> Word:
        found = self._found[index]
        if found is None:
            found = self._found[index] = self._word(index)
        return found

    def steps(self, index: int) -> int:
        """How deep a word is; 0 for a node that stands for itself, and for one that only moves bits."""
        found = self._found[index]
        return 0 if found is None else found.steps

    def _word(self, index: int) -> Word:
        """A node's bits as exclusive-ors; a node of another kind stands for itself."""
        node = self._nodes[index]
        width = node.type.width
        if width > MOST_BITS:
            return Word((), 0)
        if node.op in JOINING or node.op in MOVING:
            found = self._joined(node)
            if found is not None and len(found.bits) == width and max(len(b[0]) for b in found.bits) <= MOST_BITS:
                return found
        return Word(tuple([(frozenset({(index, i)}), 0) for i in range(width)]), 0)

    def _joined(self, node: Node) -> Word | None:
        """The word if it is made by exclusive-or or by moving bits; else None."""
        nodes, width = self._nodes, node.type.width
        if node.op == "const":
            return Word(tuple([(frozenset(), node.attr >> i & 1) for i in range(width)]), 0)
        if node.op == "mux" and not any(nodes[leg].op in JOINING or nodes[leg].op in MOVING for leg in node.args[1:]):
            return None  # two words that have nothing in common
        args = [self[a] for a in node.args]
        if any(not word.bits for word in args):
            return None
        first = args[0]
        if node.op == "xor":
            a, b = (_fit(word.bits, width, nodes[i]) for word, i in zip(args, node.args, strict=True))
            real = all(any(bits for bits, _ in word) for word in (a, b))  # a constant only turns bits over
            return Word(tuple(map(_xor, a, b)), max(word.steps for word in args) + real)
        if node.op == "not":
            return Word(tuple((bits, 1 - constant) for bits, constant in first.bits), first.steps)
        if node.op == "wrap":
            return Word(_fit(first.bits, width, nodes[node.args[0]]), first.steps)
        if node.op == "bits":
            return Word(first.bits[node.attr : node.attr + width], first.steps)
        if node.op == "cat":
            return Word(tuple(bit for word in reversed(args) for bit in word.bits), max(word.steps for word in args))
        if node.op in ("shl", "shr") and nodes[node.args[1]].op == "const" and not node.type.signed:
            by = nodes[node.args[1]].attr
            moved = (NOTHING,) * by + first.bits if node.op == "shl" else first.bits[by:] + (NOTHING,) * by
            return Word(moved[:width], first.steps)
        if node.op in ("eq", "ne") and all(nodes[i].type.width == 1 for i in node.args):
            different = _xor(args[0].bits[0], args[1].bits[0])
            real = all(bits for word in args for bits, _ in word.bits)
            return Word(
                (_xor(different, (frozenset(), int(node.op == "eq"))),), max(word.steps for word in args) + real
            )
        return _chosen(args) if node.op == "mux" else None


def _chosen(args: list[Word]) -> Word | None:
    """A choice between two words that differ by a constant: the condition is exclusive-or'ed into the bits where they differ."""
    condition, yes, no = args
    if any(a[0] != b[0] for a, b in zip(yes.bits, no.bits, strict=False)) or len(condition.bits) != 1:
        return None
    if all(not bits for bits, _ in yes.bits):  # two constants: an ordinary choice
        return None
    bits = tuple(_xor(b, condition.bits[0]) if a[1] != b[1] else b for a, b in zip(yes.bits, no.bits, strict=True))
    return Word(bits, max(word.steps for word in args) + 1)


def _fit(bits: tuple[Bit, ...], width: int, node: Node) -> tuple[Bit, ...]:
    """Cut to a width, or extended to it."""
    more = bits[-1] if node.type.signed else NOTHING
    return bits[:width] + (more,) * (width - len(bits))


def _xor(a: Bit, b: Bit) -> Bit:
    return a[0] ^ b[0], a[1] ^ b[1]
