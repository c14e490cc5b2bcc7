"""The Python side of the native engine: events in, recordings out, stopping and going on."""

from __future__ import annotations

import time
from collections.abc import Sequence

import numpy as np

from ...netlist import Netlist, Signal, Type, evaluate
from ...netlist.once import Once
from ..api import NO_EVENTS, EngineFault, Events, Recording
from ..inputs import InputTable
from .jit import Compiled, compiled
from .layout import HEADER, STROBE, Layout, get, put, words
from .program import Program
from .timebase import beats, counts_ticks, end_of

RECORDS = 1 << 16
"""Entries in the record table; when it is full the machine code returns, and goes on after it is emptied."""
SLICE_SECONDS = 0.05
"""A call of the machine code lasts about this long, so that Ctrl-C and :meth:`NativeEngine.stop` act soon."""
QUICK_SECONDS = 0.1
"""After so long in quick code, better code pays."""
DONE, INTERRUPTED, FULL, RESTLESS = 0, 1, 2, 3
"""What the machine code returns."""
ENDLESS = 1 << 62
FEW = 24
"""Up to so many events or records, plain Python is faster than arrays: a host's accesses, a loop closed by a check."""
NO_ROW = 0, 0, 0
"""Ends the table of events where every input takes one word."""
MANY = 20_000
"""Whoever hands over so many events at once makes runs that last: then careful code is made at once."""
HEADER_AT = {name: at for at, name in enumerate(HEADER)}


