"""From a netlist and its recording to the rows of a picture, without repeating types and names by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

import numpy as np

from ..engines.api import Trace
from ..netlist.model import Netlist
from .loops import Part
from .rows import Bus, Level, Row, States, own_type


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
    per_tick = _ratio(plan, signal.clock) if signal else 1.0
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
