"""The rows of a timing diagram: levels, buses, states, curves, turns of a loop.

A row is plain data that can draw itself into axes of its own.  ``expected`` draws a second recording into the
same axes: the expected one broad and pale underneath, the recorded one thin on top, differing stretches hatched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection

from ..engines.api import Trace
from ..netlist.types import Type
from . import reduce, style
from .pyramid import Pyramid
from .shapes import View, bar, hatched, rgb
from .text import plain, value_text

FAINT = 0.6
"""Opacity of the expected line."""

PALE = 5.0
"""Width of the expected line in points."""

STRIP = 0.22
"""Share of a bar's height that its hatch takes, so that the text in it stays readable."""


def lasting(trace: Trace, view: View) -> tuple[np.ndarray, np.ndarray]:
    """The trace inside the view as corner points for ``steps-post``, held to the right edge."""
    ticks, values = Pyramid(trace).points(view.start, view.stop, view.columns)
    if not len(ticks):
        return ticks, values
    return np.append(ticks, view.stop), np.append(values, values[-1:])


def hatch_differences(
    axes: Axes, one: Trace, other: Trace, view: View, *, curve: bool = False, band: tuple[float, float] = (0, 1)
) -> None:
    """Hatch the stretches in which two recordings differ; slim ones are widened so that they can be seen.

    ``band`` is the part of the row's height that is hatched.
    """
    begins, ends = reduce.differences(one, other, view.start, view.stop)
    if curve and np.sum(ends - begins) > 0.6 * (view.stop - view.start):
        return  # two curves that are nowhere quite equal: the lines say it better
    least = 0.03 * view.tick_per_inch
    last = -np.inf
    for begin, end in zip(begins, np.maximum(ends, begins + least), strict=True):
        if begin >= last + least:
            how: dict[str, Any] = {
                "facecolor": "none",
                "edgecolor": view.theme.faint,
                "hatch": "////",
                "linewidth": 0,
                "zorder": 0,
            }
            axes.axvspan(begin, end, *band, **how)
            last = end


@dataclass(frozen=True)
class Row:
    """One recorded signal.

    Parameters
    ----------
    trace : Trace
    label : str, shown at the left; the trace's own name if empty
    expected : Trace drawn underneath for comparison
    per_tick : ticks of the picture's clock per tick of the trace's clock
    """

    trace: Trace
    label: str = ""
    expected: Trace | None = None
    per_tick: float = 1.0
    height: ClassVar[float] = 0.36

    @property
    def name(self) -> str:
        """What stands at the left of the row."""
        return self.label or self.trace.name

    @property
    def caption(self) -> str:
        """What is written at the left of the row."""
        return self.name

    @property
    def kind_words(self) -> str:
        """What sort of row it is, for the alternative text."""
        return type(self).__name__.lower()

    def on_picture_clock(self) -> tuple[Trace, Trace | None]:
        """Both traces with their ticks counted on the picture's clock."""
        return _scaled(self.trace, self.per_tick), self.expected and _scaled(self.expected, self.per_tick)

    def draw(self, axes: Axes, view: View) -> None:
        """Draw into axes whose x axis counts ticks."""
        raise NotImplementedError


def own_type(trace: Trace, given: Type | None) -> Type | None:
    """The type given for a row, else the one that a rig's recording brings along."""
    return given or getattr(trace, "type", None)


def _scaled(trace: Trace, factor: float) -> Trace:
    return trace if factor == 1 else Trace(trace.name, np.asarray(trace.ticks) * factor, trace.values)


@dataclass(frozen=True)
class Level(Row):
    """A signal of one bit: low line, high line, an edge in the tick in which it is seen."""

    def draw(self, axes: Axes, view: View) -> None:
        """Draw the level; many edges in one pixel give a solid block."""
        trace, expected = self.on_picture_clock()
        axes.set_ylim(-0.32, 1.32)
        if expected:
            axes.plot(
                *lasting(expected, view),
                drawstyle="steps-post",
                color=style.theme().series[0],
                lw=PALE,
                alpha=FAINT,
                solid_joinstyle="miter",
            )
            hatch_differences(axes, trace, expected, view)
        x, y = lasting(trace, view)
        colour = style.theme().series[1] if expected else style.theme().series[0]
        axes.plot(x, y, drawstyle="steps-post", color=colour, solid_joinstyle="miter")
        if not expected:
            axes.fill_between(x, np.asarray(y, float), step="post", color=colour, alpha=view.theme.fill, linewidth=0)


