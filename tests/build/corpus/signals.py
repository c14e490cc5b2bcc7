"""Several small loops side by side, triggers, crossings, host traffic: like whole labs."""

from __future__ import annotations

from simkit import (
    AnalogIn,
    AnalogOut,
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    Handshake,
    HostReg,
    HostStream,
    Reg,
    Synchronizer,
    bit,
    bits,
    clocked,
    operation,
    resize,
    sequenced,
    signed,
    unsigned,
)


class Trigger(Design):
    """Starts a record when a level is crossed upwards, with a hold-off."""

    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(24), reset=1000)
    length = HostReg(unsigned(12), reset=500)
    log = HostStream(signed(24), 2048, "to_host")
    left = Reg(unsigned(12))
    below = Reg(bit)

    @sequenced
    def run(self):
        a = self.accel.read()
        if self.left != 0:
            self.left = self.left - 1
            self.log.put(a)
        elif self.below and a > self.level:
            self.left = self.length
        self.below = a < self.level


class Peak(Design):
    """Follows the peaks of one channel."""

    def __init__(self) -> None:
        self.high = Reg(signed(24))
        self.low = Reg(signed(24))

    @operation
    def step(self, a):
        self.high = a if a > self.high else self.high - 1
        self.low = a if a < self.low else self.low + 1
        return resize(self.high, signed(25)) - self.low


class Peaks(Design):
    """One block, two channels."""

    a = AnalogIn("fan A bearing")
    b = AnalogIn("fan B bearing")
    span_a = HostReg(signed(25), access="ro")
    span_b = HostReg(signed(25), access="ro")

    def __init__(self) -> None:
        self.peak_a = Peak()
        self.peak_b = Peak()

    @sequenced
    def run_a(self):
        a = self.a.read()
        self.span_a = self.peak_a.step(a)

    @sequenced
    def run_b(self):
        b = self.b.read()
        self.span_b = self.peak_b.step(b)


class Crossing(Design):
    """A bit and a value carried between two clocks."""

    slow = Clock(10_000_000)
    door = DigitalIn("door")
    lamp = DigitalOut("lamp")
    out = HostReg(unsigned(16), access="ro")
    closed = Synchronizer()
    value = Handshake(unsigned(16))
    count = Reg(unsigned(16))

    @clocked
    def here(self):
        self.closed = self.door
        if self.value.try_put(self.count):
            self.count = self.count + 5

    @clocked(clock=slow)
    def there(self):
        self.lamp = self.closed
        if self.value.try_get():
            self.out = self.value.value


class Ramp(Design):
    """A speed command that moves slowly to what the host wants, with a dead band and a trip."""

    wanted = HostReg(signed(16))
    rate = HostReg(unsigned(8), reset=3)
    drive = AnalogOut("fan A speed")
    stop = DigitalIn("stop")
    busy = DigitalOut("lamp")
    now = Reg(signed(16))

    @sequenced(every=4000)
    def run(self):
        gap = resize(self.wanted, signed(17)) - self.now
        step = resize(signed(9)(self.rate), signed(17))
        if self.stop:
            self.now = 0
        elif gap > step:
            self.now = resize(self.now + step, signed(16), overflow="saturate")
        elif gap < -step:
            self.now = resize(self.now - step, signed(16), overflow="saturate")
        self.busy = gap != 0
        self.drive = self.now


class Registers(Design):
    """A block of host registers with a checksum of them all."""

    check = HostReg(unsigned(16), access="ro")

    def __init__(self, n: int) -> None:
        self.n = n
        self.r = [HostReg(unsigned(16), reset=i) for i in range(n)]

    @clocked
    def run(self):
        c = unsigned(16)(0xFFFF)
        for i in range(self.n):
            c = (c ^ self.r[i]) + (c << 3)
        self.check = c


class Monitor(Design):
    """Tacho, level and trip together: a small machine monitor."""

    accel = AnalogIn("fan B bearing")
    pulse = DigitalIn("fan B pulse")
    limit = HostReg(unsigned(32), reset=90_000)
    trip = DigitalOut("fan B trip")
    period = HostReg(unsigned(28), access="ro")
    level = HostReg(unsigned(48), access="ro")
    log = HostStream(unsigned(32), 512, "to_host")
    since = Reg(unsigned(28))
    before = Reg(bit)
    mean = Reg(unsigned(48))
    over = Reg(unsigned(16))

    @clocked
    def tacho(self):
        self.before = self.pulse
        self.since = 1 if self.pulse and not self.before else self.since + 1
        if self.pulse and not self.before:
            self.period = self.since

    @sequenced
    def watch(self):
        a = self.accel.read()
        square = unsigned(48)(a * a)
        self.mean = self.mean - (self.mean >> 8) + square
        self.level = self.mean
        if bits(self.mean, 47, 16) <= self.limit:
            self.over = 0
        elif self.over < 2560:
            self.over = self.over + 1
        self.log.put(bits(self.mean, 47, 16))

    @clocked
    def guard(self):
        self.trip = self.over >= 2560


DESIGNS = {
    "trigger": Trigger,
    "peaks": Peaks,
    "crossing": Crossing,
    "ramp": Ramp,
    "registers 6": lambda: Registers(6),
    "monitor": Monitor,
}
