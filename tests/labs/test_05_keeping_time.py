"""Lab 05: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools

import numpy as np
import pytest

from tests.labs.replay import Replay, replay

LAB = "05_keeping_time"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


STEADY_BY_HAND = """
class Steady(Design):
    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    working = DigitalOut("lamp 2")

    @sequenced
    def turn(self):
        self.lamp = not self.lamp
        self.working = 1
        if self.switch:
            wait(mine_b.long)
            self.working = 0
            wait(mine_b.period - mine_b.long - 1)
        else:
            wait(mine_b.short)
            self.working = 0
            wait(mine_b.period - mine_b.short - 1)
"""
STEADY_CLOCKED = """
class Steady(Design):
    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    working = DigitalOut("lamp 2")
    count = Reg(unsigned(12), reset=5)
    left = Reg(unsigned(12))

    @clocked
    def turn(self):
        if self.count == mine_b.period - 1:
            self.count = 0
            self.lamp = not self.lamp
            self.working = 1
            self.left = mine_b.long - 1 if self.switch else mine_b.short - 1
        else:
            self.count = self.count + 1
            if self.left > 0:
                self.left = self.left - 1
            else:
                self.working = 0
"""
OWN_COUNTER = """
class PulseTimer(Design):
    pulse = DigitalIn("fan A pulse", sync=3)
    width = HostReg(unsigned(16), access="ro")
    high = Reg(unsigned(16))
    last = Reg(bit)

    @clocked
    def measure(self):
        self.last = self.pulse
        if self.pulse:
            self.high = self.high + 1
        elif self.last:
            self.width = self.high
            self.high = 0
"""
COUNTING_DOWN = """
class PulseTimer(Design):
    pulse = DigitalIn("fan A pulse")
    width = HostReg(unsigned(16), access="ro")
    now = Reg(unsigned(16), reset=777)
    start = Reg(unsigned(16))
    last = Reg(bit)

    @clocked
    def measure(self):
        self.now = self.now - 1
        self.last = self.pulse
        if self.pulse and not self.last:
            self.start = self.now
        if self.last and not self.pulse:
            self.width = self.start - self.now
"""
TACHO_BY_DIFFERENCE = """
class Tacho(Design):
    pulse = DigitalIn("fan A pulse")
    limit = HostReg(unsigned(26), reset=slowest_turn)
    period = HostReg(unsigned(26), access="ro")
    turning = HostReg(bit, access="ro")
    now = Reg(unsigned(26), reset=12345)
    last = Reg(unsigned(26))
    high = Reg(bit)
    edges = Reg(unsigned(2))

    @clocked
    def watch(self):
        self.now = self.now + 1
        self.high = self.pulse
        silence = self.now - self.last
        if self.pulse and not self.high:
            self.last = self.now
            self.edges = 1 if self.edges == 0 else 2
            if self.edges > 0:
                self.period = silence
                self.turning = 1
        elif silence > self.limit:
            self.edges = 0
            self.turning = 0
            self.period = 0
            self.last = self.now
"""
TACHO_IN_TWO_LOOPS = """
class Tacho(Design):
    pulse = DigitalIn("fan A pulse")
    limit = HostReg(unsigned(25), reset=slowest_turn)
    period = HostReg(unsigned(25), access="ro")
    turning = HostReg(bit, access="ro")
    before = Reg(bit)
    edge = Reg(bit)
    age = Reg(unsigned(25))
    state = Reg(unsigned(2))

    @clocked
    def find(self):
        self.before = self.pulse
        self.edge = self.pulse and not self.before

    @clocked
    def watch(self):
        silent = self.age >= self.limit
        self.age = 1 if self.edge else self.age if silent else self.age + 1
        if self.edge:
            self.state = 1 if self.state == 0 or silent else 2
            if self.state > 0 and not silent:
                self.period = self.age
                self.turning = 1
        elif silent:
            self.state = 0
            self.period = 0
            self.turning = 0
"""
PWM_DOWN = """
class Pwm(Design):
    lamp = DigitalOut("lamp")
    duty = HostReg(unsigned(duty_bits))
    count = Reg(unsigned(duty_bits), reset=mine_g.period)

    @clocked
    def run(self):
        self.lamp = self.count <= self.duty
        self.count = mine_g.period if self.count == 1 else self.count - 1
