"""Where everything lives in the engine's one flat buffer of 64-bit words.

The machine code gets the buffer's address and touches only constant offsets in it, memory words whose index
it has checked, and two tables (events and records) whose bounds stand in the header.  A value of *w* bits takes
``ceil(w / 64)`` words, lowest first, with zeros above its top bit.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ...netlist import Input, Mem, Netlist, Node, Reg, Type
from ..api import EngineFault

MAX_WIDTH = 256
"""Widest value in bits that the native engine takes; wider arithmetic compiles too slowly to be of use."""

NEVER = 1 << 62
"""A time that no run reaches."""

HEADER = (
    "seed",
    "end",
    "events",
    "event_index",
    "event_count",
    "records",
    "record_used",
    "record_limit",
    "budget",
    "stop",
    "phase",
    "interval",
    "patience",
    "full_patience",
    "rests",
    "pending",
)
"""Words at the start of the buffer, in order: how Python talks to the machine code."""

BLOCK = 8
"""Words that are copied at once."""

STROBE = 1 << 63
"""Bit of an event's word offset: the machine code itself takes the input back to 0 in the tick after (one clock only)."""

UNRECORDED = 0x5555555555555555
"""Top word of a ``last`` slot that holds no value; no value of any type spells it."""


def words(width: int) -> int:
    return -(-width // 64)


def last_words(width: int) -> int:
    """Words of a signal's last recorded value: one bit pattern at least is no value of the type."""
    return (width + 1) // 64 + 1


@dataclasses.dataclass
class Layout:
    """Word offsets of each part in the buffer, and the start values."""

    netlist: Netlist

    def __post_init__(self) -> None:
        net = self.netlist
        fault = too_wide(net)
        if fault:
            raise EngineFault(fault + ". The reference engine runs this design, slowly")
        self._top = len(HEADER)
        self.header = {name: i for i, name in enumerate(HEADER)}
        self.done = [self._take(1) for _ in net.clocks]
        self.edge = [self._take(1) for _ in net.clocks]
        self.fraction = [self._take(1) for _ in net.clocks]
        self.seen_done = [self._take(1) for _ in net.clocks]
        self.input_words = max((words(p.type.width) for p in net.inputs), default=1)
        # An input takes: its value, its value before the last change, the time of that change.
        self.inputs = [self._take(2 * self.input_words + 1) for _ in net.inputs]
        self.first_state = self._top
        self._place_state()
        self.snapshot = self._take(self._top - self.first_state)
        self.following = self._take(self.snapshot - self.first_state)
        self.shadow = {i: self._take(2 * words(net.regs[i].type.width) + 1) for i in crossing_sources(net, "reg")}
        self._last_words = {name: last_words(s.type.width) for name, s in net.signals().items()}
        self.last = {name: self._take(count) for name, count in self._last_words.items()}
        self.scratch = [self._take(words(node.type.width)) if node.args else 0 for node in net.nodes]
        # One element more than the depth: where a write that must not happen goes.
        self.mem_bits = [element_bits(m.type.width) for m in net.mems]
        self.mems = [self._take(words((m.depth + 1) * bits)) for m, bits in zip(net.mems, self.mem_bits, strict=True)]

    def _place_state(self) -> None:
        """Values and timers, each clock's side by side; a group fills whole blocks, so that it can be copied by blocks."""
        net = self.netlist
        self.regs, self.reads, self.timers = [0] * len(net.regs), [0] * len(net.reads), [0] * len(net.timers)
        value_words = {
            "regs": lambda r: words(r.type.width),
            "reads": lambda r: words(net.mems[r.mem].type.width),
            "timers": lambda t: 1,
        }
        self.groups: dict[tuple[str, int], tuple[int, int]] = {}  # first word and length
        self.state_words = 0
        for group, parts in (("values", ("regs", "reads")), ("timers", ("timers",))):
            for clock in range(len(net.clocks)):
                start = self._top
                for part in parts:
                    for index, item in enumerate(getattr(net, part)):
                        if item.clock == clock:
                            getattr(self, part)[index] = self._take(value_words[part](item))
                            self.state_words += value_words[part](item)
                self._take((start - self._top) % BLOCK)
                if self._top > start:
                    self.groups[group, clock] = start, self._top - start

    def _take(self, count: int) -> int:
        self._top += count
        return self._top - count

    @property
    def size(self) -> int:
        """Words in all."""
        return self._top

    def fresh(self) -> np.ndarray:
        """The buffer at reset, all but header, clocks and source tracking times."""
        net, state = self.netlist, np.zeros(self._top, np.uint64)
        for offset, reg in zip(self.regs, net.regs, strict=True):
            put(state, offset, reg.reset, words(reg.type.width))
        for offset, timer in zip(self.timers, net.timers, strict=True):
            state[offset] = timer.reset
        for offset, mem, bits in zip(self.mems, net.mems, self.mem_bits, strict=True):
            self._fill(state, offset, mem.init, mem.type, bits)
        long_ago = np.uint64((-(10**18)) & (2**64 - 1))
        for offset in self.inputs:
            state[offset + 2 * self.input_words] = long_ago
        for index, offset in self.shadow.items():
            state[offset + 2 * words(net.regs[index].type.width)] = long_ago
        return state

    def forget(self, state: np.ndarray, name: str) -> None:
        """Mark a signal's last recorded value as unknown, so that its next value counts as a change."""
        put(state, self.last[name], UNRECORDED << (64 * (self._last_words[name] - 1)), self._last_words[name])

    def moving(self, state: np.ndarray) -> frozenset[int]:
        """Registers that differ from their copy (see :mod:`.quiet`)."""
        shift = self.snapshot - self.first_state
        sizes = (words(reg.type.width) for reg in self.netlist.regs)
        return frozenset(
            i
            for i, (offset, size) in enumerate(zip(self.regs, sizes, strict=True))
            if (state[offset : offset + size] != state[offset + shift : offset + shift + size]).any()
        )

    def _fill(self, state: np.ndarray, offset: int, values: tuple[int, ...], kind: Type, bits: int) -> None:
        if bits <= 64:
            mask = (1 << kind.width) - 1
            elements = state[offset:].view(f"u{bits // 8}")
            elements[: len(values)] = [v & mask for v in values]
            return
        for i, value in enumerate(values):
            put(state, offset + i * (bits // 64), value & ((1 << kind.width) - 1), bits // 64)


def element_bits(width: int) -> int:
    """Bits that one memory word takes in the buffer."""
    for bits in (8, 16, 32, 64):
        if width <= bits:
            return bits
    return 64 * words(width)


def put(state: np.ndarray, offset: int, value: int, count: int) -> None:
    """Write the low ``count`` words of ``value``."""
    for i in range(count):
        state[offset + i] = (value >> (64 * i)) & 0xFFFFFFFFFFFFFFFF


def get(state: np.ndarray, offset: int, kind: Type) -> int:
    """Read a value of type ``kind``."""
    raw = 0
    for i in range(words(kind.width)):
        raw |= int(state[offset + i]) << (64 * i)
    return kind.wrap(raw)


def crossing_sources(net: Netlist, op: str) -> list[int]:
    """Registers (or inputs) that a register of another clock samples."""
    nodes = (net.nodes[reg.next] for reg in net.regs if reg.cross)
    return sorted({node.attr for node in nodes if node.op == op})


def too_wide(net: Netlist) -> str | None:
    """Why the native engine does not take this netlist; None if it does."""
    parts: tuple[Node | Mem | Input | Reg, ...] = (*net.nodes, *net.mems, *net.inputs, *net.regs)
    for part in parts:
        if part.type.width > MAX_WIDTH:
            return f"{part.loc}: a value of {part.type.width} bits; the native engine takes up to {MAX_WIDTH}"
    return None
