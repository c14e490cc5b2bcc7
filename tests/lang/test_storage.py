"""Registers, locals, memories, host registers, streams, interrupts, parameters and sub-designs, in both engines."""

from __future__ import annotations

import pytest

from simkit import (
    Design,
    DigitalOut,
    HardwareError,
    HostReg,
    HostStream,
    Interrupt,
    Ram,
    Reg,
    Regs,
    Rom,
    bit,
    bits,
    clocked,
    compile_design,
    operation,
    resize,
    sequenced,
    sfixed,
    signed,
    tick,
    ufixed,
    unsigned,
    until,
    wait,
)
from tests.lang.running import Run


class Counting(Design):
    now = Reg(unsigned(16))

    @clocked
    def count(self):
        self.now = self.now + 1


def test_reset_values():
    class D(Design):
        a = Reg(unsigned(8), reset=7)
        b = Reg(signed(8), -3)
        c = Reg(sfixed(3, -4), 1.25)
        d = Reg(bit, 1)
        lamp = DigitalOut("lamp", reset=1)
        limit = HostReg(ufixed(3, -2), reset=2.5)

        @clocked
        def go(self):
            pass

    run = Run(D, 2)
    assert [run.at(name, 0) for name in ("a", "b", "c", "d", "lamp", "limit")] == [7, -3, 20, 1, 1, 10]


def test_registers_swap():
    class D(Design):
        a = Reg(unsigned(8), 1)
        b = Reg(unsigned(8), 2)

        @clocked
        def go(self):
            self.a, self.b = self.b, self.a

    run = Run(D, 4)
    assert (run.values("a"), run.values("b")) == ([1, 2, 1, 2], [2, 1, 2, 1])


def test_a_local_is_a_wire_and_keeps_what_the_register_was():
    class D(Design):
        a = Reg(unsigned(8), 1)
        b = Reg(unsigned(8))

        @clocked
        def go(self):
            old = self.a
            self.a = old + 1
            old = old + 100
            self.b = old

    run = Run(D, 4)
    assert (run.values("a"), run.values("b")) == ([1, 2, 3, 4], [0, 101, 102, 103])
    assert not run.netlist.warnings


def test_last_assignment_of_a_tick_wins():
    class D(Counting):
        a = Reg(unsigned(8))

        @clocked
        def go(self):
            self.a = 1
            if self.now[0]:
                self.a = 2
            elif self.now == 4:
                self.a = 3

    assert Run(D, 8).values("a") == [0, 1, 2, 1, 2, 3, 2, 1]


def test_a_local_lives_across_ticks_in_a_register():
    class D(Counting):
        a = Reg(unsigned(16))

        @sequenced
        def go(self):
            start = self.now
            wait(4)
            self.a = self.now - start + 1000
            start = start + 1
            tick()
            self.a = start

    run = Run(D, 12)
    assert run.done("a") == [(4, 1004), (5, 1), (10, 1004)]
    assert {reg.name: reg.kind for reg in run.netlist.regs}["go.start"] == "local"


def test_a_local_may_differ_in_type_from_tick_to_tick():
    class D(Counting):
        a = Reg(unsigned(16))

        @sequenced
        def go(self):
            v = bits(self.now, 3, 0)
            tick()
            self.a = v
            v = self.now + 500
            tick()
            self.a = v
            until(False)

    assert Run(D, 6).done("a") == [(2, 501)]


def test_a_typed_local():
    class D(Counting):
        a = Reg(unsigned(8))

        @sequenced
        def go(self):
            n: unsigned(8) = 0
            while n < 3:
                n = n + 1
                tick()
            self.a = n
            until(False)

    assert Run(D, 9).done("a") == [(3, 3)]


def test_an_untyped_number_that_changes_across_ticks_is_refused():
    class D(Counting):
        a = Reg(unsigned(8))

        @sequenced
        def go(self):
            n = 0
            while n < 3:
                n = n + 1
                tick()
            self.a = n

    with pytest.raises(HardwareError, match="Give it a type where it starts: n: unsigned"):
        compile_design(D)


