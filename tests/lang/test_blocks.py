"""Designs within designs, parameters, functions, notebook cells, in both engines."""

from __future__ import annotations

import pytest

from simkit import (
    Design,
    Fifo,
    HardwareError,
    Reg,
    bit,
    bits,
    clocked,
    combinational,
    compile_design,
    operation,
    resize,
    sequenced,
    unsigned,
    wait,
)
from tests.lang.running import Run


class Counting(Design):
    now = Reg(unsigned(16))

    @clocked
    def count(self):
        self.now = self.now + 1


class Divider(Design):
    """A block with a parameter, state and an operation of its own."""

    n = Reg(unsigned(8))

    def __init__(self, by):
        self.by = by

    @operation
    def step(self):
        last = self.n == self.by - 1
        self.n = 0 if last else self.n + 1
        return last


def test_same_class_twice():
    class D(Design):
        def __init__(self):
            self.slow = Divider(5)
            self.fast = Divider(2)

        a = Reg(unsigned(8))
        b = Reg(unsigned(8))

        @clocked
        def go(self):
            if self.slow.step():
                self.a = self.a + 1
            if self.fast.step():
                self.b = self.b + 1

    run = Run(D, 21)
    assert (run.at("a", 20), run.at("b", 20)) == (4, 10)
    assert run.values("slow.n")[:7] == [0, 1, 2, 3, 4, 0, 1]
    assert run.values("fast.n")[:4] == [0, 1, 0, 1]


def test_sub_designs_share_a_queue_by_being_given_it():
    class Source(Counting):
        def __init__(self, out):
            self.out = out

        @sequenced(every=4)
        def give(self):
            self.out.put(self.now)

    class Sink(Design):
        last = Reg(unsigned(16))

        def __init__(self, queue):
            self.queue = queue

        @sequenced
        def take(self):
            v = self.queue.get()
            self.last = v

    class D(Design):
        link = Fifo(unsigned(16), 4)

        def __init__(self):
            self.source = Source(self.link)
            self.sink = Sink(self.link)

    run = Run(D, 16)
    assert run.done("sink.last") == [(6, 4), (10, 8), (14, 12)]
    assert [mem.name for mem in run.netlist.mems] == ["link.words"]


def test_blocks_in_lists_have_loops_of_their_own():
    class Blink(Design):
        lamp = Reg(bit)

        def __init__(self, half):
            self.half = half

        @sequenced
        def go(self):
            wait(self.half)
            self.lamp = not self.lamp

    class D(Design):
        def __init__(self):
            self.lamps = [Blink(2), Blink(4)]

    run = Run(D, 14)
    assert run.seen("lamps[0].lamp") == [(0, 0), (3, 1), (6, 0), (9, 1), (12, 0)]
    assert run.seen("lamps[1].lamp") == [(0, 0), (5, 1), (10, 0)]


def test_methods_of_base_classes_and_overriding():
    class Base(Design):
        a = Reg(unsigned(8))

        @operation
        def amount(self):
            return unsigned(8)(1)

        @clocked
        def go(self):
            self.a = self.a + self.amount()

    class D(Base):
        @operation
        def amount(self):
            return unsigned(8)(3)

    assert Run(Base, 5).values("a") == [0, 1, 2, 3, 4]
    assert Run(D, 5).values("a") == [0, 3, 6, 9, 12]


def test_closures_and_globals_are_constants():
    step = 7
    table = [10, 20, 30]

    class D(Design):
        a = Reg(unsigned(8))
        b = Reg(unsigned(8))

        @clocked
        def go(self):
            self.a = self.a + step
            self.b = max(table) + len(table)

    run = Run(D, 4)
    assert (run.values("a"), run.values("b")) == ([0, 7, 14, 21], [0, 33, 33, 33])


def test_declarations_made_in_init():
    class D(Design):
        def __init__(self, width, channels):
            self.width = width
            self.total = Reg(unsigned(width))
            self.parts = [Reg(unsigned(width), reset=i) for i in range(channels)]

        @clocked
        def go(self):
            self.total = sum(part for part in self.parts)

    run = Run(D(10, 4), 3)
    assert run.values("total") == [0, 6, 6]
    assert run.netlist.regs[0].type == unsigned(10)


@combinational
def clamp(x, low, high):
    """Between low and high."""
    if x < low:
        return resize(low, unsigned(8))
    if x > high:
        return resize(high, unsigned(8))
    return x


def test_combinational_function():
    class D(Counting):
        a = Reg(unsigned(8))

        @clocked
        def go(self):
            self.a = clamp(bits(self.now, 7, 0), unsigned(8)(3), unsigned(8)(6))

    assert Run(D, 10).values("a") == [0, 3, 3, 3, 3, 4, 5, 6, 6, 6]


def test_operation_with_default_and_keyword():
    class D(Counting):
        a = Reg(unsigned(16))

        @operation
        def scale(self, x, by=3, *, plus=0):
            return resize(x * unsigned(4)(by), unsigned(16)) + plus

        @clocked
        def go(self):
            self.a = self.scale(bits(self.now, 7, 0)) + self.scale(bits(self.now, 7, 0), by=2, plus=100)

    assert Run(D, 4).values("a") == [0, 100, 105, 110]


def test_designs_in_notebook_cells():
    from IPython.core.interactiveshell import InteractiveShell

    shell = InteractiveShell.instance()
    cell = """from simkit import *
class Cell(Design):
    a = Reg(unsigned(8))
    @sequenced
    def go(self):
        self.a = self.a + {step}
        tick()
"""
    try:
        assert shell.run_cell(cell.format(step=2)).success
        first = Run(shell.user_ns["Cell"], 5)
        assert shell.run_cell(cell.format(step=5)).success
        second = Run(shell.user_ns["Cell"], 5)
        broken = shell.run_cell(cell.format(step="'x'"))
        assert broken.success
        with pytest.raises(HardwareError) as error:
            compile_design(shell.user_ns["Cell"])
    finally:
        InteractiveShell.clear_instance()
    assert (first.values("a"), second.values("a")) == ([0, 2, 2, 4, 4], [0, 5, 5, 10, 10])
    assert error.value.lineno == 6
    assert error.value.text.strip() == "self.a = self.a + 'x'"
