"""Several clocks: what may cross, how long it takes, and what goes wrong without protection."""

from __future__ import annotations

import pytest

from simkit import (
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    Fifo,
    Handshake,
    HardwareError,
    Reg,
    Synchronizer,
    clocked,
    compile_design,
    sequenced,
    tick,
    unsafe_cross,
    unsigned,
    until,
    wait,
)
from tests.lang.running import Run

FAST = Clock(100_000_000, "fast")
SAME = Clock(40_000_000, "same")
SLOW = Clock(1_000_000, "slow")


def test_a_loop_of_another_clock_counts_its_own_ticks():
    class D(Design):
        a = Reg(unsigned(16))
        b = Reg(unsigned(16))
        c = Reg(unsigned(16))

        @clocked
        def fabric(self):
            self.a = self.a + 1

        @clocked(clock=FAST)
        def fast(self):
            self.b = self.b + 1

        @sequenced(clock=SLOW, every=2)
        def slow(self):
            self.c = self.c + 1

    run = Run(D, 400)  # 10 us
    assert run.at("a", 399) == 399
    assert run.seen("b")[-1] == (999, 999)
    assert run.seen("c") == [(0, 0), (1, 1), (3, 2), (5, 3), (7, 4), (9, 5)]


def test_the_design_may_choose_its_fabric_clock():
    class D(Design):
        clock = Clock(25_000_000)
        lamp = DigitalOut("lamp")

        @sequenced(every=25)
        def go(self):
            self.lamp = not self.lamp

    net = compile_design(D)
    assert (net.clocks[0].hz_num, len(net.clocks)) == (25_000_000, 1)


def test_reading_a_register_of_another_clock_is_refused():
    class D(Design):
        a = Reg(unsigned(8))
        b = Reg(unsigned(8))

        @clocked
        def one(self):
            self.a = self.a + 1

        @clocked(clock=FAST)
        def two(self):
            self.b = self.a

    with pytest.raises(HardwareError, match="Synchronizer.*Handshake.*Fifo"):
        compile_design(D)


def test_synchronizer_takes_its_stages():
    class D(Design):
        flag = Synchronizer()
        slow_flag = Synchronizer(stages=4)
        out = Reg(unsigned(2))

        @sequenced
        def one(self):
            wait(4)
            self.flag = 1
            self.slow_flag = 1
            until(False)

        @clocked(clock=SAME)
        def two(self):
            self.out = (1 if self.flag else 0) + (unsigned(2)(2) if self.slow_flag else unsigned(2)(0))

    # Same rate, same edges: assigned in tick 4, there in 5, through two registers in 7, assigned, seen in 8; four: in 10
    assert Run(D, 16).seen("out") == [(0, 0), (8, 1), (10, 3)]


def test_synchronizer_read_by_its_own_clock_also_takes_its_stages():
    class D(Design):
        flag = Synchronizer()
        out = Reg(unsigned(1))

        @sequenced
        def one(self):
            self.flag = 1
            until(False)

        @clocked
        def two(self):
            self.out = 1 if self.flag else 0

    assert Run(D, 9).seen("out") == [(0, 0), (4, 1)]


def test_digital_input_read_in_two_clocks_has_a_chain_for_each():
    class D(Design):
        door = DigitalIn("door")
        a = Reg(unsigned(1))
        b = Reg(unsigned(1))

        @clocked
        def one(self):
            self.a = 1 if self.door else 0

        @clocked(clock=SLOW)
        def two(self):
            self.b = 1 if self.door else 0

    run = Run(D, 400, [(50, "door", 1)])
    assert run.seen("a") == [(0, 0), (53, 1)]
    # tick 50 of the fabric begins at 1250 ns: sampled by the edge at 2 us, out of the second register after 3 us
    assert run.seen("b") == [(0, 0), (4, 1)]


@pytest.mark.parametrize("hz", [40_000_000, 41_000_000, 7_000_000, 173_000_000])
def test_handshake_carries_every_value(hz):
    other = Clock(hz, "other")

    class D(Design):
        link = Handshake(unsigned(16))
        n = Reg(unsigned(16))
        got = Reg(unsigned(16))

        @sequenced
        def one(self):
            self.link.put(self.n + 1)
            self.n = self.n + 1

        @sequenced(clock=other)
        def two(self):
            v = self.link.get()
            self.got = v

    run = Run(D, 500)
    values = [v for _, v in run.seen("got")]
    assert values == list(range(len(values)))
    assert len(values) > 10


