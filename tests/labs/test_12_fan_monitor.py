"""Lab 12: right answers of another structure pass too, and the ten-minute log is what the bench does."""

from __future__ import annotations

import functools
import sys

import numpy as np
import pytest

from simkit import s
from simkit.bench import FanHouse, load
from tests.labs.replay import Replay, replay

LAB = "12_fan_monitor"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


SCALE_IN_FINER_STEPS = """
class Scale(Design):
    accel_a, accel_b = AnalogIn("fan A bearing"), AnalogIn("fan B bearing")
    a, b = HostReg(signed(20), access="ro"), HostReg(signed(20), access="ro")
    off_a, off_b = Reg(signed(25)), Reg(signed(25))

    @clocked
    def subtract(self):
        self.off_a = resize(self.accel_a.value, signed(25)) - mine_a.zero_a
        self.off_b = resize(self.accel_b.value, signed(25)) - mine_a.zero_b

    @clocked
    def multiply(self):
        wide = sfixed(24, 0)
        self.a = signed(20)(resize(wide(self.off_a) * const(mine_a.gain_a, sfixed(0, -30)), reading, round="truncate"))
        self.b = signed(20)(resize(wide(self.off_b) * const(mine_a.gain_b, sfixed(0, -30)), reading, round="truncate"))
"""
GUARD_COUNTING_DOWN = """
class Guard(Design):
    lamp, tripped, before = Reg(bit), Reg(bit), Reg(bit)
    left = Reg(unsigned(8), reset=mine_d.hold)

    @operation
    def step(self, level, clear):
        self.lamp = level > mine_d.alarm
        if clear and not self.before and not level > mine_d.alarm:
            self.tripped = 0
        if level > mine_d.limit:
            if self.left <= 1:
                self.tripped = 1
            else:
                self.left = self.left - 1
        else:
            self.left = mine_d.hold
        self.before = clear

class Protect(Design):
    level = AnalogIn("fan B bearing")
    lamp, trip = DigitalOut("lamp"), DigitalOut("fan B trip")
    clear = HostReg(bit)

    def __init__(self):
        self.guard = Guard()

    @sequenced
    def run(self):
        x = self.level.read()
        self.guard.step(x, self.clear)

    @clocked
    def show(self):
        self.lamp, self.trip = self.guard.lamp, self.guard.tripped
"""
LOG_COUNTING_ITSELF = """
class Log(Design):
    accel = AnalogIn("fan B bearing")
    log = HostStream(unsigned(32), depth, "to_host")
    number, at = Reg(unsigned(8)), Reg(unsigned(4))
    largest = Reg(unsigned(24))

    @sequenced
    def run(self):
        x = self.accel.read()
        size = unsigned(24)(abs(x))
        largest = max(self.largest, size)
        self.at = self.at + 1
        self.largest = 0 if self.at == 15 else largest
        if self.at == 15:
            self.log.try_put(cat(self.number, largest))
            self.number = self.number + 1
"""
VELOCITY_IN_FIXED_POINT = """
from simkit import scalb

class Mine(Velocity):
    average, sum_ = Reg(sfixed(21, -9)), Reg(sfixed(31, -8))

    @operation
    def integrate(self, a):
        fresh = resize(sfixed(23, 0)(a) - self.average, sfixed(24, -9))
        self.average = resize(self.average + scalb(fresh, -9), sfixed(21, -9), round="truncate")
        five = resize(scalb(fresh, 2) + fresh, sfixed(28, -8))
        tick()
        self.sum_ = resize(self.sum_ + five - scalb(self.sum_, -7), sfixed(31, -8))
        tick()
        self.total = signed(32)(resize(self.sum_, sfixed(31, 0)))

class Broadband(Design):
    accel = AnalogIn("fan B bearing")
    velocity = HostReg(unsigned(18), access="ro")

    def __init__(self):
        self.block = Mine()

    @sequenced
    def run(self):
        x = self.accel.read()
        self.block.step(x)
        self.velocity = self.block.rms
"""
TURN_WITH_TRIALS = """
class Mine(OneTimes):
    @operation
    def angle(self, rest, per_turn):
        self.index = 0
        left = resize(rest, unsigned(19)) << 8
        for _ in range(8):
            part = resize(per_turn, unsigned(19)) << 7
            if left >= part:
                left = left - part
                self.index = (self.index << 1) | 1
            else:
                self.index = self.index << 1
            left = left << 1
            tick()

    @operation
    def add(self, x, c, q, done):
        re, im = resize(x * c, self.wide), resize(x * q, self.wide)
        tick()
        if done:
            self.real, self.imag, self.count = self.sum_re, self.sum_im, self.samples
            self.sum_re, self.sum_im, self.samples = re, -im, 1
        else:
            self.sum_re, self.sum_im, self.samples = self.sum_re + re, self.sum_im - im, self.samples + 1

class Watch(Design):
    accel, pulse = AnalogIn("fan B bearing"), DigitalIn("fan B pulse")

    def __init__(self):
        self.one = Mine()

    @clocked
    def marks(self):
        self.one.mark(self.pulse)

    @sequenced
    def run(self):
        x = self.accel.read()
        self.one.step(x)
"""
SECOND_WAYS = [
    ("12-b", VELOCITY_IN_FIXED_POINT),
    ("12-c", TURN_WITH_TRIALS),
    ("12-a", SCALE_IN_FINER_STEPS),
    ("12-d", GUARD_COUNTING_DOWN),
    ("12-e", LOG_COUNTING_ITSELF),
    (
        "12-f",
        "w = -before * phasor(suggested, mine_f.trial_deg) / (after - before)\n"
        'balance = {"permitted_gmm": 6.3e3 * mine_f.mass_kg / (1480 * np.pi / 30), "mass_g": abs(w), '
        '"angle_deg": np.degrees(np.angle(w))}',
    ),
]


