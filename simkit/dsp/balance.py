"""Balancing by influence coefficients, and what unbalance a standard permits.

Phasors: vibration and weights are complex numbers whose angles count in the direction of rotation from the mark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

STANDARD_GRAVITY = 9.80665


def phasor(amount: float, angle_deg: float) -> complex:
    """Amount and angle as a complex number."""
    return amount * complex(math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg)))


@dataclass(frozen=True)
class Influence:
    """Single-plane influence coefficient: vibration per unit of weight, ``alpha = (v1 - v0) / trial``.

    Parameters
    ----------
    before : vibration phasor without the trial weight
    after : with it
    trial : the trial weight as a phasor (g, or g mm)

    Source: influence coefficient method, ISO 21940-13 describes the field procedure (from memory).

    Examples
    --------
    >>> case = Influence(phasor(3.4, 116), phasor(1.8, 42), phasor(2.0, 0))
    >>> round(abs(case.correction), 2)
    2.01
    """

    before: complex
    after: complex
    trial: complex

    @property
    def coefficient(self) -> complex:
        """Vibration per unit of weight; :class:`ValueError` if the trial weight changed nothing."""
        if self.trial == 0 or self.after == self.before:
            raise ValueError("the trial weight changed nothing: take a heavier one or another place")
        return (self.after - self.before) / self.trial

    @property
    def correction(self) -> complex:
        """The weight to add, the trial weight taken off again, that brings the vibration to zero."""
        return -self.before / self.coefficient


def two_plane(
    before: tuple[complex, complex],
    after: tuple[tuple[complex, complex], tuple[complex, complex]],
    trials: tuple[complex, complex],
) -> tuple[complex, complex]:
    """Corrections for two planes.

    Parameters
    ----------
    before : vibration at bearings 1 and 2
    after : ``after[p]`` is the vibration at bearings 1 and 2 with the trial weight on plane ``p`` only
    trials : the trial weights of plane 1 and 2
    """
    alpha = (np.array(after, complex) - np.array(before, complex)).T / np.array(trials, complex)
    first, second = np.linalg.solve(alpha, -np.array(before, complex))
    return complex(first), complex(second)


def permitted_unbalance(grade_mm_s: float, speed_rpm: float, mass_kg: float) -> float:
    """Permitted residual unbalance in g mm: U = 1000 G m / w, w = 2 pi n / 60.

    Source: balance quality grades of ISO 21940-11 (formula from secondary texts; G is the speed of the mass centre in
    mm/s; fans are usually G 6.3).
    """
    if speed_rpm <= 0 or mass_kg <= 0 or grade_mm_s <= 0:
        raise ValueError("grade, speed and mass must be positive")
    return 1000 * grade_mm_s * mass_kg / (2 * math.pi * speed_rpm / 60)


def trial_weight(mass_kg: float, speed_rpm: float, radius_mm: float, share: float = 0.1) -> float:
    """A trial weight in g whose force is ``share`` of the rotor's weight (common practice, no source: 10 %)."""
    omega = 2 * math.pi * speed_rpm / 60
    return 1e6 * share * mass_kg * STANDARD_GRAVITY / (radius_mm * omega**2)
