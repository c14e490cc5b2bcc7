"""What costs ticks: each row of the table, to the tick, in both engines.

A step marks where it is by assigning a number to ``at``; ``done("at")`` gives the tick in which it did.
"""

from __future__ import annotations

import pytest

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    DigitalIn,
    DigitalOut,
    Fifo,
    HardwareError,
    HostReg,
    Ram,
    Reg,
    Rom,
    cat,
    clocked,
    compile_design,
    resize,
    sequenced,
    signed,
    tick,
    unsigned,
    until,
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


def test_tick_is_one_tick():
    class D(Marked):
        @sequenced
        def go(self):
            self.at = 1
            tick()
            self.at = 2
            tick()
            tick()
            self.at = 3
            tick()

    assert Run(D, 9).done("at") == [(0, 1), (1, 2), (3, 3), (5, 1), (6, 2)]


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5, 8, 9])
def test_wait_a_constant(n):
    class D(Marked):
        @sequenced
        def go(self):
            self.at = 1
            wait(n)
            self.at = 2
            wait(n)
            self.at = 3
            until(False)

    assert Run(D, 40).done("at") == [(0, 1), (n, 2), (2 * n, 3)]


def test_wait_a_duration():
    class D(Marked):
        @sequenced
        def go(self):
            self.at = 1
            wait(us(2))
            self.at = 2
            until(False)

    assert Run(D, 100).done("at") == [(0, 1), (80, 2)]  # 2 us of 40 MHz


def test_wait_a_duration_that_is_no_whole_number_of_ticks():
    class D(Marked):
        @sequenced
        def go(self):
            wait(us(0.03))

    with pytest.raises(HardwareError, match=r"1\.2 ticks.*Choose 1 or 2 ticks"):
        compile_design(D)


@pytest.mark.parametrize("n", [0, 1, 2, 3, 200])
def test_wait_a_signal(n):
    class D(Marked):
        length = Reg(unsigned(8), reset=n)

        @sequenced
        def go(self):
            self.at = 1
            wait(self.length)
            self.at = 2
            until(False)

    assert Run(D, 220).done("at") == [(0, 1), (max(n, 1), 2)]


def test_waits_of_different_length_share_a_timer():
    class D(Marked):
        length = Reg(unsigned(4), reset=3)

        @sequenced
        def go(self):
            wait(100)
            self.at = 1
            wait(self.length)
            self.at = 2
            wait(2)
            self.at = 3
            wait(1)
            self.at = 4
            wait(7)

    run = Run(D, 230)
    assert run.done("at") == [(100, 1), (103, 2), (105, 3), (106, 4), (214, 1), (217, 2), (219, 3), (220, 4)]
    assert len(run.netlist.timers) == 1


def test_until_holds_at_once():
    class D(Marked):
        @sequenced
        def go(self):
            self.at = 1
            until(self.now >= 0)
            self.at = 2
            until(False)

    assert Run(D, 9).done("at") == [(0, 1), (1, 2)]


def test_until_holds_later():
    class D(Marked):
        @sequenced
        def go(self):
            self.at = 1
            until(self.now == 5)  # seen as 5 in tick 5
            self.at = 2
            until(False)

    assert Run(D, 12).done("at") == [(0, 1), (6, 2)]


def test_until_asks_in_each_tick_not_once():
    class D(Marked):
        @sequenced
        def go(self):
            until(self.now[2] and not self.now[0])
            self.at = self.now

    assert Run(D, 9).done("at") == [(5, 5), (7, 7)]


def test_channel_read():
    class D(Marked):
        level = AnalogIn("probe")
        got = Reg(unsigned(16))

        @sequenced
        def go(self):
            v = self.level.read()
            self.got = unsigned(16)(resize(v, signed(16)))
            self.at = self.now

    events = [e for t, v in ((0, 11), (4, 22), (10, 33)) for e in ((t, "level.valid", 1), (t, "level.value", v))]
    run = Run(D, 20, events)
    assert run.done("got") == [(1, 11), (5, 22), (11, 33)]  # in the tick after a new sample is there
    assert run.at("level.missed", 19) == 0


