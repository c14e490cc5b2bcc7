"""Closed forms of simple filters.

Source of the CIC formulas: E. B. Hogenauer, "An economical class of digital filters for decimation and interpolation",
IEEE Trans. ASSP 29(2), 1981 (cited from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike


def cic_gain(f: ArrayLike, stages: int, rate: int, delay: int = 1) -> np.ndarray:
    """Gain of a CIC decimator relative to its gain at zero, (sin(pi R M f) / (R M sin(pi f)))**N.

    Parameters
    ----------
    f : frequency over the input's sample rate, 0 to 0.5
    stages, rate, delay : N, R and M
    """
    f = np.asarray(f, float)
    length = rate * delay
    below = length * np.sin(np.pi * f)
    ratio = np.divide(np.sin(np.pi * length * f), below, out=np.ones_like(f), where=below != 0)
    return np.abs(ratio) ** stages


def cic_growth_bits(stages: int, rate: int, delay: int = 1) -> int:
    """Bits that a CIC decimator's registers need beyond the input's: ceil(N log2(R M))."""
    return ((rate * delay) ** stages - 1).bit_length()


def boxcar_gain(f: ArrayLike, length: int) -> np.ndarray:
    """Gain of a moving average over ``length`` samples at a frequency over the sample rate."""
    return cic_gain(f, 1, length)


def one_pole_alpha(time_constant_s: float, rate_hz: float) -> float:
    """alpha of y += alpha (x - y) for a time constant, exact for a step: 1 - exp(-T / tau)."""
    return -math.expm1(-1 / (rate_hz * time_constant_s))


def one_pole_corner(alpha: float) -> float:
    """Frequency over sample rate at which y += alpha (x - y) is 3 dB down; nan if it never is (alpha above 0.83)."""
    cosine = 1 - alpha**2 / (2 * (1 - alpha)) if alpha < 1 else -2.0
    return math.acos(cosine) / (2 * math.pi) if cosine >= -1 else math.nan
