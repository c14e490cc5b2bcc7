"""Operations and return, with and without ticks, in both engines."""

from __future__ import annotations

from simkit import (
    Design,
    Reg,
    clocked,
    operation,
    sequenced,
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


def test_return_in_a_loop_ends_the_turn():
    class D(Marked):
        @sequenced
        def go(self):
            if self.now < 4:
                self.at = self.at + 1
                return
            tick()
            self.at = 50
            for i in range(9):
                tick()
                if i == 2:
                    return
            self.at = 99

    # a turn a tick until now == 4; 5: at=50; loop ticks in 6, 7, 8 (i == 2: return); 9: next turn; 10: at=50
    assert marks(D, 12) == [(0, 1), (1, 2), (2, 3), (3, 4), (5, 50)]


def test_return_in_operations_without_ticks():
    class D(Marked):
        @operation
        def kind(self, x):
            if x < 3:
                return unsigned(8)(1)
            if x < 5:
                self.low = self.low + 1
                return unsigned(8)(2)
            return unsigned(8)(3)

        low = Reg(unsigned(8))

        @clocked
        def go(self):
            self.at = self.kind(self.now)

    run = Run(D, 9)
    assert run.done("at") == [(0, 1), (3, 2), (5, 3)]
    assert run.done("low") == [(3, 1), (4, 2)]


def test_return_in_operations_with_ticks():
    class D(Marked):
        @operation
        def pause(self, x):
            if x == 0:
                return unsigned(8)(10)
            for i in range(5):
                tick()
                if i == x:
                    return unsigned(8)(20)
            return unsigned(8)(30)

        @sequenced
        def go(self):
            a = self.pause(unsigned(3)(0))
            self.at = a
            b = self.pause(self.now_3())
            self.at = b
            c = self.pause(unsigned(3)(7))
            self.at = c
            until(False)

        @operation
        def now_3(self):
            return unsigned(3)(2)

    # the first returns in tick 0 itself; the second after three ticks; the third after five
    assert marks(D, 20) == [(0, 10), (3, 20), (8, 30)]


def test_operation_whose_ways_take_a_different_number_of_ticks():
    class D(Marked):
        @operation
        def pick(self):
            if self.now[0]:
                return unsigned(16)(500)
            v = self.now
            tick()
            return v + 1000

        @sequenced
        def go(self):
            a = self.pick()
            self.at = a
            tick()

    # 0: even: waits.  1: at=1000, tick.  2: end of turn.  3: odd: at=500 at once, tick.  4: end.  5: odd: at=500 …
    assert marks(D, 9) == [(1, 1000), (3, 500)]


def test_nested_operations_that_wait():
    class D(Marked):
        @operation
        def inner(self, n):
            wait(n)
            return self.now

        @operation
        def outer(self, n):
            a = self.inner(n)
            b = self.inner(n + 1)
            return b - a

        @sequenced
        def go(self):
            d = self.outer(4)
            self.at = d + 100
            e = self.outer(6)
            self.at = e + 200
            until(False)

    # inner gives now as it is n ticks later: 4 and 9, difference 5, in tick 9; then 15 and 22: 7, in tick 22
    assert marks(D, 40) == [(9, 105), (22, 207)]


def test_operation_called_in_both_branches():
    class D(Marked):
        calls = Reg(unsigned(8))

        @operation
        def note(self, x):
            self.calls = self.calls + 1
            tick()
            self.at = x

        @sequenced
        def go(self):
            if self.now < 3:
                self.note(self.now)
            else:
                self.note(self.now + 100)
                self.note(self.now + 200)

    run = Run(D, 10)
    # turn 1: tick 0, 1.  turn 2: 2, 3.  turn 3 in 4: 104 in 5, 205 in 6 (its argument was taken in 5)
    assert run.done("at") == [(3, 2), (5, 104), (6, 205), (8, 107)]
    assert run.done("calls") == [(0, 1), (2, 2), (4, 3), (5, 4), (7, 5), (8, 6)]
