"""How volts become codes.

A real converter is not a perfect ruler.  Its gain and its zero are a little off; the maker measures both and stores
them with the unit (:class:`Calibration`).  It adds noise and stops at the ends of its range.  An over-sampling
(delta-sigma) converter has a steep digital filter against aliases and delivers each sample many sample periods late,
because that filter has to see what comes after (common practice: tens of samples; no source).  A slow converter
averages over its conversion time, which takes out mains hum if that time is a whole number of mains periods.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike

from .terminals import BenchFault


@dataclass(frozen=True)
class Calibration:
    """Constants stored with one channel of one unit: a code means ``(code - zero_code) * volts_per_code`` volts."""

    volts_per_code: float
    zero_code: float

    def volts(self, code: ArrayLike) -> np.ndarray:
        """Voltage that a code stands for."""
        return (np.asarray(code) - self.zero_code) * self.volts_per_code


@dataclass(frozen=True)
class Converter:
    """Data sheet of an analog input.

    Parameters
    ----------
    bits : resolution; codes are signed
    range_v : full scale, plus and minus, V
    rate_hz : samples per second and channel
    delay_samples : group delay: from the instant that a sample tells about to its arrival, in samples
    noise_v : noise, V r.m.s., at this rate
    gain_error, zero_error_v : spread (standard deviation) of gain (relative) and zero (V) from unit to unit
    anti_alias : a digital filter, flat to 0.45 of the rate, keeps out what lies above 0.55 of it
    ac_corner_hz : corner of the high-pass that blocks constant voltage; 0 for none
    averaging_s : time over which one conversion averages, s; 0 for none
    skew_s : how much later than the first channel of its card this one samples, s (scanned cards)
    """

    bits: int = 24
    range_v: float = 5.0
    rate_hz: Fraction = Fraction(51200)
    delay_samples: int = 38
    noise_v: float = 30e-6
    gain_error: float = 3e-3
    zero_error_v: float = 2e-3
    anti_alias: bool = True
    ac_corner_hz: float = 0.5
    averaging_s: float = 0.0
    skew_s: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if not 2 <= self.bits <= 32 or self.range_v <= 0 or not Fraction(1, 1000) <= self.rate_hz <= 10_000_000:
            raise BenchFault(
                "a converter has 2 to 32 bits, a range above 0 V and a rate of 0.001 to 10 000 000 samples/s"
            )
        object.__setattr__(self, "rate_hz", Fraction(self.rate_hz))

    @property
    def volts_per_code(self) -> float:
        """Nominal size of one code: range over 2**(bits - 1), V."""
        return self.range_v / 2 ** (self.bits - 1)

    def response(self, hz: float) -> float:
        """Gain at a frequency, before sampling: digital filter, or averaging (|sin(x)/x|, x = pi f T)."""
        x = math.pi * hz * self.averaging_s
        gain = abs(math.sin(x) / x) if x else 1.0
        if not self.anti_alias:
            return gain
        place = (hz / float(self.rate_hz) - 0.45) / 0.1
        return gain * 10.0 ** (-5 * min(max(place, 0.0), 1.0))

    def noise_share(self, bandwidth_hz: float) -> float:
        """How much of a white noise of the given bandwidth is sampled (r.m.s.): all of it if nothing keeps it out."""
        return min(float(self.rate_hz) / 2 / bandwidth_hz, 1.0) ** 0.5 if self.anti_alias else 1.0


class Unit:
    """One channel of one converter with its own gain and zero, drawn from ``random``."""

    def __init__(self, converter: Converter, random: np.random.Generator) -> None:
        self.converter = converter
        self._random = random
        gain = 1 + converter.gain_error * float(np.clip(random.normal(), -3, 3))
        zero_v = converter.zero_error_v * float(np.clip(random.normal(), -3, 3))
        self._per_volt = gain / converter.volts_per_code
        self._zero = zero_v * self._per_volt
        self._noise = converter.noise_v * self._per_volt
        self._low, self._high = -(2 ** (converter.bits - 1)), 2 ** (converter.bits - 1) - 1

    def begin(self, random: np.random.Generator) -> None:
        """Start again, with this noise."""
        self._random = random

    @property
    def calibration(self) -> Calibration:
        """What its maker measured."""
        return Calibration(1 / self._per_volt, self._zero)

    def codes(self, volts: np.ndarray) -> np.ndarray:
        """Codes, int64, for voltages."""
        raw = self._random.standard_normal(len(volts))
        raw *= self._noise
        raw += volts * self._per_volt
        raw += self._zero
        np.rint(raw, out=raw)
        return np.minimum(np.maximum(raw, self._low), self._high).astype(np.int64)
