"""From a netlist and its recording to the rows of a picture, without repeating types and names by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Protocol

import numpy as np

from ..engines.api import Trace
from ..netlist.model import Netlist
from .loops import Part, schedule
from .picture import Picture
from .rows import Bus, Level, Row, States, Turns, own_type


class Recorded(Protocol):
    """What can be asked for recordings by name: a rig, or an engine's recording."""

    def trace(self, name: str) -> Trace:
        """The recording of one signal."""


def rows_of(source: Recorded, *names: str, netlist: Netlist | None = None) -> list[Row]:
    """A row for each recorded signal: levels, buses in their own number format, states by name.

    Parameters
    ----------
    source : a rig, or an engine's recording together with ``netlist``
    names : the signals wanted, as the source calls them; none: all that were recorded

    Signals of another clock are placed on clock 0's axis.  Raises what the source raises for an unknown name.
    """
    plan: Netlist = netlist if netlist is not None else source.netlist  # type: ignore[attr-defined]
    kept: Sequence[str] = getattr(source, "recorded", ()) or getattr(source, "names", ())
    wanted = names or kept
    return [_row(source.trace(name), name, plan) for name in wanted]


def _row(trace: Trace, name: str, plan: Netlist) -> Row:
    signal = plan.signals().get(name)
    kind = own_type(trace, signal.type if signal else None)
    per_tick = _ratio(plan, signal.clock) if signal else _ratio_of(plan, trace)
    states = next((reg.states for reg in plan.regs if reg.name == name and reg.states), ())
    if states:
        return States(trace, name, per_tick=per_tick, names=states)
    if kind is not None and kind.width == 1:
        return Level(trace, name, per_tick=per_tick)
    return Bus(trace, name, per_tick=per_tick, type=kind)


def _ratio(netlist: Netlist, clock: int) -> float:
    """Ticks of clock 0 per tick of a clock."""
    first, own = netlist.clocks[0], netlist.clocks[clock]
    return first.hz_num * own.hz_den / (first.hz_den * own.hz_num)


def _ratio_of(plan: Netlist, trace: Trace) -> float:
    """The same for a rig's recording, which knows its clock's rate."""
    hz = float(getattr(trace, "hz", 0))
    return plan.clocks[0].hz_num / plan.clocks[0].hz_den / hz if hz else 1.0


def turns_in(source: Recorded, loop: str, *, netlist: Netlist | None = None) -> Turns:
    """All complete turns of a sequenced loop, from its recorded state.

    A turn begins in the last tick in which the loop stands at its start, and ends when it is back there.

    Raises
    ------
    ValueError
        If there is no such loop, or its turns take one tick, so that they leave no mark in its state.
    """
    plan: Netlist = netlist if netlist is not None else source.netlist  # type: ignore[attr-defined]
    found = next((one for one in plan.loops if one.name == loop), None)
    if found is None or not found.state:
        stepping = ", ".join(one.name for one in plan.loops if one.state) or "none"
        raise ValueError(f"{loop!r} is no loop that takes steps; loops with steps: {stepping}")
    state = source.trace(found.state)
    away = np.asarray(state.values) != 0
    leaves = np.flatnonzero(away[1:] & ~away[:-1]) + 1
    backs = np.flatnonzero(away[:-1] & ~away[1:]) + 1
    backs = backs[backs > leaves[0]] if len(leaves) else backs[:0]
    count = min(len(leaves), len(backs))
    return Turns(state.ticks[leaves[:count]] - 1, state.ticks[backs[:count]], found.period, loop)


def schedule_of(source: Recorded, loop: str, turn: int = 0, *, netlist: Netlist | None = None, **how: Any) -> Picture:
    """The schedule of one recorded turn of a loop, and all its turns below; takes what :func:`schedule` takes.

    Raises ValueError if that turn was not recorded to its end, and what :func:`turns_in` raises.
    """
    plan: Netlist = netlist if netlist is not None else source.netlist  # type: ignore[attr-defined]
    turns = turns_in(source, loop, netlist=plan)
    if not 0 <= turn < len(turns.begin):
        raise ValueError(f"turn {turn} of {loop} is not in the recording; it holds {len(turns.begin)} complete turns")
    name = next(one.state for one in plan.loops if one.name == loop)
    names = next(reg.states for reg in plan.regs if reg.name == name)
    begin, end = int(turns.begin[turn]), int(turns.end[turn])
    parts = parts_of(source.trace(name), names, begin, end, waits=[word for word in names if word.startswith("waits")])
    clock = plan.clocks[next(one.clock for one in plan.loops if one.name == loop)]
    given = {
        "period": turns.period,
        "turns": turns,
        "tick_s": clock.hz_den / clock.hz_num,
        "title": f"Turn {turn} of {loop}",
    }
    return schedule(parts, **{**given, **how})


def parts_of(state: Trace, names: Iterable[str], begin: int, end: int, waits: Iterable[str] = ()) -> list[Part]:
    """The parts of one recorded turn: a part for each stay in a state between ticks ``begin`` and ``end``.

    ``waits`` are the names of states that only wait.
    """
    names, waiting = tuple(names), set(waits)
    first = max(int(np.searchsorted(state.ticks, begin, side="right")) - 1, 0)
    last = int(np.searchsorted(state.ticks, end, side="left"))
    bounds = [max(int(tick), begin) for tick in state.ticks[first:last]] + [end]
    values = [int(value) for value in state.values[first:last]]
    words = [names[value] if 0 <= value < len(names) else f"state {value}" for value in values]
    return [
        Part(word, start - begin, stop - start, word in waiting)
        for word, start, stop in zip(words, bounds[:-1], bounds[1:], strict=True)
        if stop > start
    ]
