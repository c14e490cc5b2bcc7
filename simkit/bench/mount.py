"""A fan on its mount: the vibration that unbalance makes.

One degree of freedom: mass M on a spring k with damping c, driven by the unbalance force

    M x'' + c x' + k x = F,     F = w**2 * sum of m_i r_i cos(theta + beta_i)

where theta is the rotor's angle and beta_i the weight's place on the rotor, in the direction of rotation from the
mark.  Source: unbalance response in S. S. Rao, *Mechanical Vibrations* (section cited from memory); the closed form
is checked in tests/outside.  The force of angular acceleration is left out: it is hundreds of times smaller here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import cont2discrete


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
        return self.mass_g * self.radius_mm * 1e-6 * complex(math.cos(math.radians(self.angle_deg)),
                                                            math.sin(math.radians(self.angle_deg)))


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

    def filter(self, step_s: float) -> BlockFilter:
        """From force (N) to acceleration (m/s2), in steps of ``step_s``; between steps the force runs straight."""
        natural = 2 * math.pi * self.resonance_hz
        a = np.array([[0.0, 1.0], [-natural**2, -2 * self.damping * natural]])
        b = np.array([[0.0], [1 / self.mass_kg]])
        return BlockFilter(a, b, a[1:], b[1:], step_s)


class BlockFilter:
    """A linear filter x' = A x + B u, y = C x + D u run over whole blocks by matrix products.

    Exact for an input that runs straight between the steps (first-order hold, scipy's ``cont2discrete``).
    A block of n steps costs three small products, whatever the order.
    """

    def __init__(self, a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray, step_s: float) -> None:
        self._a, self._b, self._c, self._d, _ = cont2discrete((a, b, c, d), step_s, method="foh")
        self.state = np.zeros(len(self._a))
        self._grow(64)

    def _grow(self, size: int) -> None:
        powers = [np.eye(len(self._a))]
        for _ in range(size):
            powers.append(self._a @ powers[-1])
        self._powers = np.array(powers)
        self._free = np.array([(self._c @ p)[0] for p in powers[:-1]])
        pushes = np.array([(p @ self._b)[:, 0] for p in powers[:-1]])
        response = np.concatenate(([self._d[0, 0]], (pushes[:-1] @ self._c[0])))
        lag = np.subtract.outer(np.arange(size), np.arange(size))
        self._forced = np.where(lag >= 0, response[np.abs(lag)], 0.0)
        self._push = pushes[::-1].T.copy()
        self._size = size

    def reset(self, state: np.ndarray | None = None) -> None:
        """Start again, from rest or from a state of :meth:`settled`."""
        self.state = np.zeros(len(self._a)) if state is None else state

    def run(self, u: np.ndarray) -> np.ndarray:
        """The filter's output for the next block of inputs."""
        n = len(u)
        if n > self._size:
            self._grow(2 * n)
        y = self._free[:n] @ self.state + self._forced[:n, :n] @ u
        self.state = self._powers[n] @ self.state + self._push[:, self._size - n:] @ u
        return y

    def settled(self, phasor: complex, turn: complex) -> np.ndarray:
        """The state in which an input Re(phasor * turn**k), step k, gives a steady output from step 0 on."""
        eye = np.eye(len(self._a))
        return np.real(np.linalg.solve(turn * eye - self._a, self._b[:, 0] * phasor))