def test_handshake_takes_three_or_four_ticks_at_equal_rates():
    class D(Design):
        link = Handshake(unsigned(8))
        got = Reg(unsigned(8))
        back = Reg(unsigned(8))

        @sequenced
        def one(self):
            self.link.put(5)
            self.back = 1
            self.link.put(6)
            self.back = 2
            until(False)

        @sequenced(clock=SAME)
        def two(self):
            v = self.link.get()
            self.got = v

    run = Run(D, 30)
    # put in 0; the request is seen through two registers in 3, taken, on in 4; the acknowledge through two in 6, put in 6, on in 7
    assert run.done("got") == [(4, 5), (10, 6)]
    assert run.done("back") == [(1, 1), (7, 2)]


def test_unsafe_crossing_of_a_wide_value_gives_values_that_never_were():
    """Two clocks of nearly the same rate: the edges meet again and again, and then each bit is on its own."""
    near = Clock(40_010_000, "near")

    class D(Design):
        n = Reg(unsigned(8))
        seen = Reg(unsigned(8))

        @clocked
        def one(self):
            self.n = self.n ^ 255

        @clocked(clock=near)
        def two(self):
            self.seen = unsafe_cross(self.n)

    run = Run(D, 20_000)
    values = {v for _, v in run.seen("seen")}
    assert {0, 255} < values
    assert Run(D, 20_000, seed=1).seen("seen") == run.seen("seen")
    assert Run(D, 20_000, seed=2).seen("seen") != run.seen("seen")


def test_a_value_that_stands_still_crosses_unsafely_without_harm():
    class D(Design):
        n = Reg(unsigned(8), reset=77)
        seen = Reg(unsigned(8))

        @clocked
        def one(self):
            self.n = 77

        @clocked(clock=FAST)
        def two(self):
            self.seen = unsafe_cross(self.n)

    # the sampling register starts at 0; one edge, then one more for the assignment
    assert Run(D, 20).seen("seen") == [(0, 0), (2, 77)]


@pytest.mark.parametrize("hz", [40_000_000, 39_999_999, 100_000_000, 3_000_000, 1_000_000_000 // 7])
def test_fifo_across_clocks_keeps_order_and_loses_nothing(hz):
    other = Clock(hz, "other")

    class D(Design):
        queue = Fifo(unsigned(16), 4)
        n = Reg(unsigned(16))
        got = Reg(unsigned(16))

        @sequenced
        def one(self):
            self.queue.put(self.n + 1)
            self.n = self.n + 1

        @sequenced(clock=other)
        def two(self):
            v = self.queue.get()
            self.got = v

    run = Run(D, 600)
    values = [v for _, v in run.seen("got")]
    assert values == list(range(len(values)))
    assert len(values) > 20


def test_fifo_across_clocks_wants_a_power_of_two():
    class D(Design):
        queue = Fifo(unsigned(16), 5)

        @sequenced
        def one(self):
            self.queue.put(1)

        @sequenced(clock=FAST)
        def two(self):
            self.queue.get()

    with pytest.raises(HardwareError, match="Make the depth 8"):
        compile_design(D)


def test_ports_of_the_fabric_clock_are_refused_elsewhere():
    class D(Design):
        door = DigitalIn("door", sync=0)
        a = Reg(unsigned(1))

        @clocked(clock=FAST)
        def one(self):
            self.a = 1 if self.door else 0

    with pytest.raises(HardwareError, match="belongs to the fabric clock"):
        compile_design(D)


def test_waits_and_periods_count_ticks_of_the_loops_own_clock():
    class D(Design):
        a = Reg(unsigned(8))

        @sequenced(clock=SLOW, every=6)
        def one(self):
            self.a = self.a + 1
            wait(2)
            self.a = self.a + 1
            tick()
            self.a = self.a + 1

    run = Run(D, 800)  # 20 us: 20 ticks of the slow clock
    assert run.done("a") == [(0, 1), (2, 2), (3, 3), (6, 4), (8, 5), (9, 6), (12, 7), (14, 8), (15, 9), (18, 10)]


def test_any_loop_of_the_clock_may_look_at_its_side_of_a_queue_and_no_other():
    def design(side, name):
        class D(Design):
            queue = Fifo(unsigned(8), 4)
            seen = Reg(unsigned(8))
            got = Reg(unsigned(8))

            @sequenced
            def one(self):
                self.queue.put(1)

            @sequenced(clock=FAST)
            def two(self):
                v = self.queue.get()
                self.got = v

            @clocked(clock=side)
            def look(self):
                if self.queue.valid if name == "valid" else self.queue.ready:
                    self.seen = 1

        return D

    compile_design(design(FAST, "valid"))
    compile_design(design(None, "ready"))
    for side, name in ((None, "valid"), (FAST, "ready")):
        with pytest.raises(HardwareError, match="belongs to the clock"):
            compile_design(design(side, name))
