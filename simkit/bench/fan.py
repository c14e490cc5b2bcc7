"""One fan as a whole: rotor, unbalance, mount, and what its bearing accelerometer feels."""

from __future__ import annotations

import cmath
from fractions import Fraction

import numpy as np

from ..units import UnitFault, exact
from .mount import BlockFilter, Mount, Weight
from .rotor import RAD_PER_TURN, Drive, Rotor
from .terminals import BenchFault

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of gravity in m/s2 (exact by definition, ISO 80000-3)."""


class Fan:
    """A fan of the fan house.

    Parameters
    ----------
    name : "A", "B" …; its terminals are called ``fan A speed``, ``fan A pulse`` and so on
    weights : what makes the rotor unbalanced
    blades : number of blades; they make a tone at ``blades`` times the turning frequency
    blade_tone : acceleration of that tone in m/s2 at the drive's top speed (grows with the square of the speed)
    flow_noise : r.m.s. acceleration of the flow noise in m/s2 at top speed (grows with the square of the speed)
    drive, mount : see :class:`Drive`, :class:`Mount`
    """

    def __init__(self, name: str, weights: list[Weight] | None = None, *, blades: int = 7, blade_tone: float = 2.0,
                 flow_noise: float = 0.8, drive: Drive | None = None, mount: Mount | None = None,
                 inertia_kg_m2: float = 0.05) -> None:
        self.name = name
        self.weights = list(weights or [])
        self.blades = blades
        self.blade_tone = blade_tone
        self.flow_noise = flow_noise
        self.mount = mount or Mount()
        self.rotor = Rotor(drive or Drive(), inertia_kg_m2)

    @property
    def speed_rpm(self) -> float:
        """Speed in r/min, now (to the millisecond)."""
        return self.rotor.speed_rpm

    @property
    def unbalance(self) -> complex:
        """All weights together as a phasor, in kg m."""
        return sum((w.moment for w in self.weights), 0j)

    def hold_speed(self, speed_rpm: float | Fraction | None) -> None:
        """Turn at exactly this speed from now on, whatever the design commands; None: obey the command again.

        Before the first tick the fan then *starts* at this speed, its mount swinging steadily.
        """
        try:
            wanted = None if speed_rpm is None else exact(speed_rpm)
        except UnitFault as error:
            raise BenchFault(f"fan {self.name}: a speed in r/min is wanted: {error}") from None
        if wanted is not None and not 0 <= wanted <= 60_000:
            raise BenchFault(f"fan {self.name}: {speed_rpm} r/min is outside 0 to 60000")
        self.rotor.hold(wanted)

    def add_weight(self, mass_g: float, radius_mm: float, angle_deg: float) -> Weight:
        """Fix a weight (a trial weight, say) to the rotor; give it to :meth:`remove_weight` to take it off.

        On a real fan: stopped, locked out, and the weight positively fixed, before anybody reaches in.
        """
        weight = Weight(mass_g, radius_mm, angle_deg)
        self.weights.append(weight)
        return weight

    def remove_weight(self, weight: Weight) -> None:
        """Take a weight off the rotor."""
        if weight not in self.weights:
            raise BenchFault(f"fan {self.name} carries no such weight; it carries {self.weights or 'none'}")
        self.weights.remove(weight)


class Shaker:
    """What an accelerometer on the fan's bearing feels, sample by sample, in m/s2.

    Parameters
    ----------
    step_s : time between two samples
    """

    def __init__(self, fan: Fan, step_s: float, random: np.random.Generator) -> None:
        self.fan = fan
        self.random = random
        self.filter: BlockFilter = fan.mount.filter(step_s)
        self.step_s = step_s
        self.reset()

    def reset(self) -> None:
        """The mount at rest, or swinging steadily if the fan's speed is held from the start."""
        rotor = self.fan.rotor
        self.filter.reset()
        if rotor.held_rpm:
            start = cmath.exp(1j * RAD_PER_TURN * float(rotor.start_turns))
            force = self.fan.unbalance * rotor.before**2 * start
            self.filter.reset(self.filter.settled(force, cmath.exp(1j * rotor.before * self.step_s)))

    def acceleration(self, seconds: np.ndarray) -> np.ndarray:
        """Acceleration at instants of the last block (seconds after its begin), ``step_s`` apart."""
        rotor = self.fan.rotor
        turns, w2 = rotor.angle(seconds), rotor.speed(seconds) ** 2
        unbalance = self.fan.unbalance
        angle = RAD_PER_TURN * turns
        force = abs(unbalance) * w2 * np.cos(angle + cmath.phase(unbalance))
        flow = w2 / (RAD_PER_TURN * self.fan.rotor.drive.top_rpm / 60) ** 2
        tone = self.fan.blade_tone * np.cos(self.fan.blades * angle)
        noise = self.fan.flow_noise * self.random.standard_normal(len(seconds))
        return self.filter.run(force) + flow * (tone + noise)

