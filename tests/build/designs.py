"""Small designs for the tests of builds."""

from __future__ import annotations

from simkit import (
    AnalogIn,
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Ram,
    Reg,
    Regs,
    bits,
    clocked,
    resize,
    sequenced,
    signed,
    unsigned,
)


class Chain(Design):
    """Multiply, add and compare in one tick, at 150 MHz: too much."""

    clock = Clock(150_000_000)
    a = HostReg(signed(18))
    b = HostReg(signed(18))
    offset = HostReg(signed(36))
    limit = HostReg(signed(37))
    over = DigitalOut("lamp")
    x = Reg(signed(18))
    y = Reg(signed(18))

    @clocked
    def work(self):
        self.x = self.a
        self.y = self.b
        product = self.x * self.y
        total = resize(product, signed(37)) + resize(self.offset, signed(37))
        self.over = total > self.limit


class Piped(Chain):
    """The same with one register behind the multiplier."""

    p = Reg(signed(36))

    @clocked
    def work(self):
        self.x = self.a
        self.y = self.b
        self.p = self.x * self.y
        total = resize(self.p, signed(37)) + resize(self.offset, signed(37))
        self.over = total > self.limit


class Small(Design):
    """A few registers, a line in and a line out, and two numbers for the host."""

    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    step = HostReg(unsigned(4), reset=3)
    seen = HostReg(unsigned(12), access="ro")

    @clocked
    def run(self):
        if self.switch:
            self.seen = self.seen + self.step
        self.lamp = bits(self.seen, 11, 11) == 1


class TooMuchMemory(Design):
    """More memory than the chip has."""

    accel = AnalogIn("fan A bearing")
    samples = Ram(signed(24), 65_536)
    place = Reg(unsigned(16))
    out = HostReg(signed(24), access="ro")

    @sequenced
    def run(self):
        a = self.accel.read()
        self.samples[self.place] = a
        self.place = self.place + 1
        self.out = self.samples.read(self.place)


class TooManyMultipliers(Design):
    """A product in each tick more than the chip has multipliers."""

    x = Regs(signed(18), 30)
    out = HostReg(signed(36), access="ro")
    at = HostReg(signed(18))

    @clocked
    def run(self):
        total: signed(36) = 0
        for i in range(29):
            self.x[i] = self.x[i + 1]
            total = total ^ (self.x[i] * self.x[i + 1])
        self.x[29] = self.at
        self.out = total


class TooManyPins(Design):
    """A bundle of lines wider than the package."""

    lines = DigitalOut("lamps", unsigned(240))

    @clocked
    def run(self):
        self.lines = self.lines + 1
