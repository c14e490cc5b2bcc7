"""Which bits of a netlist a synthesiser keeps: the values that a node can take, and the bits of it that anybody needs.

A tool drops what cannot change and what nobody reads, so an estimate that counted declared widths would be far too high.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from ..netlist import Netlist, Node

Range = tuple[int, int]


class Bits(NamedTuple):
    """Bits ``low`` to ``high - 1`` of a node; none if ``high <= low``."""

    low: int
    high: int

    @property
    def many(self) -> int:
        """How many bits."""
        return self.high - self.low if self.high > self.low else 0


NONE = Bits(0, 0)


def widths(netlist: Netlist) -> list[int]:
    """For each node the bits that its values need: higher ones are copies of the sign, or 0."""
    found: list[Range] = []
    for node in netlist.nodes:
        args = [found[a] for a in node.args]
        low, high = RANGES[node.op](node, args) if node.op in RANGES else (node.type.low, node.type.high)
        found.append(
            (low, high) if node.type.low <= low and high <= node.type.high else (node.type.low, node.type.high)
        )
    return [min(_bits_for(*r), node.type.width) for r, node in zip(found, netlist.nodes, strict=True)]


def _bits_for(low: int, high: int) -> int:
    if low < 0:
        return max((-low - 1).bit_length(), max(high, 0).bit_length()) + 1
    return max(high.bit_length(), 1)


def _products(a: Range, b: Range) -> Range:
    corners = [x * y for x in a for y in b]
    return min(corners), max(corners)


def _bitwise_or(node: Node, args: list[Range]) -> Range:
    if any(low < 0 for low, _ in args):
        return node.type.low, node.type.high
    return 0, (1 << max(high.bit_length() for _, high in args)) - 1


def _bitwise_and(node: Node, args: list[Range]) -> Range:
    positive = [high for low, high in args if low >= 0]
    return (0, min(positive)) if positive else (node.type.low, node.type.high)


def _shifted_right(node: Node, args: list[Range]) -> Range:
    (low, high), (least, most) = args
    return min(low >> least, low >> min(most, 4096)), max(high >> least, high >> min(most, 4096))


RANGES: dict[str, Callable[[Node, list[Range]], Range]] = {
    "const": lambda n, a: (n.attr, n.attr),
    "add": lambda n, a: (a[0][0] + a[1][0], a[0][1] + a[1][1]),
    "sub": lambda n, a: (a[0][0] - a[1][1], a[0][1] - a[1][0]),
    "neg": lambda n, a: (-a[0][1], -a[0][0]),
    "mul": lambda n, a: _products(*a),
    "mux": lambda n, a: (min(a[1][0], a[2][0]), max(a[1][1], a[2][1])),
    "wrap": lambda n, a: a[0],
    "or": _bitwise_or,
    "xor": _bitwise_or,
    "and": _bitwise_and,
    "shr": _shifted_right,
}


def needed(netlist: Netlist) -> list[Bits]:
    """For each node the bits that an output of the design depends on."""
    net, nodes = netlist, netlist.nodes
    want = [NONE] * len(nodes)
    full = [Bits(0, n.type.width) for n in nodes]
    regs = [NONE] * len(net.regs)
    timers, reads, mems = set[int](), set[int](), set[int]()
    todo: list[tuple[int, Bits]] = [(o.node, full[o.node]) for o in net.outputs]
    while todo:
        index, bits = todo.pop()
        new = _joined(want[index], _cut(bits, nodes[index].type.width))
        if new == want[index]:
            continue
        want[index] = new
        node = nodes[index]
        if node.op == "reg":
            regs[node.attr] = new
            todo.append((net.regs[node.attr].next, new))
        elif node.op == "expired" and node.attr not in timers:
            timers.add(node.attr)
            todo += [(i, full[i]) for i in (net.timers[node.attr].load, net.timers[node.attr].value)]
        elif node.op == "rdata":
            todo += _memory(net, node.attr, reads, mems, full)
        todo += [(a, b) for a, b in zip(node.args, _passed(net, node, new), strict=True)]
    return want


def _memory(net: Netlist, port: int, reads: set[int], mems: set[int], full: list[Bits]) -> list[tuple[int, Bits]]:
    """What a read port needs, the first time it is asked."""
    if port in reads:
        return []
    reads.add(port)
    read = net.reads[port]
    found = [read.addr, read.enable]
    if read.mem not in mems:
        mems.add(read.mem)
        found += [n for w in net.writes if w.mem == read.mem for n in (w.addr, w.data, w.enable)]
    return [(n, full[n]) for n in found]


def _passed(net: Netlist, node: Node, bits: Bits) -> list[Bits]:
    """Bits of each argument that the given bits of a node need."""
    below = Bits(0, bits.high)
    types = [net.nodes[a].type for a in node.args]
    if node.op in ("add", "sub", "mul", "neg"):
        return [below] * len(node.args)
    if node.op in ("and", "or", "xor", "not", "wrap"):
        return [bits] * len(node.args)
    if node.op == "mux":
        return [Bits(0, 1), bits, bits]
    if node.op == "bits":
        return [Bits(bits.low + node.attr, bits.high + node.attr)]
    if node.op == "cat":
        found, low = [], sum(t.width for t in types)
        for kind in types:
            low -= kind.width
            found.append(Bits(max(bits.low - low, 0), bits.high - low))
        return found
    return [Bits(0, kind.width) for kind in types]


def _cut(bits: Bits, width: int) -> Bits:
    """Bits that exist; a bit above the width is a copy of the highest."""
    if bits.high <= bits.low:
        return NONE
    low = min(max(bits.low, 0), width - 1)
    return Bits(low, max(min(bits.high, width), low + 1))


def _joined(a: Bits, b: Bits) -> Bits:
    if a.many == 0:
        return b
    return a if b.many == 0 else Bits(min(a.low, b.low), max(a.high, b.high))
