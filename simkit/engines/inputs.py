"""What every engine asks of the events it is given."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..netlist import Netlist
from .api import EngineFault, Events


def checked(netlist: Netlist, events: Events) -> Events:
    """The events as arrays of the right kind.

    Raises
    ------
    EngineFault
        If the arrays differ in length, a port does not exist, or a value does not fit its input.
    """
    tick, port = np.asarray(events.tick, np.int64), np.asarray(events.port, np.int64)
    value = np.asarray(events.value)
    if not len(tick) == len(port) == len(value):
        raise EngineFault(f"events need three arrays of equal length, not {len(tick)}, {len(port)} and {len(value)}")
    if not len(tick):
        return Events(tick, port, value)
    if port.min() < 0 or port.max() >= len(netlist.inputs):
        raise EngineFault(f"an event names input {port.min() if port.min() < 0 else port.max()}; there are {len(netlist.inputs)}")
    value = value if value.dtype == object else value.astype(np.int64)
    for index in np.unique(port).tolist():
        item, mine = netlist.inputs[index], value[port == index]
        low, high = int(mine.min()), int(mine.max())
        for worst in (low, high):
            if not item.type.holds(worst):
                raise EngineFault(f"{worst} does not fit input {item.name!r}, which is {item.type}")
    return Events(tick, port, value)


def last_tick_of(netlist: Netlist, events: Events, clocks: np.ndarray, last: Sequence[int], done: Sequence[int]) -> list[int]:
    """Tick of the last event of each clock, old and new.

    Raises
    ------
    EngineFault
        If an event lies in the past, or before one that came earlier.
    """
    latest = list(last)
    for clock in range(len(done)):
        mine = events.tick[clocks == clock]
        if not len(mine):
            continue
        before = np.concatenate([[max(last[clock], done[clock])], mine[:-1]])
        late = np.nonzero(mine < before)[0]
        if len(late):
            at = np.nonzero(clocks == clock)[0][late[0]]
            raise EngineFault(f"an event for tick {events.tick[at]} of {netlist.inputs[events.port[at]].name!r} comes too late")
        latest[clock] = int(mine[-1])
    return latest
