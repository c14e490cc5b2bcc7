"""Where the ticks of a loop go: its schedule, its turns, the spread of its periods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from ..engines.api import Trace
from . import style
from .picture import Picture, drawn, headline, new
from .rows import Turns
from .shapes import View, bar, rgb, text_inches
from .text import UNITS, plain, ticks_text, time_text


@dataclass(frozen=True)
class Part:
    """A part of a turn: busy from tick ``first`` of the turn for ``ticks`` ticks.

    ``waits`` marks a part that only waits (for a sample, a queue, a time), ``line`` the source line it comes from.
    """

    name: str
    first: int
    ticks: int
    waits: bool = False
    line: str = ""


def turns_of(
    turns: Trace,
    late: Trace | None = None,
    busy: Trace | None = None,
    stop: int | None = None,
    *,
    period: int = 0,
    label: str = "turns",
) -> Turns:
    """Turns of a loop from its recorded counters.

    Parameters
    ----------
    turns : the register that counts turns; each change begins a turn
    late : the register that counts late turns; a turn in which it rises is late
    busy : a signal that is not 0 while a turn is at work; without it a turn lasts until the next one begins
    stop : tick at which the recording ends; None: its last change
    """
    begin = np.asarray(turns.ticks)
    stop = int(begin[-1]) + 1 if stop is None and len(begin) else stop or 0
    until = np.append(begin[1:], stop)
    end = (
        until
        if busy is None
        else np.array([_idle_from(busy, b, e) for b, e in zip(begin, until, strict=True)], np.int64)
    )
    rises = np.asarray(late.ticks[1:]) if late is not None else None
    marked = (
        None
        if rises is None
        else np.array([bool(np.any((rises > b) & (rises <= e))) for b, e in zip(begin, until, strict=True)])
    )
    return Turns(begin, end, period, label, marked)


def _idle_from(busy: Trace, begin: int, until: int) -> int:
    inside = (busy.ticks > begin) & (busy.ticks <= until) & (np.asarray(busy.values) == 0)
    return int(busy.ticks[np.flatnonzero(inside)[0]]) if inside.any() else until


@drawn
def schedule(
    parts: Sequence[Part],
    period: int = 0,
    *,
    turns: Turns | None = None,
    stop: float | None = None,
    tick_s: float | None = None,
    title: str = "",
    alt: str = "",
) -> Picture:
    """Which part of a turn works in which tick, and, below it, turn after turn against their due times.

    Parameters
    ----------
    parts : the parts of one turn, in ticks from its beginning
    period : ticks between two due times, 0 for none
    turns : turns of a run, drawn below; late ones hatched
    stop : last tick of the lower part; default: end of the last turn

    Raises
    ------
    ValueError
        If there are no parts.
    """
    if not parts:
        raise ValueError("a schedule needs at least one Part")
    length = max(part.first + part.ticks for part in parts)
    heights = [0.36 * len(parts)] + ([0.62] if turns else [])
    headed = 0.12 + 0.28 * bool(title) + 0.2 * bool(period)
    total = headed + sum(heights) + 0.62 + 0.72 * bool(turns)
    left = 0.25 + max(
        text_inches(name, style.TEXT) for name in [p.name for p in parts] + [turns.label if turns else ""]
    )
    right = 0.3 + max(text_inches(_beside(part, tick_s)) for part in parts)
    picture = new(style.WIDTH, total, constrained=False)
    top = 1 - headed / total
    box = (left / style.WIDTH, top - heights[0] / total, 1 - (left + right) / style.WIDTH, heights[0] / total)
    ax = picture.add_axes(box)
    view = View(0, max(length, period) * 1.02, box[2] * style.WIDTH, style.theme())
    _draw_parts(ax, parts, period, length, view, tick_s)
    if turns:
        lower = picture.add_axes((box[0], 0.55 / total, 1 - (left + 0.3) / style.WIDTH, heights[1] / total))
        _draw_turns(lower, turns, stop, 1 - (left + 0.3) / style.WIDTH, tick_s)
    headline(picture, title)
    picture.alt = alt or _describe(parts, period, length, turns, tick_s)
    return picture


def _beside(part: Part, tick_s: float | None) -> str:
    return ticks_text(part.ticks, tick_s) + (f", {part.line}" if part.line else "")


def _draw_parts(ax: Axes, parts: Sequence[Part], period: int, length: int, view: View, tick_s: float | None) -> None:
    blue, red = style.theme().series[:2]
    ax.set_xlim(view.start, view.stop)
    ax.set_ylim(len(parts), 0)
    for row, part in enumerate(parts):
        shape = bar(part.first, part.first + max(part.ticks, 0.01 * view.tick_per_inch), row + 0.15, row + 0.85, 0)
        ax.fill(
            *shape.T,
            facecolor=(*rgb(blue), 0.0 if part.waits else view.theme.fill * 1.6),
            edgecolor=blue,
            lw=1.1,
            ls=(0, (3, 2)) if part.waits else "-",
        )
        ax.text(
            1 + 0.1 / view.width,
            row + 0.5,
            _beside(part, tick_s),
            transform=ax.get_yaxis_transform(),
            va="center_baseline",
            fontsize=style.SMALL,
        )
        if part.waits and view.place(part.first, part.first + part.ticks, "waits"):
            ax.text(
                part.first + part.ticks / 2,
                row + 0.5,
                "waits",
                ha="center",
                va="center_baseline",
                fontsize=style.SMALL,
                style="italic",
            )
    ax.set_yticks(np.arange(len(parts)) + 0.5, [part.name for part in parts])
    ax.tick_params(axis="y", length=0, labelsize=style.TEXT)
    ax.grid(axis="x")
    if period:
        over = length > period
        ax.axvline(period, color=red if over else view.theme.ink, lw=1.6, ls="-" if over else (0, (6, 2, 1, 2)))
        ax.text(
            period,
            -0.06,
            f"next turn is due: {plain(period)}",
            ha="right",
            va="bottom",
            fontsize=style.SMALL,
            fontweight="bold",
        )
        if over:
            ax.axvspan(period, length, facecolor="none", edgecolor=red, hatch="////", lw=0, zorder=0)
    ax.set_xlabel("tick of the turn")


def _draw_turns(ax: Axes, turns: Turns, stop: float | None, share: float, tick_s: float | None) -> None:
    last = stop or float(np.max(turns.end, initial=1)) * 1.01
    view = View(0, last, share * style.WIDTH, style.theme())
    ax.set_xlim(0, last)
    ax.set_yticks([0.5], [turns.label])
    ax.tick_params(axis="y", length=0, labelsize=style.TEXT)
    turns.draw(ax, view)
    ax.spines["left"].set_visible(False)
    ax.set_xlabel(
        "tick of the run" + (f" (one tick = {time_text(tick_s)}); ▼ turn is due" if tick_s else "; ▼ turn is due")
    )


def _describe(parts: Sequence[Part], period: int, length: int, turns: Turns | None, tick_s: float | None) -> str:
    text = (
        f"Schedule of a turn of {ticks_text(length, tick_s)}: "
        + ", ".join(
            f"{p.name} from tick {plain(p.first)} for {plain(p.ticks)}" + (" (waits)" if p.waits else "") for p in parts
        )
        + "."
    )
    if period:
        text += f" A turn is due every {ticks_text(period, tick_s)}" + (
            ", so every turn is late." if length > period else "."
        )
    if turns:
        text += f" {int(turns.is_late().sum())} of {len(turns.begin)} turns are late."
    return text


@drawn
def histogram(
    values: np.ndarray,
    unit: str = "ticks",
    *,
    expected: float | None = None,
    count: float = 1.0,
    what: str = "period",
    compare: np.ndarray | None = None,
    names: tuple[str, str] = ("recorded", "compared"),
    title: str = "",
    alt: str = "",
) -> Picture:
    """How often each period (or deviation) occurred, with the ±1 count about the expected value marked.

    Parameters
    ----------
    values : array of periods or deviations in ``unit``; whole numbers get a bar each while there are at most 60
    expected : the value wanted, in ``unit``
    count : one count of the measuring clock in ``unit``; counting alone explains ``expected`` ± ``count``
    compare : a second set, drawn in the same axes as an outline

    Raises
    ------
    ValueError
        If ``values`` is empty.
    """
    values = np.asarray(values, float).ravel()
    if not len(values):
        raise ValueError("a histogram needs at least one value; the recording holds no complete period")
    sets = [values] + ([np.asarray(compare, float).ravel()] if compare is not None else [])
    edges = _edges(np.concatenate(sets))
    picture = new(style.WIDTH * 0.8, 3.3)
    ax = picture.add_subplot()
    blue, red = style.theme().series[:2]
    ax.hist(
        values,
        edges,
        facecolor=(*rgb(blue), style.theme().fill * 1.6),
        edgecolor=blue,
        lw=1.1,
        label=f"{names[0]} ({len(values)})",
    )
    if compare is not None:
        ax.hist(sets[1], edges, histtype="step", color=red, lw=2, ls=(0, (5, 2)), label=f"{names[1]} ({len(sets[1])})")
    if expected is not None:
        _mark_expected(ax, unit, expected, count)
    ax.set(xlabel=f"{what} in {unit}", ylabel="how often")
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    if bool(np.all(values == np.round(values))):
        ax.xaxis.set_major_locator(MaxNLocator(nbins=9, integer=True))
    if title:
        ax.set_title(title)
    picture.legend(loc="outside upper right", ncols=2 if compare is not None else 3)
    picture.alt = alt or _spread(values, unit, expected, count, what)
    return picture


def _mark_expected(ax: Axes, unit: str, expected: float, count: float) -> None:
    ax.axvline(expected, color=style.theme().ink, lw=1.4, label=f"expected: {plain(expected)} {unit}")
    ax.axvspan(
        expected - count,
        expected + count,
        facecolor="none",
        edgecolor=style.theme().faint,
        hatch="\\\\\\\\",
        lw=0,
        zorder=0,
        label=f"± 1 count = ± {_counted(count, unit)}",
    )


def _edges(values: np.ndarray) -> list[float]:
    """Bar limits: one bar for each whole number while there are at most 60, else 40 bars."""
    low, high = float(values.min()), float(values.max())
    if bool(np.all(values == np.round(values))) and high - low < 60:
        return [float(edge) for edge in np.arange(low - 1.5, high + 2.5)]
    margin = (abs(low) / 10 or 0.5) if low == high else 0.0
    return [float(edge) for edge in np.linspace(low - margin, high + margin, 4 if margin else 41)]


def _counted(count: float, unit: str) -> str:
    """``1 tick``, ``2 ticks``, ``25 ns``: a unit that is a word loses its plural."""
    word = unit if unit in UNITS or len(unit) < 3 else unit.removesuffix("s")
    return f"{plain(count)} {word if count == 1 else unit}"


def _spread(values: np.ndarray, unit: str, expected: float | None, count: float, what: str) -> str:
    text = (
        f"Histogram of {len(values)} values of the {what}: {plain(values.min())} to {plain(values.max())} {unit}, "
        f"mean {plain(float(values.mean()))} {unit}."
    )
    if expected is not None:
        outside = int(np.sum(np.abs(values - expected) > count * (1 + 1e-9)))
        away = f"more than one count ({_counted(count, unit)}) from the expected {plain(expected)} {unit}"
        text += f" {outside} of them lie {away}."
    return text
