"""Pictures in frequency and speed: spectrum, run-up map, response against speed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from . import reduce, style
from .picture import Picture, drawn, new
from .text import plain


@drawn
def spectrum(
    frequency: np.ndarray,
    amplitude: np.ndarray | Mapping[str, np.ndarray],
    unit: str = "m/s²",
    *,
    cursors: Mapping[str, float] | Sequence[float] = (),
    floor: float | None = None,
    start: float | None = None,
    stop: float | None = None,
    title: str = "",
    frequency_unit: str = "Hz",
    kind: str = "amplitude",
    panels: bool = False,
    alt: str = "",
) -> Picture:
    """Amplitude on a logarithmic axis against frequency, with labelled cursors.

    Parameters
    ----------
    frequency : array, ``frequency_unit``, increasing
    amplitude : array of the same length in ``unit``, or several of them (at most 16) by name, drawn in the same axes
    cursors : frequencies by name (``{"1× turning": 24.6}``) or a list; each is labelled with the largest amplitude
        within two lines of it
    floor : amplitudes below it are not drawn, in ``unit``; default: 10⁻⁶ of the largest
    kind : what the vertical axis is: ``amplitude``, ``rms``, ``peak``
    panels : draw each spectrum in axes of its own, on the same logarithmic scales in both directions, without cursors;
        for spectra that would hide each other.  ``start`` must then be above 0

    Raises
    ------
    ValueError
        If lengths differ, nothing is above the floor, there are more curves than can be told apart, or ``panels`` come with
        cursors or a frequency of 0.
    """
    frequency, curves = _chosen(frequency, amplitude, start, stop)
    highest = max((float(curve.max(initial=0.0)) for curve in curves.values()), default=0.0)
    floor = highest * 1e-6 if floor is None else floor
    if not highest > 0 or highest < floor:
        raise ValueError(f"every amplitude is below the floor of {plain(floor)} {unit}: nothing to draw")
    if panels:
        if cursors or frequency[0] <= 0:
            raise ValueError(
                "panels have a logarithmic frequency axis and no cursors: give a start above 0, and no cursors"
            )
        return _apart(frequency, curves, floor, f"{kind} in {unit}", frequency_unit, title, alt)
    picture = new(style.WIDTH, 3.7)
    ax = picture.add_subplot()
    for number, (name, curve) in enumerate(curves.items()):
        x, y = reduce.columns(frequency, np.maximum(curve, floor), frequency[0], frequency[-1], 1400)
        ax.semilogy(x, y, **style.line(number), lw=1.3, label=name)
    placed = _cursors(ax, frequency, curves, cursors, unit, frequency_unit)
    ax.set(
        xlabel=f"frequency in {frequency_unit}",
        ylabel=f"{kind} in {unit}",
        ylim=(_low(curves, floor), highest * (4 if placed else 2)),
    )
    ax.set_xlim(frequency[0], frequency[-1])
    ax.grid(True)
    _finish(picture, ax, title, len(curves) > 1)
    peak = max(curves.items(), key=lambda item: item[1].max())
    at = frequency[int(peak[1].argmax())]
    picture.alt = (
        alt
        or (
            f"Spectrum from {plain(frequency[0])} to {plain(frequency[-1])} {frequency_unit}, logarithmic; "
            f"largest line {highest:.3g} {unit} at {at:.4g} {frequency_unit}. " + " ".join(placed)
        ).strip()
    )
    return picture


def _apart(
    frequency: np.ndarray, curves: Mapping[str, np.ndarray], floor: float, label: str, unit: str, title: str, alt: str
) -> Picture:
    """Each spectrum in a panel of its own, two in a row, all on the same scales."""
    picture = new(style.WIDTH, 0.6 + 2.2 * -(-len(curves) // 2))
    axes = picture.subplots(-(-len(curves) // 2), 2, sharex=True, sharey=True, squeeze=False).ravel()
    highest = max(float(curve.max()) for curve in curves.values())
    for number, (ax, (name, curve)) in enumerate(
        zip(axes, curves.items(), strict=False)
    ):  # an odd number leaves one panel empty
        ax.loglog(frequency, np.maximum(curve, floor), color=style.theme().series[number % len(style.SERIES)], lw=1.0)
        ax.set_title(name)
        ax.grid(True)
    axes[0].set(xlim=(frequency[0], frequency[-1]), ylim=(_low(curves, floor), highest * 2))
    for ax in axes[len(curves) :]:
        ax.set_axis_off()
    picture.supxlabel(f"frequency in {unit}", fontsize=style.SMALL)
    picture.supylabel(label, fontsize=style.SMALL)
    if title:
        picture.suptitle(title, x=0.012, ha="left", fontweight="bold")
    tops = (
        f"{name}: largest line at {plain(frequency[int(curve.argmax())], 4)} {unit}" for name, curve in curves.items()
    )
    picture.alt = alt or f"Spectra side by side, logarithmic. {'; '.join(tops)}."
    return picture


def _chosen(
    frequency: np.ndarray,
    amplitude: np.ndarray | Mapping[str, np.ndarray],
    start: float | None,
    stop: float | None,
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """The lines between start and stop, as positive numbers, by name."""
    curves = dict(amplitude) if isinstance(amplitude, Mapping) else {"": np.asarray(amplitude)}
    frequency = np.asarray(frequency, float)
    for name, curve in curves.items():
        if len(curve) != len(frequency):
            lines = f"{len(curve)} lines, the frequency axis {len(frequency)}"
            raise ValueError(f"spectrum {name or 'amplitude'} has {lines}")
    low, high = -np.inf if start is None else start, np.inf if stop is None else stop
    inside = (frequency >= low) & (frequency <= high)
    return frequency[inside], {name: np.abs(np.asarray(curve, float))[inside] for name, curve in curves.items()}


def _low(curves: Mapping[str, np.ndarray], floor: float) -> float:
    """Bottom of the axis: a little under the quiet lines, so that rare deep notches do not squeeze the picture."""
    quiet = min(float(np.quantile(np.maximum(curve, floor), 0.02)) for curve in curves.values())
    return max(quiet / 2, floor)


def _cursors(
    ax: Axes,
    frequency: np.ndarray,
    curves: Mapping[str, np.ndarray],
    cursors: Mapping[str, float] | Sequence[float],
    unit: str,
    frequency_unit: str,
) -> list[str]:
    named = dict(cursors) if isinstance(cursors, Mapping) else {f"cursor {i + 1}": f for i, f in enumerate(cursors)}
    curve = next(iter(curves.values()))
    told: list[str] = []
    before: float | None = None
    for number, (name, at) in enumerate(sorted(named.items(), key=lambda item: item[1]), 1):
        centre = int(np.argmin(np.abs(frequency - at)))
        near = slice(max(centre - 2, 0), centre + 3)
        largest = near.start + int(np.argmax(curve[near]))
        index = largest if curve[largest] > curve[centre] else centre
        ax.axvline(at, color=style.theme().ink, lw=0.9, ls=(0, (6, 2, 1, 2)), zorder=1)
        ax.plot(frequency[index], curve[index], "o", mfc="none", mec=style.theme().ink, ms=8, mew=1.3)
        rise = 1.065 if before is not None and abs(at - before) < 0.03 * (frequency[-1] - frequency[0]) else 1.01
        before = None if rise > 1.02 else at
        ax.text(
            at,
            rise,
            f"{number}",
            transform=ax.get_xaxis_transform(),
            ha="center",
            va="bottom",
            fontsize=style.SMALL,
            fontweight="bold",
        )
        told.append(f"{name}: {plain(round(frequency[index], 6), 5)} {frequency_unit}, {curve[index]:.3g} {unit}.")
    if told:
        text = "\n".join(f"{i}  {line[:-1]}" for i, line in enumerate(told, 1))
        ax.text(1.01, 1.0, text, transform=ax.transAxes, va="top", fontsize=style.SMALL, linespacing=1.7)
    return told


def _finish(picture: Picture, ax: Axes, title: str, legend: bool) -> None:
    if title:
        ax.set_title(title, pad=30)
    if legend:
        picture.legend(loc="outside lower center", ncols=4)


@drawn
def waterfall(
    frequency: np.ndarray,
    against: np.ndarray,
    amplitude: np.ndarray,
    unit: str = "m/s²",
    *,
    against_label: str = "time in s",
    orders: Sequence[float] = (),
    turning_hz: np.ndarray | None = None,
    span_db: float = 60.0,
    title: str = "",
    alt: str = "",
) -> Picture:
    """A map of many spectra: frequency to the right, time or speed upwards, amplitude as lightness (logarithmic).

    Parameters
    ----------
    frequency : (n,) Hz
    against : (m,) time or speed of each spectrum, increasing
    amplitude : (m, n) in ``unit``
    orders : multiples of the turning frequency to be drawn as lines (1 is once per turn)
    turning_hz : (m,) turning frequency of each spectrum in hertz; needed for ``orders``
    span_db : range of the map below the largest amplitude, dB

    Raises
    ------
    ValueError
        If the shapes do not fit, nothing is above 0, or orders come without ``turning_hz``.
    """
    amplitude = _checked_map(frequency, against, amplitude)
    if len(orders) and turning_hz is None:
        raise ValueError("order lines need turning_hz, the turning frequency of each spectrum in hertz")
    highest = float(amplitude.max())
    frequency, amplitude = _widest(np.asarray(frequency, float), amplitude, 1600)
    picture = new(style.WIDTH, 4.4)
    ax = picture.add_subplot()
    level = 20 * np.log10(np.maximum(amplitude / highest, 10 ** (-span_db / 20)))
    mesh = ax.pcolormesh(
        frequency, against, level, cmap=style.COLOUR_MAP, vmin=-span_db, vmax=0, shading="nearest", rasterized=True
    )
    picture.colorbar(mesh, ax=ax, label=f"dB re {highest:.3g} {unit}", pad=0.02)
    for order in orders:
        _order_line(ax, np.asarray(turning_hz, float) * order, np.asarray(against), order, float(frequency[-1]))
    ax.set(
        xlabel="frequency in Hz",
        ylabel=against_label,
        xlim=(frequency[0], frequency[-1]),
        ylim=(against[0], against[-1]),
    )
    if title:
        ax.set_title(title, pad=18 if len(orders) else 6)
    row, column = np.unravel_index(int(amplitude.argmax()), amplitude.shape)
    picture.alt = alt or (
        f"Map of {len(against)} spectra, {plain(frequency[0])} to {plain(frequency[-1])} Hz against {against_label}. "
        f"Largest amplitude {highest:.3g} {unit} at {frequency[column]:.4g} Hz, {against_label} {against[row]:.4g}."
    )
    return picture


def _checked_map(frequency: np.ndarray, against: np.ndarray, amplitude: np.ndarray) -> np.ndarray:
    amplitude = np.abs(np.asarray(amplitude, float))
    if amplitude.shape != (len(against), len(frequency)):
        wanted = f"{len(against)} spectra of {len(frequency)} lines"
        raise ValueError(f"amplitude has shape {amplitude.shape}; the axes announce {wanted}")
    if not amplitude.max(initial=0.0) > 0:
        raise ValueError("every amplitude is 0: nothing to draw")
    return amplitude


def _widest(frequency: np.ndarray, amplitude: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """At most ``most`` frequency lines: neighbours are merged into their largest, so that no peak gets lost."""
    if len(frequency) <= most:
        return frequency, amplitude
    begins = np.unique(np.arange(most) * len(frequency) // most)
    return frequency[begins], np.maximum.reduceat(amplitude, begins, axis=1)


def _order_line(ax: Axes, hz: np.ndarray, against: np.ndarray, order: float, last: float) -> None:
    seen = hz <= last
    if not seen.any():
        return
    ax.plot(hz[seen], against[seen], color="#ffffff", lw=1.0, ls=(0, (2, 5)))
    end, top = np.flatnonzero(seen)[-1], seen[-1]
    ax.annotate(
        f"{order:g}×",
        (hz[end], against[end]),
        xytext=(0, 3) if top else (3, 0),
        textcoords="offset points",
        ha="center" if top else "left",
        va="bottom" if top else "center",
        fontsize=style.SMALL,
        fontweight="bold",
        annotation_clip=False,
    )


@drawn
def bode(
    speed: np.ndarray,
    response: np.ndarray | Mapping[str, np.ndarray],
    unit: str = "mm/s",
    *,
    speed_label: str = "speed in 1/min",
    marks: Mapping[str, float] | None = None,
    log_speed: bool = False,
    log_amplitude: bool = False,
    title: str = "",
    alt: str = "",
) -> Picture:
    """Amplitude and phase of a complex response against speed or frequency.

    Parameters
    ----------
    speed : (n,) increasing
    response : complex (n,), amplitude in ``unit``, or several of them (at most 16) by name; phase is drawn unwrapped in degrees
    marks : speeds by name, for example a resonance

    Raises
    ------
    ValueError
        If lengths differ, or there are more curves than can be told apart.
    """
    curves = dict(response) if isinstance(response, Mapping) else {"": np.asarray(response)}
    for curve in curves.values():
        if len(curve) != len(speed):
            raise ValueError(f"the response has {len(curve)} points, the speed axis {len(speed)}")
    picture = new(style.WIDTH * 0.85, 4.6)
    upper, lower = picture.subplots(2, 1, sharex=True, height_ratios=[3, 2])
    for number, (name, curve) in enumerate(curves.items()):
        upper.plot(speed, np.abs(curve), **style.line(number), label=name)
        lower.plot(speed, np.degrees(np.unwrap(np.angle(curve))), **style.line(number))
    for name, at in (marks or {}).items():
        for ax in (upper, lower):
            ax.axvline(at, color=style.theme().ink, lw=0.9, ls=(0, (6, 2, 1, 2)))
        upper.text(
            at, 1.02, f"{name}: {plain(at)}", transform=upper.get_xaxis_transform(), ha="center", fontsize=style.SMALL
        )
    upper.set(
        ylabel=f"amplitude in {unit}",
        xscale="log" if log_speed else "linear",
        yscale="log" if log_amplitude else "linear",
    )
    lower.set(ylabel="phase in °", xlabel=speed_label)
    lower.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}"))
    lower.locator_params(axis="y", steps=[1, 1.5, 3, 4.5, 9, 10], nbins=6)
    for ax in (upper, lower):
        ax.grid(True)
        ax.margins(x=0)
    if title:
        upper.set_title(title, pad=18 if marks else 6)
    if len(curves) > 1:
        picture.legend(loc="outside lower center", ncols=4)
    picture.alt = alt or _describe_bode(np.asarray(speed), curves, unit, speed_label)
    return picture


def _describe_bode(speed: np.ndarray, curves: Mapping[str, np.ndarray], unit: str, speed_label: str) -> str:
    parts = []
    for name, curve in curves.items():
        top = int(np.argmax(np.abs(curve)))
        phase = np.degrees(np.unwrap(np.angle(curve)))
        parts.append(
            f"{name + ': ' if name else ''}largest amplitude {abs(curve[top]):.3g} {unit} "
            f"at {plain(float(speed[top]), 4)}; "
            f"phase goes from {phase[0]:.0f}° to {phase[-1]:.0f}°"
        )
    return f"Amplitude and phase against {speed_label}. " + ". ".join(parts) + "."