def test_regs_by_constant_and_by_signal():
    class D(Counting):
        taps = Regs(unsigned(8), 5, reset=[1, 2, 3, 4, 5])
        picked = Reg(unsigned(8))

        @clocked
        def go(self):
            i = bits(self.now, 2, 0)
            self.taps[i] = 10 + resize(i, unsigned(8))
            self.picked = self.taps[i]

    run = Run(D, 12)
    # elements 5, 6 and 7 do not exist: reading gives 0, writing does nothing
    assert run.values("picked") == [0, 1, 2, 3, 4, 5, 0, 0, 0, 10, 11, 12]
    assert [run.at(f"taps[{i}]", 11) for i in range(5)] == [10, 11, 12, 13, 14]


def test_shift_register_unrolled():
    class D(Counting):
        taps = Regs(unsigned(16), 4)
        total = Reg(unsigned(16))

        @clocked
        def go(self):
            self.taps[0] = self.now
            for i in range(1, len(self.taps)):
                self.taps[i] = self.taps[i - 1]
            self.total = sum(tap for tap in self.taps)

    run = Run(D, 9)
    assert run.values("taps[3]") == [0, 0, 0, 0, 0, 1, 2, 3, 4]
    assert run.at("total", 8) == 6 + 5 + 4 + 3


def test_ram_in_a_clocked_loop_by_request_and_word():
    class D(Counting):
        store = Ram(unsigned(16), 8)
        out = Reg(unsigned(16))

        @clocked
        def go(self):
            i = bits(self.now, 2, 0)
            self.store[i] = self.now
            self.store.request(i)
            self.out = self.store.word

    run = Run(D, 24)
    # request in tick t gives the old word (written in t - 8) in t + 1, assigned then, seen in t + 2
    assert run.values("out")[10:] == [t - 10 for t in range(10, 24)]


def test_ram_word_holds_without_a_request():
    class D(Counting):
        table = Rom(unsigned(8), [5, 6, 7, 8])
        out = Reg(unsigned(8))

        @clocked
        def go(self):
            if self.now == 2 or self.now == 5:
                self.table.request(bits(self.now, 1, 0))
            self.out = self.table.word

    assert Run(D, 9).values("out") == [0, 0, 0, 0, 7, 7, 7, 6, 6]


def test_two_loops_read_one_memory():
    class D(Counting):
        table = Rom(unsigned(8), [5, 6, 7, 8])
        a = Reg(unsigned(8))
        b = Reg(unsigned(8))

        @sequenced
        def one(self):
            v = self.table.read(bits(self.now, 1, 0))
            self.a = v

        @sequenced
        def two(self):
            wait(3)
            v = self.table.read(3)
            self.b = v
            until(False)

    run = Run(D, 9)
    assert run.values("a") == [0, 0, 5, 5, 7, 7, 5, 5, 7]
    assert run.done("b") == [(4, 8)]


def test_rom_with_fixed_point_values():
    class D(Design):
        table = Rom(sfixed(1, -4), [0.5, -1.25, 1.9375])
        out = Reg(sfixed(1, -4))

        @sequenced
        def go(self):
            for i in range(3):
                self.out = self.table_at(i)

        @operation
        def table_at(self, i):
            v = self.table.read(i)
            return v

    assert Run(D, 5).done("out") == [(1, 8), (2, -20), (3, 31)]


def test_host_register_read_only():
    class D(Counting):
        level = HostReg(unsigned(16), access="ro")

        @clocked
        def go(self):
            self.level = self.now + 5

    run = Run(D, 5)
    assert run.values("level") == [0, 5, 6, 7, 8]
    end = next(e for e in run.netlist.endpoints if e.name == "level")
    assert (end.kind, end.options["access"], end.ports) == ("host_reg", "ro", {"value": "level"})


