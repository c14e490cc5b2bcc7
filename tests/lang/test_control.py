"""Control flow in sequenced loops: branches, loops, break, continue, return, with and without ticks, in both engines."""

from __future__ import annotations

import pytest

from simkit import (
    Design,
    Fifo,
    Reg,
    Regs,
    clocked,
    combinational,
    resize,
    sequenced,
    signed,
    tick,
    unsigned,
    until,
    wait,
)
from tests.lang.running import Run


class Marked(Design):
    """``at`` takes marks; ``now`` counts ticks; ``turns`` counts loops ended."""

    at = Reg(unsigned(16))
    now = Reg(unsigned(16))

    @clocked
    def count(self):
        self.now = self.now + 1


def marks(design, ticks):
    return Run(design, ticks).done("at")


def test_break_and_continue_after_a_tick_in_a_branch():
    class D(Marked):
        n = Reg(unsigned(8))

        @sequenced
        def go(self):
            while True:
                self.n = self.n + 1
                if self.n == 2:
                    tick()
                    self.at = 100
                    continue_here = self.now
                    if continue_here == 3:
                        tick()
                        continue
                    break
                tick()
                if self.n == 6:
                    break
                self.at = self.n
            self.at = 200
            until(False)

    # tick 0: n 0->1.  1: at=1; n->2.  2: at=2; n->3, branch (n was 2), tick.  3: at=100, now==3 -> tick.
    # 4: continue: n->4.  5: at=4, n->5.  6: at=5, n->6.  7: n==6 -> break: at=200.
    assert marks(D, 20) == [(1, 1), (2, 2), (3, 100), (5, 4), (6, 5), (7, 200)]


def test_break_on_the_first_pass_costs_no_tick():
    class D(Marked):
        @sequenced
        def go(self):
            while self.now < 50:
                if self.now == 0:
                    break
                tick()
            self.at = 1
            until(False)

    assert marks(D, 9) == [(0, 1)]


def test_condition_that_never_held_costs_no_tick():
    class D(Marked):
        @sequenced
        def go(self):
            while self.now > 50:
                tick()
            self.at = 1
            until(False)

    assert marks(D, 9) == [(0, 1)]


def test_nested_loops_each_break_leaves_its_own():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(3):
                for j in range(4):
                    tick()
                    if j == 2:
                        break
                    if j == 0:
                        continue
                    self.at = 10 * unsigned(8)(i) + j
                self.at = 100 + unsigned(8)(i)
            self.at = 200
            until(False)

    assert marks(D, 30) == [(2, 1), (3, 100), (5, 11), (6, 101), (8, 21), (9, 200)]


def test_break_out_of_a_count_inside_a_while():
    class D(Marked):
        @sequenced
        def go(self):
            while True:
                for i in range(5):
                    if self.now == 7:
                        break
                    tick()
                    self.at = 10 + unsigned(8)(i)
                if self.now == 7:
                    break
                tick()
            self.at = 99
            until(False)

    # passes end in 5; the next ones begin in 6; in 7 the mark 10 gives way to 99, since the break is in the same tick
    assert marks(D, 20) == [(1, 10), (2, 11), (3, 12), (4, 13), (5, 14), (7, 99)]


def test_while_inside_for_with_break_of_both():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(4):
                while True:
                    tick()
                    if self.now[0]:
                        self.at = self.now
                        break
                if i == 2:
                    break
            self.at = 77
            until(False)

    assert marks(D, 20) == [(1, 1), (3, 3), (5, 77)]


def test_count_down_and_steps():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(9, 0, -3):
                self.at = i
                tick()
            for i in range(2, 11, 4):
                self.at = i
                tick()
            self.at = 100
            until(False)

    assert marks(D, 20) == [(0, 9), (1, 6), (2, 3), (3, 2), (4, 6), (5, 10), (6, 100)]


def test_count_over_nothing_and_over_one():
    class D(Marked):
        @sequenced
        def go(self):
            for _ in range(0):
                tick()
            for i in range(7, 8):
                self.at = i
                tick()
            self.at = 100
            until(False)

    assert marks(D, 9) == [(0, 7), (1, 100)]


@combinational
def lifted(x):
    return resize(x, signed(8)) + 5


def test_negative_indices():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(-2, 2):
                self.at = unsigned(16)(resize(lifted(i), signed(16)))
                tick()
            until(False)

    assert marks(D, 9) == [(0, 3), (1, 4), (2, 5), (3, 6)]


def test_loop_variable_keeps_its_last_value():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(5):
                tick()
                if i == 3:
                    break
            self.at = i
            until(False)

    assert marks(D, 9) == [(4, 3)]


def test_assigning_the_loop_variable_does_not_disturb_the_count():
    class D(Marked):
        @sequenced
        def go(self):
            for i in range(4):
                tick()
                self.at = i + unsigned(4)(8)
                i = 0
            self.at = 100
            until(False)

    assert marks(D, 9) == [(1, 8), (2, 9), (3, 10), (4, 100)]


