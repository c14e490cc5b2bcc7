"""Analog channels in and out."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from ..netlist import Endpoint, make
from .converter import Calibration, Converter, Unit
from .mount import Filter
from .sensors import Sensor
from .terminals import BenchFault, Change, Input, Output, Stream
from .timebase import Block, SampleClock, Timebase


class AnalogInput(Input):
    """A sensor and the converter behind it.

    ``value`` holds the newest code; ``valid`` is 1 in the tick in which it arrives.
    """

    kind = "analog_in"

    def __init__(self, name: str, text: str, sensor: Sensor, converter: Converter, random: Stream) -> None:
        super().__init__(name, make("signed", converter.bits), text)
        self.sensor = sensor
        self.converter = converter
        self.unit = Unit(converter, random(f"{name} converter"))
        self._random = random
        self.faults = sensor.faults
        self.latest = np.empty(0, np.int64)
        """Codes that arrived last: those of the last block that had any."""
        self._clock: SampleClock | None = None
        self._blocker: Filter | None = None

    @property
    def calibration(self) -> Calibration:
        """This unit's constants, as its maker measured them."""
        return self.unit.calibration

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        converter = self.converter
        self._clock = self._blocker = None
        if endpoint is None:  # nobody listens
            return
        self._clock = SampleClock(converter.rate_hz, Fraction(converter.delay_samples), timebase, converter.skew_s)
        if converter.ac_corner_hz:
            corner = 2 * np.pi * converter.ac_corner_hz
            self._blocker = Filter([1.0, 0.0], [1.0, corner], 1 / float(converter.rate_hz))
        noise = self._random(f"{self.name} noise")
        self.unit.begin(noise)
        self.sensor.begin(converter, noise)

    def changes(self, block: Block) -> Iterable[Change]:
        assert self._clock is not None
        seconds, ticks = self._clock.of_block(block.index)
        if not len(ticks):
            return
        volts = self.sensor.volts(block, seconds, self.fault)
        if self._blocker is not None:
            volts = self._blocker.run(volts)
        self.latest = self.unit.codes(volts)
        yield "value", ticks, self.latest
        yield "valid", ticks, np.ones(len(ticks), np.int64)

    def delivered(self, ticks: int) -> tuple[np.ndarray, np.ndarray]:
        """Ticks in which samples arrived before tick ``ticks``, and the instants (s) that these samples tell about."""
        assert self._clock is not None
        last = int(ticks * self.converter.rate_hz / self._clock.tick_hz) + 2
        numbers = np.arange(last, dtype=np.int64)
        arrived = self._clock.ticks(numbers)
        numbers, arrived = numbers[arrived < ticks], arrived[arrived < ticks]
        return arrived, numbers / float(self.converter.rate_hz) + float(self.converter.skew_s)


class ThermocoupleInput(AnalogInput):
    """A thermocouple and its slow converter."""

    kind = "thermocouple_in"


class AnalogOutput(Output):
    """A converter that takes a code at each of its update instants and holds that voltage until the next.

    Parameters
    ----------
    bits, range_v : codes are signed; full scale is plus and minus ``range_v`` volts
    rate_hz : updates per second
    settling_s : time constant with which the voltage follows, s
    over_range : "clip" or "wrap": what the part does with a code beyond its width
    """

    kind = "analog_out"
    faults = ("dead",)

    def __init__(
        self,
        name: str,
        text: str,
        random: np.random.Generator,
        *,
        bits: int = 16,
        range_v: float = 10.0,
        rate_hz: Fraction = Fraction(100_000),
        settling_s: float = 5e-6,
        over_range: str = "clip",
        gain_error: float = 1e-3,
        zero_error_v: float = 1e-3,
    ) -> None:
        super().__init__(name, make("signed", bits), text)
        if over_range not in ("clip", "wrap"):
            raise BenchFault(f'over_range is "clip" or "wrap", not {over_range!r}')
        self.range_v = range_v
        self.rate_hz = Fraction(rate_hz)
        self.settling_s = settling_s
        self.over_range = over_range
        gain = 1 + gain_error * float(np.clip(random.normal(), -3, 3))
        self._volts_per_code = gain * range_v / 2 ** (bits - 1)
        self._zero_v = zero_error_v * float(np.clip(random.normal(), -3, 3))
        self._clock: SampleClock | None = None

    @property
    def calibration(self) -> Calibration:
        """This unit's constants: a code gives ``(code - zero_code) * volts_per_code`` volts."""
        return Calibration(self._volts_per_code, -self._zero_v / self._volts_per_code)

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self._clock = SampleClock(self.rate_hz, Fraction(0), timebase)

    def changes(self, block: Block) -> Iterable[Change]:
        assert self._clock is not None
        _, ticks = self._clock.of_block(block.index)
        yield "ready", ticks, np.ones(len(ticks), np.int64)

    @property
    def mean_volts(self) -> float:
        """Voltage averaged over the last block; 0 if nothing is wired here."""
        if self.bound is None or self.fault == "dead":
            return 0.0
        return self._volts_per_code * self._mean_code() + self._zero_v

    def _mean_code(self) -> float:
        level = self.level
        if not len(level.ticks) or self._clock is None:
            return float(self.fit_one(level.last))
        taken = level.at(self._clock.of_block(level.block)[1])
        return float(np.mean(self.fit(taken if len(taken) else np.array(level.first))))

    def volts_at(self, seconds: np.ndarray) -> np.ndarray:
        """Voltage during the last block, at instants after its begin, s: each code is approached exponentially."""
        assert self._clock is not None
        if not len(self.level.ticks):  # it stays where it was
            return np.full(len(seconds), self._volts_per_code * self.fit_one(self.level.first) + self._zero_v)
        instants, ticks = self._clock.of_block(self.level.block)
        codes = self.fit(np.concatenate(([self.level.first], self.level.at(ticks))))
        steps = np.diff(codes)
        moving = np.flatnonzero(steps)  # most codes are like the one before
        since = seconds[:, None] - instants[moving][None, :]
        moved = np.where(since > 0, -np.expm1(-np.maximum(since, 0) / self.settling_s), 0.0) @ steps[moving]
        return self._volts_per_code * (codes[0] + moved) + self._zero_v

    def fit_one(self, code: int) -> int:
        """One code as the part takes it."""
        return min(max(code, self.type.low), self.type.high) if self.over_range == "clip" else self.type.wrap(code)

    def fit(self, codes: np.ndarray) -> np.ndarray:
        """Codes as the part takes them: clipped to its width, or only their lowest bits."""
        low, high = self.type.low, self.type.high
        if self.over_range == "clip":
            return np.clip(codes, low, high)
        return (codes - low) % (high - low + 1) + low
