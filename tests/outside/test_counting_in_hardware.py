"""Counters built as designs, run tick by tick, against published figures of counting.

Sources: *Instrumentation Reference Book*, 3rd edition, 2003, figure 20.75, page 482 (resolution of a conventional counter
1 / n_i, of a reciprocal counter with a 10 MHz clock 1 / n_osc); United States Army ACCP Subcourse MM0462, lesson 1 (a 1 Hz
signal: 1 event +- 1 in a gate of 1 s, 1 000 000 counts +- 1 with a time base of 1 us); a web tutorial's worked example of
reciprocal counting (1 MHz, 1345 Hz: 743 counts).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from simkit import Clock, Design, DigitalIn, HostReg, Reg, bit, clocked, compile_design, unsigned
from simkit.check import drive


class Reciprocal(Design):
    """Ticks between the last two rising edges."""

    pulse = DigitalIn("signal")
    period = HostReg(unsigned(32), access="ro")
    before = Reg(bit)
    age = Reg(unsigned(32))

    def __init__(self, hz: int) -> None:
        self.clock = Clock(hz)

    @clocked
    def watch(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.period = self.age
            self.age = 1
        else:
            self.age = self.age + 1


class Conventional(Design):
    """Rising edges in a gate of so many ticks."""

    pulse = DigitalIn("signal")
    count = HostReg(unsigned(32), access="ro")
    before = Reg(bit)
    edges = Reg(unsigned(32))
    age = Reg(unsigned(32))

    def __init__(self, hz: int, gate: int) -> None:
        self.clock = Clock(hz)
        self.gate = gate

    @clocked
    def watch(self):
        self.before = self.pulse
        edge = 1 if self.pulse and not self.before else 0
        if self.age == self.gate - 1:
            self.count = self.edges + edge
            self.edges = 0
            self.age = 0
        else:
            self.edges = self.edges + edge
            self.age = self.age + 1


def signal(hz: Fraction, clock: int, ticks: int, phase: Fraction) -> list[tuple[int, str, int]]:
    """A square wave as changes on whole ticks; ``phase`` is where in its period it begins, 0 to 1."""
    halves = int(2 * hz * ticks / clock) + 2
    edges = [int((Fraction(i, 2) + phase) * clock / hz) for i in range(halves)]
    return [(tick, "signal", 1 - i % 2) for i, tick in enumerate(edges) if tick < ticks]


def readings(design: Design, name: str, hz: Fraction, clock: int, ticks: int, skip: int, phase: Fraction) -> set[int]:
    """All values that a register showed, without the first ``skip``."""
    run = drive(compile_design(design), ticks, signal(hz, clock, ticks, phase))
    return set(run.trace(name).values[skip:].tolist())


def test_the_worked_example_of_reciprocal_counting():
    """743.494 ticks: the design reads 743 or its neighbour, and 743 is 1345.895 Hz; one count there is 1.81 Hz."""
    found = readings(Reciprocal(1_000_000), "period", Fraction(1345), 1_000_000, 40_000, 2, Fraction(1, 3))
    assert found == {743, 744}
    assert 1e6 / 743 == pytest.approx(1345.895, abs=5e-4)


@pytest.mark.parametrize("phase", [Fraction(0), Fraction(1, 7), Fraction(1, 2)])
def test_a_slow_signal_timed_with_one_megahertz(phase):
    """1 Hz: 1 000 000 counts, give or take one, which is 0.0001 %."""
    (found,) = readings(Reciprocal(1_000_000), "period", Fraction(1), 1_000_000, 3_200_000, 2, phase)
    assert abs(found - 1_000_000) <= 1
    assert 1 / found == pytest.approx(0.0001 / 100, rel=1e-5)


def test_a_slow_signal_counted_in_a_gate_of_a_second():
    """About 1 Hz: one event, give or take one; the design shows 0, 1 or 2 according to the phase."""
    found = set()
    for hz in (Fraction(9, 10), Fraction(11, 10)):
        for phase in range(10):
            found |= readings(Conventional(1000, 1000), "count", hz, 1000, 9000, 2, Fraction(phase, 10))
    assert found == {0, 1, 2}


@pytest.mark.parametrize("hz", [Fraction(50), Fraction(1234), Fraction(33_333, 10)])
def test_the_resolution_of_both_kinds(hz):
    """Conventional: 1 / n_i of the signal; reciprocal: 1 / n_osc of the clock.  No reading is worse by more."""
    clock, gate = 1_000_000, 100_000
    for phase in (Fraction(1, 9), Fraction(5, 8)):
        counts = readings(Conventional(clock, gate), "count", hz, clock, 5 * gate, 2, phase)
        assert all(abs(n * clock / gate / float(hz) - 1) <= 1 / (float(hz) * gate / clock) for n in counts)
        periods = readings(Reciprocal(clock), "period", hz, clock, gate, 2, phase)
        assert all(abs(clock / n / float(hz) - 1) <= 1.001 / n for n in periods)


def test_ten_megahertz_and_a_second_resolve_a_ten_millionth():
    found = readings(Reciprocal(10_000_000), "period", Fraction(1), 10_000_000, 22_000_000, 2, Fraction(1, 11))
    assert all(1 / n == pytest.approx(1e-7, rel=1e-6) for n in found) and found
