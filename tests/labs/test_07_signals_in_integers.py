"""Lab 07: right answers of another structure pass too, and the judge's stimuli follow the seed."""

from __future__ import annotations

import functools

import pytest

from tests.labs.replay import Replay, replay

LAB = "07_signals_in_integers"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


MEAN_ADDED_ANEW = """
class Mean(Design):
    accel = AnalogIn("fan A bearing")
    mean = HostReg(signed(24), access="ro")
    taps = Regs(signed(24), n_a)

    @sequenced
    def average(self):
        x = self.accel.read()
        for i in range(1, n_a):
            self.taps[i] = self.taps[i - 1]
        self.taps[0] = x
        tick()
        total: signed(32) = 0
        for tap in self.taps:
            total = total + tap
        self.mean = resize(total >> shift_a, signed(24))
"""
RMS_BY_SQUARES_OF_SIXTEENTHS = """
class Rms(Design):
    accel = AnalogIn("fan A bearing")
    rms = HostReg(unsigned(28), access="ro")

    def __init__(self):
        self.root = SquareRoot(60)

    @sequenced
    def level(self):
        total: unsigned(62) = 0
        for _ in range(64):
            x = self.accel.read()
            total = total + (resize(unsigned(48)(x * x), unsigned(62)) << 8)
        root = self.root.step(resize(total >> 6, unsigned(60)))
        self.rms = resize(root, unsigned(28))
"""
SMOOTH_WITH_A_POINT = """
class Smooth(Design):
    accel = AnalogIn("fan A bearing")
    level = HostReg(signed(24), access="ro")
    y = Reg(sfixed(23, -k))

    @sequenced
    def smooth(self):
        x = self.accel.read()
        whole = sfixed(23, 0)
        y = resize(self.y + scalb(whole(x) - resize(self.y, whole, round="truncate"), -k), sfixed(23, -k))
        self.y = y
        self.level = signed(24)(resize(y, whole, round="truncate"))
"""
POLES_BY_SCIPY = """
stored = [np.r_[row[:3], quantised(row[3:], 14)] for row in signal.butter(6, mine_d.corner, fs=mine_d.rate, output="sos")]
poles = {"direct": round(abs(np.linalg.eigvals(signal.tf2ss([1], quantised(long_a, 10))[0])).max(), 4),
         "sections": np.abs(signal.sos2zpk(stored)[1]).max(), "choice": " Sections "}
"""
SECTION_TRANSPOSED = """
wide = sfixed(25, -10)

class Section(Design):
    accel = AnalogIn("fan A bearing")
    out = HostReg(signed(24), access="ro")
    t1, t2 = Reg(wide), Reg(wide)

    @sequenced
    def run(self):
        x = self.accel.read()
        y = resize(b0 * sfixed(23, 0)(x) + self.t1, wide)
        self.t1 = resize(self.t2 - a1 * y, wide)
        self.t2 = resize(-(b0 * sfixed(23, 0)(x)) - a2 * y, wide)
        self.out = signed(24)(resize(y, sfixed(23, 0)))
"""
SECTION_WITH_MORE_BITS = """
state = sfixed(30, -14)

class Section(Design):
    accel = AnalogIn("fan A bearing")
    out = HostReg(signed(24), access="ro")
    x1, x2 = Reg(signed(24)), Reg(signed(24))
    y1, y2 = Reg(state), Reg(state)

    @sequenced
    def run(self):
        x = self.accel.read()
        ahead = b0 * (whole(x) - whole(self.x2))
        tick()
        y = resize(ahead - a1 * self.y1 - a2 * self.y2, state)
        self.x1, self.x2 = x, self.x1
        self.y1, self.y2 = y, self.y1
        tick()
        self.out = signed(24)(resize(self.y1, whole))
"""
CIC_IN_A_PIPELINE = """
class Decimator(Design):
    accel = AnalogIn("fan A bearing")
    value = HostReg(signed(width), access="ro")
    a, b, c = Reg(signed(width)), Reg(signed(width)), Reg(signed(width))
    last = Regs(signed(width), 3)
    left = Reg(unsigned(6), reset=r - 1)

    @sequenced
    def run(self):
        x = self.accel.read()
        self.a = self.a + resize(x, signed(width))     # each integrator takes what the one before had last time
        self.b = self.b + self.a
        self.c = self.c + self.b
        if self.left == 0:
            self.left = r - 1
            first = self.c - self.last[0]
            second = first - self.last[1]
            self.last[0], self.last[1], self.last[2] = self.c, first, second
            self.value = second - self.last[2]
        else:
            self.left = self.left - 1
"""
LINE_BY_SINE_AND_COSINE = """
angles = 2 * np.pi * line / 256 * np.arange(256)

class Line(Design):
    accel = AnalogIn("fan A bearing")
    real = HostReg(signed(25), access="ro")
    imag = HostReg(signed(25), access="ro")
    c = Rom(signed(18), [round(65536 * w * v) for w, v in zip(signal.get_window("hann", 256), np.cos(angles))])
    s = Rom(signed(18), [round(65536 * w * v) for w, v in zip(signal.get_window("hann", 256), np.sin(angles))])

    @sequenced
    def listen(self):
        re, im = signed(52)(0), signed(52)(0)
        for i in range(256):
            x = self.accel.read()
            c = self.c.read(i)
            s = self.s.read(i)
            re = re + resize(x * c, signed(52))
            im = im - resize(x * s, signed(52))
        self.real, self.imag = resize(re >> 22, signed(25)), resize(im >> 22, signed(25))
"""
TURN_BY_BRANCHES = """
class OneTimes(OneTimes):
    @operation
    def add(self, x, c, s, done):
        if done:
            self.real = self.sum_re
            self.imag = -self.sum_im
            self.count = self.samples
            self.sum_re = resize(x * c, wide)
            self.sum_im = resize(x * s, wide)
            self.samples = 1
        else:
            self.sum_re = self.sum_re + resize(x * c, wide)
            self.sum_im = self.sum_im + resize(x * s, wide)
            self.samples = self.samples + 1
"""
CONTROL_CLAMPED = """
class Control(Design):
    setpoint = HostReg(signed(16))
    speed = HostReg(signed(16))
    command = HostReg(signed(17), access="ro")
    total = Reg(signed(34))

    @sequenced(every=50)
    def cycle(self):
        error = resize(self.setpoint, signed(34)) - resize(self.speed, signed(34))
        total = self.total + resize(ki * error, signed(34))
        total = min(max(total, 0), 32767 * 256)     # the integral alone stays within the limits
        self.total = total
        tick()
        wanted = resize(kp * error, signed(34)) + (self.total >> 8)
        self.command = resize(min(max(wanted, 0), 32767), signed(17))
"""