def test_channel_read_late_and_missed():
    class D(Design):
        level = AnalogIn("probe")
        got = Reg(unsigned(16))

        @sequenced
        def go(self):
            v = self.level.read()
            self.got = unsigned(16)(resize(v, signed(16)))
            wait(10)

    samples = [(0, 1), (3, 2), (5, 3), (13, 4), (40, 5)]
    run = Run(D, 60, [e for t, v in samples for e in ((t, "level.valid", 1), (t, "level.value", v))])
    # Tick 1 does sample 1 and waits until 11, where the turn ends.  Sample 3 has overwritten sample 2: taken in 12, done in 13.
    # Sample 4 comes in 13, is taken in 24, done in 25; then nothing until 40.
    assert run.done("got") == [(1, 1), (13, 3), (25, 4), (41, 5)]
    assert run.seen("level.missed") == [(0, 0), (6, 1)]


def test_sample_that_comes_while_the_old_one_is_taken():
    class D(Design):
        level = AnalogIn("probe")
        got = Reg(unsigned(16))

        @sequenced
        def go(self):
            wait(5)
            v = self.level.read()
            self.got = unsigned(16)(resize(v, signed(16)))
            until(False)

    # Unread sample 1; in tick 5, in which it is taken, sample 2 arrives: read() gives the newer one, 1 was never read.
    run = Run(D, 20, [(2, "level.valid", 1), (2, "level.value", 1), (5, "level.valid", 1), (5, "level.value", 2)])
    assert run.done("got") == [(6, 2)]
    assert run.at("level.missed", 19) == 1


def test_channel_write():
    class D(Marked):
        drive = AnalogOut("fan")

        @sequenced
        def go(self):
            self.at = 1
            self.drive.write(5)
            self.at = 2
            self.drive.write(-7)
            self.at = 3
            until(False)

    run = Run(D, 30, [(0, "drive.ready", 1), (6, "drive.ready", 1), (7, "drive.ready", 1), (15, "drive.ready", 1)])
    # Tick 0 writes 5: the code stands from tick 1 on, so the strobe of tick 0 took the old code.
    # Taken in 6, on in 7: writes -7, on show in 8; strobe of 7 does not count; taken in 15.
    assert run.done("at") == [(0, 1), (7, 2), (16, 3)]
    assert run.seen("drive") == [(0, 0), (1, 5), (8, -7)]


def test_fifo_put_and_get():
    class D(Design):
        queue = Fifo(unsigned(8), 2)
        given = Reg(unsigned(8))
        taken = Reg(unsigned(8))

        @sequenced
        def giver(self):
            self.queue.put(self.given + 1)
            self.given = self.given + 1

        @sequenced
        def taker(self):
            v = self.queue.get()
            self.taken = v
            wait(5)

    run = Run(D, 30)
    # put: the word is given in tick 0, on in 1 (a turn ends there), next put in 2 …
    # get: the word put in 0 can be taken in 1; on in 2; wait until 7, end of turn; next one taken in 8; on in 9 …
    assert run.done("taken")[:4] == [(2, 1), (9, 2), (16, 3), (23, 4)]
    # words given in 0, 2, 4 (the first left in 1); then full until a word is taken in 8, 15, 22: given in the tick after
    assert run.done("given")[:6] == [(1, 1), (3, 2), (5, 3), (10, 4), (17, 5), (24, 6)]


def test_fifo_put_keeps_the_value_from_when_it_was_reached():
    class D(Marked):
        queue = Fifo(unsigned(16), 1)
        out = Reg(unsigned(16))

        @sequenced
        def giver(self):
            self.queue.put(self.now)

        @sequenced
        def taker(self):
            wait(10)
            v = self.queue.get()
            self.out = v

    # put is reached in 0 (word 0, given at once), in 2 (word 2 waits: room in 11, given), in 13 (word 13).
    # Words are taken in 10, 22 and 34, and are on show in the tick after.
    assert Run(D, 40).done("out") == [(23, 2), (35, 13)]


