"""Where an error inside something that was called is shown, and parts held in lists and dictionaries."""

from __future__ import annotations

import pytest
from running import Run

from simkit.blocks.average import MovingAverage
from simkit.lang import (
    AnalogOut,
    Design,
    DigitalOut,
    HardwareError,
    Reg,
    clocked,
    compile_design,
    const,
    operation,
    sequenced,
    sfixed,
    signed,
    tick,
    unsigned,
)


class Scaler(Design):
    held = Reg(unsigned(8))

    @operation
    def step(self, x):
        self.held = x
        return self.held

    @operation
    def later(self, x):
        tick()
        return self.step(x)


class InsideAnOperation(Design):
    n = Reg(unsigned(8))
    wide = Reg(unsigned(12))

    def __init__(self):
        self.scaler = Scaler()

    @sequenced
    def go(self):
        self.n = self.scaler.later(self.wide)


class InsideABlock(Design):
    n = Reg(unsigned(8))
    m = Reg(signed(8))

    def __init__(self):
        self.mean = MovingAverage(4, signed(8))

    @clocked
    def go(self):
        self.m = self.mean.step(self.n)


def refusal(design: type) -> HardwareError:
    with pytest.raises(HardwareError) as caught:
        compile_design(design)
    return caught.value


def test_an_error_in_an_operation_names_the_calls_that_led_there() -> None:
    error = refusal(InsideAnOperation)
    assert error.text.strip() == "self.held = x"
    assert error.why.startswith("scaler.held is unsigned(8) and the value is unsigned(12)")
    lines = {name: number for number, name in enumerate(open(__file__, encoding="utf-8").read().split("\n"), 1)}
    inner, outer = lines["        return self.step(x)"], lines["        self.n = self.scaler.later(self.wide)"]
    assert f"Called: step() in line {inner}, later() in line {outer}." in error.instead


def test_an_error_in_a_block_of_the_kit_is_shown_at_the_call() -> None:
    error = refusal(InsideABlock)
    assert (error.filename, error.text.strip()) == (__file__, "self.m = self.mean.step(self.n)")
    assert error.why.startswith("step(): resize from unsigned(8) to signed(10)")


class Panel(Design):
    """Two lamps in a list, two registers in a dictionary."""

    def __init__(self):
        self.lamps = [DigitalOut("lamp 1"), DigitalOut("lamp 2")]
        self.counts = {"up": Reg(unsigned(4)), "down": Reg(unsigned(4), reset=9)}

    @clocked
    def go(self):
        self.counts["up"] = self.counts["up"] + 1
        self.counts["down"] = self.counts["down"] - 1
        for i in range(2):
            self.lamps[i] = self.counts["up"][i]


def test_parts_in_lists_and_dictionaries_are_assigned_by_element() -> None:
    run = Run(Panel, 5)
    assert run.values("counts[up]") == [0, 1, 2, 3, 4]
    assert run.values("counts[down]") == [9, 8, 7, 6, 5]
    assert (run.values("lamps[0]"), run.values("lamps[1]")) == ([0, 0, 1, 0, 1], [0, 0, 0, 1, 1])


def test_designs_in_a_list_of_the_class_run() -> None:
    class Counter(Design):
        n = Reg(unsigned(4))

        @clocked
        def go(self):
            self.n = self.n + 1

    class Pair(Design):
        counters = [Counter(), Counter()]

        @clocked
        def go(self):
            pass

    run = Run(Pair, 4)
    assert run.values("counters[0].n") == run.values("counters[1].n") == [0, 1, 2, 3]


GAIN = const(0.1, sfixed(0, -15))


class Typed(Design):
    """A constant made outside keeps its type inside; a choice of numbers takes the type of what it is stored in."""

    f = Reg(sfixed(3, -12), reset=2)
    g = Reg(sfixed(4, -27))
    drive = AnalogOut("fan A speed")
    hot = Reg(unsigned(1), reset=1)

    @clocked
    def go(self):
        self.g = self.f * GAIN
        self.drive = 100 if self.hot == 1 else -100


def test_constants_and_choices_take_their_types() -> None:
    run = Run(Typed, 3)
    assert run.at("g", 1) * 2.0**-27 == 2 * 3277 / 32768
    assert run.at("drive", 1) == 100


class ManyWays(Design):
    """Sixty ways out of a copied-out loop, each with another number."""

    n = Reg(unsigned(8), reset=40)
    m = Reg(unsigned(8))

    @operation
    def find(self):
        for k in range(60):
            if k == self.n:
                return k
        return 99

    @clocked
    def go(self):
        self.m = self.find()


def test_a_number_from_many_ways_costs_no_more_than_the_ways() -> None:
    """A choice of choices is shared, not copied: doubling with each way would never end."""
    run = Run(ManyWays, 3)
    assert run.at("m", 1) == 40
    assert len(run.netlist.nodes) < 1000
