"""The timing diagram: recorded signals under each other on one axis of ticks and time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from . import reduce, style
from .picture import Picture, drawn, headline, new
from .rows import FAINT, PALE, AnyRow, Curve, RowLike, Turns, as_row
from .shapes import View, text_inches
from .text import UNITS, plain, printed, ticks_text

LANE = 0.26
"""Height of one lane of marks, in inches."""

LEGEND = 3.4
"""Width that the legend takes, in inches."""

BOLD = 1.15
"""How much wider a bold text is."""

AxisUnit = str | tuple[str, str]


@dataclass(frozen=True)
class Mark:
    """A place or an interval worth a word.

    ``stop`` None: a place.  An empty ``text`` of an interval is written out as ``781 ticks = 19.525 µs``.
    """

    start: float
    stop: float | None = None
    text: str = ""


MarkLike = Mark | float | tuple[float, str] | tuple[float, float] | tuple[float, float, str]


@drawn
def timing_diagram(
    rows: Iterable[RowLike],
    start: float = 0,
    stop: float | None = None,
    unit: AxisUnit = "tick",
    *,
    tick_s: float | None = None,
    marks: Iterable[MarkLike] = (),
    cursors: Sequence[float] = (),
    title: str = "",
    names: tuple[str, str] = ("recorded", "expected"),
    alt: str = "",
) -> Picture:
    """Draw recorded signals between two ticks.

    Parameters
    ----------
    rows : Level, Bus, States, Curve or Turns; a Trace or (Trace, Type) becomes a Level or a Bus
    start, stop : ticks of the picture's clock; ``stop`` None: a little past the last change
    unit : ``tick``, ``ns``, ``us``, ``ms``, ``s``, or two of them, for example ``("tick", "us")``: below and above
    tick_s : period of a tick in seconds; a rig's recordings know it, other traces need it for any unit but ``tick``
    marks : places and intervals: ``Mark``, a tick, (tick, text), (start, stop) or (start, stop, text); ticks
    cursors : ticks, named A, B, … with the difference of neighbours
    names : what the recorded and the expected signal are called where a row compares them
    alt : alternative text; built from the rows if empty

    Raises
    ------
    ValueError
        If there is no row, nothing lies between start and stop, a unit is unknown or needs ``tick_s``.
    """
    shown = [as_row(item) for item in rows]
    stop = _last(shown) if stop is None else stop
    tick_s = _tick_of(shown) if tick_s is None else tick_s
    units = _units(unit, tick_s)
    if not shown or not stop > start:
        raise ValueError(
            "nothing to draw: " + (f"stop ({stop}) must lie after start ({start})" if shown else "no rows")
        )
    lanes = _lanes(_all_marks(marks, cursors), start, stop, tick_s)
    drops = tuple(
        tick for lane in lanes for placed in lane for tick in (placed.mark.start, placed.mark.stop) if tick is not None
    )
    below = _compares(shown) and text_inches(title, style.TEXT + 1) * BOLD > style.WIDTH - LEGEND
    picture, axes, width = _grid(shown, len(lanes), below + (bool(title) or _compares(shown)), len(units) > 1, stop)
    view = View(start, stop, width, style.theme(), drops)
    for row, ax in zip(shown, axes[1:], strict=True):
        _prepare(ax, row, view)
        row.draw(ax, view)
    _draw_lanes(axes, lanes, view)
    _time_axis(axes[-1], units[0], view, tick_s, top=False)
    if len(units) > 1:
        _time_axis(axes[0], units[1], view, tick_s, top=True)
    headline(picture, title)
    if _compares(shown):
        _legend(picture, names, view, 0.26 * below)
    picture.alt = alt or _describe(shown, view, lanes, names)
    return picture


def _tick_of(rows: Sequence[AnyRow]) -> float | None:
    """Period of a tick in seconds, if a recording knows its clock."""
    traces = [(row.trace, row.per_tick) for row in rows if not isinstance(row, Turns)]
    rates = [float(getattr(trace, "hz", 0)) * per_tick for trace, per_tick in traces]
    return next((1 / rate for rate in rates if rate), None)


def _last(rows: Sequence[AnyRow]) -> float:
    ends = [
        float(np.max(row.end)) if isinstance(row, Turns) else (row.trace.ticks[-1] + 1) * row.per_tick
        for row in rows
        if len(row.end if isinstance(row, Turns) else row.trace.ticks)
    ]
    return max(ends, default=0.0) * 1.02


def _units(unit: AxisUnit, tick_s: float | None) -> tuple[str, ...]:
    units = (unit,) if isinstance(unit, str) else tuple(unit)
    for one in units:
        if one != "tick" and one not in UNITS:
            raise ValueError(f"unknown unit {one!r}; an axis counts in tick, {', '.join(UNITS)}")
        if one != "tick" and tick_s is None:
            raise ValueError(f"an axis in {one} needs tick_s, the period of a tick in seconds (25e-9 at 40 MHz)")
    return units


def _compares(rows: Sequence[AnyRow]) -> bool:
    return any(getattr(row, "expected", None) is not None for row in rows)


def _as_mark(item: MarkLike) -> Mark:
    if isinstance(item, Mark):
        return item
    if not isinstance(item, tuple):
        return Mark(float(item))
    return Mark(item[0], None, item[1]) if isinstance(item[1], str) else Mark(*item)


def _all_marks(marks: Iterable[MarkLike], cursors: Sequence[float]) -> list[tuple[Mark, bool]]:
    """Marks, each with whether it belongs to a cursor."""
    every = [(_as_mark(item), False) for item in marks]
    every += [(Mark(tick, None, f"{chr(65 + i % 26)}: {plain(tick)}"), True) for i, tick in enumerate(cursors)]
    pairs = zip(cursors, cursors[1:], strict=False)
    return every + [(Mark(min(a, b), max(a, b), ""), True) for a, b in pairs if a != b]


@dataclass(frozen=True)
class _Placed:
    mark: Mark
    cursor: bool
    words: str
    where: str
    span: tuple[float, float]
    """Ticks that the text takes."""


def _lanes(marks: Sequence[tuple[Mark, bool]], start: float, stop: float, tick_s: float | None) -> list[list[_Placed]]:
    """Marks sorted into lanes so that no two of a lane meet."""
    per_inch = (stop - start) / (style.WIDTH - 2.0)
    lanes: list[list[_Placed]] = []
    taken: list[list[tuple[float, float]]] = []
    for mark, cursor in marks:
        placed = _place(mark, cursor, tick_s, per_inch, stop)
        span = min(mark.start, placed.span[0]), max(mark.stop or mark.start, placed.span[1])
        free = (i for i, spans in enumerate(taken) if all(span[1] <= low or span[0] >= high for low, high in spans))
        index = next(free, len(lanes))
        if index == len(lanes):
            lanes.append([])
            taken.append([])
        lanes[index].append(placed)
        taken[index].append(span)
    return lanes


def _place(mark: Mark, cursor: bool, tick_s: float | None, per_inch: float, stop: float) -> _Placed:
    """Where a mark's text stands: inside its interval, or at its right or left."""
    last = mark.start if mark.stop is None else mark.stop
    words = mark.text or (plain(mark.start) if mark.stop is None else ticks_text(round(last - mark.start), tick_s))
    need = (text_inches(words) * (1.15 if cursor else 1) + 0.16) * per_inch
    if need + 0.3 * per_inch < last - mark.start:
        middle = (mark.start + last) / 2
        return _Placed(mark, cursor, words, "inside", (middle - need / 2, middle + need / 2))
    if last + need < stop:
        return _Placed(mark, cursor, words, "right", (last, last + need))
    return _Placed(mark, cursor, words, "left", (mark.start - need, mark.start))


