"""Pictures of the single subjects: balance vectors, queue level, critical path, use of the chip."""

from __future__ import annotations

import cmath
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from ..engines.api import Trace
from . import reduce, style
from .picture import Picture, drawn, headline, new
from .shapes import bar, hatched, rgb, text_inches
from .text import plain


@drawn
def balance_plot(
    vectors: Mapping[str, complex],
    unit: str = "mm/s",
    *,
    weights: Mapping[str, complex] | None = None,
    weight_unit: str = "g",
    limit: float | None = None,
    what: str = "1× vibration",
    title: str = "",
    alt: str = "",
) -> Picture:
    """Vibration vectors of a balancing job in a polar plot, and the weights in a second one.

    The angle is the phase of the complex number, in degrees against the once-per-turn mark, counted
    anticlockwise from the right.

    Parameters
    ----------
    vectors : 1× vibration by name, complex, ``unit``; for example original, with trial weight, after correction
    weights : trial and correction weights by name, complex, ``weight_unit``
    limit : acceptable vibration, drawn as a circle, ``unit``
    what : heading of the vectors: what they are

    Raises
    ------
    ValueError
        If there are no vectors.
    """
    if not vectors:
        raise ValueError("a balance plot needs at least one vibration vector")
    picture = new(style.WIDTH if weights else style.WIDTH * 0.66, 4.6)
    count = 2 if weights else 1
    first = picture.add_subplot(1, count, 1, projection="polar")
    _polar(first, vectors, unit, what)
    if limit is not None:
        first.plot(
            np.linspace(0, 2 * np.pi, 181),
            np.full(181, limit),
            color=style.theme().ink,
            ls=(0, (6, 2, 1, 2)),
            lw=1.2,
            label=f"limit: {limit:g} {unit}",
        )
    if weights:
        _polar(picture.add_subplot(1, 2, 2, projection="polar"), weights, weight_unit, "weights on the rotor", shift=2)
    for ax in picture.axes:
        ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.1), handlelength=3.2)
    headline(picture, title)
    picture.get_layout_engine().set(rect=(0, 0, 1, 1 - (0.44 if title else 0.1) / picture.get_figheight()))  # type: ignore[union-attr,call-arg]
    told = [f"{name} {_polar_text(z, unit)}" for name, z in vectors.items()]
    told += [f"{name} {_polar_text(z, weight_unit)}" for name, z in (weights or {}).items()]
    picture.alt = (
        alt
        or "Polar plot for balancing: "
        + "; ".join(told)
        + (f"; limit {limit:g} {unit}" if limit is not None else "")
        + "."
    )
    return picture


def _polar_text(z: complex, unit: str) -> str:
    size = f"{abs(z):.0f}" if abs(z) >= 100 else f"{abs(z):.3g}"
    return f"{size} {unit} at {np.degrees(cmath.phase(z)) % 360:.0f}°"


def _polar(ax: Axes, vectors: Mapping[str, complex], unit: str, heading: str, shift: int = 0) -> None:
    longest = max(abs(z) for z in vectors.values()) or 1.0
    ax.set_ylim(0, longest * 1.12)  # type: ignore[attr-defined]
    for number, (name, z) in enumerate(vectors.items()):
        kind = (number + shift) % 4
        colour, line = style.theme().series[kind], style.LINES[kind]
        ax.plot(
            [cmath.phase(z)] * 2,
            [0, abs(z)],
            color=colour,
            ls=line,
            lw=2.2,
            marker=style.MARKERS[kind],
            markevery=[1],
            ms=7,
            label=f"{name}: {_polar_text(z, unit)}",
            clip_on=False,
        )
    ax.set_title(f"{heading}, {unit}", loc="center", fontsize=style.TEXT, fontweight="normal", pad=14)
    free = _free_angle([np.degrees(cmath.phase(z)) for z in vectors.values()])
    ax.set_rlabel_position(free)  # type: ignore[attr-defined]
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=2))
    ax.spines["polar"].set_color(style.theme().faint)
    ax.grid(True)


def _free_angle(angles: Sequence[float]) -> float:
    """The direction in which the scale's numbers stand farthest from every vector, in degrees."""
    choices = np.arange(0, 360, 15.0) + 7.5
    gaps = np.abs((choices[:, None] - np.asarray(angles)[None, :] + 180) % 360 - 180).min(axis=1)
    return float(choices[int(gaps.argmax())])


