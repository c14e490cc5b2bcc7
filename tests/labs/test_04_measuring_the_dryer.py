"""Lab 04: right answers of another structure pass too, and the numbers in its text are those of published tables."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from simkit.bench import FanHouse
from simkit.dsp import emf_mv, temperature_c
from tests.labs.replay import Replay, replay

LAB = "04_measuring_the_dryer"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


UNPACK_BY_SHIFTS = """
class Unpack(Design):
    word = HostReg(unsigned(32))
    code = HostReg(signed(32), access="ro")

    @sequenced
    def unpack(self):
        moved = signed(32)(self.word << (8 - mine_a.low))
        tick()
        self.code = moved >> 8
"""
VOLTS_CLOCKED = """
class Volts(Design):
    plenum = ThermocoupleIn("plenum")
    nanovolts = HostReg(signed(32), access="ro")
    left = Reg(signed(27))
    code = Reg(signed(26))

    @clocked
    def measure(self):
        if self.plenum.valid:
            self.code = resize(self.plenum.value, signed(26)) - round(unit.zero_code)
        whole = self.code * signed(32)(round(unit.volts_per_code * 1e9 * 2**24))
        self.nanovolts = resize((whole + 2**23) >> 24, signed(32))
"""
POLYNOMIAL = """
points = np.linspace(0, 16.6, 400)
c = np.polynomial.polynomial.polyfit(points / 16.777216, temperature_c(points) * 100, 7)
c = [round(x * 2**8) for x in c]

class TypeK(Design):
    emf = HostReg(signed(32))
    cold = HostReg(signed(16))
    hot = HostReg(signed(24), access="ro")
    terms = Rom(signed(30), c)

    @sequenced
    def convert(self):
        e = self.emf + resize(self.cold * signed(12)(405), signed(32)) - 10_258
        x = e                                                      # 2**24 nV is 1
        total: signed(30) = c[7]
        for i in range(7):
            term = self.terms.read(resize(unsigned(4)(6) - i, unsigned(3)))
            total = resize((total * x) >> 24, signed(30)) + term
        self.hot = resize(total >> 8, signed(24))
"""
PROBE_CLOCKED = """
class Probe(Design):
    plenum = ThermocoupleIn("plenum")
    code = HostReg(signed(24), access="ro")
    open = HostReg(bit, access="ro")

    @clocked
    def watch(self):
        if self.plenum.valid:
            full = self.plenum.value == 2**23 - 1
            self.open = full
            self.code = self.code if full else self.plenum.value
"""
LOUD_CLOCKED = """
class Loud(Design):
    accel = AnalogIn("fan B bearing")
    peak = HostReg(unsigned(24), access="ro")
    clipped = HostReg(unsigned(16), access="ro")
    most = Reg(unsigned(24))
    count = Reg(unsigned(16))
    n = Reg(unsigned(8))

    @clocked
    def watch(self):
        if self.accel.valid:
            code = self.accel.value
            size = unsigned(24)(bits(~code if code < 0 else code, 23, 0)) + (1 if code < 0 else 0)
            most = max(self.most, size)
            count = self.count + (1 if code in (2**23 - 1, -(2**23)) else 0)
            last = self.n == mine_f.samples - 1
            if last:
                self.peak = most
                self.clipped = count
            self.n = 0 if last else self.n + 1
            self.most = 0 if last else most
            self.count = 0 if last else count
"""
RAMP_CLOCKED = """
class Ramp(Design):
    speed = AnalogOut("fan A speed")
    switch = DigitalIn("switch", sync=0)
    millivolts = HostReg(signed(16))
    first = Reg(bit)
    second = Reg(bit)
    target = Reg(signed(16))

    @clocked
    def command(self):
        self.first = self.switch
        self.second = self.first
        codes = resize((self.millivolts * signed(13)(3277) + self.millivolts * 0) * signed(3)(1), signed(32))
        exact = (self.millivolts * signed(24)(3_435_974)) >> 20
        self.target = resize(exact, signed(16), overflow="saturate") if self.second else 0
        if self.speed.ready:
            if self.speed < self.target:
                up = resize(self.speed, signed(18)) + mine_g.step
                self.speed = self.target if up > self.target else resize(up, signed(16))
            else:
                down = resize(self.speed, signed(18)) - mine_g.step
                self.speed = self.target if down < self.target else resize(down, signed(16))
"""
ALIGNED_TO_A = """
class Aligned(Design):
    first = AnalogIn("fan A bearing", signed(12))
    other = AnalogIn("fan B bearing", signed(12))
    a = HostReg(signed(12), access="ro")
    b = HostReg(signed(13), access="ro")
    before = Reg(signed(12))

    @clocked
    def pair(self):
        if self.other.valid:
            self.before = self.other.value
            self.a = self.first.value
            self.b = (resize(self.before, signed(13)) + self.other.value) >> 1

instant = {"skew_us": 1e6 / mine_i.rate, "design": Aligned()}
"""

SECOND_WAYS = [
    ("04-a", "shifts", UNPACK_BY_SHIFTS),
    ("04-b", "clocked, rounded", VOLTS_CLOCKED),
    (
        "04-c",
        "table by hand",
        """
grid = np.arange(-190, 100, 0.01)
look = lambda mv: np.interp(mv, emf_mv(grid), grid)
ways = {"right": look(mine_c.meter + emf_mv(mine_c.cold)), "added": look(mine_c.meter) + mine_c.cold,
        "straight": mine_c.cold + mine_c.meter * 1000 / 41}
""",
    ),
    ("04-d", "polynomial", POLYNOMIAL),
    ("04-e", "clocked, full scale only", PROBE_CLOCKED),
    ("04-f", "clocked", LOUD_CLOCKED),
    (
        "04-g",
        "clocked, own synchroniser",
        RAMP_CLOCKED.replace(
            "        codes = resize((self.millivolts * signed(13)(3277) + "
            "self.millivolts * 0) * signed(3)(1), signed(32))\n",
            "",
        ),
    ),
    (
        "04-h",
        "rounded down",
        """
reading = {"different": mine_h.span_ms + 1, "reads_as": round(mine_h.tone_hz / 1000 * mine_h.loop_hz),
           "missed": int(mine_h.span_ms * (1 - 1 / mine_h.work_ms))}
""",
    ),
    ("04-i", "brought to A's instant", ALIGNED_TO_A),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


def test_the_numbers_in_the_text_are_those_of_the_tables():
    """NIST Monograph 175, type K, printed to 1 uV: 3.554 mV below zero at -100, 0.798 at 20, 1.203 at 30, 0.879 at 22,
    16.397 at 400, 54.886 at 1372 degrees C."""
    found = emf_mv([-100, 20, 30, 22, 400, 1372])
    assert np.round(found, 3).tolist() == [-3.554, 0.798, 1.203, 0.879, 16.397, 54.886]
    assert float(temperature_c(3.0, 22)) == pytest.approx(94.75, abs=0.005)
    meter = float(emf_mv(-150) - emf_mv(22))
    assert float(temperature_c(meter)) + 22 + 150 == pytest.approx(-21.7, abs=0.05)
    assert meter / 0.041 + 22 + 150 == pytest.approx(30.7, abs=0.05)


def test_the_bench_of_the_text_is_off_as_the_text_says():
    unit = FanHouse(seed=4).calibration("plenum")
    code = round(16e-3 / unit.volts_per_code + unit.zero_code)
    assert (code * 78.125e-3 / 2**23 - 16e-3) * 1e6 == pytest.approx(-8.8, abs=0.05)
    assert unit.zero_code * unit.volts_per_code * 1e6 == pytest.approx(1.3, abs=0.05)
