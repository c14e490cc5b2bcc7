"""Filters and controllers as the labs use them."""

from __future__ import annotations

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    HostReg,
    Ram,
    Reg,
    Regs,
    Rom,
    clocked,
    const,
    resize,
    sequenced,
    sfixed,
    signed,
    ufixed,
    unsigned,
    us,
)


class MovingAverage(Design):
    """Mean of the last n samples by add and subtract, the samples in block RAM."""

    accel = AnalogIn("fan A bearing")
    mean = HostReg(signed(24), access="ro")
    total = Reg(signed(34))

    def __init__(self, n: int) -> None:
        self.n = n
        self.shift = n.bit_length() - 1
        self.store = Ram(signed(24), n)
        self.place = Reg(unsigned(self.shift))

    @sequenced
    def run(self):
        a = self.accel.read()
        oldest = self.store.read(self.place)
        self.store[self.place] = a
        self.place = self.place + 1
        total = self.total + a - oldest
        self.total = total
        self.mean = resize(total >> self.shift, signed(24))


class Fir(Design):
    """All taps in one tick: a multiplier each."""

    accel = AnalogIn("fan A bearing", signed(16))
    out = HostReg(signed(36), access="ro")

    def __init__(self, taps: int) -> None:
        self.taps = taps
        self.x = Regs(signed(16), taps)

    @clocked
    def run(self):
        if self.accel.valid:
            self.x[0] = self.accel.value
            for i in range(1, self.taps):
                self.x[i] = self.x[i - 1]
        total = signed(36)(0)
        for i in range(self.taps):
            total = total + self.x[i] * signed(12)(101 * (i + 1) - 350)
        self.out = total


class SerialFir(Design):
    """One multiplier takes turns over 16 taps; coefficients in a memory."""

    accel = AnalogIn("fan B bearing", signed(16))
    out = HostReg(signed(36), access="ro")
    total = Reg(signed(36))
    x = Ram(signed(16), 16)
    k = Rom(signed(16), [(-1) ** i * (i * 37 + 5) for i in range(16)])
    newest = Reg(unsigned(4))

    @sequenced
    def run(self):
        a = self.accel.read()
        self.x[self.newest] = a
        self.total = 0
        for i in range(16):
            k = self.k.read(unsigned(4)(i))
            x = self.x.read(self.newest - i)
            self.total = self.total + k * x
        self.out = self.total
        self.newest = self.newest + 1


class FirstOrder(Design):
    """y moves to x by a power of two of the difference."""

    accel = AnalogIn("plenum air")
    out = HostReg(signed(24), access="ro")
    y = Reg(signed(32))

    @clocked
    def run(self):
        if self.accel.valid:
            self.y = self.y + self.accel.value - (self.y >> 8)
        self.out = resize(self.y >> 8, signed(24))


class Biquad(Design):
    """A second-order section in fixed point, one tick a sample."""

    accel = AnalogIn("fan A bearing", signed(18))
    out = HostReg(sfixed(3, -14), access="ro")
    x1 = Reg(sfixed(3, -14))
    x2 = Reg(sfixed(3, -14))
    y1 = Reg(sfixed(3, -14))
    y2 = Reg(sfixed(3, -14))

    @clocked
    def run(self):
        x = resize(sfixed(17, 0)(self.accel.value), sfixed(3, -14))
        if self.accel.valid:
            y = (
                x * const(0.0625, sfixed(1, -14))
                + self.x1 * const(0.125, sfixed(1, -14))
                + self.x2 * const(0.0625, sfixed(1, -14))
                + self.y1 * const(1.125, sfixed(1, -14))
                - self.y2 * const(0.40625, sfixed(1, -14))
            )
            self.x1 = x
            self.x2 = self.x1
            self.y1 = resize(y, sfixed(3, -14))
            self.y2 = self.y1
        self.out = self.y1


class Controller(Design):
    """Proportional-integral control of a fan's speed with limits, twenty microseconds a turn."""

    speed = AnalogIn("fan A speed feedback", signed(16))
    drive = AnalogOut("fan A speed")
    wanted = HostReg(signed(16), reset=1000)
    kp = HostReg(signed(16), reset=50)
    ki = HostReg(signed(16), reset=7)
    integral = Reg(signed(32))

    @sequenced(every=us(20))
    def run(self):
        s = self.speed.read()
        e = resize(self.wanted, signed(17)) - s
        p = e * self.kp
        self.integral = resize(resize(self.integral, signed(34)) + e * self.ki, signed(32), overflow="saturate")
        u = resize(p, signed(34)) + self.integral
        self.drive = resize(u >> 8, signed(16), overflow="saturate")


class Cic(Design):
    """A decimating filter of three integrators and three combs."""

    accel = AnalogIn("fan A bearing", signed(16))
    out = HostReg(signed(40), access="ro")
    phase = Reg(unsigned(5))

    def __init__(self) -> None:
        self.i = Regs(signed(40), 3)
        self.c = Regs(signed(40), 3)

    @clocked
    def run(self):
        if self.accel.valid:
            self.i[0] = self.i[0] + self.accel.value
            self.i[1] = self.i[1] + self.i[0]
            self.i[2] = self.i[2] + self.i[1]
            self.phase = self.phase + 1
            if self.phase == 31:
                a = self.i[2] - self.c[0]
                b = a - self.c[1]
                self.c[0] = self.i[2]
                self.c[1] = a
                self.c[2] = b
                self.out = b - self.c[2]


class Level(Design):
    """Mean square with a hold counter and a trip, as a vibration guard uses it."""

    accel = AnalogIn("fan B bearing")
    limit = HostReg(ufixed(15, 0), reset=900)
    mean = Reg(unsigned(48))
    over = Reg(unsigned(12))
    trip = HostReg(unsigned(1), access="ro")

    @sequenced
    def run(self):
        a = self.accel.read()
        square = a * a
        self.mean = self.mean - (self.mean >> 10) + unsigned(48)(square)
        if (self.mean >> 26) <= unsigned(16)(self.limit):
            self.over = 0
        elif self.over < 2560:
            self.over = self.over + 1
        self.trip = unsigned(1)(self.over >= 2560)


class Polynomial(Design):
    """A cubic by Horner's rule, one multiplier a step."""

    raw = AnalogIn("plenum air", signed(18))
    out = HostReg(signed(18), access="ro")

    @sequenced
    def run(self):
        x = self.raw.read()
        y = signed(18)(37)
        for k in (1201, -377, 59):
            y = resize(((y * x) >> 17) + k, signed(18))
        self.out = y


DESIGNS = {
    "moving average 256": lambda: MovingAverage(256),
    "moving average 1024": lambda: MovingAverage(1024),
    "fir 4": lambda: Fir(4),
    "fir 8": lambda: Fir(8),
    "serial fir": SerialFir,
    "first order": FirstOrder,
    "biquad": Biquad,
    "controller": Controller,
    "cic": Cic,
    "level": Level,
    "polynomial": Polynomial,
}