_texts: Once[dict[tuple[tuple[str, ...], int, int], tuple[str, int]]] = Once(lambda netlist: {})
"""For each netlist the programs written so far: text and stride by what is recorded and how it is cut."""


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

    resident_words, chunk = 40, 300  # see .program; tests set these lower
    patience, samples = 64, 3  # unsuccessful tries to skip before restless registers are looked for; looks taken

    def __init__(self, netlist: Netlist, seed: int = 0) -> None:
        self.netlist = netlist
        self.seed = seed
        self.stopped = False
        self._signals = netlist.signals()
        self._layout = Layout(netlist)
        self._beats = beats(netlist)
        self._one_beat = counts_ticks(netlist)
        self._programs: dict[tuple[str, ...], tuple[Compiled, int]] = {}
        self._seen_moving: list[frozenset[int]] = []
        self._cones: dict[str, list[int]] = {}
        self._table = InputTable(netlist)
        self._port_offset = np.array(self._layout.inputs, np.uint64)
        if self._one_beat:
            self._port_offset[self._table.strobe] |= np.uint64(STROBE)
        self._port_mask = np.array([(1 << min(p.type.width, 64)) - 1 for p in netlist.inputs], np.uint64)
        self._port_offsets = self._port_offset.tolist()
        self._port_kinds = [(p.type.low, p.type.high, (1 << p.type.width) - 1) for p in netlist.inputs]
        self._strobes = [at for at, port in zip(self._layout.inputs, netlist.inputs, strict=True) if port.strobe]
        self._lasts = False
        self._budget = 200
        self._seconds = 0.0
        self._records = np.empty(0, np.uint64)
        self._records_at = self._records.ctypes.data
        self.reset()

    def reset(self) -> None:
        lay = self._layout
        self._state = lay.fresh()
        self._words = self._state.data  # one word at a time it is several times faster than the array
        self._address = self._state.ctypes.data
        self._set("seed", self.seed & (2**64 - 1))
        for c, beat in enumerate(self._beats):
            self._state[lay.edge[c]] = beat.edge(0)
            self._state[lay.fraction[c]] = beat.fraction(0)
        self._events = np.zeros((1, 2 + lay.input_words), np.uint64)
        self._is_clear = np.zeros(1, bool)
        self._last_event = [0] * len(self.netlist.clocks)
        self._recording: Recording | None = None
        self._be_patient()

    def ticks(self, clock: int = 0) -> int:
        return self._words[self._layout.done[clock]]

    def run(self, ticks: int, events: Events = NO_EVENTS) -> None:
        """See :class:`simkit.engines.api.Engine`; returns early, with ``stopped`` True, after :meth:`stop`.

        A KeyboardInterrupt leaves the engine at the end of a whole tick, ready to go on.
        """
        self._accept(events)
        self.stopped = False
        self._set("stop", 0)
        if ticks <= 0:
            return
        self._lasts |= len(events.tick) >= MANY
        self._set("end", end_of(self._beats[0], self.ticks() + ticks - 1))
        names = tuple(dict.fromkeys(self._recording.names)) if self._recording else ()
        stride = self._program(names)[1]
        limit = max(RECORDS, 4 * len(names))
        records = self._record_table((limit + 1) * stride if names else 1)
        self._set("records", self._records_at)
        self._set("record_limit", limit)
        self._set("events", self._events.__array_interface__["data"][0])  # .ctypes.data takes several times longer
        self._set("event_count", len(self._events) - 1)
        self._set("event_index", 0)
        try:
            self._loop(names, records, stride)
        finally:
            self._forget_events()

    def rests_until(self) -> int:
        """See :class:`simkit.engines.api.Engine`."""
        done = self.ticks()
        if not self._one_beat or len(self._events) > 1:
            return done
        return max(
            done, self._get("rests") - 2
        )  # a jump's end is the tick that sees a timer at 0; from outside it shows one before

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
                value[index] = evaluate(
                    node, [value[a] for a in node.args], [self.netlist.nodes[a].type for a in node.args]
                )
            else:
                value[index] = self._leaf(node.op, node.attr, node.type)
        return value[signal.node]

    # --- running ---

    def _loop(self, names: tuple[str, ...], records: np.ndarray, stride: int) -> None:
        """Call the machine code until the run is over; between calls Python sees to signals such as Ctrl-C."""
        status = INTERRUPTED
        while status != DONE and not self.stopped:
            self._set("record_used", 0)
            self._set("phase", 0)
            self._set("interval", 1)
            self._set("budget", self._budget)
            began = time.perf_counter()
            try:
                status = self._programs[names][0].run(self._address)
            finally:
                self._drain(names, records, stride)
                self._ran_for(time.perf_counter() - began, names)
            if status == INTERRUPTED and not self.stopped:
                pace = SLICE_SECONDS / max(time.perf_counter() - began, 1e-6)
                self._budget = int(self._budget * min(max(pace, 0.25), 4)) + 1
            if status == RESTLESS:
                self._look_for_restless(names)

    def _ran_for(self, seconds: float, names: tuple[str, ...]) -> None:
        """Quick code that has run for a while is replaced by better code; the state stays where it is."""
        self._seconds += seconds
        code, stride = self._programs[names]
        if code.quick and self._seconds > QUICK_SECONDS:
            self._programs[names] = code.thorough(), stride

    def _look_for_restless(self, names: tuple[str, ...]) -> None:
        """The design is never idle: after a few looks, give the registers that always move a loop of their own."""
        self._seen_moving.append(self._layout.moving(self._state))
        if len(self._seen_moving) < self.samples:
            self._set("patience", 4)
            return
        restless = frozenset.intersection(*self._seen_moving)
        self._seen_moving.clear()
        self._set_patience(ENDLESS)
        if restless:
            program = Program(self._layout, names, self.resident_words, self.chunk, restless)
            if program.calm is not None and (program.calm.worthwhile() or self.samples == 1):
                self._programs[names] = compiled(program.text()), program.stride

    def _be_patient(self) -> None:
        self._set_patience(self.patience if counts_ticks(self.netlist) else ENDLESS)

    def _set_patience(self, tries: int) -> None:
        self._set("patience", tries)
        self._set("full_patience", tries)

    def _record_table(self, size: int) -> np.ndarray:
        if len(self._records) < size:
            self._records = np.empty(size, np.uint64)
            self._records_at = self._records.ctypes.data
        return self._records

    def _drain(self, names: Sequence[str], records: np.ndarray, stride: int) -> None:
        used = self._get("record_used")
        if not used or self._recording is None:
            return
        if used <= FEW and stride == 3:
            return self._drain_few(names, records[: 3 * used].tolist())
        table = records[: used * stride].reshape(used, stride)
        numbers = table[:, 0].astype(np.uint16 if len(names) < 2**16 else np.int64)  # numpy sorts 16 bits much faster
        order = np.argsort(numbers, kind="stable")
        bounds = np.concatenate([[0], np.cumsum(np.bincount(numbers, minlength=len(names)))])
        for i, name in enumerate(names):
            rows = table[order[bounds[i] : bounds[i + 1]]]
            if len(rows):
                self._recording.add(
                    name, rows[:, 1].astype(np.int64), self._values(rows[:, 2:], self._signals[name].type)
                )

    def _drain_few(self, names: Sequence[str], flat: list[int]) -> None:
        """The same for a few records, each of signal, tick and one word of value."""
        assert self._recording is not None
        found: dict[int, tuple[list[int], list[int]]] = {}
        for number, tick, word in zip(flat[::3], flat[1::3], flat[2::3], strict=True):
            ticks, values = found.setdefault(number, ([], []))
            ticks.append(tick)
            values.append(word)
        for number, (ticks, values) in sorted(found.items()):
            kind = self._signals[names[number]].type
            if kind.signed:
                values = [kind.wrap(value) for value in values]
            wide = kind.width > 63
            self._recording.add(
                names[number], np.array(ticks, np.int64), np.array(values, object if wide else np.int64)
            )

    @staticmethod
    def _values(raw: np.ndarray, kind: Type) -> np.ndarray:
        """Record words as numbers: int64, or Python ints where 63 bits do not hold them."""
        width = kind.width
        if width <= 63:
            plain = raw[:, 0].astype(np.int64)
            shift = 64 - width
            return (plain << shift) >> shift if kind.signed else plain
        out = np.empty(len(raw), object)
        out[:] = [get(row, 0, kind) for row in raw]
        return out

    def _program(self, names: tuple[str, ...]) -> tuple[Compiled, int]:
        if names not in self._programs:
            known, key = _texts(self.netlist), (names, self.resident_words, self.chunk)
            if key not in known:
                program = Program(self._layout, names, self.resident_words, self.chunk)
                known[key] = program.text(), program.stride
            text, stride = known[key]
            self._programs[names] = compiled(text, self._lasts), stride
            self._be_patient()
        return self._programs[names]

    # --- events ---

    def _accept(self, events: Events) -> None:
        """Merge new events into the table of those not yet due."""
        if not len(events.tick):
            return
        if len(events.tick) <= FEW and self._one_beat and not self._table.wide and self._accept_few(events):
            return
        events = self._table.checked(events)
        done = [self.ticks(c) for c in range(len(self._beats))]
        self._last_event = self._table.last_ticks(events, self._last_event, done)
        self._accept_ticks(events) if self._one_beat else self._accept_times(events)

    def _accept_few(self, events: Events) -> bool:
        """What :meth:`_accept` does, for a few events of one clock; False, and nothing done, if something is wrong with them."""
        ticks, ports, values = (np.asarray(part).tolist() for part in (events.tick, events.port, events.value))
        if not len(ticks) == len(ports) == len(values):
            return False
        kinds, offsets, before = self._port_kinds, self._port_offsets, max(self._last_event[0], self.ticks())
        rows = []
        for tick, port, value in zip(ticks, ports, values, strict=True):
            if tick < before or not 0 <= port < len(kinds) or type(value) is not int:
                return False
            low, high, mask = kinds[port]
            if not low <= value <= high:
                return False
            before = tick
            rows.append((tick + 1 if tick else 0, offsets[port], value & mask))
        self._last_event = [before]
        self._merge(np.array([*rows, NO_ROW], np.uint64))
        return True

    def _merge(self, rows: np.ndarray) -> None:
        """Take events, and the row that ends the table, after those that wait."""
        if len(self._events) > 1:
            rows = np.concatenate([self._events[:-1], rows])
            rows[:-1] = rows[:-1][np.argsort(rows[:-1, 0], kind="stable")]
        self._events, self._is_clear = rows, np.zeros(len(rows), bool)

    def _accept_ticks(self, events: Events) -> None:
        """With one clock, where time counts ticks, events are in order, and the machine code ends strobes."""
        count = len(events.tick)
        rows = np.zeros((count + 1, self._events.shape[1]), np.uint64)
        rows[:count, 0] = self._times(events.tick, events.port)
        rows[:count, 1] = self._port_offset[events.port]
        self._put_values(rows[:count, 2:], events)
        self._merge(rows)

    def _accept_times(self, events: Events) -> None:
        """With several clocks, events and the ends of strobes are sorted by time."""
        ended = np.flatnonzero(self._table.strobe[events.port])
        waiting = len(self._events) - 1
        middle, count = waiting + len(ended), waiting + len(ended) + len(events.tick)
        rows = np.zeros((count + 1, self._events.shape[1]), np.uint64)
        rows[:waiting] = self._events[:waiting]
        rows[waiting:middle, 0] = self._times(events.tick[ended] + 1, events.port[ended])
        rows[waiting:middle, 1] = self._port_offset[events.port[ended]]
        rows[middle:count, 0] = self._times(events.tick, events.port)
        rows[middle:count, 1] = self._port_offset[events.port]
        self._put_values(rows[middle:count, 2:], events)
        is_clear = np.zeros(count + 1, bool)
        is_clear[:waiting], is_clear[waiting:middle] = self._is_clear[:waiting], True
        order = np.lexsort((~is_clear[:count], rows[:count, 0]))
        sorted_rows = np.zeros_like(rows)
        np.take(
            rows[:count], order, axis=0, out=sorted_rows[:count], mode="clip"
        )  # several times faster than rows[order]
        is_clear[:count] = is_clear[order]
        self._events, self._is_clear = sorted_rows, is_clear

    def _times(self, ticks: np.ndarray, ports: np.ndarray) -> np.ndarray:
        if len(self._beats) == 1:
            return self._beats[0].due(ticks)
        times, clocks = np.empty(len(ticks), np.int64), self._table.clock[ports]
        for c, beat in enumerate(self._beats):
            times[clocks == c] = beat.due(ticks[clocks == c])
        return times

    def _put_values(self, out: np.ndarray, events: Events) -> None:
        if events.value.dtype != object:  # then every value has at most 64 bits, and those above are zero in the buffer
            out[:, 0] = events.value.view(np.uint64)
            negative = np.flatnonzero(events.value < 0)
            if len(negative):
                out[negative, 0] &= self._port_mask[events.port[negative]]
                if out.shape[1] > 1:
                    self._extend_sign(out, events, negative)
            return
        widths = self._table.width[events.port].tolist()
        for row, value, width in zip(out, events.value.tolist(), widths, strict=True):
            for i in range(words(width)):
                row[i] = ((int(value) & ((1 << width) - 1)) >> (64 * i)) & (2**64 - 1)

    def _extend_sign(self, out: np.ndarray, events: Events, negative: np.ndarray) -> None:
        """Plain negative values for inputs of more than 64 bits."""
        for at in negative[self._table.width[events.port[negative]] > 64].tolist():
            put(out[at], 0, int(events.value[at]) & ((1 << int(self._table.width[events.port[at]])) - 1), out.shape[1])

    def _forget_events(self) -> None:
        """Drop what was applied; end the strobes whose tick is over, so that a look from outside sees them at 0."""
        if len(self._events) == 1:  # the row that ends the table
            return
        index = self._get("event_index")
        self._events, self._is_clear = self._events[index:], self._is_clear[index:]
        if self._get("pending"):
            self._end_strobes()
        if self._one_beat:  # then no row ends a strobe
            return
        now = min(int(self._state[e]) for e in self._layout.edge)
        over = self._is_clear & (self._events[:, 0] <= now)
        if over.any():
            for row in self._events[over]:
                self._apply(row)
            self._events, self._is_clear = self._events[~over], self._is_clear[~over]

    def _end_strobes(self) -> None:
        """What the machine code does in the tick after a strobe: a run ends only when the strobe's tick is over."""
        for offset in self._strobes:
            self._state[offset : offset + self._layout.input_words] = 0
        self._set("pending", 0)
        self._set("rests", 0)

    def _apply(self, row: np.ndarray) -> None:
        """What the machine code does with an event row (see :mod:`.quiet`)."""
        count, offset, state = self._layout.input_words, int(row[1]), self._state
        old, new = state[offset : offset + count].copy(), row[2:]
        if (old != new).any():
            self._set("rests", 0)
        start = max(int(row[0]) - 1, 0)
        if (old != new).any() and int(state[offset + 2 * count]) != start:
            state[offset + count : offset + 2 * count] = old
            state[offset + 2 * count] = start
        state[offset : offset + count] = new

    # --- looking ---

    def _signal(self, name: str) -> Signal:
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

    def _leaf(self, op: str, attr: int, kind: Type) -> int:
        lay = self._layout
        if op == "const":
            return attr
        if op == "expired":
            return int(self._state[lay.timers[attr]] == 0)
        offsets = {"reg": lay.regs, "input": lay.inputs, "rdata": lay.reads}[op]
        return get(self._state, offsets[attr], kind)

    def _set(self, name: str, value: int) -> None:
        self._words[HEADER_AT[name]] = value

    def _get(self, name: str) -> int:
        return self._words[HEADER_AT[name]]
