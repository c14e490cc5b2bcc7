"""Lab 02: right answers of another structure pass too."""

from __future__ import annotations

import functools

import pytest

from tests.labs.replay import Replay, replay

LAB = "02_first_light"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


BLINK_IN_STEPS = """
class Blink(Design):
    lamp = DigitalOut("lamp")

    @sequenced(every=2 * mine_b.half)
    def blink(self):
        self.lamp = 1
        wait(mine_b.half)
        self.lamp = 0
"""
BLINK_DOWN = """
class Blink(Design):
    lamp = DigitalOut("lamp")
    left = Reg(unsigned(12), reset=mine_b.half - 1)

    @clocked
    def blink(self):
        self.left = self.left - 1
        if self.left == 0:
            self.left = mine_b.half - 1
            self.lamp = not self.lamp
"""
PRESSES_AT_ONCE = """
class Presses(Design):
    switch = DigitalIn("switch")
    before = Reg(bit, reset=1)
    away = Reg(unsigned(16))
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        down = not self.switch
        if down:
            self.away = 0
            if not self.before:
                self.presses = self.presses + 1
            self.before = 1
        elif self.away > mine_c.bounce:
            self.before = 0
        else:
            self.away = self.away + 1
"""
TRIGGER_IN_STEPS = """
class Trigger(Design):
    a = DigitalIn("switch")
    b = DigitalIn("switch 2")
    c = DigitalIn("fan A pulse")
    lamp = DigitalOut("lamp 2")

    @sequenced
    def look(self):
        until(self.a and self.b and self.c)
        self.lamp = 1
        until(False)
"""


@pytest.mark.parametrize(("exercise", "code"), [
    ("02-b", BLINK_IN_STEPS), ("02-b", BLINK_DOWN), ("02-c", PRESSES_AT_ONCE), ("02-f", TRIGGER_IN_STEPS),
])
def test_another_structure_passes(exercise: str, code: str):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()