@drawn
def queue_level(
    level: Trace | tuple[np.ndarray, np.ndarray],
    depth: int,
    *,
    tick_s: float | None = None,
    lost: Sequence[float] = (),
    start: float = 0,
    stop: float | None = None,
    expected: Trace | None = None,
    names: tuple[str, str] = ("recorded", "compared"),
    title: str = "",
    alt: str = "",
) -> Picture:
    """Words in a queue over time, with its depth and the moments at which words were lost.

    Parameters
    ----------
    level : Trace of the number of words (or (ticks, words)); it holds between changes
    depth : words the queue has room for
    tick_s : period of a tick in seconds: the axis is then in milliseconds, else in ticks
    lost : ticks in which a word was lost
    expected : a second level in the same axes
    """
    trace = level if isinstance(level, Trace) else Trace("level", np.asarray(level[0]), np.asarray(level[1]))
    stop = float(trace.ticks[-1]) * 1.02 + 1 if stop is None else stop
    scale = 1.0 if tick_s is None else tick_s * 1e3
    picture = new(style.WIDTH, 3.0)
    ax = picture.add_subplot()
    blue, _, green, _ = style.theme().series
    x, y = _steps(trace, start, stop)
    ax.fill_between(x * scale, y, step="post", facecolor=(*rgb(blue), style.theme().fill), linewidth=0)
    ax.plot(x * scale, y, drawstyle="steps-post", color=blue, label=names[0])
    if expected is not None:
        other = _steps(expected, start, stop)
        ax.plot(other[0] * scale, other[1], drawstyle="steps-post", color=green, ls=(0, (5, 2)), lw=1.8, label=names[1])
    ax.axhline(depth, color=style.theme().ink, lw=1.6, ls=(0, (6, 2, 1, 2)), label=f"depth: {depth} words")
    gone = _mark_lost(ax, lost, depth, start, stop, scale)
    ax.set(
        xlim=(start * scale, stop * scale),
        ylim=(0, depth * 1.18),
        ylabel="words in the queue",
        xlabel="tick" if tick_s is None else "time in ms",
    )
    ax.grid(axis="y")
    if title:
        ax.set_title(title)
    picture.legend(loc="outside upper right", ncols=4)
    highest = int(np.max(y, initial=0))
    picture.alt = alt or (
        f"Level of a queue of {depth} words: highest {highest}"
        + (", full" if highest >= depth else "")
        + f", {_words(gone)} lost."
    )
    return picture


def _steps(trace: Trace, start: float, stop: float) -> tuple[np.ndarray, np.ndarray]:
    x, y = reduce.columns(*reduce.window(trace, start, stop), start, stop, 1600)
    return np.append(np.asarray(x, float), stop), np.append(np.asarray(y, float), np.asarray(y[-1:], float))


def _words(count: int) -> str:
    return f"{count} word{'s' * (count != 1)}"


def _mark_lost(ax: Axes, lost: Sequence[float], depth: int, start: float, stop: float, scale: float) -> int:
    """A cross for each moment at which a word was lost; gives their number."""
    gone = np.asarray([tick for tick in lost if start <= tick < stop], float)
    if len(gone):
        at = _thin(gone, start, stop) * scale
        red = style.theme().series[1]
        ax.plot(at, np.full(len(at), depth * 1.07), "x", color=red, mew=2, ms=6, label=f"{_words(len(gone))} lost")
    return len(gone)


def _thin(ticks: np.ndarray, start: float, stop: float) -> np.ndarray:
    """One mark for each of 200 places."""
    return ticks[np.unique(((ticks - start) * 200 / (stop - start)).astype(int), return_index=True)[1]]


@dataclass(frozen=True)
class PathStep:
    """One stage of a critical path: what it is, how long it takes in nanoseconds, the learner's line it comes from.

    ``wire`` is the part of ``ns`` that the wire takes.
    """

    name: str
    ns: float
    line: str = ""
    wire: float = 0.0


@drawn
def critical_path(
    steps: Sequence[PathStep], period_ns: float | None = None, *, title: str = "", alt: str = ""
) -> Picture:
    """The slowest path between two registers, stage after stage; wires hatched; the period it must fit marked.

    Raises ValueError if there are no steps.
    """
    if not steps:
        raise ValueError("a critical path needs at least one PathStep")
    ends = np.cumsum([step.ns for step in steps])
    total, most = float(ends[-1]), max(float(ends[-1]), period_ns or 0.0)
    picture = new(style.WIDTH, 0.36 * len(steps) + 1.15 + 0.3 * bool(title))
    ax = picture.add_subplot()
    blue, red = style.theme().series[:2]
    begins = ends - np.array([step.ns for step in steps])
    shapes = [bar(b, e, i + 0.15, i + 0.85, 0) for i, (b, e) in enumerate(zip(begins, ends, strict=True))]
    for shape in shapes:
        ax.fill(*shape.T, facecolor=(*rgb(blue), style.theme().fill * 1.6), edgecolor=blue, lw=1.1)
    wires = [
        bar(e - step.wire, e, i + 0.15, i + 0.85, 0)
        for i, (e, step) in enumerate(zip(ends, steps, strict=True))
        if step.wire
    ]
    ax.add_collection(hatched(wires, "////", blue), autolim=False)
    for row, (begin, end, step) in enumerate(zip(begins, ends, steps, strict=True)):
        words = f"{step.ns:.2f} ns" + (f"  {step.line}" if step.line else "")
        room = (most * 1.05 - end) / (most * 1.05) * style.WIDTH * 0.78
        reach = end + (text_inches(words) + 0.15) * most * 1.05 / (style.WIDTH * 0.78)
        left = text_inches(words) + 0.1 > room or (period_ns is not None and end < period_ns < reach)
        ax.annotate(
            words,
            (begin if left else end, row + 0.5),
            xytext=(-4 if left else 4, 0),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center_baseline",
            fontsize=style.SMALL,
        )
    ax.set_yticks(np.arange(len(steps)) + 0.5, [step.name for step in steps])
    ax.set(
        ylim=(len(steps), 0),
        xlim=(0, most * 1.05),
        xlabel="ns after the clock edge" + ("; hatched: wire" if wires else ""),
    )
    ax.tick_params(axis="y", length=0)
    if period_ns is not None:
        _period_line(ax, period_ns, total, red, len(steps))
    if title:
        ax.set_title(title, pad=20 if period_ns else 6)
    slowest = max(steps, key=lambda step: step.ns)
    picture.alt = alt or (
        f"Critical path of {len(steps)} stages, {total:.2f} ns = {1000 / total:.1f} MHz; "
        f"the longest stage is {slowest.name} with {slowest.ns:.2f} ns."
        + (f" It must fit {period_ns:.2f} ns." if period_ns is not None else "")
    )
    return picture


