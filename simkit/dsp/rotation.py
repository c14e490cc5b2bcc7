"""Turning speed from counted ticks, and the closed form of the response to unbalance."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def rpm_from_ticks(ticks: ArrayLike, clock_hz: float, pulses_per_turn: int = 1) -> np.ndarray:
    """Speed in r/min from the ticks between two pulses: 60 f / (p n)."""
    return 60 * clock_hz / (pulses_per_turn * np.asarray(ticks, float))


def unbalance_response(ratio: ArrayLike, damping: float) -> tuple[np.ndarray, np.ndarray]:
    """Steady response of a mass on a damped spring to rotating unbalance.

    Source: S. S. Rao, *Mechanical Vibrations*, rotating unbalance (section cited from memory):
    M X / (m e) = r**2 / sqrt((1 - r**2)**2 + (2 zeta r)**2).

    Parameters
    ----------
    ratio : turning frequency over natural frequency, r; 0 or more
    damping : zeta, the damping ratio

    Returns
    -------
    magnitude, lag : M X / (m e), dimensionless; degrees by which the displacement lags the force
    """
    r = np.asarray(ratio, float)
    real, imag = 1 - r**2, 2 * damping * r
    return r**2 / np.hypot(real, imag), np.degrees(np.arctan2(imag, real))
