"""Order analysis on signals whose content is known."""

import numpy as np
import pytest

from simkit.dsp import first_order, order_spectrum, synchronous_average, turns_of

RATE = 51200


def run_up(seconds=4.0, start_hz=15.0, rise_hz_s=3.0):
    """Times, turns and pulse instants of a shaft that speeds up evenly."""
    times = np.arange(int(RATE * seconds)) / RATE
    turns = start_hz * times + rise_hz_s * times**2 / 2 + 0.3
    whole = np.arange(1, int(turns[-1]) + 1) - 0.3
    pulses = (-start_hz + np.sqrt(start_hz**2 + 2 * rise_hz_s * whole)) / rise_hz_s
    return times, turns, pulses


def test_turns_are_counted_from_the_first_pulse():
    times, turns, pulses = run_up()
    got = turns_of(times, pulses)
    inside = np.isfinite(got)
    assert np.allclose(got[inside], turns[inside] - 1, atol=2e-3)
    assert np.isnan(got[0]) and np.isnan(turns_of(pulses[-1] + 0.01, pulses))


def test_first_order_gives_amplitude_and_phase_while_the_speed_changes():
    times, turns, pulses = run_up()
    x = 5 * np.cos(2 * np.pi * turns + 0.8) + 2 * np.cos(2 * np.pi * 7 * turns) + 0.5
    got = first_order(x, times, pulses)
    assert abs(got) == pytest.approx(5, rel=1e-3) and np.angle(got) == pytest.approx(0.8, abs=2e-3)


def test_orders_stay_in_their_bins_while_the_speed_changes():
    times, turns, pulses = run_up()
    x = 5 * np.cos(2 * np.pi * turns) + 2 * np.cos(2 * np.pi * 7 * turns)
    got = order_spectrum(x, times, pulses)
    assert got.highest(0.5, 1.5) == pytest.approx((1.0, 5.0), rel=5e-3)
    assert got.highest(6.5, 7.5) == pytest.approx((7.0, 2.0), rel=2e-2)
    assert got.highest(2, 6)[1] < 0.05


def test_the_synchronous_average_removes_what_does_not_turn_along():
    times, turns, pulses = run_up()
    noise = 3 * np.random.default_rng(2).standard_normal(len(times))
    got = synchronous_average(np.cos(2 * np.pi * turns) + noise, times, pulses, 128)
    wanted = np.cos(2 * np.pi * np.arange(128) / 128)
    assert got.shape == (128,)
    assert np.std(got - wanted) < 3 / np.sqrt(len(pulses) - 1) * 1.2


def test_bad_records_are_refused():
    with pytest.raises(ValueError, match="two or more pulse instants"):
        turns_of([0.0], [1.0])
    with pytest.raises(ValueError, match="no whole turn"):
        synchronous_average([0.0, 0.0], [0.0, 0.1], [0.05, 2.0])