"""
PWM_LATCHED = """
class Pwm(Design):
    lamp = DigitalOut("lamp")
    duty = HostReg(unsigned(duty_bits))
    left = Reg(unsigned(duty_bits))
    count = Reg(unsigned(duty_bits))

    @clocked
    def run(self):
        if self.count == 0:
            self.count = mine_g.period - 1
            self.lamp = self.duty > 0
            self.left = self.duty
        else:
            self.count = self.count - 1
            if self.left == 1:
                self.lamp = 0
            if self.left > 0:
                self.left = self.left - 1
"""
TWO_CLOCKED = """
class TwoRates(Design):
    working = DigitalOut("lamp")
    sampling = DigitalOut("lamp 2")
    fast = Reg(unsigned(12))
    slow = Reg(unsigned(16))

    @clocked
    def both(self):
        if self.fast == rate["ticks"] - 1:
            self.fast = 0
            self.sampling = not self.sampling
        else:
            self.fast = self.fast + 1
        self.slow = 0 if self.slow == 39_999 else self.slow + 1
        self.working = self.slow >= 100 and self.slow < 100 + mine_i.work
"""
TWO_PARTS = """
class Fast(Design):
    lamp = DigitalOut("lamp 2")

    @sequenced
    def turn(self):
        self.lamp = not self.lamp
        wait(rate["ticks"] - 1)

class TwoRates(Design):
    lamp = DigitalOut("lamp")

    def __init__(self):
        self.fast = Fast()

    @sequenced(every=40_000)
    def turn(self):
        wait(77)
        self.lamp = 1
        for _ in range(mine_i.work):
            tick()
        self.lamp = 0
"""
GATE_BY_READINGS = """
read = lambda n: n * 60_000 / mine_e.gate_ms / mine_e.marks
speed = lambda ticks: 60 * mine_e.clock_hz / ticks / mine_e.marks
ticks = round(60 * mine_e.clock_hz / mine_e.rpm / mine_e.marks)
methods = {"gate_step": read(8) - read(7), "period_step": round(speed(ticks) - speed(ticks + 1), 6),
           "choice": f" {methods['choice'].upper()} "}
"""

SECOND_WAYS = [
    ("05-a", "measured", "import numpy\nperiod_us = numpy.array([(mine_a.steps + mine_a.pause + 1) / 40])"),
    ("05-b", "by hand", STEADY_BY_HAND),
    ("05-b", "clocked", STEADY_CLOCKED),
    ("05-c", "on paper", 'diagnosis = {"late": 500 // (mine_c.often + 1), "longest": 799 - mine_c.work}'),
    ("05-d", "own counter", OWN_COUNTER),
    ("05-d", "counting down", COUNTING_DOWN),
    ("05-d", "an instance", "PulseTimer = PulseTimer()"),
    ("05-e", "by two readings", GATE_BY_READINGS),
    ("05-f", "by difference", TACHO_BY_DIFFERENCE),
    ("05-f", "in two loops", TACHO_IN_TWO_LOOPS),
    ("05-g", "counting down", PWM_DOWN),
    ("05-g", "duty latched", PWM_LATCHED),
    ("05-h", "rounded", 'rate = {"ticks": float(rate["ticks"]), "ppm": round(rate["ppm"])}'),
    ("05-i", "clocked", TWO_CLOCKED),
    ("05-i", "in two designs", TWO_PARTS),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


@pytest.mark.parametrize("name", ["Chatty", "Logger"])
def test_the_design_shown_is_the_design_judged(name):
    """exercises.py runs a copy of what the notebook shows."""
    exercises = (solved().source.folder / "exercises.py").read_text(encoding="utf-8")
    cells = "\n\n".join(c.source for c in solved().source.notebook.cells if f"class {name}(" in c.source)
    found = [
        next(node for node in ast.parse(text).body if isinstance(node, ast.ClassDef) and node.name == name)
        for text in (exercises, cells)
    ]
    shown, judged = ([ast.dump(part) for part in one.body[1:]] for one in found)  # docstrings may differ
    assert shown == judged


def test_the_private_seed_moves_the_stimuli():
    """Two seeds, two sets of pulses: nobody can answer with a stored reading."""
    from simkit.check import collect, judge

    exercise = solved().source.lab["05-d"]
    given = collect(exercise, solved().names["05-d"]["PulseTimer"])
    seen = {judge(exercise, given, "second", seed).lines[0].measured for seed in range(4)}
    assert len(seen) == 4 and all(isinstance(x, int | np.integer) for x in seen)