SECOND_WAYS = [
    ("07-a", "added anew", MEAN_ADDED_ANEW),
    ("07-a", "an instance", "Mean = Mean()"),
    ("07-b", "sixteenths before the sum", RMS_BY_SQUARES_OF_SIXTEENTHS),
    ("07-c", "with a binary point", SMOOTH_WITH_A_POINT),
    ("07-d", "by scipy", POLES_BY_SCIPY),
    ("07-e", "transposed", SECTION_TRANSPOSED),
    ("07-e", "in three ticks", SECTION_WITH_MORE_BITS),
    ("07-f", "in a pipeline", CIC_IN_A_PIPELINE),
    ("07-g", "sine and cosine", LINE_BY_SINE_AND_COSINE),
    ("07-h", "by branches", TURN_BY_BRANCHES),
    ("07-i", "the integral clamped", CONTROL_CLAMPED),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


@pytest.mark.parametrize(("exercise", "answer"), [("07-a", "Mean"), ("07-f", "Decimator"), ("07-h", "OneTimes")])
def test_the_private_seed_moves_the_stimuli(exercise, answer):
    """Two seeds, two sets of samples: nobody can answer with a stored reading."""
    from simkit.check import collect, judge

    found = solved().source.lab[exercise]
    given = collect(found, solved().names[exercise][answer])
    seen = {judge(found, given, "second", seed).lines[1].measured for seed in range(4)}
    assert len(seen) >= 3


def test_the_solution_passes_at_every_number_of_samples_per_turn():
    """The table has 256 angles: with 205 samples of a turn, say, a constant does not cancel even in a right design."""
    from simkit.check import collect, judge

    found = solved().source.lab["07-h"]
    given = collect(found, solved().names["07-h"]["OneTimes"])
    learners = {found.own(f"learner {number}").per_turn: f"learner {number}" for number in range(300)}
    assert len(learners) == 31 and min(learners) == 200 and max(learners) == 260
    for learner in list(learners.values())[::3]:
        verdict = judge(found, given, learner, 1)
        assert verdict.passed, verdict.text()
