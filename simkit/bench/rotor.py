"""How fast a fan turns, and where its rotor stands.

    J dw/dt = T - c w |w| - f sign(w)        w in rad/s

with inertia J, motor torque T, air drag c w**2 (fan laws: torque goes with the square of the speed) and bearing
friction f.  Newton's second law for rotation; the fan laws are common practice.  The motor is an induction motor on a
drive: torque grows with the difference between the commanded and the real speed, up to a limit.

Within a block the torque balance is integrated with one fourth-order Runge-Kutta step (the rotor's time constants are
hundreds of times longer), and the angle follows the speed linearly, so that it can be asked for at any instant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from .timebase import BLOCK_S, BLOCKS_PER_S

RAD_PER_TURN = 2 * math.pi


def rad_per_s(speed_rpm: float) -> float:
    """Speed in rad/s."""
    return speed_rpm * RAD_PER_TURN / 60


@dataclass
class Drive:
    """Motor and its drive.

    Parameters
    ----------
    top_rpm : commanded speed at full command
    max_torque_nm : torque limit, N m
    stiffness_nm_s : torque per rad/s between commanded and real speed, N m s
    """

    top_rpm: float = 3000.0
    max_torque_nm: float = 6.0
    stiffness_nm_s: float = 0.28

    def torque(self, command_rad_s: float, speed_rad_s: float) -> float:
        """Torque in N m; a drive that is commanded to stand still does not brake."""
        wanted = self.stiffness_nm_s * (command_rad_s - speed_rad_s)
        return min(max(wanted, 0.0), self.max_torque_nm)


class Rotor:
    """The turning part of a fan.

    Parameters
    ----------
    inertia_kg_m2 : moment of inertia J
    drag_nm_s2 : air drag c in N m s2 (per rad2)
    friction_nm : bearing friction f in N m
    start_turns : where the mark stands at reset, in turns past the sensor (0 to below 1)
    """

    def __init__(
        self,
        drive: Drive,
        inertia_kg_m2: float = 0.05,
        drag_nm_s2: float = 3.55e-5,
        friction_nm: float = 0.02,
        start_turns: Fraction = Fraction(1, 2),
    ) -> None:
        self.drive = drive
        self.inertia_kg_m2 = inertia_kg_m2
        self.drag_nm_s2 = drag_nm_s2
        self.friction_nm = friction_nm
        self.start_turns = start_turns
        self.held_rpm: Fraction | None = None
        self._held_turns = Fraction(0)  # in a block
        self.reset()

    def reset(self) -> None:
        """Stand still (or turn at the held speed), the mark at ``start_turns``."""
        self.begin: Fraction | float = self.start_turns
        self.end: Fraction | float = self.start_turns
        self.before = self.after = self._held_speed()
        self._stop: Fraction | float = self.end
        self.turns = 0
        self.blocks = 0

    def hold(self, speed_rpm: Fraction | None) -> None:
        """Turn at exactly this speed from now on, whatever the drive does; None: let the torques decide again."""
        self.held_rpm = speed_rpm
        self._held_turns = Fraction(0) if speed_rpm is None else speed_rpm / 60 / BLOCKS_PER_S
        if self.blocks == 0:
            self.reset()

    def _held_speed(self) -> float:
        return 0.0 if self.held_rpm is None else rad_per_s(float(self.held_rpm))

    @property
    def speed_rpm(self) -> float:
        """Speed at the end of the last block worked out, in r/min."""
        return self.after * 60 / RAD_PER_TURN

    def advance(self, command: float, powered: bool = True) -> None:
        """Turn for one block; ``command`` is the part of the top speed that the drive is told, 0 to 1."""
        self.blocks += 1
        self.begin, self.before = self.end, self.after
        if self.held_rpm is not None:
            self.before = self.after = self._held_speed()
            self.begin = Fraction(self.begin)
            self._stop = self.begin + self._held_turns
        else:
            self.after = self._step(rad_per_s(command * self.drive.top_rpm) if powered else 0.0)
            self._stop = float(self.begin) + (self.before + self.after) / 2 * BLOCK_S / RAD_PER_TURN
        whole = math.floor(self._stop)
        self.turns += whole
        self.end = self._stop - whole

    def _step(self, command_rad_s: float) -> float:
        def slope(w: float) -> float:
            loss = self.drag_nm_s2 * w * abs(w) + self.friction_nm * min(w, 1.0)
            return (self.drive.torque(command_rad_s, w) - loss) / self.inertia_kg_m2

        w, h = self.before, BLOCK_S
        if w == 0.0 and command_rad_s == 0.0:
            return 0.0
        k1 = slope(w)
        k2 = slope(w + h / 2 * k1)
        k3 = slope(w + h / 2 * k2)
        k4 = slope(w + h * k3)
        return max(w + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4), 0.0)

    def angle(self, seconds: np.ndarray) -> np.ndarray:
        """Turns past the sensor at instants of the last block, in seconds after its begin (may exceed 1)."""
        rate, half = self.before / RAD_PER_TURN, (self.after - self.before) / (2 * BLOCK_S * RAD_PER_TURN)
        return float(self.begin) + seconds * (rate + half * seconds)

    def speed(self, seconds: np.ndarray) -> np.ndarray:
        """Speed in rad/s at instants of the last block."""
        return self.before + (self.after - self.before) / BLOCK_S * seconds

    def passings(self, place: Fraction) -> Iterator[Fraction]:
        """When, in seconds after the last block's begin, the mark is ``place`` turns past the sensor.

        Exact while the speed is held.  Each passing belongs to one block: ``place`` is a multiple of 2**-20, so the
        comparisons here and in the next block cannot round differently.
        """
        want = place if self.held_rpm is not None else float(place)
        want += want < self.begin
        while want < self._stop:
            yield self._when(want)
            want += 1

    def _when(self, place: Fraction | float) -> Fraction:
        """When the mark gets there: the root of turned = t (rate + half t)."""
        if self.held_rpm:
            return (Fraction(place) - Fraction(self.begin)) * 60 / self.held_rpm
        turned = float(place) - float(self.begin)
        rate, half = self.before / RAD_PER_TURN, (self.after - self.before) / (2 * BLOCK_S * RAD_PER_TURN)
        root = math.sqrt(max(rate * rate + 4 * half * turned, 0.0))
        return Fraction(min(2 * turned / (rate + root), BLOCK_S) if rate + root > 0 else 0.0)