def test_stream_to_the_host_overflows_honestly():
    class D(Counting):
        log = HostStream(unsigned(16), 3, "to_host")
        lost = Reg(unsigned(8))

        @clocked
        def go(self):
            if self.now < 8 and not self.log.try_put(self.now):
                self.lost = self.lost + 1

    run = Run(
        D,
        20,
        [(5, "log.ready", 1), (12, "log.ready", 1), (14, "log.ready", 1), (15, "log.ready", 1), (17, "log.ready", 1)],
    )
    # words 0, 1, 2 fill it; 3, 4, 5 are lost (5: the host takes word 0 in that same tick, there is room in 6); 6 goes in; 7 is lost
    assert run.at("lost", 19) == 4
    assert run.at("log.overflow", 19) == 4
    taken = [run.at("log.data", t) for t in (5, 12, 14, 15)]
    assert taken == [0, 1, 2, 6]
    assert run.at("log.valid", 15) == 1
    assert run.at("log.valid", 16) == 0  # and nothing moves in 17


def test_stream_to_the_host_put_waits_and_loses_nothing():
    class D(Counting):
        log = HostStream(unsigned(16), 2, "to_host")
        given = Reg(unsigned(8))

        @sequenced
        def go(self):
            self.log.put(self.now)
            self.given = self.given + 1

    run = Run(D, 20, [(10, "log.ready", 1), (13, "log.ready", 1)])
    assert run.done("given") == [(1, 1), (3, 2), (12, 3), (15, 4)]
    assert run.at("log.overflow", 19) == 0


def test_stream_from_the_host():
    class D(Counting):
        orders = HostStream(signed(16), 2, "from_host")
        got = Reg(signed(16))

        @sequenced
        def go(self):
            v = self.orders.get()
            self.got = v
            wait(5)

    words = [
        e
        for t, v in ((1, 7), (3, -8), (4, 9), (5, 11), (6, 12))
        for e in ((t, "orders.valid", 1), (t, "orders.data", v))
    ]
    run = Run(D, 40, words)
    # 7 is taken in 2 and done in 3; -8 and 9 fill the queue; 11 and 12 are lost; then one every 7 ticks
    assert run.done("got") == [(3, 7), (10, -8), (17, 9)]
    assert run.at("orders.overflow", 39) == 2
    assert run.values("orders.ready")[3:11] == [1, 1, 0, 0, 0, 0, 0, 1]


def test_a_stream_that_runs_empty_is_counted():
    class D(Counting):
        orders = HostStream(signed(16), 4, "from_host")
        got = Reg(signed(16))

        @clocked
        def go(self):
            if self.now >= 2:
                v = self.orders.value
                if self.orders.try_get():
                    self.got = v

    words = [e for t, v in ((1, 7), (6, -8)) for e in ((t, "orders.valid", 1), (t, "orders.data", v))]
    run = Run(D, 12, words)
    # asked in ticks 2 to 11: there is a word in 2 and in 7, none in the eight others
    assert run.done("got") == [(2, 7), (7, -8)]
    assert run.at("orders.underflow", 11) == 7  # that of tick 11 is seen from tick 12 on
    assert run.at("orders.overflow", 11) == 0


def test_interrupt_stands_until_acknowledged():
    class D(Counting):
        alarm = Interrupt()
        lamp = DigitalOut("lamp")

        @clocked
        def go(self):
            if self.now == 3 or self.now == 9:
                self.alarm.request()
            self.lamp = self.alarm.pending

    run = Run(D, 16, [(7, "alarm.acknowledge", 1), (9, "alarm.acknowledge", 1)])
    # asked in 3: pending from 4; acknowledged in 7: gone in 8; asked and acknowledged in 9: the new request stands
    assert run.seen("alarm") == [(0, 0), (4, 1), (8, 0), (10, 1)]
    assert run.seen("lamp") == [(0, 0), (5, 1), (9, 0), (11, 1)]


# --- building blocks ---