@dataclass(frozen=True)
class Bus(Row):
    """A signal of several bits, its values written in the learner's own number format.

    ``type`` gives the format (fixed point is shown as the number it means); ``base`` is ``number``, ``hex`` or ``bin``.
    """

    type: Type | None = None
    base: str = "number"
    unit: str = ""

    def words(self, raw: int) -> str:
        """A raw value as it is written in the row."""
        return value_text(raw, own_type(self.trace, self.type), self.base) + (f" {self.unit}" if self.unit else "")

    def draw(self, axes: Axes, view: View) -> None:
        """Draw slabs with their values; a value that finds no room is left out, never shortened."""
        trace, expected = self.on_picture_clock()
        axes.set_ylim(0, 1)
        if expected is None:
            self._slabs(axes, trace, view, 0.14, 0.86, style.theme().series[0])
            return
        self._slabs(axes, trace, view, 0.6, 0.97, style.theme().series[1])
        self._slabs(axes, expected, view, 0.05, 0.4, style.theme().series[0], pale=True)
        hatch_differences(axes, trace, expected, view, band=(0.4, 0.6))  # between the two, not through their values

    def fill_hatch(self, raw: int) -> str:
        """Hatch of a slab, beside its text."""
        return ""

    def _slabs(
        self, axes: Axes, trace: Trace, view: View, low: float, high: float, colour: str, pale: bool = False
    ) -> None:
        found = Pyramid(trace).slabs(view.start, view.stop, round(40 * view.width))
        slant = min(0.035 * view.tick_per_inch, (view.stop - view.start) / 60)
        drawn = np.maximum(found.end - found.begin, 0.02 * view.tick_per_inch) + found.begin
        shapes = [bar(b, e, low, high, slant) for b, e in zip(found.begin, drawn, strict=True)]
        edge: dict[str, Any] = (
            {"edgecolors": [(*rgb(colour), FAINT)], "linewidths": 3.0}
            if pale
            else {"edgecolors": [colour], "linewidths": 1.0}
        )
        axes.add_collection(PolyCollection(shapes, facecolors=[(*rgb(colour), view.theme.fill)], **edge), autolim=False)
        for hatch, chosen in self._groups(found):
            strips = [
                bar(b, e, low, high if busy else low + (high - low) * STRIP, 0)
                for b, e, busy in zip(found.begin[chosen], found.end[chosen], found.busy[chosen], strict=True)
            ]
            axes.add_collection(hatched(strips, hatch, colour), autolim=False)
        self._write(axes, found, view, (low + high) / 2, high - low)

    def _groups(self, found: reduce.Slabs) -> list[tuple[str, np.ndarray]]:
        groups = [("||||||", found.busy)]
        hatches = np.array([self.fill_hatch(int(value)) for value in found.value], object)
        groups += [(hatch, ~found.busy & (hatches == hatch)) for hatch in dict.fromkeys(hatches.tolist())]
        return [(hatch, chosen) for hatch, chosen in groups if hatch and chosen.any()]

    def _write(self, axes: Axes, found: reduce.Slabs, view: View, middle: float, share: float) -> None:
        size = style.SMALL if share > 0.6 else style.SMALL - 1
        for begin, end, raw, busy in zip(*found, strict=True):
            words = "" if busy or end - begin < 0.1 * view.tick_per_inch else self.words(int(raw))
            at = view.place(begin, end, words, size) if words else None
            if at is not None:
                axes.text(at, middle, words, ha="center", va="center_baseline", fontsize=size, clip_on=True)


@dataclass(frozen=True)
class States(Bus):
    """A state register; ``names`` are the names of its values, in order."""

    names: Sequence[str] = ()

    def words(self, raw: int) -> str:
        """The state's name; its number if it has none."""
        return self.names[raw] if 0 <= raw < len(self.names) else str(raw)

    def fill_hatch(self, raw: int) -> str:
        """States take turns with hatches, so that short ones can be told apart without their names."""
        return ("", "////", "....", "----", "\\\\\\\\")[raw % 5]


@dataclass(frozen=True)
class Curve(Row):
    """A signal as a curve with a scale at its right.

    Parameters
    ----------
    type : number format of the raw values; plain numbers (floats too) without
    scale : the unit's worth of one number, for example volts per code
    steps : True for a value that holds (registers, converters), False for a straight line between samples
    """

    type: Type | None = None
    unit: str = ""
    scale: float = 1.0
    steps: bool = True
    height: ClassVar[float] = 1.15

    @property
    def caption(self) -> str:
        """Name and, below it, the unit."""
        return f"{self.name}\nin {self.unit}" if self.unit else self.name

    def numbers(self, raw: np.ndarray) -> np.ndarray:
        """Raw values as numbers in ``unit``."""
        kind = own_type(self.trace, self.type)
        step = float(kind.step) if kind else 1.0
        return np.asarray(raw, float) * step * self.scale

    def draw(self, axes: Axes, view: View) -> None:
        """Draw the curve, reduced to what the pixels can show."""
        trace, expected = self.on_picture_clock()
        if expected:
            axes.plot(*self._points(expected, view), color=style.theme().series[0], lw=PALE, alpha=FAINT, **self._how())
            hatch_differences(axes, trace, expected, view, curve=True)
        axes.plot(*self._points(trace, view), color=style.theme().series[1 if expected else 0], **self._how())
        axes.margins(y=0.12)
        axes.yaxis.tick_right()
        axes.locator_params(axis="y", nbins=4)
        axes.grid(axis="y")

    def _how(self) -> dict[str, Any]:
        return {"drawstyle": "steps-post"} if self.steps else {}

    def _points(self, trace: Trace, view: View) -> tuple[np.ndarray, np.ndarray]:
        x, y = lasting(trace, view)
        if not self.steps:
            x, y = x[:-1], y[:-1]
        return x, self.numbers(y)


