"""One row of a scope, as the kernel sees it: windows, values at a tick, differences from what was expected."""

from __future__ import annotations

from typing import Any

import numpy as np

from . import reduce
from .pyramid import Pyramid
from .rows import Bus, Curve, Level, Row, States

TEXTS_AT_MOST = 400
"""Most values written out in one row."""

COMPARED_AT_MOST = 300_000
"""Most changes in a window that are compared one by one; beyond, the differences show after zooming in."""

Part = tuple[dict[str, Any], list[np.ndarray]]


class Lane:
    """A row with its recording and, where the row compares, the expected one."""

    def __init__(self, row: Row) -> None:
        self.row = row
        recorded, expected = row.on_picture_clock()
        self.recorded = Pyramid(recorded)
        self.expected = Pyramid(expected) if expected is not None else None

    @property
    def last(self) -> float:
        """Tick of the last change; 0 without any."""
        ends = [p.trace.ticks[-1] for p in (self.recorded, self.expected) if p is not None and len(p.trace.ticks)]
        return float(max(ends, default=0))

    def meta(self) -> dict[str, Any]:
        """What the page needs to know once."""
        kind = "level" if isinstance(self.row, Level) else "curve" if isinstance(self.row, Curve) else "bus"
        unit = getattr(self.row, "unit", "")
        return {"name": self.row.name, "kind": kind, "unit": unit, "compares": self.expected is not None}

    def window(self, start: float, stop: float, count: int) -> Part:
        """A stretch of ticks for ``count`` pixel columns: descriptions, and the arrays that belong to them in order."""
        found = [self._part(p, start, stop, count) for p in (self.recorded, self.expected) if p is not None]
        parts, arrays = [part for part, _ in found], [array for _, some in found for array in some]
        differ = self._differences(start, stop, (stop - start) / count)
        return {"parts": parts, "differ": len(differ[0])}, [*arrays, *differ]

    def words(self, tick: float | None) -> str:
        """The value at a tick, and the expected one if it is another."""
        if tick is None:
            return ""
        recorded = self._word(self.recorded, tick)
        expected = self._word(self.expected, tick) if self.expected else recorded
        return recorded if recorded == expected else f"{recorded} (expected {expected})"

    def _part(self, pyramid: Pyramid, start: float, stop: float, count: int) -> Part:
        if isinstance(self.row, Bus):
            return self._slabs(self.row, pyramid, start, stop, count)
        x, y = pyramid.points(start, stop, count)
        y = self.row.numbers(y) if isinstance(self.row, Curve) else np.asarray(y, float)
        return {"points": len(x), "steps": getattr(self.row, "steps", True)}, [x, y]

    def _slabs(self, row: Bus, pyramid: Pyramid, start: float, stop: float, count: int) -> Part:
        found = pyramid.slabs(start, stop, count)
        wide = ~found.busy & (found.end - found.begin > 8 * (stop - start) / count)
        texts = {int(i): row.words(int(found.value[i])) for i in np.flatnonzero(wide)[:TEXTS_AT_MOST]}
        kinds = [int(value) % 4 if isinstance(row, States) else 0 for value in found.value]
        hatch = np.where(found.busy, -1, np.array(kinds, int))
        return {"points": len(found.begin), "texts": texts}, [found.begin, found.end, hatch]

    def _differences(self, start: float, stop: float, gap: float) -> list[np.ndarray]:
        """Stretches in which recorded and expected differ, those closer than a pixel taken together."""
        nothing = np.empty(0)
        if self.expected is None:
            return [nothing, nothing]
        bounds = np.array([start, stop])
        changes = sum(int(np.diff(reduce.locate(p.trace.ticks, bounds))[0]) for p in (self.recorded, self.expected))
        if changes > COMPARED_AT_MOST:
            return [nothing, nothing]
        begin, end = reduce.differences(self.recorded.trace, self.expected.trace, start, stop)
        if not len(begin):
            return [nothing, nothing]
        apart = begin[1:] - end[:-1] > gap
        return [begin[np.append(True, apart)], end[np.append(apart, True)]]

    def _word(self, pyramid: Pyramid, tick: float) -> str:
        ticks = pyramid.trace.ticks
        if not len(ticks) or tick < ticks[0]:
            return ""
        raw = pyramid.trace.values[int(reduce.locate(ticks, tick, "right")) - 1]
        if isinstance(self.row, Curve):
            return f"{float(self.row.numbers(np.array([raw]))[0]):.5g} {self.row.unit}".strip()
        return self.row.words(int(raw)) if isinstance(self.row, Bus) else str(raw)
