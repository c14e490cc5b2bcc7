"""From seconds to ticks, exactly.

Plant and engine advance in blocks of ten milliseconds.  Whatever the plant does during a block depends only on
what the design put out *before* it: a drive that reads its command and a relay that pulls in take at least that long
(common practice, no source).  So a block's events are worked out in one go, and the result cannot depend on how a run
is cut into pieces.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..units import Duration

BLOCKS_PER_S = 100
BLOCK_S = 1 / BLOCKS_PER_S


def ceil_div(a: int, b: int) -> int:
    """a / b rounded up."""
    return -(-a // b)


@dataclass(frozen=True)
class Timebase:
    """The fabric clock of ``hz`` hertz: tick *k* begins at *k* / hz."""

    hz: Fraction

    def tick_at(self, seconds: Fraction) -> int:
        """The first tick that begins at or after an instant."""
        scaled = seconds * self.hz
        return ceil_div(scaled.numerator, scaled.denominator)

    def tick_of(self, at: Duration | int) -> int:
        """The tick meant by an instant since reset: a number of ticks, or a duration (first tick at or after it)."""
        if isinstance(at, Duration):  # tick_at() without reducing fractions: a host asks for this with each access
            ps, hz = at.ps, self.hz
            return ceil_div(ps.numerator * hz.numerator, ps.denominator * hz.denominator * 10**12)
        if isinstance(at, bool) or not isinstance(at, int | np.integer):
            raise TypeError(f"{at!r} is not a time: write ms(3), us(20) or a whole number of ticks")
        return int(at)

    def block_tick(self, block: int) -> int:
        """The first tick of a block."""
        return ceil_div(block * self.hz.numerator, BLOCKS_PER_S * self.hz.denominator)


@dataclass(frozen=True, slots=True)
class Block:
    """Block number ``index``: the ticks from ``start`` to before ``stop``, ten milliseconds."""

    index: int
    start: int
    stop: int
    timebase: Timebase

    @classmethod
    def number(cls, index: int, timebase: Timebase) -> Block:
        return cls(index, timebase.block_tick(index), timebase.block_tick(index + 1), timebase)

    @property
    def start_s(self) -> Fraction:
        """When the block begins, in seconds."""
        return Fraction(self.index, BLOCKS_PER_S)


class SampleClock:
    """Sampling instants k / rate + ``skew_s`` (and ``delay`` samples until the code is there), as exact ticks.

    Parameters
    ----------
    rate_hz : samples per second
    delay : samples from the instant that a code tells about to the tick in which it arrives
    skew_s : how much later than the first channel of a scanned card this one samples, s
    """

    def __init__(self, rate_hz: Fraction, delay: Fraction, timebase: Timebase, skew_s: Fraction = Fraction(0)) -> None:
        self.rate_hz = Fraction(rate_hz)
        self.skew_s = Fraction(skew_s)
        self.tick_hz = timebase.hz
        ratio = timebase.hz / self.rate_hz
        shift = Fraction(delay) * ratio + self.skew_s * timebase.hz
        # tick = ceil(k * ratio + shift), over one common denominator
        self._den = ratio.denominator * shift.denominator
        self._num = ratio.numerator * shift.denominator
        self._shift = shift.numerator * ratio.denominator
        per_block, skew = self.rate_hz / BLOCKS_PER_S, self.skew_s * self.rate_hz
        self._block_num = per_block.numerator * skew.denominator
        self._block_skew = skew.numerator * per_block.denominator
        self._block_den = per_block.denominator * skew.denominator
        # Where a block holds a whole number of samples and of ticks, every block is like the first.
        length = timebase.hz / BLOCKS_PER_S
        self._alike = per_block.denominator == length.denominator == 1
        self._length = int(length)
        if self._alike:
            numbers = self.numbers(0)
            self._first_ticks = self.ticks(numbers)
            self._first_seconds = self.seconds_into(0, numbers)

    def first(self, block: int) -> int:
        """Number of the first sample whose instant is not before the block."""
        return ceil_div(block * self._block_num - self._block_skew, self._block_den)

    def numbers(self, block: int) -> np.ndarray:
        """Numbers of the samples whose instants fall into the block, int64."""
        return np.arange(self.first(block), self.first(block + 1), dtype=np.int64)

    def of_block(self, block: int) -> tuple[np.ndarray, np.ndarray]:
        """For the samples of a block: instants in seconds after its begin, and ticks of arrival."""
        if self._alike:
            return self._first_seconds, self._first_ticks + block * self._length
        numbers = self.numbers(block)
        return self.seconds_into(block, numbers), self.ticks(numbers)

    def seconds_into(self, block: int, numbers: np.ndarray) -> np.ndarray:
        """How long after the block's begin the instants lie, in seconds."""
        rate, den = self.rate_hz.numerator, self.rate_hz.denominator
        return (numbers * (den * BLOCKS_PER_S) - block * rate) / (BLOCKS_PER_S * rate) + float(self.skew_s)

    def ticks(self, numbers: np.ndarray) -> np.ndarray:
        """Ticks in which the samples arrive, int64: the first tick at or after instant plus delay."""
        return -(-(numbers * self._num + self._shift) // self._den)
