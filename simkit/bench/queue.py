"""Changes of inputs that are still to come, and their handing over to the engine in time order."""

from __future__ import annotations

import bisect
import heapq
from collections.abc import Iterable

import numpy as np

from ..engines.api import NO_EVENTS, Events


class Agenda:
    """Two queues: what the plant worked out for a block, and what people and hosts asked for at exact ticks.

    Where both change one port in one tick, the request counts.
    """

    def __init__(self) -> None:
        self._plant = Events(np.empty(0, np.int64), np.empty(0, np.int32), np.empty(0, np.int64))
        self._asked: list[tuple[int, int, int, int]] = []
        self._serial = 0

    def ask(self, tick: int, port: int, value: int) -> None:
        """One change at an exact tick."""
        heapq.heappush(self._asked, (tick, self._serial, port, value))
        self._serial += 1

    def add(self, changes: Iterable[tuple[np.ndarray, int, np.ndarray]]) -> None:
        """A block's changes: ticks, port, values."""
        rows = list(changes)
        if not rows:
            return
        old = self._plant
        tick = np.concatenate([old.tick, *(ticks for ticks, _, _ in rows)])
        port = np.concatenate([old.port, *(np.full(len(ticks), index, np.int32) for ticks, index, _ in rows)])
        value = np.concatenate([old.value, *(values for _, _, values in rows)])
        order = np.argsort(tick, kind="stable")
        self._plant = Events(tick[order], port[order], value[order])

    def first(self, otherwise: int) -> int:
        """The tick of the next change; ``otherwise`` if it is later, or if there is none."""
        if self._asked:
            otherwise = min(otherwise, self._asked[0][0])
        return min(otherwise, int(self._plant.tick[0])) if len(self._plant.tick) else otherwise

    def due(self, before: int) -> Events:
        """All changes of ticks before the given one; they leave the queue."""
        plant = self._plant
        asked = bool(self._asked) and self._asked[0][0] < before
        if not asked and (not len(plant.tick) or plant.tick[0] >= before):
            return NO_EVENTS
        cut = int(np.searchsorted(plant.tick, before))
        ready = Events(plant.tick[:cut], plant.port[:cut], plant.value[:cut])
        if cut:
            self._plant = Events(plant.tick[cut:], plant.port[cut:], plant.value[cut:])
        return self._merged(ready, before) if asked else ready

    def _merged(self, ready: Events, before: int) -> Events:
        self._asked.sort()  # what is left is a heap again
        count = bisect.bisect_left(self._asked, (before,))
        rows, self._asked = self._asked[:count], self._asked[count:]
        value = [row[3] for row in rows]
        wide = any(not -(2**63) <= v < 2**63 for v in value)
        if not len(ready.tick):  # they are in order
            return Events(
                np.array([row[0] for row in rows], np.int64),
                np.array([row[2] for row in rows], np.int32),
                np.array(value, object if wide else np.int64),
            )
        tick = np.concatenate([ready.tick, np.array([row[0] for row in rows], np.int64)])
        port = np.concatenate([ready.port, np.array([row[2] for row in rows], np.int32)])
        values = np.concatenate([ready.value, np.array(value, object if wide else np.int64)])
        order = np.argsort(tick, kind="stable")
        return Events(tick[order], port[order], values[order])
