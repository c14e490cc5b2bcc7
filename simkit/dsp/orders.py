"""Vibration against the turning angle: orders, synchronous average, amplitude and phase at once per turn.

The tacho gives the instants at which the mark passes.  Between two passings the angle follows a monotone cubic (scipy's
PCHIP), so that an even change of speed leaves no error that matters.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import PchipInterpolator

from .spectrum import Spectrum, spectrum


def turns_of(times: ArrayLike, pulses: ArrayLike) -> np.ndarray:
    """Angle in turns at ``times`` (s), 0 at the first pulse; nan before the first pulse and after the last.

    Parameters
    ----------
    times : s, any shape
    pulses : s, instants of the once-per-turn pulse, rising, 2 or more
    """
    pulses = np.asarray(pulses, float)
    if len(pulses) < 2 or np.any(np.diff(pulses) <= 0):
        raise ValueError("two or more pulse instants are needed, each later than the one before")
    return PchipInterpolator(pulses, np.arange(len(pulses)), extrapolate=False)(times)


def _by_angle(x: ArrayLike, times: ArrayLike, pulses: ArrayLike, per_turn: int) -> np.ndarray:
    """The signal at ``per_turn`` even angles of each whole turn, shape (turns, per_turn)."""
    pulses, times = np.asarray(pulses, float), np.asarray(times, float)
    inside = pulses[(pulses >= times[0]) & (pulses <= times[-1])]
    if len(inside) < 2:
        raise ValueError("the record holds no whole turn")
    turns = len(inside) - 1
    grid = PchipInterpolator(np.arange(len(inside)), inside)(np.arange(turns * per_turn) / per_turn)
    return np.interp(grid, times, np.asarray(x, float)).reshape(turns, per_turn)


def synchronous_average(x: ArrayLike, times: ArrayLike, pulses: ArrayLike, per_turn: int = 256) -> np.ndarray:
    """One turn, averaged over all whole turns of the record: what does not repeat every turn averages out.

    Returns shape (per_turn,), starting at the mark.
    """
    return _by_angle(x, times, pulses, per_turn).mean(axis=0)


def order_spectrum(
    x: ArrayLike, times: ArrayLike, pulses: ArrayLike, per_turn: int = 256, window_name: str = "hann"
) -> Spectrum:
    """Spectrum whose axis ``hz`` is in orders (multiples of the turning frequency): a tone tied to the speed stays one
    line.

    Shapes as in :func:`synchronous_average`; the record's whole turns are used.
    """
    return spectrum(_by_angle(x, times, pulses, per_turn).ravel(), per_turn, window_name)


def first_order(x: ArrayLike, times: ArrayLike, pulses: ArrayLike) -> complex:
    """Amplitude (peak) and phase at once per turn, as a phasor: x = Re(phasor * exp(i angle)).

    Least squares on cosine, sine and a constant over the whole turns of the record.  The angle counts from the mark
    in the direction of rotation, so a phasor's angle is where the heavy spot's effect stands when the mark passes.
    """
    turns = turns_of(times, pulses)
    inside = np.isfinite(turns) & (turns < np.floor(np.nanmax(turns)) + 1e-12)
    if not inside.any():
        raise ValueError("the record holds no whole turn")
    angle = 2 * np.pi * turns[inside]
    table = np.column_stack([np.cos(angle), np.sin(angle), np.ones(len(angle))])
    a, b, _ = np.linalg.lstsq(table, np.asarray(x, float)[inside], rcond=None)[0]
    return complex(a, -b)