def test_ram_read():
    class D(Marked):
        store = Ram(unsigned(8), 4, init=[10, 11, 12, 13])
        got = Reg(unsigned(8))

        @sequenced
        def go(self):
            v = self.store.read(2)
            self.got = v
            self.store[2] = 99
            w = self.store.read(2)  # asked in the tick of the write: the word as it was
            self.got = w + 1
            x = self.store.read(2)
            self.got = x
            until(False)

    assert Run(D, 12).done("got") == [(1, 12), (2, 13), (3, 99)]


def test_rom_read():
    class D(Marked):
        table = Rom(unsigned(8), [7, 5, 3])
        got = Reg(unsigned(8))

        @sequenced
        def go(self):
            for i in range(3):
                v = self.table.read(i)
                self.got = v
            until(False)

    assert Run(D, 12).done("got") == [(1, 7), (2, 5), (3, 3)]


def test_for_while_if_cost_nothing():
    class D(Marked):
        @sequenced
        def go(self):
            if self.now < 100:
                for _ in range(3):
                    if self.now > 200:
                        self.at = 9
                self.at = 1
            tick()
            for i in range(2):
                self.at = i + unsigned(5)(10)
                tick()
            if self.now == 3:
                self.at = 20
                tick()
            else:
                self.at = 30
                tick()
            while self.now < 7:
                self.at = 40
                tick()
            self.at = 50
            until(False)

    assert Run(D, 20).done("at") == [(0, 1), (1, 10), (2, 11), (3, 20), (4, 40), (7, 50)]


def test_next_turn_is_the_next_tick():
    class D(Marked):
        @sequenced
        def go(self):
            self.at = self.at + 1

    assert Run(D, 5).done("at") == [(0, 1), (1, 2), (2, 3), (3, 4)]


def test_register_write_is_seen_one_tick_later_and_warned_about():
    class D(Marked):
        a = Reg(unsigned(8))
        b = Reg(unsigned(8))

        @sequenced
        def go(self):
            self.a = 5
            self.b = self.a
            tick()
            self.b = self.a
            until(False)

    run = Run(D, 5)
    assert run.done("a") == [(0, 5)]
    assert run.done("b") == [(1, 5)]
    ((loc, text),) = run.netlist.warnings
    assert loc.text.strip() == "self.b = self.a"
    assert f"line {loc.line - 1} writes it" in text


def test_host_write_arrives_at_a_tick_edge():
    class D(Marked):
        limit = HostReg(unsigned(8), reset=3)
        copy = Reg(unsigned(8))

        @clocked
        def go(self):
            self.copy = self.limit

    run = Run(D, 10, [(4, "limit.write", 1), (4, "limit.data", 77)])
    assert run.seen("limit") == [(0, 3), (5, 77)]
    assert run.seen("copy") == [(0, 0), (1, 3), (6, 77)]


def test_digital_input_is_seen_after_its_synchronisers():
    class D(Marked):
        plain = DigitalIn("a", sync=0)
        two = DigitalIn("b")
        three = DigitalIn("c", unsigned(4), sync=3)
        lamps = DigitalOut("lamps", unsigned(6))

        @clocked
        def go(self):
            from_here = cat(self.plain, self.two, self.three)
            self.lamps = from_here

    run = Run(D, 12, [(3, "plain", 1), (3, "two", 1), (3, "three", 9)])
    assert run.done("lamps") == [(3, 32), (5, 48), (6, 57)]


def test_analog_input_in_a_clocked_loop():
    class D(Marked):
        level = AnalogIn("probe", unsigned(8))

        @clocked
        def go(self):
            if self.level.valid:
                self.at = self.level.value

    run = Run(D, 12, [(3, "level.valid", 1), (3, "level.value", 40), (5, "level.value", 41), (7, "level.valid", 1)])
    assert run.done("at") == [(3, 40), (7, 41)]
    assert "level.missed" not in run.recorded


def test_analog_output_like_a_register():
    class D(Marked):
        drive = AnalogOut("fan")
        taken = Reg(unsigned(8))

        @clocked
        def go(self):
            self.drive = -3
            if self.drive.ready:
                self.taken = self.taken + 1

    run = Run(D, 12, [(3, "drive.ready", 1), (9, "drive.ready", 1)])
    assert run.seen("drive") == [(0, 0), (1, -3)]
    assert run.done("taken") == [(3, 1), (9, 2)]
