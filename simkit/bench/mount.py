"""A fan on its mount: the vibration that unbalance makes.

One degree of freedom: mass M on a spring k with damping c, driven by the unbalance force

    M x'' + c x' + k x = F,     F = w**2 * sum of m_i r_i cos(theta + beta_i)

where theta is the rotor's angle and beta_i the weight's place on the rotor, in the direction of rotation from the
mark.  Source: unbalance response in S. S. Rao, *Mechanical Vibrations* (section cited from memory); the closed form
is checked in tests/outside.  The force of angular acceleration is left out: it is hundreds of times smaller here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.linalg import companion
from scipy.signal import cont2discrete, lfilter


@dataclass(frozen=True)
class Weight:
    """A weight on a rotor: ``mass_g`` grams at ``radius_mm`` millimetres and ``angle_deg`` degrees.

    Angles count in the direction of rotation from the mark that the pulse sensor sees.
    """

    mass_g: float
    radius_mm: float
    angle_deg: float

    @property
    def moment(self) -> complex:
        """Mass times radius as a phasor, kg m."""
        return (
            self.mass_g
            * self.radius_mm
            * 1e-6
            * complex(math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg)))
        )


@dataclass(frozen=True)
class Mount:
    """What the fan stands on.

    Parameters
    ----------
    mass_kg : moving mass M
    resonance_hz : sqrt(k / M) / (2 pi)
    damping : ratio c / (2 sqrt(k M)), 0 to 1
    """

    mass_kg: float = 10.0
    resonance_hz: float = 20.0
    damping: float = 0.05

    def response(self, hz: float | np.ndarray) -> complex | np.ndarray:
        """Displacement over force, m/N, at a frequency."""
        natural, w = 2 * math.pi * self.resonance_hz, 2 * math.pi * np.asarray(hz)
        return 1 / (self.mass_kg * (natural**2 - w**2 + 2j * self.damping * natural * w))

    def filter(self, step_s: float) -> Filter:
        """From force (N) to acceleration (m/s2), in steps of ``step_s``."""
        natural = 2 * math.pi * self.resonance_hz
        return Filter([1 / self.mass_kg, 0.0, 0.0], [1.0, 2 * self.damping * natural, natural**2], step_s)


@lru_cache(maxsize=64)
def _in_steps(
    numerator: tuple[float, ...], denominator: tuple[float, ...], step_s: float
) -> tuple[np.ndarray, np.ndarray]:
    """The filter's coefficients for equal steps.  A course has few mounts and few rates, and makes many benches of them."""
    b, a, _ = cont2discrete((list(numerator), list(denominator)), step_s, method="foh")
    return np.ravel(b), a


class Filter:
    """A linear filter given by its transfer function in s, run in equal steps.

    Exact for an input that runs straight between the steps (first-order hold, scipy's ``cont2discrete``).

    Parameters
    ----------
    numerator, denominator : coefficients of s, highest power first
    step_s : time between two samples, s
    """

    def __init__(self, numerator: Sequence[float], denominator: Sequence[float], step_s: float) -> None:
        self._b, self._a = _in_steps(tuple(numerator), tuple(denominator), step_s)
        self.state = np.zeros(len(self._a) - 1)

    def run(self, u: np.ndarray) -> np.ndarray:
        """The output for the next inputs."""
        y, self.state = lfilter(self._b, self._a, u, zi=self.state)
        return y

    def settle(self, phasor: complex, turn: complex) -> None:
        """Take the state in which an input Re(phasor * turn**k), step k, gives a steady output from step 0 on."""
        push = self._b[1:] - self._a[1:] * self._b[0]
        self.state = np.real(np.linalg.solve(turn * np.eye(len(push)) - companion(self._a).T, push * phasor))
