"""From expressions to look-up tables, roughly as a synthesiser does it, but a whole word at a time.

Bitwise operators act on every bit alike, so one *slice* of a word is covered with look-up tables and counted once for each bit.
For each slice a few *cuts* are kept: sets of signals from which one table could compute it (Cong & Ding, "FlowMap", IEEE Trans.
CAD 13(1), 1994, for cuts; area flow as in Manohararajah et al., IEEE Trans. CAD 25(11), 2006; both from memory).  Adders and
comparisons take carry chains, which nothing merges into.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from ..netlist import Netlist, Node
from .balance import balanced
from .linear import flattened
from .ranges import Bits, needed, widths
from .still import chosen_late, folded
from .sums import Gatherer

TABLE_COST = (0, 1, 1, 1, 1)
"""Tables for a function of so many inputs."""
TABLE_NS = (0.0, 0.24, 0.24, 0.24, 0.24)
WIRE_NS = 0.3
"""Delays that decide which tables are chosen; the mapper of the real tool assumes about the same before anything is placed."""
MOST_INPUTS = len(TABLE_COST) - 1
CUTS = 3
"""How many cuts are kept for their speed, and as many for their size."""
SMALL_COMPARE = 4
"""A comparison with a constant of at most so many bits becomes a table, not a carry chain."""

Key = tuple[int, int]
"""A signal that a table reads: a node (of :attr:`Mapper.nodes`) and which of its bits, relative to the slice or (above WHOLE) absolute."""
WHOLE = 1 << 20


class Cut(NamedTuple):
    """Signals that one table reads, when its output is there (ns), and its share of the area up to it."""

    keys: frozenset[Key]
    time: float
    flow: float


LOGIC = ("and", "or", "xor", "mux")
CHAINS = ("add", "sub", "neg")


@dataclass
class Placed:
    """A register after what its enable and reset inputs do for it is taken out: the rest of its input, and the bits for them."""

    data: int
    enable: frozenset[int] = frozenset()
    reset: frozenset[int] = frozenset()
    word: int = -1  # a memory's word that goes straight into the register


@dataclass
class Sum:
    """An addition of more than two numbers, which becomes a tree of 3-to-2 compressors and one carry chain."""

    terms: list[int]
    inner: set[int]


@dataclass
class Covered:
    """What the cover found: tables in all, and for each node that some table or chain makes, the signals it reads."""

    tables: int = 0
    made: dict[int, frozenset[Key]] = field(default_factory=dict)


class Mapper:
    """Covers one netlist.  ``nodes`` are the netlist's nodes and, behind them, those made when holding multiplexers were taken out."""

    def __init__(self, netlist: Netlist) -> None:
        netlist = flattened(balanced(chosen_late(folded(netlist))))
        self.net = netlist
        self.nodes: list[Node] = list(netlist.nodes)
        self._kinds: dict[int, str] = {}
        self.width = widths(netlist)
        self.want: list[Bits] = needed(netlist)
        self.placed = {i: self._place(i) for i, reg in enumerate(netlist.regs) if self._live(self.leaf("reg", i))}
        self.loads = {i: self._loaded(t.value) for i, t in enumerate(netlist.timers) if self.live_timer(i)}
        self.cuts: list[list[Cut]] = []
        self.refs = [0] * len(self.nodes)
        self._count_refs()
        self.sums = self._find_sums()
        for index in range(len(self.nodes)):
            self.cuts.append(self._cuts_of(index))

    # --- what is there ---

    def leaf(self, op: str, number: int) -> int:
        if not hasattr(self, "_leaves"):
            self._leaves = {(n.op, n.attr): i for i, n in enumerate(self.net.nodes) if not n.args and n.op != "const"}
        return self._leaves.get((op, number), -1)

    def _live(self, index: int) -> bool:
        return index >= 0 and self.want[index].many > 0

    def bits(self, index: int) -> int:
        """How many different bits of a node the chip computes."""
        want, width = self.want[index], self.width[index]
        return max(min(want.high, max(width, want.low + 1)) - want.low, 1) if want.many else 0

    def register_bits(self, number: int) -> int:
        """Bits of a register that the chip keeps."""
        return self.bits(self.leaf("reg", number))

    def chain_bits(self, index: int) -> int:
        """Length of a carry chain: from the lowest bit up to the highest that is needed; a comparison looks at all bits."""
        node = self.nodes[index]
        if node.op in ("lt", "le"):
            return self.compared_bits(index)
        return max(min(self.want[index].high, self.width[index]), 1)

    def live_timer(self, number: int) -> bool:
        """True if anything depends on the timer."""
        return self._live(self.leaf("expired", number))

    def live_reads(self) -> list[int]:
        """Read ports that anything depends on."""
        return [i for i in range(len(self.net.reads)) if self._live(self.leaf("rdata", i))]

    # --- registers: enable and reset ---

    def _place(self, number: int) -> Placed:
        """Take holding legs (enable) and a constant leg on top (synchronous reset) out of a register's input."""
        leaf = self.leaf("reg", number)
        conditions: set[int] = set()
        data = self._without_hold(self.net.regs[number].next, leaf, conditions)
        if data is None:
            return Placed(leaf)
        data, resets = self._without_reset(data)
        node = self.nodes[data]
        if resets:
            return Placed(data, frozenset(conditions), resets)
        if self.made_from(data) != data and self.nodes[self.made_from(data)].op == "rdata" or node.op == "rdata":
            return Placed(
                leaf, frozenset(conditions), word=self.made_from(data)
            )  # the mark that the word is valid becomes the reset
        return Placed(data, frozenset(conditions))

    def _without_reset(self, data: int) -> tuple[int, frozenset[int]]:
        """Take legs of one and the same constant off the top; the conditions that choose them go to the reset input."""
        resets: set[int] = set()
        value: int | None = None
        while (node := self.nodes[data]).op == "mux":
            legs = [(leg, 3 - leg) for leg in (1, 2) if self.nodes[node.args[leg]].op == "const"]
            legs = [pair for pair in legs if value in (None, self.nodes[node.args[pair[0]]].attr)]
            if not legs:
                break
            leg, other = legs[0]
            value = self.nodes[node.args[leg]].attr
            resets.add(node.args[0])
            data = node.args[other]
        return data, frozenset(resets)

    def constant(self, index: int) -> bool:
        while self.nodes[index].op in ("wrap", "bits"):
            index = self.nodes[index].args[0]
        return self.nodes[index].op == "const"

    def _without_hold(self, index: int, leaf: int, conditions: set[int]) -> int | None:
        """The node with its holding legs taken out; None if nothing else is left.  Notes the conditions on the way to them."""
        node = self.nodes[index]
        if index == leaf:
            return None
        if node.op != "mux":
            return index
        condition, yes, no = node.args
        new_yes, new_no = (self._without_hold(leg, leaf, conditions) for leg in (yes, no))
        if new_yes == yes and new_no == no:
            return index
        conditions.add(condition)
        if new_yes is None or new_no is None:
            return new_no if new_yes is None else new_yes
        if new_yes == new_no:  # what is left of both legs is one word: the condition only decides whether it is taken
            return new_yes
        self.nodes.append(node._replace(args=(condition, new_yes, new_no)))
        self.width.append(self.width[index])
        self.want.append(self.want[index])
        return len(self.nodes) - 1

    def _loaded(self, index: int) -> int:
        """A timer's start value without the legs of 0, which stand for ticks in which it is not loaded: no logic makes them."""
        node = self.nodes[index]
        if node.op == "wrap" and self.nodes[node.args[0]].op == "mux":
            return self._loaded(node.args[0])
        if node.op != "mux":
            return index
        condition, *legs = node.args
        kept = [self._loaded(leg) for leg in legs if self.nodes[leg].op != "const" or self.nodes[leg].attr]
        kept = [leg for leg in kept if self.nodes[leg].op != "const" or self.nodes[leg].attr]
        if len(set(kept)) < 2:
            return kept[0] if kept else legs[0]
        if kept == legs:
            return index
        self.nodes.append(node._replace(args=(condition, *kept)))
        self.width.append(self.width[index])
        self.want.append(self.want[index])
        return len(self.nodes) - 1

    # --- sums ---

    def _find_sums(self) -> dict[int, Sum]:
        """Sums of more than two numbers by their last addition: additions whose result only another addition takes.

        Long sums of wide numbers are made by additions of their own (:mod:`.sums`).
        """
        sums: dict[int, Sum] = {}
        trees = Gatherer(self.net)
        inside = {*trees.sums, *trees.inner}
        for index in range(len(self.nodes) - 1, -1, -1):
            if self.nodes[index].op in ("add", "sub") and index not in inside and self.want[index].many:
                found = Sum([], set())
                self._gather(index, index, found)
                if len(found.terms) > 2:
                    sums[index] = found
                    inside |= found.inner
        return sums

    def _gather(self, index: int, top: int, found: Sum) -> None:
        for a in self.nodes[index].args:
            source, alone = a, self.refs[a] == 1
            while self.nodes[source].op == "wrap":
                source = self.nodes[source].args[0]
                alone = alone and self.refs[source] == 1
            node = self.nodes[source]
            fits = node.type.width >= self.nodes[top].type.width or self.width[source] < node.type.width or a == source
            if node.op in ("add", "sub") and alone and fits:
                found.inner.add(source)
                self._gather(source, top, found)
            else:
                found.terms.append(a)

    # --- cuts ---

    def _count_refs(self) -> None:
        for index, node in enumerate(self.nodes):
            if self.want[index].many:
                for a in node.args:
                    self.refs[a] += 1

    def kind(self, index: int) -> str:
        """``leaf``, ``wire`` (costs nothing), ``slice`` (tables), ``gate`` (one bit from many), ``chain`` or ``block``."""
        if index not in self._kinds:
            self._kinds[index] = self._kind(index)
        return self._kinds[index]

    def _kind(self, index: int) -> str:
        node = self.nodes[index]
        if not node.args:
            return "leaf"
        if node.op in ("wrap", "bits", "not"):  # a table or a register's control input turns a bit over for nothing
            return "wire"
        if node.op == "cat":
            return "wire" if sum(not self.constant(a) for a in node.args) <= 1 else "cat"
        if node.op in ("shl", "shr"):
            return "wire" if self.constant(node.args[1]) else "block"
        if node.op == "mux" and all(
            self.constant(a) for a in node.args[1:]
        ):  # every bit is the condition, its opposite, or constant
            return "wire"
        if node.op in LOGIC:  # with a constant mask every bit is itself, its opposite, or constant
            return "wire" if node.op in ("and", "or", "xor") and any(self.constant(a) for a in node.args) else "slice"
        if node.op in ("eq", "ne", "parity"):
            return "gate"
        if node.op in ("lt", "le"):
            small = any(self.constant(a) for a in node.args) and self.compared_bits(index) <= SMALL_COMPARE
            return "gate" if small else "chain"
        if node.op == "mul" and any(self._power(a) for a in node.args):
            return "wire"
        if node.op in CHAINS:
            return "gate" if self._few_inputs(node) else "chain"
        return "block"

    def _few_inputs(self, node: Node) -> bool:
        """True for a sum or difference whose every bit depends on no more bits than a table reads."""
        return sum(self.width[a] for a in node.args if not self.constant(a)) <= MOST_INPUTS

    def _power(self, index: int) -> bool:
        """True for a constant that is a power of two, by which multiplying only moves bits."""
        while self.nodes[index].op == "wrap":
            index = self.nodes[index].args[0]
        node = self.nodes[index]
        return node.op == "const" and node.attr > 0 and node.attr & (node.attr - 1) == 0

    def compared_bits(self, index: int) -> int:
        """Bits that a comparison looks at: against a constant, those from its lowest 1 upwards."""
        node = self.nodes[index]
        left, right = node.args
        width = max(self.width[left], self.width[right])
        if self.nodes[right].op == "const":  # x < c
            limit = self.nodes[right].attr
        elif self.nodes[left].op == "const":  # c < x is: not x < c + 1
            limit = self.nodes[left].attr + 1
        else:
            return width
        return max(width - _zeros_below(limit), 1) if limit else 1  # the sign alone says whether it is below 0

    def _cuts_of(self, index: int) -> list[Cut]:
        """Cuts of a node; the last one reads the node itself."""
        if not self.want[index].many:
            return []
        kind, node = self.kind(index), self.nodes[index]
        if node.op == "const":
            return [Cut(frozenset(), 0.0, 0.0)]
        if node.op == "rdata":  # the word and the mark that it is valid meet in a table
            raw = Cut(frozenset({(-1 - index, 0), (-1 - index, 1)}), TABLE_NS[2], float(self.bits(index)))
            return [raw, self._own(index, TABLE_NS[2], self.bits(index))]
        if kind == "leaf":
            return [self._own(index, _tree_ns(self.net.timers[node.attr].width) if node.op == "expired" else 0.0)]
        if kind == "cat":
            return [self._own(index, max((self._time(a) for a in node.args), default=0.0))]
        if kind in ("chain", "block"):
            return [self._own(index, self._ready(self.sources(index)) + WIRE_NS + self.block_ns(index))]
        if kind == "wire":
            return self._through(index, node)
        found = self._gate(index, node) if kind == "gate" else self._slice(index, node)
        fast = sorted(found, key=_by_time)[:CUTS]
        small = sorted(found, key=_by_flow)[:CUTS]
        lowest = fast[0] if fast else Cut(frozenset(), 0.0, 0.0)
        return [*dict.fromkeys(fast + small), self._own(index, lowest.time, small[0].flow if small else 0.0)]

    def _own(self, index: int, time: float, flow: float = 0.0) -> Cut:
        """The cut that reads the node itself: it has then to be made by tables or a chain of its own."""
        return Cut(frozenset({(index, 0)}), time, flow / max(self.refs[index], 1))

    def sources(self, index: int) -> list[int]:
        """What a chain or block reads."""
        args = self.sums[index].terms if index in self.sums else self.nodes[index].args
        return [a for a in args if not self.constant(a)]

    def block_ns(self, index: int) -> float:
        """About how long a chain, multiplier, shifter or divider takes (only to see what is urgent)."""
        node, bits = self.nodes[index], self.chain_bits(index)
        chain = 0.9 + 0.03 * bits
        if node.op == "mul":
            return 3.1
        if node.op in ("div", "rem", "mod"):
            return max(self.width[a] for a in node.args) * (chain + 0.5)
        if node.op in ("shl", "shr"):
            return 0.55 * max(self.width[node.args[1]] / 2, 1)
        return chain + (0.5 * len(self.sums[index].terms) / 2 if index in self.sums else 0.0)

    def _through(self, index: int, node: Node) -> list[Cut]:
        """Cuts of a node that only moves bits."""
        source = next((a for a in node.args if not self.constant(a)), node.args[0])
        if self.bits(index) == 1 and self.bits(source) > 1:  # one bit of a word, always the same one
            place = node.attr if node.op == "bits" else 0
            own = self.cuts[source][-1]
            return [Cut(frozenset({(key, WHOLE + place) for key, _ in own.keys}), own.time, own.flow)]
        moved = node.attr if node.op == "bits" else self._moved(node)
        if not moved:
            return self.cuts[source]
        return [
            Cut(
                frozenset({(k, b if b >= WHOLE or (k >= 0 and self.bits(k) == 1) else b + moved) for k, b in c.keys}),
                c.time,
                c.flow,
            )
            for c in self.cuts[source]
        ]

    def _moved(self, node: Node) -> int:
        if node.op == "mul":
            return 3
        if node.op in ("shl", "shr"):
            by = self.nodes[node.args[1]]
            return (by.attr if by.op == "const" else 1) * (-1 if node.op == "shl" else 1)
        return 1 + node.args[0] % 7 if node.op == "cat" else 0  # by how much does not matter, only that it differs

    def _slice(self, index: int, node: Node) -> list[Cut]:
        """Cuts of a bitwise operator: those of its arguments, joined."""
        joined = {frozenset[Key]()}
        for a in node.args:
            rights = [c.keys for c in self.cuts[a] if c.keys or self.constant(a)]
            joined = {keys for left in joined for right in rights if len(keys := left | right) <= MOST_INPUTS}
            if len(joined) > 4 * CUTS:
                joined = set(sorted(joined, key=len)[: 4 * CUTS])
        return [self._table(keys, self.bits(index)) for keys in joined]

    def _gate(self, index: int, node: Node) -> list[Cut]:
        """Cuts of one bit computed from whole words: all their bits if they fit a table."""
        keys = self.gate_keys(node)
        if node.op in ("lt", "le"):
            keys = frozenset(sorted(keys, key=lambda key: -key[1])[: self.compared_bits(index)])
        found = [self._table(keys, self.bits(index))] if len(keys) <= MOST_INPUTS else []
        if len(keys) > 4:  # a tree of tables; its cut names no signals, since no further logic fits into it
            ready = self._ready(k for k, _ in keys) + WIRE_NS + _tree_ns(len(keys))
            found.append(Cut(frozenset(), ready, _tree(len(keys)) + self._flow(keys)))
        return found

    def gate_keys(self, node: Node) -> frozenset[Key]:
        """All bits that a comparison or parity reads."""
        found: set[Key] = set()
        for a in node.args:
            if not self.constant(a):
                source, place = self._source(a)
                found |= {(source, WHOLE + place + b) for b in range(self.width[a])}
        return frozenset(found)

    def _table(self, keys: frozenset[Key], bits: int) -> Cut:
        ready = self._ready(k for k, _ in keys)
        return Cut(keys, ready + WIRE_NS + TABLE_NS[len(keys)], TABLE_COST[len(keys)] * bits + self._flow(keys))

    def _source(self, index: int) -> Key:
        """The node that a wire comes from, and from which bit on."""
        place = 0
        while self.nodes[index].op in ("wrap", "bits", "not"):
            place += self.nodes[index].attr if self.nodes[index].op == "bits" else 0
            index = self.nodes[index].args[0]
        return index, place

    def _time(self, index: int) -> float:
        return self.cuts[index][-1].time if index >= 0 and self.cuts[index] else 0.0

    def _ready(self, indices: Iterable[int]) -> float:
        return max((self._time(k) for k in indices), default=0.0)

    def _flow(self, keys: Iterable[Key]) -> float:
        return sum(self.cuts[k][-1].flow for k in {k for k, _ in keys} if k >= 0 and self.cuts[k])

    # --- cover ---

    def cover(self, roots: Iterable[int]) -> Covered:
        """Choose tables for everything that the roots need: the fastest where time is short, else the smallest."""
        found = Covered()
        wanted = {self.made_from(root) for root in roots}
        due = dict.fromkeys(wanted, self._ready(wanted))
        for index in range(len(self.nodes) - 1, -1, -1):
            if index not in due or not self.want[index].many:
                continue
            reads, tables, before = self._make(index, due[index])
            found.made[index] = reads
            found.tables += tables
            for key, _ in reads:
                if key >= 0:
                    source = self.made_from(key)
                    due[source] = min(due.get(source, before), before)
        return found

    def made_from(self, index: int) -> int:
        """The node behind wires that only move bits."""
        while self.kind(index) == "wire":
            index = next((a for a in self.nodes[index].args if not self.constant(a)), self.nodes[index].args[0])
        return index

    def _make(self, index: int, due: float) -> tuple[frozenset[Key], int, float]:
        """What the chosen table (or chain, or block) of a node reads, how many tables it takes, when its inputs are due."""
        kind, node = self.kind(index), self.nodes[index]
        if kind == "leaf":
            return frozenset(), self.bits(index) if node.op == "rdata" else 0, due
        if kind in ("slice", "gate"):
            choices = self.cuts[index][:-1]
            best = min([c for c in choices if c.time <= due + 1e-9] or choices[:1], key=_by_flow)
            if kind == "gate" and not best.keys:
                keys = self.gate_keys(node)
                return keys, _tree(len(keys)), due - _tree_ns(len(keys)) - WIRE_NS
            return best.keys, TABLE_COST[len(best.keys)] * self.bits(index), due - TABLE_NS[len(best.keys)] - WIRE_NS
        reads = frozenset((a, 0) for a in self.sources(index))
        if index in self.sums:  # a compressor's tables have an input to spare
            reads = frozenset(
                (-1 - m, 0) if self.nodes[m := self.made_from(a)].op == "rdata" else (a, 0) for a, _ in reads
            )
        return reads, 0, due - (0.0 if kind == "cat" else self.block_ns(index) + WIRE_NS)


def _zeros_below(constant: int) -> int:
    """How many zeros a constant ends with."""
    return (constant & -constant).bit_length() - 1 if constant else 0


def _by_time(cut: Cut) -> tuple[float, float]:
    return cut.time, cut.flow


def _by_flow(cut: Cut) -> tuple[float, float]:
    return cut.flow, cut.time


def _tree_ns(inputs: int) -> float:
    """Time through a tree of tables that joins so many inputs."""
    levels = _levels(inputs)
    return levels * TABLE_NS[4] + max(levels - 1, 0) * WIRE_NS


def _tree(inputs: int) -> int:
    """Four-input tables in a tree that joins so many inputs."""
    return max(-(-(inputs - 1) // 3), 1) if inputs > 1 else 0


def _levels(inputs: int) -> int:
    levels = 0
    while inputs > 1:
        inputs, levels = -(-inputs // 4), levels + 1
    return levels
