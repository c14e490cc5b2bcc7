"""The Python side of the native engine: events in, recordings out, stopping and going on."""

from __future__ import annotations

import time
from collections.abc import Sequence

import numpy as np

from ...netlist import Netlist, evaluate
from ..api import NO_EVENTS, EngineFault, Events, Recording
from ..inputs import checked, last_tick_of
from .jit import Compiled
from .layout import Layout, get, words
from .program import Program
from .timebase import beats, end_of

RECORDS = 1 << 16
"""Entries in the record table; when it is full the machine code returns, and goes on after it is emptied."""
SLICE_SECONDS = 0.05
"""A call of the machine code lasts about this long, so that Ctrl-C and :meth:`NativeEngine.stop` act soon."""
DONE, INTERRUPTED, FULL = 0, 1, 2


class NativeEngine:
    """Runs a checked netlist as machine code; ticks in which nothing can change are skipped, exactly.

    Parameters
    ----------
    netlist : Netlist
        Must have passed :func:`simkit.netlist.check`.
    seed : int
        Decides how metastable bits settle.

    Raises
    ------
    EngineFault
        If a value is wider than 256 bits.
    """

    resident_words = 40

    def __init__(self, netlist: Netlist, seed: int = 0) -> None:
        self.netlist = netlist
        self.seed = seed
        self.stopped = False
        self._signals = netlist.signals()
        self._layout = Layout(netlist)
        self._beats = beats(netlist)
        self._programs: dict[tuple[str, ...], tuple[Compiled, int]] = {}
        self._cones: dict[str, list[int]] = {}
        self._port_clock = np.array([p.clock for p in netlist.inputs], np.int64)
        self._port_offset = np.array(self._layout.inputs, np.int64)
        self._budget = 2000
        self.reset()

    def reset(self) -> None:
        lay = self._layout
        self._state = lay.fresh()
        self._set("seed", self.seed & (2**64 - 1))
        for c, beat in enumerate(self._beats):
            self._state[lay.edge[c]] = beat.edge(0)
            self._state[lay.fraction[c]] = beat.fraction(0)
        self._events = np.zeros((1, 2 + lay.input_words), np.uint64)
        self._is_clear = np.zeros(1, bool)
        self._last_event = [0] * len(self.netlist.clocks)
        self._recording: Recording | None = None

    def ticks(self, clock: int = 0) -> int:
        return int(self._state[self._layout.done[clock]])

    def run(self, ticks: int, events: Events = NO_EVENTS) -> None:
        """See :class:`simkit.engines.api.Engine`; returns early, with ``stopped`` True, after :meth:`stop`.

        A KeyboardInterrupt leaves the engine at the end of a whole tick, ready to go on.
        """
        self._accept(events)
        self.stopped = False
        self._set("stop", 0)
        if ticks <= 0:
            return
        self._set("end", end_of(self._beats[0], self.ticks() + ticks - 1))
        names = tuple(self._recording.names) if self._recording else ()
        compiled, stride = self._program(names)
        limit = max(RECORDS, 4 * len(names))
        records = np.empty(((limit + 1) * stride if names else 1), np.uint64)
        self._set("records", records.ctypes.data)
        self._set("record_limit", limit)
        self._set("events", self._events.ctypes.data)
        self._set("event_count", len(self._events) - 1)
        self._set("event_index", 0)
        try:
            self._loop(compiled, names, records, stride)
        finally:
            self._forget_events()

    def stop(self) -> None:
        """Make a running :meth:`run` return soon, from any thread; the state is kept and may be run on."""
        self.stopped = True
        self._set("stop", 1)

    def record(self, recording: Recording | None) -> None:
        for name in recording.names if recording else ():
            self._signal(name)
        for name in recording.names if recording else ():
            self._layout.forget(self._state, name)
        self._recording = recording

    def peek(self, name: str) -> int:
        signal = self._signal(name)
        if name not in self._cones:
            self._cones[name] = self._cone(signal.node)
        value: dict[int, int] = {}
        for index in self._cones[name]:
            node = self.netlist.nodes[index]
            if node.args:
                value[index] = evaluate(node, [value[a] for a in node.args], [self.netlist.nodes[a].type for a in node.args])
            else:
                value[index] = self._leaf(node.op, node.attr, node.type)
        return value[signal.node]

    # --- running ---

    def _loop(self, compiled: Compiled, names: Sequence[str], records: np.ndarray, stride: int) -> None:
        """Call the machine code until the run is over; between calls Python sees to signals such as Ctrl-C."""
        address = self._state.ctypes.data
        status = INTERRUPTED
        while status != DONE and not self.stopped:
            self._set("record_used", 0)
            self._set("phase", 0)
            self._set("interval", 1)
            self._set("budget", self._budget)
            began = time.perf_counter()
            status = compiled.run(address)
            took = time.perf_counter() - began
            if status == INTERRUPTED and not self.stopped:
                self._budget = int(min(max(self._budget * SLICE_SECONDS / max(took, 1e-6), self._budget / 4, 10), self._budget * 4))
            self._drain(names, records, stride)

    def _drain(self, names: Sequence[str], records: np.ndarray, stride: int) -> None:
        used = self._get("record_used")
        if not used or self._recording is None:
            return
        table = records[: used * stride].reshape(used, stride)
        order = np.argsort(table[:, 0], kind="stable")
        bounds = np.searchsorted(table[order, 0], np.arange(len(names) + 1))
        for i, name in enumerate(names):
            rows = table[order[bounds[i]: bounds[i + 1]]]
            if len(rows):
                self._recording.add(name, rows[:, 1].astype(np.int64), self._values(rows[:, 2:], self._signals[name].type))

    @staticmethod
    def _values(raw: np.ndarray, kind: object) -> np.ndarray:
        """Record words as numbers: int64, or Python ints where 63 bits do not hold them."""
        width = kind.width  # type: ignore[attr-defined]
        if width <= 63:
            plain = raw[:, 0].astype(np.int64)
            shift = 64 - width
            return (plain << shift) >> shift if kind.signed else plain  # type: ignore[attr-defined]
        out = np.empty(len(raw), object)
        out[:] = [get(row, 0, kind) for row in raw]  # type: ignore[arg-type]
        return out

    def _program(self, names: tuple[str, ...]) -> tuple[Compiled, int]:
        if names not in self._programs:
            program = Program(self._layout, names, self.resident_words)
            self._programs[names] = Compiled(program.text()), program.stride
        return self._programs[names]

    # --- events ---

    def _accept(self, events: Events) -> None:
        """Merge new events into the table of those not yet due; a strobe brings the event that ends it."""
        events = checked(self.netlist, events)
        if not len(events.tick):
            return
        clocks = self._port_clock[events.port]
        self._last_event = last_tick_of(self.netlist, events, clocks, self._last_event, [self.ticks(c) for c in range(len(self._beats))])
        times = np.empty(len(clocks), np.int64)
        ends = np.empty(len(clocks), np.int64)
        for c, beat in enumerate(self._beats):
            mine = clocks == c
            times[mine], ends[mine] = beat.due(events.tick[mine]), beat.due(events.tick[mine] + 1)
        strobes = np.array([p.strobe for p in self.netlist.inputs])[events.port]
        rows = self._rows(times, events.port, events.value)
        clears = self._rows(ends[strobes], events.port[strobes], np.zeros(int(strobes.sum()), np.int64))
        table = np.concatenate([self._events[:-1], clears, rows])
        is_clear = np.concatenate([self._is_clear[:-1], np.ones(len(clears), bool), np.zeros(len(rows), bool)])
        order = np.lexsort((~is_clear, table[:, 0]))
        self._events = np.concatenate([table[order], np.zeros((1, table.shape[1]), np.uint64)])
        self._is_clear = np.concatenate([is_clear[order], [False]])

    def _rows(self, times: np.ndarray, ports: np.ndarray, values: np.ndarray) -> np.ndarray:
        rows = np.zeros((len(times), 2 + self._layout.input_words), np.uint64)
        rows[:, 0] = times.astype(np.uint64)
        rows[:, 1] = self._port_offset[ports].astype(np.uint64)
        widths = np.array([p.type.width for p in self.netlist.inputs])[ports]
        if values.dtype != object and (len(widths) == 0 or widths.max() <= 64):
            masks = np.where(widths == 64, 2**64 - 1, (np.uint64(1) << (widths % 64).astype(np.uint64)) - np.uint64(1)).astype(np.uint64)
            rows[:, 2] = values.astype(np.int64).view(np.uint64) & masks
            return rows
        for row, value, width in zip(rows, values.tolist(), widths.tolist(), strict=True):
            for i in range(words(width)):
                row[2 + i] = ((int(value) & ((1 << width) - 1)) >> (64 * i)) & (2**64 - 1)
        return rows

    def _forget_events(self) -> None:
        """Drop what was applied; end the strobes whose tick is over, so that a look from outside sees them at 0."""
        index = self._get("event_index")
        self._events, self._is_clear = self._events[index:], self._is_clear[index:]
        now = min(int(self._state[e]) for e in self._layout.edge)
        over = self._is_clear & (self._events[:, 0] <= now)
        if over.any():
            for row in self._events[over]:
                self._apply(row)
            self._events, self._is_clear = self._events[~over], self._is_clear[~over]

    def _apply(self, row: np.ndarray) -> None:
        """What the machine code does with an event row (see :mod:`.quiet`)."""
        count, offset, state = self._layout.input_words, int(row[1]), self._state
        old, new = state[offset: offset + count].copy(), row[2:]
        start = max(int(row[0]) - 1, 0)
        if (old != new).any() and int(state[offset + 2 * count]) != start:
            state[offset + count: offset + 2 * count] = old
            state[offset + 2 * count] = start
        state[offset: offset + count] = new

    # --- looking ---

    def _signal(self, name: str) -> object:
        if name not in self._signals:
            raise EngineFault(f"there is no signal {name!r}; signals: {', '.join(self._signals)}")
        return self._signals[name]

    def _cone(self, root: int) -> list[int]:
        seen, todo = set(), [root]
        while todo:
            index = todo.pop()
            if index not in seen:
                seen.add(index)
                todo += self.netlist.nodes[index].args
        return sorted(seen)

    def _leaf(self, op: str, attr: int, kind: object) -> int:
        lay = self._layout
        if op == "const":
            return attr
        if op == "expired":
            return int(self._state[lay.timers[attr]] == 0)
        offsets = {"reg": lay.regs, "input": lay.inputs, "rdata": lay.reads}[op]
        return get(self._state, offsets[attr], kind)  # type: ignore[arg-type]

    def _set(self, name: str, value: int) -> None:
        self._state[self._layout.header[name]] = value

    def _get(self, name: str) -> int:
        return int(self._state[self._layout.header[name]])
