"""For judges: run a design on exactly driven inputs and look at what it put out, tick by tick.

    played = drive(netlist, 2000, [(100, "fan A pulse", 1), (150, "fan A pulse", 0)])
    played.at("width", 170)        # what the host reads in tick 170
    played.changes("lamp")         # ticks in which the lamp changed

Names are those of terminals, channels or host registers.  Nothing of the bench takes part, so a check needs only the
ticks in which something happens.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

import numpy as np

from ..engines import Engine, EngineFault, Events, Recording, Trace, make_engine
from ..netlist import Endpoint, Netlist
from ..netlist.once import exposed
from .look import Expected, Look, look_at
from .model import AnswerFault

Change = tuple[int, str, int]
_runs: ContextVar[list[Played] | None] = ContextVar("runs of the judge at work", default=None)


@dataclass
class Played:
    """A run of ``ticks`` ticks.  ``late`` maps each paced loop to the number of its late turns.

    ``given`` is the netlist as the judge had it, ``driven`` what was driven, and ``asked`` what the judge looked at:
    ``(name, tick or None)``.
    """

    netlist: Netlist
    ticks: int
    recording: Recording
    late: dict[str, int]
    given: Netlist
    driven: list[Change] = field(default_factory=list)
    asked: list[tuple[str, int | None]] = field(default_factory=list)
    engine: Engine | None = field(default=None, repr=False, compare=False)
    """What ran it: a judge's next run of the same netlist begins again with it."""

    def trace(self, name: str) -> Trace:
        """Everything that an output, or a register of the host, did."""
        self.asked.append((name, None))
        return self._trace(name)

    def _trace(self, name: str) -> Trace:
        return self.recording.trace(endpoint(self.netlist, name).ports["value"])

    def at(self, name: str, tick: int) -> int:
        """Raw value in a tick."""
        self.asked.append((name, int(tick)))
        return self._trace(name).at(tick)

    def changes(self, name: str, to: int | None = None) -> np.ndarray:
        """Ticks in which the value changed (to ``to``); the value of tick 0 is no change."""
        trace = self.trace(name)
        return trace.ticks[1:] if to is None else trace.ticks[1:][trace.values[1:] == to]

    def look(
        self,
        *names: str,
        at: int | None = None,
        expected: Mapping[str, Expected | Played] | None = None,
        note: str = "",
        around: Sequence[int] = (),
    ) -> Look | None:
        """For ``Result(look=...)``: where in this run to see what is wrong.

        Parameters
        ----------
        names : outputs and host registers to show; what is driven is shown with them
        at : the tick to look at; None: the first in which ``names`` differ from what is expected
        expected : for a name, what it should have done: another run of :func:`drive`, a trace, or ``[(tick, value), ...]``
        note : what to notice
        around : ticks that the window holds as well

        Gives None if there is no such tick: then the card finds a moment by itself.
        """
        wanted = {name: run._trace(name) if isinstance(run, Played) else run for name, run in (expected or {}).items()}
        shown = {name: self._trace(name) for name in dict.fromkeys((*wanted, *names))}
        kinds = {name: endpoint(self.netlist, name).type for name in (*shown, *self._inputs())}
        return look_at({**self._inputs(), **shown}, kinds, tuple(shown), self.ticks, at, wanted, note, around)

    def paced(self, name: str, *gaps: int) -> Trace:
        """For ``expected=``: an output as it would have gone on from its second change with these gaps in turn, in ticks.

        One gap: it changes every ``gap`` ticks.  Two: it is 1 for the first and 0 for the second, from the first whole 1 on.
        """
        trace = self._trace(name)
        begins = [i for i in range(1, len(trace.ticks)) if len(gaps) == 1 or trace.values[i] == 1][:2]
        if not begins:
            return trace
        begin = begins[-1]
        ticks, values = list(trace.ticks[: begin + 1]), list(trace.values[: begin + 1])
        count = max((self.ticks - int(ticks[-1])) * len(gaps) // max(sum(gaps), 1), 0)
        for turn in range(min(count, 100_000)):
            ticks.append(ticks[-1] + gaps[turn % len(gaps)])
            values.append(values[-2])
        return Trace(name, np.array(ticks, np.int64), np.array(values, np.int64))

    def _inputs(self) -> dict[str, Trace]:
        """What was driven, by name."""
        rows: dict[str, list[tuple[int, int]]] = {}
        for tick, name, value in sorted(self.driven, key=lambda row: row[0]):
            rows.setdefault(name, [(0, 0)] if tick > 0 else []).append((tick, value))
        return {
            name: Trace(name, np.array([t for t, _ in changes]), np.array([v for _, v in changes]))
            for name, changes in rows.items()
        }


@contextmanager
def watched() -> Iterator[list[Played]]:
    """The runs that :func:`drive` makes inside, in order."""
    runs: list[Played] = []
    token = _runs.set(runs)
    try:
        yield runs
    finally:
        _runs.reset(token)


def endpoint(netlist: Netlist, name: str) -> Endpoint:
    """The endpoint called ``name`` or wired to the terminal ``name``; :class:`AnswerFault` if there is none."""
    for found in netlist.endpoints:
        if name in (found.name, found.terminal):
            return found
    there = ", ".join(one.terminal or one.name for one in netlist.endpoints) or "nothing"
    raise AnswerFault(f"the design has no {name!r}; it has {there}")


def drive(netlist: Netlist, ticks: int, changes: Iterable[Change] = (), seed: int = 0) -> Played:
    """Run ``ticks`` ticks from reset.

    Parameters
    ----------
    changes : ``(tick, name, raw value)``: what an input line, a channel or a host register gets from that tick on.
        A change of an analog input is a sample that arrives; one of an analog output is a tick in which its converter
        takes the code (the value does not count); a change of a host register is a write by the host
    seed : decides how metastable bits settle

    Raises
    ------
    AnswerFault
        If the design lacks the name, or cannot hold the value or run.
    """
    runs, given, changes = _runs.get(), netlist, list(changes)
    before = next((run for run in runs or () if run.given is given and run.engine and run.engine.seed == seed), None)
    netlist = exposed(netlist) if before is None else before.netlist
    shown = [port.name for port in netlist.outputs]
    recording = Recording(shown)
    try:
        events = _events(netlist, changes)
        if before is not None and before.engine is not None:
            engine = before.engine
            engine.reset()
        else:
            engine = make_engine(netlist, seed)
        engine.record(recording)
        engine.run(ticks, events)
    except EngineFault as error:
        raise AnswerFault(f"the design cannot be run: {error}") from error
    late = {loop.name: engine.peek(loop.late) for loop in netlist.loops if loop.late}
    played = Played(netlist, ticks, recording, late, given, changes, engine=engine)
    if runs is not None:
        runs.append(played)
    return played


MANY = 64
"""From so many changes on, arrays pay."""


def _events(netlist: Netlist, changes: list[Change]) -> Events:
    """The changes as those of inputs, in order."""
    ends = {name: endpoint(netlist, name) for name in dict.fromkeys([change[1] for change in changes])}
    if len(changes) < MANY or any(port.type.width > 63 for port in netlist.inputs):
        return Events.of(netlist, _rows(netlist, changes))
    number = {port.name: i for i, port in enumerate(netlist.inputs)}
    groups = {id(end): group for group, end in enumerate(ends.values())}
    group_of = {name: groups[id(end)] for name, end in ends.items()}  # two names may mean one endpoint
    group = np.array([group_of[name] for _, name, _ in changes], np.int32)
    try:
        ticks, values = (np.array([change[part] for change in changes], np.int64) for part in (0, 2))
    except OverflowError:
        return Events.of(netlist, _rows(netlist, changes))  # it says which value does not fit
    parts = []
    for end in {id(end): end for end in ends.values()}.values():
        mine = np.flatnonzero(group == groups[id(end)])
        for name, fixed in _inputs_of(end):
            port, taken = number[name], values[mine] if fixed is None else np.full(len(mine), fixed, np.int64)
            kind = netlist.inputs[port].type
            if len(taken) and not kind.low <= taken.min() <= taken.max() <= kind.high:
                return Events.of(netlist, _rows(netlist, changes))
            parts.append((ticks[mine], np.full(len(mine), port, np.int32), taken))
    tick, ports, value = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.argsort(tick, kind="stable")
    return Events(tick[order], ports[order], value[order])


def _rows(netlist: Netlist, changes: Iterable[Change]) -> Iterator[Change]:
    """The changes as those of inputs."""
    known: dict[str, list[tuple[str, int | None]]] = {}
    for tick, name, value in changes:
        if name not in known:
            known[name] = _inputs_of(endpoint(netlist, name))
        for port, fixed in known[name]:
            yield tick, port, value if fixed is None else fixed


def _inputs_of(found: Endpoint) -> list[tuple[str, int | None]]:
    """The inputs that a change of an endpoint sets, each with its value, None for that of the change."""
    ports = found.ports
    if found.kind == "analog_out":
        return [(ports["ready"], 1)]
    if "write" in ports:
        return [(ports["write"], 1), (ports["data"], None)]
    return [(ports["value"], None)] + ([(ports["valid"], 1)] if "valid" in ports else [])


def flip_flops(netlist: Netlist) -> int:
    """Bits of state in registers and timers, without synchronisers and the counts that the kit adds by itself."""
    regs = sum(reg.type.width for reg in netlist.regs if reg.kind not in ("sync", "count"))
    return regs + sum(timer.width for timer in netlist.timers)
