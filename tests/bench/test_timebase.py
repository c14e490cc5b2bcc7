"""Seconds to ticks, exactly."""

from fractions import Fraction

import numpy as np

from simkit.bench.timebase import Block, SampleClock, Timebase
from simkit.units import ms, us

BASE = Timebase(Fraction(40_000_000))


def test_an_instant_between_ticks_is_seen_at_the_next_one():
    assert BASE.tick_at(Fraction(1, 40_000_000)) == 1
    assert BASE.tick_at(Fraction(101, 4_000_000_000)) == 2
    assert BASE.tick_of(us(20)) == 800 and BASE.tick_of(7) == 7


def test_blocks_follow_each_other_without_a_gap_whatever_the_clock():
    odd = Timebase(Fraction(33_333_333, 7))
    blocks = [Block.number(i, odd) for i in range(2000)]
    assert all(a.stop == b.start for a, b in zip(blocks, blocks[1:], strict=False))
    assert blocks[0].start == 0 and blocks[-1].stop == odd.tick_of(ms(20_000))


def test_sample_ticks_are_the_exact_ceiling():
    clock = SampleClock(Fraction(51200), Fraction(38), BASE)
    numbers = np.arange(0, 5000, dtype=np.int64)
    wanted = [BASE.tick_at(Fraction(int(k) + 38, 51200)) for k in numbers]
    assert clock.ticks(numbers).tolist() == wanted


def test_every_sample_belongs_to_one_block():
    clock = SampleClock(Fraction(51200), Fraction(0), BASE)
    numbers = np.concatenate([clock.numbers(b) for b in range(50)])
    assert numbers.tolist() == list(range(50 * 512))
    inside = clock.seconds_into(7, clock.numbers(7))
    assert (inside >= 0).all() and (inside < 10e-3).all()