def test_for_over_a_list_with_ticks_is_copied_out():
    class D(Marked):
        @sequenced
        def go(self):
            for value, length in ((5, 1), (6, 3), (7, 2)):
                self.at = value
                wait(length)
            self.at = 100
            until(False)

    assert marks(D, 12) == [(0, 5), (1, 6), (4, 7), (6, 100)]


def test_for_over_channels_with_waits():
    class D(Marked):
        def __init__(self):
            self.queues = [Fifo(unsigned(4), 4), Fifo(unsigned(8), 4), Fifo(unsigned(4), 4)]

        @clocked
        def fill(self):
            for i, queue in enumerate(self.queues):
                if self.now == i * 5:
                    queue.try_put(i + 1)

        @sequenced
        def go(self):
            for queue in self.queues:
                v = queue.get()
                self.at = v
            until(False)

    # words given in 0, 5, 10; taken in 1, 6, 11; done in the tick after
    assert marks(D, 20) == [(2, 1), (7, 2), (12, 3)]


def test_unrolled_break_and_continue():
    class D(Marked):
        seen = Regs(unsigned(8), 6)
        stop = Reg(unsigned(3), reset=4)
        first = Reg(unsigned(3), reset=7)

        @clocked
        def go(self):
            found = unsigned(3)(7)
            for i in range(6):
                if i == 1:
                    continue
                if i == self.stop:
                    break
                self.seen[i] = i + 1
                found = unsigned(3)(i)
            self.first = found

    run = Run(D, 3)
    assert [run.at(f"seen[{i}]", 1) for i in range(6)] == [1, 0, 3, 4, 0, 0]
    assert run.at("first", 1) == 3


def test_unrolled_with_a_tick_in_one_branch_only():
    class D(Marked):
        @sequenced
        def go(self):
            for i in (1, 2, 3, 4):
                if self.now == 2:
                    break
                if self.now != 1:
                    tick()
                self.at = i
            self.at = self.at + 100
            until(False)

    # tick 0: copy 1 ticks.  1: at=1; copy 2 does not tick: at=2; copies 3 and 4: at=4; at=100 (the old at is 0)
    assert marks(D, 9) == [(1, 100)]


def test_conditional_expression_short_circuit_does_not_act():
    class D(Marked):
        queue = Fifo(unsigned(8), 4)
        got = Reg(unsigned(8))

        @clocked
        def fill(self):
            took = self.queue.try_put(1 if self.now[0] else 0) if self.now < 3 else False
            self.at = 1 if took else 0

        @clocked
        def drain(self):
            if self.now > 5 and self.queue.try_get():
                self.got = self.got + 1

    run = Run(D, 20)
    assert run.at("got", 19) == 3
    assert run.done("got") == [(6, 1), (7, 2), (8, 3)]


@pytest.mark.parametrize("depth", [1, 2, 3])
def test_tick_deep_in_branches(depth):
    class D(Marked):
        @sequenced
        def go(self):
            if self.now == 0:
                if depth > 1:
                    if depth > 2:
                        tick()
                    tick()
                tick()
            self.at = 1
            until(False)

    assert marks(D, 9) == [(depth, 1)]


def test_elif_chain_with_ticks_of_different_length():
    class D(Marked):
        @sequenced
        def go(self):
            n = self.now
            if n == 0:
                wait(3)
            elif n == 4:
                tick()
            elif n == 6:
                pass
            else:
                wait(5)
            self.at = self.now

    # turn in 0 waits 3: at=3.  4: tick: at=5.  6: at=6 at once.  7: waits 5: at=12.  13: at=18
    assert marks(D, 20) == [(3, 3), (5, 5), (6, 6), (12, 12), (18, 18)]


def test_a_name_first_assigned_inside_a_branch_that_ticks():
    class D(Marked):
        @sequenced
        def go(self):
            if self.now == 0:
                v = self.now + 7
                tick()
            else:
                v = self.now + 30
            self.at = v

    assert marks(D, 6) == [(1, 7), (2, 32), (3, 33), (4, 34)]


def test_not_of_a_typed_constant_is_a_bit_and_may_change_across_ticks():
    class D(Marked):
        @sequenced
        def go(self):
            ready = not (unsigned(4)(3) > unsigned(4)(2))
            for _ in range(3):
                tick()
                self.at = 10 if ready else 20
                ready = not ready
            until(False)

    assert marks(D, 9) == [(1, 20), (2, 10), (3, 20)]


def test_a_name_keeps_what_it_had_where_the_loop_was_left():
    class D(Marked):
        @sequenced
        def go(self):
            v = self.now + 100
            while self.now < 3:
                v = v + 1
                if self.now == 1:
                    v = v + 1000
                    break
                v = v + 10
                tick()
            self.at = v
            until(False)

    # tick 0: 101, 111.  tick 1: 112, 1112, out of the loop in the same tick
    assert marks(D, 9) == [(1, 1112)]


def test_a_name_keeps_what_it_had_where_the_pass_was_cut_short():
    class D(Marked):
        @sequenced
        def go(self):
            v = self.now + 100
            for k in (1, 2, 3):
                v = v + k
                if self.now == 0 and k != 2:
                    continue
                v = v + 1000
            self.at = v
            until(False)

    assert marks(D, 9) == [(0, 1106)]