@dataclass(frozen=True)
class Turns:
    """Turns of a loop as bars.

    Parameters
    ----------
    begin, end : arrays of ticks; a turn fills ``[begin, end)``
    period : ticks between two due times, 0 for a loop that starts again when it is done
    label : name of the loop
    late : bool array; None works it out: a turn is late if it begins after it was due or is still busy
        when the next one is due
    """

    begin: np.ndarray
    end: np.ndarray
    period: int = 0
    label: str = "turns"
    late: np.ndarray | None = None
    height: ClassVar[float] = 0.42
    kind_words: ClassVar[str] = "turns"

    @property
    def name(self) -> str:
        """What stands at the left of the row."""
        return self.label

    @property
    def caption(self) -> str:
        """What is written at the left of the row."""
        return self.label

    def is_late(self) -> np.ndarray:
        """Which turns are late."""
        if self.late is not None:
            return np.asarray(self.late, bool)
        begin, end = np.asarray(self.begin), np.asarray(self.end)
        if not self.period:
            return np.zeros(len(begin), bool)
        return (begin % self.period != 0) | (end > (begin // self.period + 1) * self.period)

    def draw(self, axes: Axes, view: View) -> None:
        """Draw the bars; a late turn is hatched, framed in another colour and marked ``late``."""
        axes.set_ylim(0, 1)
        begin, end, late = self._shown(view)
        for chosen, colour in ((~late, style.theme().series[0]), (late, style.theme().series[1])):
            pairs = list(zip(begin[chosen], np.maximum(end, begin + 0.02 * view.tick_per_inch)[chosen], strict=True))
            axes.add_collection(
                PolyCollection(
                    [bar(b, e, 0.15, 0.85, 0) for b, e in pairs],
                    linewidths=1.0,
                    facecolors=[(*rgb(colour), view.theme.fill)],
                    edgecolors=[colour],
                ),
                autolim=False,
            )
            if chosen is late:
                strips = [bar(b, e, low, low + 0.16, 0) for b, e in pairs for low in (0.15, 0.69)]
                axes.add_collection(hatched(strips, "//////", colour), autolim=False)
        self._write(axes, begin, end, late, view)
        self._due(axes, view)

    def _shown(self, view: View) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        begin, end, late = np.asarray(self.begin, float), np.asarray(self.end, float), self.is_late()
        seen = (end > view.start) & (begin < view.stop)
        begin, end, late = begin[seen], end[seen], late[seen]
        slot = np.floor(begin / (0.02 * view.tick_per_inch)).astype(np.int64) * 2 + late
        _, keep = np.unique(slot, return_index=True)
        return begin[keep], end[keep], late[keep]

    def _write(self, axes: Axes, begin: np.ndarray, end: np.ndarray, late: np.ndarray, view: View) -> None:
        for b, e, is_late in zip(begin, end, late, strict=True):
            words = "late" if is_late else plain(e - b)
            at = view.place(b, e, words)
            if at is not None:
                axes.text(
                    at,
                    0.5,
                    words,
                    ha="center",
                    va="center_baseline",
                    fontsize=style.SMALL,
                    fontweight="bold" if is_late else "normal",
                    clip_on=True,
                )

    def _due(self, axes: Axes, view: View) -> None:
        if self.period and (view.stop - view.start) / self.period < 8 * view.width:
            first = -(-view.start // self.period) * self.period
            due = np.arange(first, view.stop + 0.5, self.period)
            for low, high in ((0.0, 0.15), (0.85, 1.0)):  # not through the bar, where a word may stand
                axes.vlines(due, low, high, color=view.theme.ink, lw=1.4)
            axes.plot(due, np.full(len(due), 0.96), "v", color=view.theme.ink, ms=4.5, clip_on=False)


AnyRow = Row | Turns
RowLike = AnyRow | Trace | tuple[Trace, Type]


def as_row(item: Any) -> AnyRow:
    """A row from a row, a trace, or a trace with its type; TypeError for anything else."""
    if isinstance(item, Row | Turns):
        return item
    if isinstance(item, Trace):
        kind = own_type(item, None)
        one_bit = kind.width == 1 if kind else set(np.unique(item.values).tolist()) <= {0, 1}
        return Level(item) if one_bit else Bus(item)
    if isinstance(item, tuple) and len(item) == 2 and isinstance(item[0], Trace) and isinstance(item[1], Type):
        return Level(item[0]) if item[1].width == 1 else Bus(item[0], type=item[1])
    raise TypeError(
        f"a row is a Trace, (Trace, Type), Level, Bus, States, Curve or Turns; this is {type(item).__name__}"
    )