def _grid(
    rows: Sequence[AnyRow], lanes: int, headed: int, second: bool, stop: float
) -> tuple[Picture, list[Axes], float]:
    """A picture with axes for the lanes and for each row, and the width of the axes in inches."""
    heights = [max(lanes, 0.001) * LANE + (0.06 if lanes else 0.02)]
    heights += [row.height * (1.7 if getattr(row, "expected", None) and row.height < 0.4 else 1) for row in rows]
    top = 0.12 + 0.28 * headed + 0.46 * second
    total = top + sum(heights) + 0.58
    left = max([0.6, *(0.26 + text_inches(line, style.TEXT) for row in rows for line in row.caption.splitlines())])
    right = max(
        0.62 if any(isinstance(row, Curve) for row in rows) else 0.25, text_inches(plain(round(stop))) / 2 + 0.08
    )
    picture = new(style.WIDTH, total, constrained=False)
    grid = picture.add_gridspec(
        len(heights),
        1,
        height_ratios=heights,
        hspace=0,
        left=left / style.WIDTH,
        right=1 - right / style.WIDTH,
        top=1 - top / total,
        bottom=0.58 / total,
    )
    axes = [picture.add_subplot(grid[i]) for i in range(len(heights))]
    return picture, axes, style.WIDTH - left - right


def _prepare(ax: Axes, row: AnyRow, view: View) -> None:
    ax.set_xlim(view.start, view.stop)
    ax.spines[:].set_visible(False)
    ax.tick_params(axis="x", bottom=False, labelbottom=False)
    ax.tick_params(axis="y", length=0)
    if not isinstance(row, Curve):
        ax.set_yticks([])
    ax.text(-0.1 / view.width, 0.5, row.caption, transform=ax.transAxes, ha="right", va="center", fontsize=style.TEXT)
    ax.plot([0, 1], [0, 0], transform=ax.transAxes, color=view.theme.faint, lw=0.5, alpha=0.5, zorder=0, clip_on=False)


def _draw_lanes(axes: Sequence[Axes], lanes: Sequence[Sequence[_Placed]], view: View) -> None:
    top = axes[0]
    top.set_xlim(view.start, view.stop)
    top.set_ylim(0, max(len(lanes), 1))
    top.axis("off")
    texts = [[placed.span for placed in lane] for lane in reversed(lanes)]
    for level, lane in enumerate(reversed(lanes)):
        for placed in lane:
            for tick in (placed.mark.start, placed.mark.stop):
                if tick is not None:
                    _drop(axes, tick, texts[:level], placed.cursor, view)
            _draw_mark(top, placed, level + 0.5, view)


