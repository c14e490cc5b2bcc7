"""Thermocouples of type K, both ways, with cold junction.

Source: ITS-90 reference functions, NIST Monograph 175 (1993) / NIST SRD 60 (the same functions as IEC 60584-1:2013 and
ASTM E230), with the reference junction at 0 degrees C.  The inverse is solved for, not taken from the approximating
polynomials, so that emf -> temperature -> emf returns exactly.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import ArrayLike

LOW_C, HIGH_C = -270.0, 1372.0
"""Range of the reference function, degrees C."""

_BELOW = (
    0.0,
    0.394501280250e-01,
    0.236223735980e-04,
    -0.328589067840e-06,
    -0.499048287770e-08,
    -0.675090591730e-10,
    -0.574103274280e-12,
    -0.310888728940e-14,
    -0.104516093650e-16,
    -0.198892668780e-19,
    -0.163226974860e-22,
)
_ABOVE = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
_A0, _A1, _A2 = 0.1185976, -0.1183432e-03, 126.9686

_INVERSE = (  # emf from, coefficients of temperature in powers of emf (mV); good to 0.06 degrees, a start for Newton's method
    (
        -np.inf,
        (0.0, 25.173462, -1.1662878, -1.0833638, -0.8977354, -0.37342377, -0.086632643, -0.010450598, -5.1920577e-04),
    ),
    (
        0.0,
        (
            0.0,
            25.08355,
            0.07860106,
            -0.2503131,
            0.0831527,
            -0.01228034,
            9.804036e-04,
            -4.41303e-05,
            1.057734e-06,
            -1.052755e-08,
        ),
    ),
    (20.644, (-131.8058, 48.30222, -1.646031, 0.05464731, -9.650715e-04, 8.802193e-06, -3.110810e-08)),
)


def emf_mv(temperature_c: ArrayLike) -> np.ndarray:
    """Voltage in mV of a type K thermocouple whose reference junction is at 0 degrees C.

    Parameters
    ----------
    temperature_c : degrees C, -270 to 1372; any shape

    Raises
    ------
    ValueError
        Outside that range.
    """
    t = np.asarray(temperature_c, float)
    if not np.all((t >= LOW_C) & (t <= HIGH_C)):
        raise ValueError(f"type K is defined from {LOW_C:g} to {HIGH_C:g} degrees C")
    bump = _A0 * np.exp(_A1 * (t - _A2) ** 2)
    return np.where(t < 0, polynomial.polyval(t, _BELOW), polynomial.polyval(t, _ABOVE) + bump)


def sensitivity_mv_per_k(temperature_c: ArrayLike) -> np.ndarray:
    """Slope of :func:`emf_mv` in mV per kelvin."""
    t = np.asarray(temperature_c, float)
    bump = 2 * _A1 * (t - _A2) * _A0 * np.exp(_A1 * (t - _A2) ** 2)
    below, above = (polynomial.polyval(t, polynomial.polyder(c)) for c in (_BELOW, _ABOVE))
    return np.where(t < 0, below, above + bump)


def temperature_c(emf: ArrayLike, cold_junction_c: ArrayLike = 0.0) -> np.ndarray:
    """Temperature in degrees C of the hot end, from the voltage in mV and the temperature of the cold junction.

    The cold junction's own voltage is added and the sum is inverted: t = E**-1(V + E(t_cj)).  Adding temperatures
    instead is wrong by up to a degree or more, because the function is curved.

    Raises
    ------
    ValueError
        For a sum outside the emf of -200 to 1372 degrees C (below -200 the function is too flat to invert).
    """
    total = np.asarray(emf, float) + emf_mv(cold_junction_c)
    low, high = emf_mv([-200.0, HIGH_C])
    if not np.all((total >= low - 1e-6) & (total <= high + 1e-6)):
        raise ValueError(f"type K can be inverted from {low:.3f} to {high:.3f} mV (-200 to 1372 degrees C)")
    t = np.clip(_start(total), -200.0, HIGH_C)
    for _ in range(4):
        t = np.clip(t - (emf_mv(t) - total) / sensitivity_mv_per_k(t), -201.0, HIGH_C)
    return t


def _start(total: np.ndarray) -> np.ndarray:
    guess = np.zeros_like(total)
    for begin, coefficients in _INVERSE:
        guess = np.where(total >= begin, polynomial.polyval(total, coefficients), guess)
    return guess
