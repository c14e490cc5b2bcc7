"""One fan as a whole: rotor, unbalance, mount, and what its bearing housing does."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..dsp import bearing_orders
from ..units import UnitFault, exact
from .converter import Converter
from .mount import Mount, Weight
from .rotor import RAD_PER_TURN, Drive, Rotor, rad_per_s
from .terminals import BenchFault
from .timebase import BLOCK_S

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of gravity in m/s2 (exact by definition, ISO 80000-3)."""

FLOW_BANDWIDTH_HZ = 10_000.0
"""Up to where the flow noise reaches, Hz (common practice for the order, no source)."""

DEFECTS = ("cage", "outer", "inner", "ball")


@dataclass(frozen=True)
class Bearing:
    """A ball bearing's geometry, and the resonance that a defect's blows set ringing.

    Parameters
    ----------
    balls, ball_mm, pitch_mm, contact_deg : see :func:`simkit.dsp.bearing_orders`
    ring_hz, ring_damping : resonance of the housing and its damping ratio
    """

    balls: int = 9
    ball_mm: float = 7.94
    pitch_mm: float = 39.04
    contact_deg: float = 0.0
    ring_hz: float = 3200.0
    ring_damping: float = 0.03

    def order(self, defect: str) -> float:
        """Blows per turn of a defect on ``cage``, ``outer``, ``inner`` ring or ``ball`` (which strikes both rings)."""
        orders = bearing_orders(self.balls, self.ball_mm, self.pitch_mm, self.contact_deg)
        return getattr(orders, defect) * (2 if defect == "ball" else 1)


class Fan:
    """A fan of the fan house.

    Parameters
    ----------
    name : "A", "B" …; its terminals are called ``fan A speed``, ``fan A pulse`` and so on
    weights : what makes the rotor unbalanced
    blades : number of blades; they make a tone at ``blades`` times the turning frequency
    blade_tone : acceleration of that tone in m/s2 at the drive's top speed (grows with the square of the speed)
    flow_noise : r.m.s. acceleration of the flow noise in m/s2 at top speed (grows with the square of the speed)
    drive, mount, bearing : see :class:`Drive`, :class:`Mount`, :class:`Bearing`
    inertia_kg_m2 : moment of inertia of everything that turns
    """

    def __init__(
        self,
        name: str,
        weights: list[Weight] | None = None,
        *,
        blades: int = 7,
        blade_tone: float = 2.0,
        flow_noise: float = 0.8,
        drive: Drive | None = None,
        mount: Mount | None = None,
        bearing: Bearing | None = None,
        inertia_kg_m2: float = 0.05,
    ) -> None:
        self.name = name
        self.weights = list(weights or [])
        self.blades = blades
        self.blade_tone = blade_tone
        self.flow_noise = flow_noise
        self.mount = mount or Mount()
        self.bearing = bearing or Bearing()
        self.rotor = Rotor(drive or Drive(), inertia_kg_m2)
        self.defect: tuple[str, float] | None = None

    @property
    def speed_rpm(self) -> float:
        """Speed in r/min, now (to 10 ms)."""
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

    def damage_bearing(self, defect: str | None, strength: float = 5.0) -> None:
        """Give the bearing a defect on its ``outer`` or ``inner`` ring, a ``ball`` or the ``cage``; None: a new
        bearing.

        Parameters
        ----------
        strength : acceleration in m/s2 with which the housing rings after a blow at top speed (grows with the speed)
        """
        if defect is not None and defect not in DEFECTS:
            raise BenchFault(f"a bearing's defect is on its {', '.join(DEFECTS)}, not {defect!r}")
        self.defect = None if defect is None else (defect, strength)


class Shaker:
    """The acceleration of a fan's bearing housing, sample by sample, as far as a converter's filter lets it through."""

    def __init__(self, fan: Fan, converter: Converter, random: np.random.Generator) -> None:
        self.fan = fan
        self.converter = converter
        self.random = random
        self._fine = max(1, math.ceil(25_600 / converter.rate_hz))
        self._step_s = 1 / float(converter.rate_hz) / self._fine
        self._top = rad_per_s(fan.rotor.drive.top_rpm)
        self._ring = 0j
        self._blows = 0.0
        rotor = fan.rotor
        self.filter = fan.mount.filter(self._step_s)
        if rotor.held_rpm:  # the mount swings steadily from the start
            start = cmath.exp(1j * RAD_PER_TURN * float(rotor.start_turns))
            force = fan.unbalance * rotor.before**2 * start
            self.filter.settle(force, cmath.exp(1j * rotor.before * self._step_s))

    def acceleration(self, seconds: np.ndarray) -> np.ndarray:
        """Acceleration in m/s2 at instants of the last block (seconds after its begin), one sample period apart."""
        fan, rotor = self.fan, self.fan.rotor
        angle, speed = RAD_PER_TURN * rotor.angle(seconds), rotor.speed(seconds)
        squared = speed * speed
        tone_gain = fan.blade_tone * self.converter.response(fan.blades * rotor.after / RAD_PER_TURN)
        noise_gain = fan.flow_noise * self.converter.noise_share(FLOW_BANDWIDTH_HZ)
        rough = tone_gain * np.cos(fan.blades * angle) + noise_gain * self.random.standard_normal(len(seconds))
        rough *= squared / self._top**2
        total = self._swing(seconds, angle, squared) + rough
        return total + self._ringing(seconds) if fan.defect else total

    def _swing(self, seconds: np.ndarray, angle: np.ndarray, squared: np.ndarray) -> np.ndarray:
        """The mount under the unbalance force; slow converters need steps in between."""
        if self._fine > 1:
            back = np.arange(self._fine - 1, -1, -1) * self._step_s
            seconds = (seconds[:, None] - back).ravel()
            angle, squared = RAD_PER_TURN * self.fan.rotor.angle(seconds), self.fan.rotor.speed(seconds) ** 2
        unbalance = self.fan.unbalance
        force = abs(unbalance) * squared * np.cos(angle + cmath.phase(unbalance))
        return self.filter.run(force)[self._fine - 1 :: self._fine]

    def _ringing(self, seconds: np.ndarray) -> np.ndarray:
        """Each blow of the defect starts a decaying oscillation; they add up."""
        assert self.fan.defect is not None
        (defect, strength), bearing, rotor = self.fan.defect, self.fan.bearing, self.fan.rotor
        decay = RAD_PER_TURN * bearing.ring_hz * complex(-bearing.ring_damping, 1.0)
        size = strength * rotor.after / self._top * self.converter.response(bearing.ring_hz)
        total = self._ring * np.exp(decay * seconds)
        end = self._ring * cmath.exp(decay * BLOCK_S)
        for at in self._blow_times(bearing.order(defect)):
            since = seconds - at
            total += np.where(since >= 0, size * np.exp(decay * np.maximum(since, 0)), 0)
            end += size * cmath.exp(decay * (BLOCK_S - at))
        self._ring = end
        return total.imag

    def _blow_times(self, order: float) -> list[float]:
        """Instants of the last block in which the defect strikes: each whole number of 1/order turns."""
        rotor = self.fan.rotor
        turned = (rotor.before + rotor.after) / 2 * BLOCK_S / RAD_PER_TURN
        phase, self._blows = self._blows, self._blows + order * turned
        count = math.floor(self._blows)
        self._blows -= count
        return [(i + 1 - phase) / (order * turned) * BLOCK_S for i in range(count)]