def _drop(
    axes: Sequence[Axes], tick: float, below: Sequence[Sequence[tuple[float, float]]], cursor: bool, view: View
) -> None:
    """A vertical line from a mark's lane down through all rows, broken where a text of a lower lane stands."""
    how: dict[str, Any] = {
        "color": view.theme.ink,
        "lw": 1.1 if cursor else 0.8,
        "ls": (0, (6, 2, 1, 2)) if cursor else (0, (1, 1.6)),
        "zorder": 3,
    }
    axes[0].plot([tick, tick], [len(below), len(below) + 0.5], **how)
    for level, spans in enumerate(below):
        if not any(low <= tick <= high for low, high in spans):
            axes[0].plot([tick, tick], [level, level + 1], **how)
    for ax in axes[1:]:
        ax.axvline(tick, **how)


def _draw_mark(ax: Axes, placed: _Placed, level: float, view: View) -> None:
    mark, inch = placed.mark, view.tick_per_inch
    last = mark.start if mark.stop is None else mark.stop
    at, side = {
        "left": (mark.start - 0.07 * inch, "right"),
        "right": (last + 0.07 * inch, "left"),
        "inside": ((mark.start + last) / 2, "center"),
    }[placed.where]
    ax.text(
        at,
        level,
        placed.words,
        ha=side,
        va="center",
        fontsize=style.SMALL,
        clip_on=False,
        fontweight="bold" if placed.cursor else "normal",
    )
    if mark.stop is None:
        return
    low, high = placed.span if placed.where == "inside" else (mark.start, mark.start)
    for tip, tail in ((mark.start, low if low > mark.start else last), (last, high)):
        ax.annotate(
            "",
            (tip, level),
            (tail, level),
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "->",
                "color": view.theme.ink,
                "lw": 1.1,
                "shrinkA": 0,
                "shrinkB": 0,
                "mutation_scale": 9,
            },
        )


def _time_axis(ax: Axes, unit: str, view: View, tick_s: float | None, *, top: bool) -> None:
    """An axis in ticks or time; far from 0 it counts from the left edge, so that its numbers stay short."""
    factor = 1.0 if unit == "tick" else float(tick_s or 0) * UNITS[unit]
    origin = view.start if view.start > 3000 * (view.stop - view.start) else 0.0
    to, back = (lambda t: (t - origin) * factor), (lambda v: v / factor + origin)
    axis = ax.secondary_xaxis("top" if top else "bottom", functions=(to, back))
    axis.xaxis.set_major_locator(MaxNLocator(nbins=9, integer=unit == "tick", steps=[1, 2, 2.5, 5, 10]))
    axis.xaxis.set_major_formatter(FuncFormatter(lambda value, _: plain(round(value, 9))))
    name = "tick" if unit == "tick" else f"time in {printed(unit)}"
    if unit == "tick" and tick_s:
        name += f" (one tick = {ticks_text(1, tick_s).split(' = ')[1]})"
    axis.set_xlabel(name + (f", counted from tick {plain(origin)}" if origin else ""), labelpad=3)


def _legend(picture: Picture, names: tuple[str, str], view: View, down: float) -> None:
    """At the top right, or ``down`` inches lower, below a title that is too long to stand beside it."""
    handles = [
        Line2D([], [], color=style.theme().series[1]),
        Line2D([], [], color=style.theme().series[0], lw=PALE, alpha=FAINT),
        Patch(facecolor="none", edgecolor=view.theme.faint, hatch="////", linewidth=0),
    ]
    picture.legend(
        handles,
        [*names, "they differ"],
        loc="upper right",
        ncols=3,
        borderaxespad=0.2,
        bbox_to_anchor=(1 - 0.1 / style.WIDTH, 1 - (0.06 + down) / picture.get_figheight()),
    )


def _describe(rows: Sequence[AnyRow], view: View, lanes: Sequence[Sequence[_Placed]], names: tuple[str, str]) -> str:
    parts = [
        f"Timing diagram, ticks {plain(view.start)} to {plain(view.stop)}: "
        + ", ".join(f"{row.name} ({row.kind_words})" for row in rows)
        + "."
    ]
    marks = [placed.words for lane in lanes for placed in lane]
    if marks:
        parts.append("Marked: " + "; ".join(marks) + ".")
    for row in rows:
        if isinstance(row, Turns):
            parts.append(f"{int(row.is_late().sum())} of {len(row.begin)} turns of {row.name} are late.")
        elif row.expected is not None:
            begins, _ = reduce.differences(*row.on_picture_clock(), view.start, view.stop)  # type: ignore[arg-type]
            parts.append(
                f"{row.name}: {names[0]} and {names[1]} "
                + (f"first differ in tick {plain(begins[0])}." if len(begins) else "are equal.")
            )
    return " ".join(parts)
