"""From a netlist and its recording to the rows of a picture, without repeating types and names by hand."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..engines.api import Recording, Trace
from ..netlist.model import Netlist
from .loops import Part
from .rows import AnyRow, Bus, Level, States


def rows_of(netlist: Netlist, recording: Recording, names: Iterable[str] | None = None) -> list[AnyRow]:
    """A row for each recorded signal: levels, buses in their own number format, states by name.

    Signals of a slower or faster clock are placed on clock 0's axis.  Raises KeyError, naming the signals there
    are, for a name that the design does not have, and what the recording raises for one not recorded.
    """
    known = netlist.signals()
    states = {reg.name: reg.states for reg in netlist.regs if reg.states}
    chosen = list(recording.names if names is None else names)
    missing = [name for name in chosen if name not in known]
    if missing:
        raise KeyError(f"the design has no signal {', '.join(missing)}; signals: {', '.join(sorted(known))}")
    rows: list[AnyRow] = []
    for name in chosen:
        signal, trace = known[name], recording.trace(name)
        per_tick = _ratio(netlist, signal.clock)
        if name in states:
            rows.append(States(trace, per_tick=per_tick, names=states[name]))
        elif signal.type.width == 1:
            rows.append(Level(trace, per_tick=per_tick))
        else:
            rows.append(Bus(trace, per_tick=per_tick, type=signal.type))
    return rows


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
        for word, start, stop in zip(words, bounds, bounds[1:], strict=True)
        if stop > start
    ]
