"""Analog channels: how volts become codes and codes become volts.

A real converter is not a perfect ruler.  Its gain and its zero are a little off; the maker measures both and stores
them with the unit (:class:`Calibration`).  It adds noise, stops at the ends of its range, and an over-sampling
(delta-sigma) converter delivers each sample many sample periods late, because its digital filter has to see what
comes after (common practice: tens of samples; no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..netlist import Endpoint, make
from .terminals import BenchFault, Change, Input, Output
from .timebase import Block, SampleClock, Timebase


@dataclass(frozen=True)
class Calibration:
    """Constants stored with one channel of one unit.

    A code means ``(code - zero_code) * volts_per_code`` volts.
    """

    volts_per_code: float
    zero_code: float


@dataclass(frozen=True)
class Converter:
    """Data sheet of an analog input.

    Parameters
    ----------
    bits : resolution; codes are signed
    range_v : full scale, plus and minus, in volts
    rate_hz : samples per second
    delay_samples : group delay from the instant that a sample tells about to its arrival
    noise_v : noise, V r.m.s., at this rate
    gain_error, zero_error_v : spread (standard deviation) of gain (relative) and zero (volts) from unit to unit
    """

    bits: int = 24
    range_v: float = 5.0
    rate_hz: Fraction = Fraction(51200)
    delay_samples: int = 38
    noise_v: float = 30e-6
    gain_error: float = 3e-3
    zero_error_v: float = 2e-3

    @property
    def volts_per_code(self) -> float:
        """Nominal size of one code in volts: range divided by 2**(bits - 1)."""
        return self.range_v / 2 ** (self.bits - 1)


class AnalogInput(Input):
    """A channel that delivers samples: ``value`` holds the newest code, ``valid`` is 1 in the tick in which it arrives.

    Subclasses give the voltage at the terminal (:meth:`volts`).
    """

    kind = "analog_in"

    def __init__(self, name: str, text: str, converter: Converter, random: np.random.Generator) -> None:
        super().__init__(name, make("signed", converter.bits), text)
        self.converter = converter
        self.random = random
        gain = 1 + converter.gain_error * float(np.clip(random.normal(), -3, 3))
        zero_v = converter.zero_error_v * float(np.clip(random.normal(), -3, 3))
        self._codes_per_volt = gain / converter.volts_per_code
        self._zero_code = zero_v * self._codes_per_volt
        self.clock: SampleClock | None = None

    @property
    def calibration(self) -> Calibration:
        """This unit's constants, as its maker measured them."""
        return Calibration(1 / self._codes_per_volt, self._zero_code)

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self.clock = SampleClock(self.converter.rate_hz, Fraction(self.converter.delay_samples), timebase)

    def changes(self, block: Block) -> Iterable[Change]:
        assert self.clock is not None
        numbers = self.clock.numbers(block.index)
        if len(numbers):
            codes = self.codes(self.volts(block, self.clock.seconds_into(block.index, numbers)))
            ticks = self.clock.ticks(numbers)
            yield "value", ticks, codes
            yield "valid", ticks, np.ones(len(ticks), np.int64)

    def volts(self, block: Block, seconds: np.ndarray) -> np.ndarray:
        """Voltage at the terminal at the given instants, in seconds after the block's begin."""
        raise NotImplementedError

    def codes(self, volts: np.ndarray) -> np.ndarray:
        """Codes of voltages: this unit's gain and zero, noise, rounding, and the end of the range."""
        noisy = volts + self.converter.noise_v * self.random.standard_normal(len(volts))
        raw = np.rint(noisy * self._codes_per_volt + self._zero_code)
        return np.clip(raw, self.type.low, self.type.high).astype(np.int64)


class AnalogOutput(Output):
    """A converter that takes a code at each of its update instants and holds that voltage until the next.

    Parameters
    ----------
    bits, range_v : codes are signed; full scale is plus and minus ``range_v`` volts
    rate_hz : updates per second
    over_range : "clip" or "wrap": what the part does with a code beyond its width
    """

    kind = "analog_out"

    def __init__(self, name: str, text: str, random: np.random.Generator, *, bits: int = 16, range_v: float = 10.0,
                 rate_hz: Fraction = Fraction(100_000), over_range: str = "clip", gain_error: float = 1e-3,
                 zero_error_v: float = 1e-3) -> None:
        super().__init__(name, make("signed", bits), text)
        if over_range not in ("clip", "wrap"):
            raise BenchFault(f'over_range is "clip" or "wrap", not {over_range!r}')
        self.range_v = range_v
        self.rate_hz = Fraction(rate_hz)
        self.over_range = over_range
        gain = 1 + gain_error * float(np.clip(random.normal(), -3, 3))
        self._volts_per_code = gain * range_v / 2 ** (bits - 1)
        self._zero_v = zero_error_v * float(np.clip(random.normal(), -3, 3))
        self.clock: SampleClock | None = None

    @property
    def calibration(self) -> Calibration:
        """This unit's constants: a code gives ``(code - zero_code) * volts_per_code`` volts."""
        return Calibration(self._volts_per_code, -self._zero_v / self._volts_per_code)

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self.clock = SampleClock(self.rate_hz, Fraction(0), timebase)

    def changes(self, block: Block) -> Iterable[Change]:
        assert self.clock is not None
        if "ready" in (self.bound.ports if self.bound else ()):
            ticks = self.clock.ticks(self.clock.numbers(block.index))
            yield "ready", ticks, np.ones(len(ticks), np.int64)

    def volts(self) -> float:
        """Voltage averaged over the last block."""
        return self._volts_per_code * self._mean_code() + self._zero_v

    def _mean_code(self) -> float:
        level = self.level
        if self.clock is None or not len(level.ticks):
            return float(self.fit(np.array([level.last]))[0])
        taken = level.at(self.clock.ticks(self.clock.numbers(level.block)))
        return float(np.mean(self.fit(taken))) if len(taken) else float(self.fit(np.array([level.first]))[0])

    def fit(self, codes: np.ndarray) -> np.ndarray:
        """Codes as the part takes them: clipped to its width, or only their lowest bits."""
        if self.over_range == "clip":
            return np.clip(codes, self.type.low, self.type.high)
        span = self.type.high - self.type.low + 1
        return (codes - self.type.low) % span + self.type.low
