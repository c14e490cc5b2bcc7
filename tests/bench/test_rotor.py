"""The rotor: closed forms of run-down and of the angle, and pulses that belong to one block each."""

import math
from fractions import Fraction

import numpy as np
import pytest

from simkit.bench.rotor import RAD_PER_TURN, Drive, Rotor, rad_per_s
from simkit.bench.timebase import BLOCKS_PER_S


def test_running_down_under_drag_and_friction_follows_the_closed_form():
    """J w' = -c w**2 - f has w(t) = sqrt(f/c) tan(atan(w0 sqrt(c/f)) - sqrt(f c) t / J) (separation of variables)."""
    rotor = Rotor(Drive())
    rotor.after = w0 = rad_per_s(2000)
    for _ in range(3 * BLOCKS_PER_S):
        rotor.advance(0.0)
    c, f, j = rotor.drag_nm_s2, rotor.friction_nm, rotor.inertia_kg_m2
    wanted = math.sqrt(f / c) * math.tan(math.atan(w0 * math.sqrt(c / f)) - math.sqrt(f * c) * 3.0 / j)
    assert rotor.after == pytest.approx(wanted, rel=1e-8)


def test_steady_speed_balances_motor_and_drag():
    rotor = Rotor(Drive())
    for _ in range(10_000):
        rotor.advance(0.5)
    loss = rotor.drag_nm_s2 * rotor.after**2 + rotor.friction_nm
    assert rotor.drive.torque(rad_per_s(1500), rotor.after) == pytest.approx(loss, rel=1e-6)
    assert 1400 < rotor.speed_rpm < 1500


def test_without_power_the_drive_does_not_push():
    rotor = Rotor(Drive())
    rotor.advance(1.0, powered=False)
    assert rotor.after == 0.0
    rotor.advance(1.0)
    assert rotor.after > 0.0


def test_passings_are_the_turns_counted():
    rotor = Rotor(Drive(), start_turns=Fraction(7, 10))
    instants, block_s = [], Fraction(1, BLOCKS_PER_S)
    for block in range(4 * BLOCKS_PER_S):
        rotor.advance(1.0)
        instants += [block * block_s + at for at in rotor.passings(Fraction(0))]
    assert len(instants) == rotor.turns
    gaps = np.diff([float(at) for at in instants])
    assert (np.diff(gaps) < 1e-9).all(), "the rotor only gets faster"


def test_a_passing_lies_where_the_angle_says():
    rotor = Rotor(Drive(), start_turns=Fraction(3, 10))
    for _ in range(3000):
        rotor.advance(0.8)
        for at in rotor.passings(Fraction(1, 4)):
            assert rotor.angle(np.array([float(at)]))[0] % 1 == pytest.approx(0.25, abs=1e-9)


def test_a_held_speed_is_exact_for_ever():
    rotor = Rotor(Drive(), start_turns=Fraction(1, 2))
    rotor.hold(Fraction(1500))
    instants = []
    for block in range(2 * BLOCKS_PER_S):
        rotor.advance(0.0)
        instants += [block * Fraction(1, BLOCKS_PER_S) + at for at in rotor.passings(Fraction(0))]
    assert instants == [Fraction(1, 50) + k * Fraction(1, 25) for k in range(50)]
    assert rotor.speed(np.zeros(1))[0] == pytest.approx(RAD_PER_TURN * 25)
