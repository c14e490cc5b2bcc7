"""What stands at the analog inputs: each sensor turns a part of the plant into volts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from ..dsp import emf_mv
from .converter import Converter
from .fan import STANDARD_GRAVITY, Fan, Shaker
from .terminals import BenchFault
from .timebase import BLOCK_S, Block

OPEN_V = 12.0
"""Where a small test current pulls an open input, V: its supply, beyond every range."""


class Sensor:
    """Base: volts at the converter's input, at instants of the last block.

    ``volts_per_unit`` and ``unit`` are what its data sheet says.
    """

    faults: tuple[str, ...] = ()
    unit = "V"
    volts_per_unit = 1.0

    def begin(self, converter: Converter, random: np.random.Generator) -> None:
        """Start again, in front of the given converter, with these random numbers."""

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        """Voltage at instants ``seconds`` after the block's begin."""
        raise NotImplementedError


class Accelerometer(Sensor):
    """An accelerometer on a fan's bearing.

    Parameters
    ----------
    volts_per_g : sensitivity
    hum_v : mains hum on the cable, V peak
    """

    faults = ("loose", "open")
    unit = "m/s2"

    def __init__(self, fan: Fan, mains_hz: float, volts_per_g: float = 0.1, hum_v: float = 200e-6) -> None:
        self.fan = fan
        self.mains_hz = mains_hz
        self.hum_v = hum_v
        self.volts_per_unit = volts_per_g / STANDARD_GRAVITY
        self._shaker: Shaker | None = None

    def begin(self, converter: Converter, random: np.random.Generator) -> None:
        self._random = random
        self._shaker = Shaker(self.fan, converter, random)
        self._hum = self.hum_v * converter.response(self.mains_hz)

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        assert self._shaker is not None
        felt = self._shaker.acceleration(seconds) * self.volts_per_unit
        if fault == "open":
            return np.full(len(seconds), OPEN_V)
        if fault == "loose":  # it rattles on its stud: less of the motion, and knocks of its own
            knocks = self._random.standard_normal(len(seconds))
            felt = 0.3 * felt + np.max(np.abs(felt), initial=0.0) * np.where(np.abs(knocks) > 2.5, 0.5 * knocks, 0.0)
        return felt + self._hum * np.sin(2 * np.pi * (self.mains_hz * (block.index * BLOCK_S + seconds) % 1.0))


class Thermocouple(Sensor):
    """A type K thermocouple; its cold junction is where its wires meet copper.

    Parameters
    ----------
    hot_c, cold_c : give the temperatures of the hot end and of the terminal block, degrees C
    pickup_v : mains hum on the wires, V peak, before the converter's averaging
    """

    faults = ("open",)
    unit = "degrees C"
    volts_per_unit = 40.5e-6

    def __init__(
        self, hot_c: Callable[[], float], cold_c: Callable[[], float], mains_hz: float, pickup_v: float = 1e-3
    ) -> None:
        self.hot_c = hot_c
        self.cold_c = cold_c
        self.mains_hz = mains_hz
        self.pickup_v = pickup_v
        self._left = 0.0

    def begin(self, converter: Converter, random: np.random.Generator) -> None:
        self._left = self.pickup_v * converter.response(self.mains_hz)

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        if fault == "open":
            return np.full(len(seconds), OPEN_V)
        emf = 1e-3 * float(emf_mv(self.hot_c()) - emf_mv(self.cold_c()))
        return emf + self._left * np.sin(2 * np.pi * (self.mains_hz * (block.index * BLOCK_S + seconds) % 1.0))


class TemperatureChip(Sensor):
    """A sensor chip with its divider: 1 mV per degree C."""

    unit = "degrees C"
    volts_per_unit = 1e-3

    def __init__(self, temperature_c: Callable[[], float]) -> None:
        self.temperature_c = temperature_c

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        return np.full(len(seconds), self.volts_per_unit * self.temperature_c())


class Tone(NamedTuple):
    """A sine: ``volts`` peak at ``hz``, cos(2 pi hz t + phase_deg)."""

    hz: float
    volts: float
    phase_deg: float = 0.0


class Generator(Sensor):
    """A signal generator: the sum of some sines and a constant voltage."""

    def __init__(self, tones: Sequence[Tone], offset_v: float = 0.0) -> None:
        for tone in tones:
            if not 0 <= tone.hz <= 10e6:
                raise BenchFault(f"the generator gives 0 to 10 MHz, not {tone.hz} Hz")
        self.tones = list(tones)
        self.offset_v = offset_v
        self._gains = [1.0] * len(self.tones)

    def begin(self, converter: Converter, random: np.random.Generator) -> None:
        self._gains = [converter.response(tone.hz) for tone in self.tones]

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        total = np.full(len(seconds), self.offset_v)
        for tone, gain in zip(self.tones, self._gains, strict=True):
            turns = (tone.hz * (block.index * BLOCK_S + seconds) + tone.phase_deg / 360) % 1.0
            total += gain * tone.volts * np.cos(2 * np.pi * turns)
        return total


class Mains(Generator):
    """The mains behind a measuring transformer of 100 to 1, with a little third and fifth harmonic.

    A real mains measurement needs an isolating, fused, rated transformer and somebody who is licensed to connect it.
    """

    unit = "V mains"
    volts_per_unit = 0.01

    def __init__(self, hz: float, volts_rms: float = 230.0) -> None:
        peak = volts_rms * 2**0.5 * self.volts_per_unit
        super().__init__([Tone(hz, peak, -90), Tone(3 * hz, 0.02 * peak, 40), Tone(5 * hz, 0.015 * peak, 110)])
