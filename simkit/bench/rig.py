"""A design running on a bench: the loop between engine and plant."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from ..engines import EngineFault, make_engine
from ..host import Host, HostModel
from ..netlist import Netlist
from ..netlist.once import checked, exposed
from ..notebook import pieces
from ..units import Duration
from .analog import AnalogInput
from .bench import Bench, Time
from .endpoints import check_endpoints
from .fan_house import FanHouse
from .interrupts import uninterrupted
from .queue import Agenda
from .record import Samples, Tap, Waveform
from .terminals import BenchFault, Level, find
from .timebase import Block, Timebase

BLOCKS_AT_ONCE = 16
"""So many blocks are handed to the engine together where the plant does not listen to the design: half the time of a recording."""


def load(
    design: Any,
    bench: Bench | None = None,
    *,
    record: Sequence[str] | str | None = None,
    host: str | HostModel = "ideal",
    engine: str = "native",
) -> Rig:
    """Put a design on a bench, ready to run from reset.

    Parameters
    ----------
    design : a :class:`Netlist`, or a Design class or instance, which is compiled first
    bench : the bench that its channels are wired to; without it a fan house of its own (seed 0)
    record : names of signals, terminals or channels to keep a recording of; ``"all"`` for every signal, ``[]`` for
        none.  Without it: what the design puts out, except the words of its streams
    host : ``"ideal"`` (accesses take no time), ``"desktop"``, ``"real-time"``, or a :class:`simkit.host.HostModel`
    engine : ``"native"`` (fast) or ``"reference"`` (the definition); both give the same result

    Raises
    ------
    BenchFault
        If the design is wired to a terminal that does not exist or does not fit, or a name to record is unknown.
    """
    netlist = exposed(checked(design if isinstance(design, Netlist) else _compiled(design)))
    if bench is None:
        bench = FanHouse() if any(end.terminal for end in netlist.endpoints) else Bench()
    return Rig(netlist, bench, record, host, engine)


def _compiled(design: Any) -> Netlist:
    from ..lang import compile_design

    return compile_design(design)


def used_inputs(netlist: Netlist) -> set[str]:
    """Names of the inputs that something in the design depends on; changes of the others need not be worked out."""
    used = {arg for node in netlist.nodes for arg in node.args} | {reg.next for reg in netlist.regs}
    used |= {index for timer in netlist.timers for index in (timer.load, timer.value)}
    used |= {index for read in netlist.reads for index in (read.addr, read.enable)}
    used |= {index for write in netlist.writes for index in (write.addr, write.data, write.enable)}
    used |= {port.node for port in netlist.outputs}
    return {netlist.inputs[netlist.nodes[index].attr].name for index in used if netlist.nodes[index].op == "input"}


class Rig:
    """A design running on a bench.  Made by :func:`load`.

    ``host`` is the design's host side: registers, streams and interrupts as attributes.
    """

    def __init__(
        self, netlist: Netlist, bench: Bench, record: Sequence[str] | str | None, host: str | HostModel, engine: str
    ) -> None:
        check_endpoints(netlist)
        self.netlist = netlist
        self.bench = bench
        clock = netlist.clocks[0]
        self.timebase = Timebase(Fraction(clock.hz_num, clock.hz_den))
        self._tick_length = Duration(10**12 / self.timebase.hz)
        try:
            self.engine = make_engine(netlist, bench.seed, engine)
        except EngineFault as error:
            raise BenchFault(f"engine: {error}") from None
        self._kind = engine
        self.runs_in: int | None = None
        """Identity of the thread that has the rig for itself, None while anybody may move it."""
        self._signals = netlist.signals()
        self._ports = {port.name: i for i, port in enumerate(netlist.inputs)}
        self._keep = self._to_keep(record)
        self._heard = used_inputs(netlist) | set(self._keep)
        self._wired = {e.terminal: e for e in self._wirable()}
        bench.wire(self._wired, self.timebase)
        self._watched = {t: e.ports["value"] for t, e in self._wired.items() if e.kind.endswith("_out")}
        self._begin(host)

    def _begin(self, host: str | HostModel) -> None:
        """Everything that is there at tick 0."""
        self._aborted = False
        self._agenda = Agenda()
        self._block: Block | None = None
        self._now = self._handed = 0
        self.host = Host(self.netlist, self, host, self.bench.random("host"))
        self._streams = self.host.streams()
        shown = [stream.endpoint.ports[role] for stream in self._streams for role in stream.watched]
        self._tap = Tap(self._keep, [*self._watched.values(), *shown])
        self.engine.record(self._tap)
        self._last = {t: self.engine.peek(port) for t, port in self._watched.items()}
        self.bench.rig = self
        self.schedule(self.bench.script())

    # --- running ---

    def run(self, duration: Duration | None = None, *, ticks: int | None = None) -> Rig:
        """Run on for a duration, or a number of ticks of the fabric clock; gives the rig itself.

        A duration must be a whole number of ticks.
        """
        length = duration if ticks is None else ticks
        if length is None or (duration is not None and ticks is not None):
            raise BenchFault("run: give a duration, run(ms(5)), or ticks, run(ticks=1000)")
        for tick in pieces(self._now, self._now + self._whole_ticks(length), float(self.timebase.hz)):
            self.advance_to(tick)
            if self._now < tick:
                break
        return self

    def advance_to(self, tick: int) -> None:
        """Run until ``tick`` ticks are complete (no effect if they are), or until somebody stops the engine."""
        if self._aborted:
            raise BenchFault("the design was aborted: reset() starts it again")
        if self.runs_in not in (None, threading.get_ident()):
            raise BenchFault("this rig is running in a panel: pause it there, or with panel.pause(), then go on here")
        if self.bench.rig is not self:
            raise BenchFault("this bench has been loaded with another design since: make a bench for each")
        if not self._streams:
            self._now = self.engine.ticks()  # Ctrl-C may have come between a run's end and its being noted
        while self._now < tick:
            if self._block is None or self._now >= self._block.stop:
                with uninterrupted():
                    self._begin_blocks(tick)
            stop = min([tick, self._block.stop, *self._looks()])  # type: ignore[union-attr]
            self._handed = stop
            try:
                self.engine.run(stop - self._now, self._agenda.due(stop))
            finally:  # an interrupted engine stands at the end of some tick, ready to go on
                if self._streams:
                    with uninterrupted():
                        self._now = self.engine.ticks()
                        self._collect()
                else:
                    self._now = self.engine.ticks()
            if self._now < stop:
                return

    def _collect(self) -> None:
        """Let streams take in what the design showed them."""
        for stream in self._streams:
            fresh = {role: self._tap.fresh(stream.endpoint.ports[role]) for role in stream.watched}
            stream.collect(self._now, fresh)

    def _looks(self) -> list[int]:
        """Let streams act that are due in this tick; the ticks in which others will be."""
        ahead = []
        for stream in self._streams:
            due = stream.next_look()
            if due == self._now:
                stream.look()
                due = stream.next_look()
            ahead += [due] if due is not None else []
        return ahead

    def reset(self) -> Rig:
        """Back to tick 0: design, plant, recordings and host; what was scripted on the bench happens again."""
        self.engine.reset()
        self.bench.wire(self._wired, self.timebase)
        self._begin(self.host.link.model)
        return self

    def download(self, design: Any) -> Rig:
        """Another design on the same bench, from reset, with the same host and engine; gives its rig.  This one is
        over.
        """
        netlist = exposed(checked(design if isinstance(design, Netlist) else _compiled(design)))
        return Rig(netlist, self.bench, None, self.host.link.model, self._kind)

    def abort(self) -> None:
        """Stop the design for good: it can be looked at, and run again only after :meth:`reset`."""
        self._aborted = True

    def _begin_blocks(self, tick: int) -> None:
        """The next block.  Where nothing that the design does reaches the plant: several that begin before ``tick``."""
        rows = self._begin_block()
        if not self._watched and not self._streams:
            for _ in range(BLOCKS_AT_ONCE - 1):
                if self._block is None or self._block.stop >= tick:
                    break
                rows += self._begin_block()
        self._agenda.add(rows)

    def _begin_block(self) -> list[tuple[np.ndarray, int, np.ndarray]]:
        """Move the plant through the next block; what it changes: ticks, port, values."""
        block = Block.number(0 if self._block is None else self._block.index + 1, self.timebase)
        bench = self.bench
        bench.advance(block, {t: self._level(t, port) for t, port in self._watched.items()})
        self._block = block
        rows = []
        for name, endpoint in self._wired.items():
            terminal = bench.terminals[name]
            changes = terminal.at_rest(block) if terminal.driven else terminal.changes(block)
            rows += [
                (ticks, self._ports[endpoint.ports[role]], values)
                for role, ticks, values in changes
                if endpoint.ports.get(role) in self._heard
            ]
        for stream in self._streams:
            rows += [(ticks, self._ports[port], values) for port, ticks, values in stream.plan(block.start, block.stop)]
        return rows

    def _level(self, terminal: str, port: str) -> Level:
        """What an output did during the block before."""
        first, before = self._last[terminal], self._block
        fresh = self._tap.fresh(port)
        if before is None or fresh is None:
            return Level.still(first, -1 if before is None else before.index)
        level = Level(before.index, first, before.start, before.stop, *fresh)
        self._last[terminal] = level.last
        return level

    def _whole_ticks(self, length: Time) -> int:
        if isinstance(length, Duration):
            exact = length.ticks(self.timebase.hz)
            if exact.denominator != 1:
                raise BenchFault(f"run: {length} is {float(exact):.9g} ticks; a whole number is wanted")
            length = int(exact)
        if isinstance(length, bool) or length != int(length) or length < 0:
            raise BenchFault(f"run: {length!r} is not a number of ticks")
        return int(length)

    def schedule(self, rows: Iterable[tuple[str, Time, int]]) -> None:
        """Scripted changes of the bench: terminal, instant, raw value; :class:`BenchFault` if an instant is over."""
        now, handed, ask = self._now, self._handed, self._agenda.ask
        ports = {
            terminal: (self._ports[end.ports["value"]], self._ports.get(end.ports.get("valid", "")))
            for terminal, end in self._wired.items()
            if end.ports.get("value") in self._ports
        }
        for terminal, at, value in rows:
            tick = at if type(at) is int else self.timebase.tick_of(at)
            if tick < now:
                raise BenchFault(f'terminal "{terminal}": {at!s} is over, the rig is at {self.now}')
            if terminal in ports:
                tick, (port, strobe) = max(tick, handed), ports[terminal]
                ask(tick, port, value)
                if strobe is not None:
                    ask(tick, strobe, 1)

    # --- what the host uses ---

    def tick_of(self, at: Time) -> int:
        """The first tick that begins at or after an instant."""
        return self.timebase.tick_of(at)

    def ask(self, tick: int, port: str, value: int) -> None:
        """Set an input to a raw value from the start of a tick on (after an interrupted run, of the next one
        possible).
        """
        self._agenda.ask(max(tick, self._handed) if self._now < self._handed else tick, self._ports[port], value)

    def rests_until(self) -> int:
        """The tick up to which every signal certainly keeps the value that it has now: the design rests, and no input changes."""
        if self._block is None:
            return self._now
        looks = [due for stream in self._streams if (due := stream.next_look()) is not None]
        return max(self._now, min(self._agenda.first(self._block.stop), self.engine.rests_until(), *looks))

    def peek(self, name: str) -> int:
        """Raw value of a signal now."""
        return self.engine.peek(self._signal(name))

    # --- looking ---

    @property
    def ahead(self) -> int:
        """Number of the first block that is not worked out yet: what hands do there still counts."""
        return 0 if self._block is None else self._block.index + 1

    @property
    def ticks(self) -> int:
        """Ticks of the fabric clock completed since reset."""
        return self._now

    @property
    def now(self) -> Duration:
        """Time since reset."""
        return self._now * self.tick_length

    @property
    def tick_length(self) -> Duration:
        """One period of the fabric clock."""
        return self._tick_length

    @property
    def late(self) -> dict[str, int]:
        """For each loop with a period: how often a turn was still busy when the next was due."""
        return {loop.name: self.engine.peek(loop.late) for loop in self.netlist.loops if loop.late in self._signals}

    @property
    def missed(self) -> dict[str, int]:
        """For each analog channel that is read with ``read()``: how many samples were never read."""
        return {e.name: self.engine.peek(e.ports["missed"]) for e in self.netlist.endpoints if "missed" in e.ports}

    @property
    def recorded(self) -> tuple[str, ...]:
        """Names of the signals that are recorded."""
        return tuple(self._tap.kept)

    def trace(self, name: str) -> Waveform:
        """The recording of a signal, a terminal or a channel."""
        signal = self._signal(name)
        if signal not in self._tap.kept:
            raise BenchFault(
                f"{name!r} was not recorded; recorded: {', '.join(self._tap.kept) or 'nothing'}. "
                "Name it in load(…, record=[…])"
            )
        trace, found = self._tap.trace(signal), self._signals[signal]
        clock = self.netlist.clocks[found.clock]
        return Waveform(name, trace.ticks, trace.values, found.type, Fraction(clock.hz_num, clock.hz_den))

    def samples(self, terminal: str) -> Samples:
        """Every sample that an analog terminal has delivered; its channel must be recorded."""
        channel = find(terminal, self.bench.terminals)
        if not isinstance(channel, AnalogInput) or channel.bound is None or channel.driven:
            raise BenchFault(f'terminal "{terminal}" delivers no samples of its own here')
        trace = self.trace(channel.bound.ports["value"])
        ticks, instants = channel.delivered(self._now)
        place = np.searchsorted(trace.ticks, ticks, side="right") - 1
        if (place < 0).any():
            raise BenchFault(f'terminal "{terminal}" was not recorded from the beginning')
        return Samples(instants, trace.values[place], channel.calibration, float(channel.converter.rate_hz))

    def _wirable(self) -> list[Any]:
        """Endpoints with a terminal; two on one terminal are refused."""
        seen: dict[str, Any] = {}
        for endpoint in self.netlist.endpoints:
            if not endpoint.terminal:
                continue
            if endpoint.terminal in seen:
                other = seen[endpoint.terminal]
                raise BenchFault(
                    f"{endpoint.name} ({endpoint.loc}) and {other.name} ({other.loc}) are both wired to "
                    f'terminal "{endpoint.terminal}": declare it once and share it'
                )
            seen[endpoint.terminal] = endpoint
        return list(seen.values())

    def _to_keep(self, record: Sequence[str] | str | None) -> list[str]:
        if record is None:
            streams = {name for e in self.netlist.endpoints if e.kind == "host_stream" for name in e.ports.values()}
            return [port.name for port in self.netlist.outputs if port.name not in streams]
        if record == "all":
            return list(self._signals)
        return [self._signal(name) for name in ([record] if isinstance(record, str) else record)]

    def _signal(self, name: str) -> str:
        """The signal meant by a name: its own, its channel's or its terminal's."""
        if name in self._signals:
            return name
        for endpoint in self.netlist.endpoints:
            if name in (endpoint.name, endpoint.terminal):
                for role in ("value", "data", "request"):
                    if endpoint.ports.get(role) in self._signals:
                        return endpoint.ports[role]
        raise BenchFault(f"there is no signal {name!r}; signals: {', '.join(self._signals)}")
