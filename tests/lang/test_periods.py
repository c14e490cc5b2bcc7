"""Loops with a period: where turns start, late turns, and periods that cannot be."""

from __future__ import annotations

import pytest

from simkit import (
    Design,
    DigitalOut,
    HardwareError,
    Reg,
    clocked,
    compile_design,
    sequenced,
    tick,
    unsigned,
    us,
    wait,
)
from tests.lang.running import Run


class Marked(Design):
    """Counts ticks and holds the marks that the tests look at."""

    at = Reg(unsigned(16))
    now = Reg(unsigned(16))

    @clocked
    def count(self):
        self.now = self.now + 1


def test_every_starts_on_multiples():
    class D(Marked):
        @sequenced(every=8)
        def go(self):
            self.at = self.at + 1
            wait(3)
            self.at = self.at + 1

    run = Run(D, 26)
    assert run.done("at") == [(0, 1), (3, 2), (8, 3), (11, 4), (16, 5), (19, 6), (24, 7)]
    assert run.at("go.late", 25) == 0


def test_every_a_duration_or_a_function():
    class D(Marked):
        def __init__(self, period):
            self.period = period

        @sequenced(every=lambda self: self.period)
        def go(self):
            self.at = self.at + 1

    assert Run(D(us(0.2)), 30).done("at") == [(0, 1), (8, 2), (16, 3), (24, 4)]
    assert Run(D(10), 30).done("at") == [(0, 1), (10, 2), (20, 3)]


@pytest.mark.parametrize(
    ("busy", "late", "starts"),
    [
        (7, 0, [0, 8, 16, 24]),  # the turn's last tick is the 8th: in time
        (8, 2, [0, 16]),  # one tick too long: every second multiple finds it busy
        (15, 2, [0, 16]),
        (16, 2, [0, 24]),
    ],
)
def test_late_turns_are_counted(busy, late, starts):
    class D(Marked):
        @sequenced(every=8)
        def go(self):
            self.at = self.at + 1
            wait(busy)

    run = Run(D, 32)
    assert [t for t, _ in run.done("at")] == starts
    assert run.at("go.late", 31) == late


def test_period_one():
    class D(Marked):
        @sequenced(every=1)
        def go(self):
            self.at = self.at + 1

    run = Run(D, 5)
    assert run.done("at") == [(0, 1), (1, 2), (2, 3), (3, 4)]
    assert run.at("go.late", 4) == 0


def test_period_one_and_two_ticks_of_work():
    class D(Marked):
        @sequenced(every=1)
        def go(self):
            self.at = self.at + 1
            tick()

    run = Run(D, 8)
    assert [t for t, _ in run.done("at")] == [0, 2, 4, 6]
    assert run.at("go.late", 7) == 3  # ticks 1, 3, 5 have been counted by the start of tick 7


def test_period_that_is_no_whole_number_of_ticks():
    class D(Marked):
        @sequenced(every=us(1) / 3)
        def go(self):
            self.at = 1

    with pytest.raises(HardwareError, match=r"13\.33333333 ticks.*Choose 13 or 14 ticks"):
        compile_design(D)


def test_late_is_readable_by_another_loop():
    class D(Marked):
        lamp = DigitalOut("lamp")

        @sequenced(every=4)
        def go(self):
            wait(4)

        @clocked
        def watch(self):
            self.lamp = self.go.late > 1

    run = Run(D, 20)
    # busy in 4 (seen as 1 in 5), free in 5, starts in 8, busy in 12 (seen as 2 in 13), lamp seen in 14
    assert run.seen("go.late")[:3] == [(0, 0), (5, 1), (13, 2)]
    assert run.seen("lamp") == [(0, 0), (14, 1)]
