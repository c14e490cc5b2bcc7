"""From any number of changes to what a row of pixels can show.

A line drawn through the first, last, smallest and largest value of each pixel column covers the same pixels as
the line through all values (U. Jugel et al., "M4: a visualization-oriented time series data aggregation",
Proc. VLDB Endowment 7(10), 2014), so a picture costs its width, not the length of the recording.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np

from ..engines.api import Trace


def locate(ticks: np.ndarray, at: Any, side: Literal["left", "right"] = "left") -> Any:
    """``np.searchsorted`` with any numbers in whole ticks, without turning the whole recording into floats."""
    if np.issubdtype(ticks.dtype, np.integer):
        at = (np.ceil if side == "left" else np.floor)(at).astype(ticks.dtype)
    return np.searchsorted(ticks, at, side=side)


def window(trace: Trace, start: float, stop: float) -> tuple[np.ndarray, np.ndarray]:
    """Changes with ``start <= tick < stop``, the value held at ``start`` put there first.

    Empty if the recording begins at or after ``stop``.
    """
    first = int(locate(trace.ticks, start, "right")) - 1
    last = int(locate(trace.ticks, stop))
    ticks, values = trace.ticks[max(first, 0) : last], trace.values[max(first, 0) : last]
    if first >= 0 and len(ticks) and ticks[0] < start:
        ticks = ticks.copy()
        ticks[0] = start
    return ticks, values


def columns(x: np.ndarray, y: np.ndarray, start: float, stop: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """At most four points for each of ``count`` pixel columns: first, smallest, largest, last.

    ``x`` must not decrease.  Inside a column the smallest and largest stand at the place of the first point,
    which no pixel can show.
    """
    if len(x) <= 4 * count:
        return x, y
    column = np.minimum((np.asarray(x, float) - start) * (count / (stop - start)), count - 1).astype(np.int64)
    begins = np.flatnonzero(np.diff(column, prepend=-1))
    ends = np.append(begins[1:], len(x)) - 1
    low, high = np.minimum.reduceat(y, begins), np.maximum.reduceat(y, begins)
    xs = np.stack([x[begins], x[begins], x[begins], x[ends]], axis=1).ravel()
    ys = np.stack([y[begins], low, high, y[ends]], axis=1).ravel()
    return xs, ys


class Slabs(NamedTuple):
    """Stretches of one held value, and stretches too busy to show values.

    ``begin``, ``end``: float arrays; ``value``: raw value; ``busy``: True where several short values were merged.
    """

    begin: np.ndarray
    end: np.ndarray
    value: np.ndarray
    busy: np.ndarray


def slabs(trace: Trace, start: float, stop: float, narrow: float) -> Slabs:
    """Held values between ``start`` and ``stop``; neighbours shorter than ``narrow`` ticks become one busy slab."""
    begin, value = window(trace, start, stop)
    end = np.append(begin[1:], stop).astype(float)[: len(begin)]
    short = end - begin < narrow
    lead = np.ones(len(begin), bool)
    lead[1:] = ~(short[1:] & short[:-1])
    at = np.flatnonzero(lead)
    last = np.append(at[1:], len(begin))[: len(at)] - 1
    return Slabs(begin[at].astype(float), end[last], value[at], last > at)


def differences(one: Trace, other: Trace, start: float, stop: float) -> tuple[np.ndarray, np.ndarray]:
    """Stretches ``[begin, end)`` of ticks in which two recordings hold different values.

    Ticks before either recording begins do not count as different.
    """
    begin = max([start, *(t.ticks[0] for t in (one, other) if len(t.ticks))])
    if not len(one.ticks) or not len(other.ticks) or begin >= stop:
        return np.empty(0), np.empty(0)
    edges = np.union1d(window(one, begin, stop)[0], window(other, begin, stop)[0])
    differ = _held(one, edges) != _held(other, edges)
    change = np.diff(differ.astype(np.int8), prepend=0, append=0)
    bounds = np.append(edges, stop)
    return bounds[np.flatnonzero(change == 1)].astype(float), bounds[np.flatnonzero(change == -1)].astype(float)


def first_difference(one: Trace, other: Trace) -> int | None:
    """The first tick in which two recordings hold different values, or None."""
    stop = max((int(t.ticks[-1]) for t in (one, other) if len(t.ticks)), default=0) + 1
    begins, _ = differences(one, other, 0, stop)
    return int(begins[0]) if len(begins) else None


def _held(trace: Trace, ticks: np.ndarray) -> np.ndarray:
    return trace.values[np.searchsorted(trace.ticks, ticks, side="right") - 1]
