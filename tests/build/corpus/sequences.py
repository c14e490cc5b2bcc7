"""Sequenced loops: state machines with data."""

from __future__ import annotations

from simkit import (
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Reg,
    bits,
    cat,
    resize,
    sequenced,
    tick,
    unsigned,
    until,
    wait,
)


class Divider(Design):
    """Division, one bit a tick."""

    a = HostReg(unsigned(24))
    b = HostReg(unsigned(24), reset=1)
    quotient = HostReg(unsigned(24), access="ro")
    rest = HostReg(unsigned(24), access="ro")
    q = Reg(unsigned(24))
    r = Reg(unsigned(25))

    @sequenced
    def run(self):
        self.q = self.a
        self.r = 0
        for _ in range(24):
            tick()
            shifted = cat(bits(self.r, 23, 0), bits(self.q, 23, 23))
            fits = shifted >= self.b
            self.r = shifted - self.b if fits else shifted
            self.q = cat(bits(self.q, 22, 0), unsigned(1)(fits))
        tick()
        self.quotient = self.q
        self.rest = resize(self.r, unsigned(24))


class Root(Design):
    """Square root, two bits a tick."""

    x = HostReg(unsigned(32))
    root = HostReg(unsigned(16), access="ro")
    rest = Reg(unsigned(32))
    y = Reg(unsigned(32))
    one = Reg(unsigned(32))

    @sequenced
    def run(self):
        self.rest = self.x
        self.y = 0
        self.one = 1 << 30
        for _ in range(16):
            tick()
            t = self.y + self.one
            if self.rest >= t:
                self.rest = self.rest - t
                self.y = (self.y >> 1) + self.one
            else:
                self.y = self.y >> 1
            self.one = self.one >> 2
        tick()
        self.root = resize(self.y, unsigned(16))


class Sender(Design):
    """Eight bits, a start bit and a stop bit on a line."""

    word = HostReg(unsigned(8), reset=0x55)
    line = DigitalOut("serial line", reset=1)
    shift = Reg(unsigned(8))

    @sequenced(every=8000)
    def run(self):
        self.line = 0
        self.shift = self.word
        wait(347)
        for _ in range(8):
            self.line = bits(self.shift, 0, 0) == 1
            self.shift = self.shift >> 1
            wait(347)
        self.line = 1
        wait(347)


class Receiver(Design):
    """Takes eight bits from a line, in the middle of each."""

    line = DigitalIn("serial line")
    word = HostReg(unsigned(8), access="ro")
    good = HostReg(unsigned(16), access="ro")
    shift = Reg(unsigned(8))

    @sequenced
    def run(self):
        until(not self.line)
        wait(520)
        for _ in range(8):
            self.shift = cat(unsigned(1)(self.line), bits(self.shift, 7, 1))
            wait(347)
        if self.line:
            self.word = self.shift
            self.good = self.good + 1


class StartUp(Design):
    """Starts the fans in order, with checks and a way back."""

    go = DigitalIn("start")
    air = DigitalIn("air flow")
    fan_a = DigitalOut("fan A enable")
    fan_b = DigitalOut("fan B enable")
    burner = DigitalOut("burner enable")
    fault = DigitalOut("lamp")
    tries = Reg(unsigned(4))

    @sequenced
    def run(self):
        until(self.go)
        self.fan_a = 1
        wait(40_000)
        self.fan_b = 1
        wait(40_000)
        if self.air:
            self.burner = 1
            until(not self.go or not self.air)
            self.burner = 0
            wait(80_000)
        else:
            self.tries = self.tries + 1
            if self.tries == 3:
                self.fault = 1
                until(False)
        self.fan_a = 0
        self.fan_b = 0
        tick()


class Long(Design):
    """A sequence of many steps that each do something else."""

    out = HostReg(unsigned(16), access="ro")
    x = Reg(unsigned(16), reset=1)
    y = Reg(unsigned(16), reset=2)

    @sequenced
    def run(self):
        self.x = self.x + 3
        tick()
        self.y = self.y ^ self.x
        tick()
        self.x = self.x - self.y
        tick()
        if self.x > 1000:
            self.y = self.y + 7
            tick()
            self.x = self.x >> 1
        tick()
        while self.y > 40_000:
            self.y = self.y - 999
            tick()
        self.out = self.x + self.y
        wait(3)
        self.x = self.out
        tick()


class Search(Design):
    """Successive approximation of a root of the host's number."""

    x = HostReg(unsigned(24))
    root = HostReg(unsigned(12), access="ro")
    guess = Reg(unsigned(12))
    mask = Reg(unsigned(12))

    @sequenced
    def run(self):
        self.guess = 0
        self.mask = 1 << 11
        for _ in range(12):
            tick()
            new = self.guess | self.mask
            if new * new <= self.x:
                self.guess = new
            self.mask = self.mask >> 1
        tick()
        self.root = self.guess


DESIGNS = {
    "divider": Divider,
    "root": Root,
    "sender": Sender,
    "receiver": Receiver,
    "start up": StartUp,
    "long": Long,
    "search": Search,
}
