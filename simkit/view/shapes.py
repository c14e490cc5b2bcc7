"""The parts that pictures are drawn from: bars, hatched areas, and where a text finds room."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from matplotlib.collections import PolyCollection
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from . import style


@dataclass(frozen=True)
class View:
    """What a row needs to know of the picture: the ticks from ``start`` to ``stop`` on ``width`` inches."""

    start: float
    stop: float
    width: float
    theme: style.Theme
    drops: tuple[float, ...] = ()
    """Ticks at which a vertical line stands; texts keep clear of it where they can."""

    @property
    def columns(self) -> int:
        """Pixel columns, at the sharpness in which pictures are shown."""
        return max(int(self.width * style.DPI * 2), 1)

    @property
    def tick_per_inch(self) -> float:
        """Ticks on an inch of paper."""
        return (self.stop - self.start) / self.width

    def place(self, begin: float, end: float, words: str, size: float = style.SMALL) -> float | None:
        """Tick at which to centre a text in a stretch, clear of vertical lines if possible; None if it does not fit."""
        need = text_inches(words, size) + 0.08
        begin, end = max(begin, self.start), min(end, self.stop)
        if need > (end - begin) / self.tick_per_inch:
            return None
        bounds = [begin, *(tick for tick in self.drops if begin < tick < end), end]
        middle = (begin + end) / 2
        gaps = [(low, high) for low, high in itertools.pairwise(bounds) if (high - low) / self.tick_per_inch >= need]
        half = need / 2 * self.tick_per_inch
        return min(
            (float(np.clip(middle, low + half, high - half)) for low, high in gaps),
            key=lambda at: abs(at - middle),
            default=middle,
        )


@lru_cache(maxsize=4096)
def text_inches(text: str, size: float = style.SMALL) -> float:
    """Width of a text in inches, by the advance of its letters: a hundred times as quick as the extent of their outlines."""
    if not text.strip():
        return 0.0
    font = FontProperties(family=list(style.FONT), size=size)
    return float(text_to_path.get_text_width_height_descent(text, font, ismath=False)[0]) / 72


def bar(begin: float, end: float, low: float, high: float, slant: float) -> np.ndarray:
    """Corners of a bar; ``slant`` leans its ends, in units of the x axis, at most half of its length."""
    cut = min(slant, (end - begin) / 2)
    return np.array(
        [(begin, low), (begin + cut, high), (end, high), (end - cut, low)]
        if cut
        else [(begin, low), (begin, high), (end, high), (end, low)]
    )


def hatched(shapes: list[np.ndarray], hatch: str, colour: str) -> PolyCollection:
    """Hatched shapes without a frame."""
    return PolyCollection(shapes, facecolors="none", edgecolors=[colour], hatch=hatch, linewidths=0)


def rgb(colour: str) -> tuple[float, ...]:
    """Red, green, blue, 0 to 1, of ``#rrggbb``."""
    return tuple(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
