"""What every engine asks of the events it is given."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..netlist import Netlist
from .api import EngineFault, Events


class InputTable:
    """A netlist's inputs as arrays: ``clock``, ``strobe``, ``width``, ``low`` and ``high`` (smallest and largest raw value)."""

    def __init__(self, netlist: Netlist) -> None:
        ports = netlist.inputs
        self.ports = ports
        self.clock = np.array([p.clock for p in ports], np.int64)
        self.strobe = np.array([p.strobe for p in ports], bool)
        self.width = np.array([p.type.width for p in ports], np.int64)
        self.wide = any(p.type.width > 63 for p in ports)
        kind = object if self.wide else np.int64
        self.low, self.high = np.array([p.type.low for p in ports], kind), np.array([p.type.high for p in ports], kind)
        self.clocks = len(netlist.clocks)

    def checked(self, events: Events) -> Events:
        """The events as arrays of the right kind.

        Raises
        ------
        EngineFault
            If the arrays differ in length, a port does not exist, or a value does not fit its input.
        """
        tick, port, value = (
            np.asarray(events.tick, np.int64),
            np.asarray(events.port, np.int64),
            np.asarray(events.value),
        )
        if not len(tick) == len(port) == len(value):
            raise EngineFault(
                f"events need three arrays of equal length, not {len(tick)}, {len(port)} and {len(value)}"
            )
        if not len(tick):
            return Events(tick, port, value)
        if port.view(np.uint64).max() >= len(self.ports):  # a negative one is larger still
            raise EngineFault(
                f"an event names input {port.min() if port.min() < 0 else port.max()}; there are {len(self.ports)}"
            )
        value = value if value.dtype == object else value.astype(np.int64, copy=False)
        wrong = (value < self.low[port]) | (value > self.high[port])
        if wrong.any():
            at = int(np.nonzero(wrong)[0][0])
            item = self.ports[port[at]]
            raise EngineFault(f"{value[at]} does not fit input {item.name!r}, which is {item.type}")
        return Events(tick, port, value)

    def last_ticks(self, events: Events, last: Sequence[int], done: Sequence[int]) -> list[int]:
        """Tick of the last event of each clock, old and new.

        Raises
        ------
        EngineFault
            If an event lies in the past, or before one that came earlier.
        """
        latest = list(last)
        for clock in range(self.clocks):
            belongs = self.clock[events.port] == clock if self.clocks > 1 else slice(None)
            mine = events.tick[belongs]
            if not len(mine):
                continue
            if mine[0] < max(last[clock], done[clock]) or (mine[1:] < mine[:-1]).any():
                raise self._too_late(events, self.clock[events.port] == clock, max(last[clock], done[clock]))
            latest[clock] = int(mine[-1])
        return latest

    def _too_late(self, events: Events, mine: np.ndarray, least: int) -> EngineFault:
        places = np.nonzero(mine)[0]
        before = np.concatenate([[least], events.tick[places[:-1]]])
        at = places[np.nonzero(events.tick[places] < before)[0][0]]
        return EngineFault(
            f"an event for tick {events.tick[at]} of {self.ports[events.port[at]].name!r} comes too late"
        )
