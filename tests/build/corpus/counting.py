"""Counters, timers, pulse measurements: long carry chains, little else."""

from __future__ import annotations

from simkit import (
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Interrupt,
    Reg,
    Regs,
    bit,
    clocked,
    resize,
    sequenced,
    unsigned,
    us,
    wait,
)


class Blink(Design):
    """Turns a lamp on and off; n bits of counter."""

    lamp = DigitalOut("lamp")

    def __init__(self, width: int, limit: int) -> None:
        self.limit = limit
        self.count = Reg(unsigned(width))

    @clocked
    def run(self):
        if self.count == self.limit:
            self.count = 0
            self.lamp = not self.lamp
        else:
            self.count = self.count + 1


class Counters(Design):
    """n free-running counters side by side."""

    total = HostReg(unsigned(16), access="ro")

    def __init__(self, n: int, width: int) -> None:
        self.counts = Regs(unsigned(width), n)
        self.n = n

    @clocked
    def run(self):
        for i in range(self.n):
            self.counts[i] = self.counts[i] + (i + 1)
        self.total = resize(self.counts[0] ^ self.counts[self.n - 1], unsigned(16))


class Pwm(Design):
    """Pulse-width modulation with a period and an on-time that the host sets."""

    on_time = HostReg(unsigned(12), reset=100)
    period = HostReg(unsigned(12), reset=1000)
    fan = DigitalOut("fan A enable")
    phase = Reg(unsigned(12))

    @clocked
    def run(self):
        self.phase = 0 if self.phase >= self.period else self.phase + 1
        self.fan = self.phase < self.on_time


class Tacho(Design):
    """Measures the time between two pulses and counts the pulses."""

    pulse = DigitalIn("fan A pulse")
    period = HostReg(unsigned(32), access="ro")
    turns = HostReg(unsigned(32), access="ro")
    since = Reg(unsigned(32))
    before = Reg(bit)

    @clocked
    def run(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.period = self.since
            self.turns = self.turns + 1
            self.since = 1
        else:
            self.since = self.since + 1


class Debounce(Design):
    """A switch counts as changed when it has been steady for a while."""

    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    steady = Reg(unsigned(16))

    @clocked
    def run(self):
        if self.switch == self.lamp:
            self.steady = 0
        elif self.steady == 39_999:
            self.lamp = self.switch
            self.steady = 0
        else:
            self.steady = self.steady + 1


class Watchdog(Design):
    """Trips unless the host writes in time; the trip stays until the host clears it."""

    alive = HostReg(unsigned(8))
    clear = HostReg(bit)
    trip = DigitalOut("fan B trip")
    alarm = Interrupt()
    left = Reg(unsigned(24), reset=4_000_000)
    last = Reg(unsigned(8))

    @clocked
    def run(self):
        self.last = self.alive
        if self.alive != self.last:
            self.left = 4_000_000
        elif self.left > 0:
            self.left = self.left - 1
        else:
            self.alarm.request()
        self.trip = self.left == 0 and not self.clear


class Paced(Design):
    """Three loops of different periods, each with a wait."""

    a = DigitalOut("lamp")
    b = DigitalOut("lamp 2")
    c = DigitalOut("lamp 3")

    @sequenced(every=us(20))
    def first(self):
        self.a = 1
        wait(us(5))
        self.a = 0

    @sequenced(every=us(100))
    def second(self):
        self.b = 1
        wait(us(10))
        self.b = 0

    @sequenced(every=1024)
    def third(self):
        self.c = not self.c
        wait(77)


class Quadrature(Design):
    """Position from two lines in quadrature, with a count of steps that skipped a state."""

    line_a = DigitalIn("encoder A")
    line_b = DigitalIn("encoder B")
    position = HostReg(unsigned(24), access="ro")
    errors = HostReg(unsigned(16), access="ro")
    old_a = Reg(bit)
    old_b = Reg(bit)

    @clocked
    def run(self):
        self.old_a = self.line_a
        self.old_b = self.line_b
        moved_a = self.line_a ^ self.old_a
        moved_b = self.line_b ^ self.old_b
        if moved_a and moved_b:
            self.errors = self.errors + 1
        elif moved_a or moved_b:
            self.position = self.position + 1 if self.line_a ^ self.old_b else self.position - 1


class Gray(Design):
    """A counter and its Gray code, and the way back."""

    back = HostReg(unsigned(16), access="ro")
    count = Reg(unsigned(16))
    gray = Reg(unsigned(16))

    @clocked
    def run(self):
        self.count = self.count + 1
        self.gray = self.count ^ (self.count >> 1)
        a = self.gray ^ (self.gray >> 8)
        b = a ^ (a >> 4)
        c = b ^ (b >> 2)
        self.back = c ^ (c >> 1)


class Fast(Design):
    """A narrow counter asked to run fast."""

    clock = Clock(200_000_000)
    lamp = DigitalOut("lamp")
    count = Reg(unsigned(10))

    @clocked
    def run(self):
        self.count = self.count + 3
        self.lamp = self.count > 700


DESIGNS = {
    "blink 8": lambda: Blink(8, 199),
    "blink 27": lambda: Blink(27, 39_999_999),
    "counters 4 x 16": lambda: Counters(4, 16),
    "counters 12 x 24": lambda: Counters(12, 24),
    "pwm": Pwm,
    "tacho": Tacho,
    "debounce": Debounce,
    "watchdog": Watchdog,
    "paced": Paced,
    "quadrature": Quadrature,
    "gray": Gray,
    "fast": Fast,
}
