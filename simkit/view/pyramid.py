"""Windows into recordings of any length in the time of a window: what a scope asks for on every movement.

Smallest and largest value of each pixel column are exact, however many changes lie in it: whole blocks of changes
come from a table that is made once, the ends of each column from the recording itself.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from ..engines.api import Trace
from .reduce import Slabs, columns, locate, slabs, window

BLOCK = 256
"""Changes summed up in one entry of the table."""


class Pyramid:
    """A recording with its table of block extremes."""

    def __init__(self, trace: Trace) -> None:
        self.trace = trace

    @cached_property
    def _table(self) -> tuple[np.ndarray, np.ndarray]:
        """Smallest and largest value of each block, the last value once more at the end."""
        values = self.trace.values
        begins = np.arange(0, len(values), BLOCK)
        last = values[-1:]
        return (
            np.concatenate([np.minimum.reduceat(values, begins), last]),
            np.concatenate([np.maximum.reduceat(values, begins), last]),
        )

    def points(self, start: float, stop: float, count: int) -> tuple[np.ndarray, np.ndarray]:
        """Corner points of the curve in ``count`` pixel columns, as :func:`simkit.view.reduce.columns` gives them."""
        ticks, values = self.trace.ticks, self.trace.values
        first, last = locate(ticks, np.array([start, stop]))
        if last - first <= 16 * count:
            return columns(*window(self.trace, start, stop), start, stop, count)
        begin, end = self._column_bounds(start, stop, count)
        low, high = self._extremes(begin, end)
        xs = np.stack([ticks[begin], ticks[begin], ticks[begin], ticks[end - 1]], axis=1).ravel()
        ys = np.stack([values[begin], low, high, values[end - 1]], axis=1).ravel()
        if first:
            xs, ys = np.append(start, xs), np.append(values[first - 1], ys)
        return xs, ys

    def _column_bounds(self, start: float, stop: float, count: int) -> tuple[np.ndarray, np.ndarray]:
        """First change of each column that has one, and the change after its last."""
        bounds = locate(self.trace.ticks, np.linspace(start, stop, count + 1))
        begin, end = bounds[:-1], bounds[1:]
        filled = end > begin
        return begin[filled], end[filled]

    def _extremes(self, begin: np.ndarray, end: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        values, reach = self.trace.values, np.arange(BLOCK)
        head = values[np.minimum(begin[:, None] + reach, end[:, None] - 1)]
        tail = values[np.maximum(end[:, None] - 1 - reach, begin[:, None])]
        low = np.minimum(head.min(axis=1), tail.min(axis=1))
        high = np.maximum(head.max(axis=1), tail.max(axis=1))
        first, last = -(-begin // BLOCK), end // BLOCK
        whole = last > first
        if whole.any():
            pairs = np.stack([first[whole], last[whole]], axis=1).ravel()
            table_low, table_high = self._table
            low[whole] = np.minimum(low[whole], np.minimum.reduceat(table_low, pairs)[::2])
            high[whole] = np.maximum(high[whole], np.maximum.reduceat(table_high, pairs)[::2])
        return low, high

    def slabs(self, start: float, stop: float, count: int) -> Slabs:
        """Held values and busy stretches in ``count`` pixel columns; a busy stretch has a change in every column."""
        ticks = self.trace.ticks
        first, last = locate(ticks, np.array([start, stop]))
        if last - first <= 16 * count:
            return slabs(self.trace, start, stop, 2 * (stop - start) / count)
        bounds = locate(ticks, np.linspace(start, stop, count + 1))
        changes = np.diff(bounds)
        edge = np.diff((changes > 0).astype(np.int8), prepend=0, append=0)
        run_first, run_after = bounds[np.flatnonzero(edge == 1)], bounds[np.flatnonzero(edge == -1)]
        return self._between(run_first, run_after, start, stop)

    def _between(self, first: np.ndarray, after: np.ndarray, start: float, stop: float) -> Slabs:
        """Slabs from runs of changes ``[first, after)``: a run is busy, what lies between two runs is held."""
        ticks, values = self.trace.ticks, self.trace.values
        begin = np.stack([ticks[first], ticks[after - 1]], axis=1).ravel().astype(float)
        value = np.stack([values[first], values[after - 1]], axis=1).ravel()
        busy = np.tile([True, False], len(first))
        if first[0] > 0:
            begin, value, busy = np.append(start, begin), np.append(values[first[0] - 1], value), np.append(False, busy)
        end = np.append(begin[1:], stop)
        keep = end > begin
        return Slabs(begin[keep], end[keep], value[keep], busy[keep])
