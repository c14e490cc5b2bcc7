"""Several channels in one loop, loops within sub-designs, and handshakes, in both engines."""

from __future__ import annotations

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    DigitalOut,
    Handshake,
    HostStream,
    Ram,
    Reg,
    Regs,
    bit,
    clocked,
    operation,
    sequenced,
    signed,
    tick,
    unsigned,
    until,
    wait,
)
from tests.lang.running import Run


def samples(name, *pairs):
    return [event for tick_, value in pairs for event in ((tick_, f"{name}.valid", 1), (tick_, f"{name}.value", value))]


def test_channels_one_after_another():
    class D(Design):
        got = Regs(signed(8), 3)

        def __init__(self):
            self.inputs = [AnalogIn(f"probe {i}", signed(8)) for i in range(3)]

        @sequenced
        def go(self):
            for i, channel in enumerate(self.inputs):
                v = channel.read()
                self.got[i] = v
            until(False)

    run = Run(D, 20, samples("inputs[0]", (2, 5)) + samples("inputs[1]", (1, 6)) + samples("inputs[2]", (9, 7)))
    # the first is taken in 2; the second waits unread since 1, taken in 3; the third is taken in 9; each is done a tick later
    assert [run.done(f"got[{i}]") for i in range(3)] == [[(3, 5)], [(4, 6)], [(10, 7)]]


def test_channels_given_to_an_operation():
    class D(Design):
        left = AnalogIn("left", signed(8))
        right = AnalogIn("right", signed(12))
        difference = Reg(signed(12))

        @operation
        def sample(self, channel):
            v = channel.read()
            return v

        @sequenced
        def go(self):
            a = self.sample(self.left)
            b = self.sample(self.right)
            self.difference = b - a

    run = Run(D, 20, samples("left", (2, 5), (10, -3)) + samples("right", (7, 100), (11, 1)))
    # left taken in 2, right in 7: done in 8; the next turn begins in 9: left in 10, right in 11, done in 12
    assert run.done("difference") == [(8, 95), (12, 4)]


def test_write_two_outputs_in_step():
    class D(Design):
        a = AnalogOut("a", signed(8))
        b = AnalogOut("b", signed(8))
        n = Reg(signed(8))

        @sequenced
        def go(self):
            self.n = self.n + 1
            self.a = self.n + 10
            self.b.write(self.n + 20)

    run = Run(D, 12, [(3, "b.ready", 1), (7, "b.ready", 1)])
    # written in 0, taken in 3, end of the turn in 4; written again in 5, taken in 7; again in 9
    assert run.seen("a") == [(0, 0), (1, 10), (6, 11), (10, 12)]
    assert run.seen("b") == [(0, 0), (1, 20), (6, 21), (10, 22)]


def test_a_name_given_to_an_analog_output_is_its_code_then():
    class D(Design):
        drive = AnalogOut("a", signed(8))
        before = Reg(signed(8))

        @sequenced
        def go(self):
            old, n = self.drive, 1
            last = self.drive
            self.drive = last + 5
            tick()
            self.before = old + last + n

    run = Run(D, 6)
    assert run.done("drive") == [(0, 5), (2, 10), (4, 15)]
    assert run.done("before") == [(1, 1), (3, 11)]


def test_a_loop_over_analog_outputs_has_the_channels():
    class D(Design):
        def __init__(self):
            self.drives = [AnalogOut(f"drive {i}", signed(8)) for i in range(2)]

        @sequenced
        def go(self):
            for i, drive in enumerate(self.drives):
                drive.write(i + 3)
            until(False)

    run = Run(D, 9, [(2, "drives[0].ready", 1), (5, "drives[1].ready", 1)])
    assert run.done("drives[0]") == [(0, 3)]
    assert run.done("drives[1]") == [(3, 4)]


def test_a_loop_in_a_sub_design_that_is_used_twice():
    class Follower(Design):
        value = Reg(unsigned(8))

        def __init__(self, source, length):
            self.source, self.length = source, length

        @sequenced
        def follow(self):
            self.value = self.source
            wait(self.length)

    class D(Design):
        n = Reg(unsigned(8))

        def __init__(self):
            self.fast = Follower(self.n, 2)
            self.slow = Follower(self.n, 5)

        @clocked
        def count(self):
            self.n = self.n + 1

    run = Run(D, 14)
    assert run.done("fast.value") == [(3, 3), (6, 6), (9, 9), (12, 12)]
    assert run.done("slow.value") == [(6, 6), (12, 12)]


def test_an_operation_keeps_state_between_calls_and_ticks():
    class Debounce(Design):
        steady = Reg(unsigned(4))
        state = Reg(bit)

        @operation
        def step(self, x):
            if x == self.state:
                self.steady = 0
            elif self.steady == 2:
                self.state = x
                self.steady = 0
            else:
                self.steady = self.steady + 1
            return self.state

    class D(Design):
        lamp = DigitalOut("lamp")
        n = Reg(unsigned(8))

        def __init__(self):
            self.clean = Debounce()

        @sequenced(every=2)
        def go(self):
            self.n = self.n + 1
            self.lamp = self.clean.step(self.n != 1 and self.n > 0)

    # turns in 0, 2, 4 …; n is 0, 1, 2, 3, 4, 5: x is 0 0 1 1 1: the third 1 in a row, in tick 8, flips the state
    run = Run(D, 14)
    assert run.done("clean.state") == [(8, 1)]
    assert run.done("lamp") == [(10, 1)]


def test_two_words_in_one_turn_of_a_stream():
    class D(Design):
        log = HostStream(unsigned(8), 8, "to_host")
        n = Reg(unsigned(8))

        @sequenced(every=10)
        def go(self):
            self.n = self.n + 1
            self.log.put(self.n)
            self.log.put(self.n + 100)

    run = Run(D, 22)
    assert run.seen("log.count") == [(0, 0), (1, 1), (2, 2), (11, 3), (12, 4), (21, 5)]


def test_handshake_in_one_clock():
    class D(Design):
        link = Handshake(unsigned(8))
        n = Reg(unsigned(8))
        got = Reg(unsigned(8))

        @clocked
        def give(self):
            if self.link.try_put(self.n + 1):
                self.n = self.n + 1

        @clocked
        def take(self):
            if self.link.valid:
                self.got = self.link.value
            self.link.try_get()

    run = Run(D, 30)
    # put in 0, seen and taken in 3, the answer is back in 6: one word every six ticks
    assert run.done("got") == [(3, 1), (9, 2), (15, 3), (21, 4), (27, 5)]


def test_memory_written_by_one_loop_and_read_by_another():
    class D(Design):
        store = Ram(unsigned(8), 4)
        n = Reg(unsigned(8))
        out = Reg(unsigned(8))

        @sequenced
        def fill(self):
            for i in range(4):
                self.store[i] = self.n + 50
                self.n = self.n + 1
                tick()
            until(False)

        @sequenced
        def look(self):
            wait(2)
            for i in range(4):
                v = self.store.read(i)
                self.out = v
            until(False)

    # words 50 to 53 are written in 0 to 3; reading asks for 0 in 2, 1 in 3, 2 in 4, 3 in 5
    assert Run(D, 12).done("out") == [(3, 50), (4, 51), (5, 52), (6, 53)]
