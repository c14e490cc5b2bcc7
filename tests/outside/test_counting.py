"""Counting: plus or minus one count, tacho periods, sample rates in whole ticks.

Published example: 1 MHz clock, 1345 Hz: 743 counts, 1345.895 Hz; 1 Hz measured by its period with a 1 MHz clock:
1 000 000 counts, 0.0001 % (public training texts on counters).
"""

from fractions import Fraction

import numpy as np
import pytest

from simkit.bench.timebase import SampleClock, Timebase
from simkit.dsp import rpm_from_ticks


def test_published_period_example():
    counts = int(1e6 / 1345)
    assert counts == 743 and 1e6 / counts == pytest.approx(1345.895, abs=5e-4)
    assert 1e6 / counts - 1e6 / (counts + 1) == pytest.approx(1.809, abs=1e-3)


@pytest.mark.parametrize(
    "rpm, pulses, wanted", [(1480, 1, 1480.000567), (2900, 1, 2900.000725), (1500, 60, 1500.037501)]
)
def test_a_whole_count_reads_a_little_high(rpm, pulses, wanted):
    counts = int(60 * 40e6 / (pulses * rpm))
    assert rpm_from_ticks(counts, 40e6, pulses) == pytest.approx(wanted, abs=6e-7)


@pytest.mark.parametrize("hz, gate_s, relative", [(1000, 1.0, 1e-3), (50, 1.0, 2e-2)])
def test_counting_in_a_gate_is_off_by_at_most_one_count(hz, gate_s, relative):
    """A gate at any phase counts f T rounded up or down: relative error up to 1 / (f T)."""
    phases = np.linspace(0, 1, 1001, endpoint=False)
    true_hz = hz * 0.9995
    error = np.abs(np.floor(true_hz * gate_s + phases) / gate_s / true_hz - 1)
    assert 0.4 * relative < np.max(error) <= relative * 1.001


@pytest.mark.parametrize(
    "rate, ticks, ppm",
    [(51200, 781, 320.1), (25600, 1562, 320.1), (44100, 907, 32.5), (10000, 4000, 0), (300000, 133, 2506)],
)
def test_a_loop_period_in_whole_ticks_is_a_little_off(rate, ticks, ppm):
    assert int(40e6 // rate) == ticks
    assert (40e6 / ticks / rate - 1) * 1e6 == pytest.approx(ppm, abs=0.5)


def test_the_bench_samples_on_the_true_average_rate():
    """51.2 kS/s is 781.25 ticks: three gaps of 781 to one of 782, never a drift."""
    clock = SampleClock(Fraction(51200), Fraction(0), Timebase(Fraction(40_000_000)))
    gaps = np.diff(clock.ticks(np.arange(51201, dtype=np.int64)))
    assert set(gaps.tolist()) == {781, 782} and gaps.sum() == 40_000_000