@pytest.mark.parametrize(("exercise", "code"), SECOND_WAYS)
def test_a_second_way_has_full_marks(exercise, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_the_ten_minutes_are_what_rig_and_host_do():
    """The same samples through the bench and the kit's host: the same words, in the same order."""
    names = solved().names["12-e"]
    played = sys.modules["exercises"].ten_minutes(names["Log"], 100, seed=3, seconds=1)
    codes = np.random.default_rng([3, 12])
    codes = codes.integers(-300_000, 300_000, 3200)  # no stall in a second, so nothing is drawn before
    bench = FanHouse(rates={"bearings": 3200})
    bench.drive("fan B bearing", [(12_500 * k + 1, int(code)) for k, code in enumerate(codes)])
    rig = load(names["Log"], bench, record=[], host="desktop")
    rig.run(s(2))
    assert rig.host.log.read(rig.host.log.available).tolist() == played.words.tolist()
    assert len(played.words) == 200 and played.overflow == 0


def test_the_monitor_misses_no_sample():
    bench = FanHouse(seed=12, rates={"bearings": 3200})
    rig = load(solved().names["12-i"]["Monitor"], bench, record=[])
    rig.run(s(2))
    assert set(rig.missed.values()) == {0}


def test_the_monitor_keeps_the_fans_apart():
    """Two tones at once.  A sine of acceleration a at f has the r.m.s. velocity a / (2 pi f) / sqrt(2) (definition of the derivative)."""
    bench = FanHouse(rates={"bearings": 3200})
    mine = solved().names["12-i"]["mine_a"]
    tones = {"A": (30, 2000), "B": (75, 4000)}  # Hz; mm/s², peak
    for fan, (hz, peak) in tones.items():
        zero, gain = (getattr(mine, f"{what}_{fan.lower()}") for what in ("zero", "gain"))
        wave = peak * np.sin(2 * np.pi * hz * np.arange(4 * 1024) / 3200) / gain + zero
        bench.drive(f"fan {fan} bearing", [(12_500 * k + 1, round(code)) for k, code in enumerate(wave)])
    rig = load(solved().names["12-i"]["Monitor"], bench, record=[])
    rig.run(s(1.2))  # three blocks of 0.32 s; the slow mean has settled for the third
    for fan, shown in (("A", rig.host.velocity_a), ("B", rig.host.velocity)):
        hz, peak = tones[fan]
        assert shown == pytest.approx(1000 * peak / (2 * np.pi * hz) / 2**0.5, rel=0.02), fan
    assert set(rig.missed.values()) == {0}
