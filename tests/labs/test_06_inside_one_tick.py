"""Lab 06: right answers of another structure pass too, and no check keeps a learner waiting."""

from __future__ import annotations

import functools

import pytest

from tests.labs.replay import Replay, replay

LAB = "06_inside_one_tick"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


LOUDEST_BY_HALVES = """
class Loudest(Design):
    level = HostReg(unsigned(16))
    loudest = HostReg(unsigned(16), access="ro")
    taps = Regs(unsigned(16), mine_c.n)

    @clocked
    def go(self):
        self.taps[0] = self.level
        for i in range(1, mine_c.n):
            self.taps[i] = self.taps[i - 1]
        a, b, c = max(self.taps[0], self.taps[1]), max(self.taps[2], self.taps[3]), max(self.taps[4], self.taps[5])
        d, e = max(self.taps[6], self.taps[7]), self.taps[8]
        for i in range(9, mine_c.n):
            e = max(e, self.taps[i])
        self.loudest = max(max(max(a, b), max(c, d)), e)
"""
FOUR_STAGES = """
class Weighted(Design):
    x = HostReg(signed(9))
    gain = HostReg(signed(8))
    offset = HostReg(signed(17))
    weight = HostReg(signed(16))
    y = HostReg(signed(34), access="ro")
    x_1, gain_1 = Reg(signed(9)), Reg(signed(8))
    offsets, weights = Regs(signed(17), 2), Regs(signed(16), 3)
    product, total = Reg(signed(17)), Reg(signed(18))

    @clocked
    def go(self):
        self.y = self.total * self.weights[2]
        self.total = resize(self.product, signed(18)) + self.offsets[1]
        self.product = self.x_1 * self.gain_1
        self.x_1, self.gain_1 = self.x, self.gain
        self.offsets[0], self.offsets[1] = self.offset, self.offsets[0]
        self.weights[0], self.weights[1], self.weights[2] = self.weight, self.weights[0], self.weights[1]

pipeline = {"design": Weighted, "latency": 4, "per_second": 1e6 * mine_d.mhz}
"""
STALL_BY_A_QUEUE = """
from simkit import Fifo

class Stall(Design):
    offer = HostReg(bit)
    ready = HostReg(bit)
    given = HostReg(unsigned(8), access="ro")
    taken = HostReg(unsigned(8), access="ro")
    out = HostReg(unsigned(16), access="ro")
    products = Fifo(unsigned(16), 2)
    sums = Fifo(unsigned(16), 2)

    @clocked
    def first(self):
        if self.offer and self.products.try_put((self.given + 1) * unsigned(8)(mine_e.gain)):
            self.given = self.given + 1

    @clocked
    def second(self):
        if self.products.valid and self.sums.ready:
            self.products.try_get()
            self.sums.try_put(self.products.value + mine_e.offset)

    @clocked
    def sink(self):
        if self.ready and self.sums.try_get():
            self.out = self.sums.value
            self.taken = self.taken + 1
"""
SMOOTH_IN_SEQUENCE = """
class Smooth(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(17), access="ro")
    away = Reg(signed(18))
    step = Reg(signed(36))

    @sequenced
    def go(self):
        until(self.accel.valid)
        self.away = resize(abs(upper(self.accel.value)), signed(18)) - self.level
        tick()
        self.step = self.away * mine_f.gain
        tick()
        self.level = resize(self.level + (self.step >> 8), signed(17))
"""
SHARED_IN_SEQUENCE = """
class Shared(Design):
    x0, x1, x2, x3 = HostReg(signed(16)), HostReg(signed(16)), HostReg(signed(16)), HostReg(signed(16))
    y0 = HostReg(signed(32), access="ro")
    y1 = HostReg(signed(32), access="ro")
    y2 = HostReg(signed(32), access="ro")
    y3 = HostReg(signed(32), access="ro")
    turn = Reg(unsigned(2))

    @sequenced
    def go(self):
        g = [signed(16)(n) for n in mine_g.gains]
        product = pick(self.turn, self.x0, self.x1, self.x2, self.x3) * pick(self.turn, g[0], g[1], g[2], g[3])
        if self.turn == 0:
            self.y0 = product
        elif self.turn == 1:
            self.y1 = product
        elif self.turn == 2:
            self.y2 = product
        else:
            self.y3 = product
        self.turn = self.turn + 1
"""
FIVE_STAGES = """
class Deep(Ports):
    x_1 = Reg(signed(9))
    product = Reg(signed(17))
    total = Reg(signed(18))
    result = Reg(signed(34))

    @clocked
    def go(self):
        self.x_1 = self.x
        self.product = self.x_1 * self.gain
        self.total = resize(self.product, signed(18)) + self.offset
        self.result = self.total * self.weight
        self.y = self.result if self.result < self.limit else self.limit

three = dict(three, at_150=Deep, ns_150=5 / 0.15)
"""

SECOND_WAYS = [
    (
        "06-a",
        "floats that are whole",
        "count = {'longest': float(count['longest']), 'altogether': float(count['altogether'])}",
    ),
    ("06-b", "four percent off", "clock = dict(clock, mhz=float(clock['mhz']) * 1.04)"),
    ("06-c", "another tree", LOUDEST_BY_HALVES),
    ("06-d", "four stages", FOUR_STAGES),
    ("06-e", "queues", STALL_BY_A_QUEUE),
    ("06-f", "a sequenced loop", SMOOTH_IN_SEQUENCE),
    ("06-g", "a sequenced loop", SHARED_IN_SEQUENCE),
    ("06-h", "five stages", FIVE_STAGES),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


def test_the_lines_of_06_b_are_well_apart():
    """In every case the next line's rate is at least 15 % higher, so an estimate fitted anew cannot make two answers right."""
    names = solved().source.lab["06-b"].judge.__globals__
    for n, w in names["CASES"]:
        rates = sorted(names["line_mhz"](n, w, line) for line in names["LINES"])
        assert rates[1] > 1.15 * rates[0] and rates[2] > 1.15 * rates[1], (n, w, rates)