def _period_line(ax: Axes, period_ns: float, total: float, red: str, rows: int) -> None:
    late = total > period_ns
    ax.axvline(period_ns, color=red if late else style.theme().ink, lw=1.8, ls="-" if late else (0, (6, 2, 1, 2)))
    words = f"period {period_ns:.2f} ns: " + (
        f"{total - period_ns:.2f} ns too late" if late else f"{period_ns - total:.2f} ns to spare"
    )
    ax.text(period_ns, -0.08, words, ha="right", va="bottom", fontsize=style.SMALL, fontweight="bold")
    if late:
        ax.axvspan(period_ns, total, facecolor="none", edgecolor=red, hatch="////", lw=0, zorder=0)


@drawn
def usage_bars(
    used: Mapping[str, int],
    available: Mapping[str, int],
    *,
    compare: Mapping[str, int] | None = None,
    names: tuple[str, str] = ("this design", "compared"),
    title: str = "",
    alt: str = "",
) -> Picture:
    """How much of each kind of resource a design takes.

    Parameters
    ----------
    used, available : counts by resource; every resource of ``used`` needs an entry in ``available``
    compare : a second design, drawn as an open bar

    Raises
    ------
    ValueError
        If a resource is not available on the part at all.
    """
    missing = [name for name in used if available.get(name, 0) <= 0]
    if missing or not used:
        raise ValueError(f"no number of available resources for: {', '.join(missing) or 'anything'}")
    picture = new(style.WIDTH * 0.85, 0.42 * len(used) + 0.95 + 0.3 * bool(compare) + 0.25 * bool(title))
    ax = picture.add_subplot()
    blue, red = style.theme().series[:2]
    rows = np.arange(len(used))
    share = np.array([100 * used[name] / available[name] for name in used])
    colours = [red if s > 100 else blue for s in share]
    ax.barh(
        rows,
        np.minimum(share, 100),
        0.55,
        color=[(*rgb(c), style.theme().fill * 1.8) for c in colours],
        edgecolor=colours,
        hatch=["////" if s > 100 else "" for s in share],
        label=names[0],
    )
    if compare is not None:
        other = [min(100 * compare.get(name, 0) / available[name], 100) for name in used]
        ax.barh(
            rows, other, 0.75, facecolor="none", edgecolor=style.theme().ink, ls=(0, (3, 2)), lw=1.3, label=names[1]
        )
        picture.legend(loc="outside lower center", ncols=2)
    _write_counts(ax, used, available)
    ax.set_yticks(rows, list(used))
    ax.set(xlim=(0, 100), ylim=(len(used) - 0.5, -0.5), xlabel="% of the part")
    ax.tick_params(axis="y", length=0)
    ax.grid(axis="x")
    if title:
        ax.set_title(title)
    picture.alt = (
        alt
        or "Use of the part: "
        + ", ".join(f"{name} {plain(n)} of {plain(available[name])}" for name, n in used.items())
        + "."
    )
    return picture


def _write_counts(ax: Axes, used: Mapping[str, int], available: Mapping[str, int]) -> None:
    for row, (name, count) in enumerate(used.items()):
        share = 100 * count / available[name]
        words = f"{plain(count)} of {plain(available[name])}" + (
            ": does not fit" if share > 100 else f" ({share:.2g} %)"
        )
        weight = "bold" if share > 100 else "normal"
        ax.text(102, row, words, va="center_baseline", fontsize=style.SMALL, fontweight=weight)
