"""Designs of the kinds that learners write: lamps, clocks, meters, guards, small machines."""

from __future__ import annotations

from collections.abc import Callable

from simkit import (
    AnalogIn,
    AnalogOut,
    Clock,
    Design,
    DigitalIn,
    DigitalOut,
    Fifo,
    HostReg,
    HostStream,
    Ram,
    Reg,
    Regs,
    Rom,
    bit,
    bits,
    cat,
    clocked,
    ms,
    resize,
    sequenced,
    signed,
    tick,
    unsigned,
    until,
    us,
    wait,
)


class DayClock(Design):
    """Seconds, minutes and hours from the fabric clock."""

    seconds = HostReg(unsigned(6), access="ro")
    minutes = HostReg(unsigned(6), access="ro")
    hours = HostReg(unsigned(5), access="ro")
    part = Reg(unsigned(26))

    @clocked
    def run(self):
        if self.part == 39_999_999:
            self.part = 0
            if self.seconds == 59:
                self.seconds = 0
                if self.minutes == 59:
                    self.minutes = 0
                    self.hours = 0 if self.hours == 23 else self.hours + 1
                else:
                    self.minutes = self.minutes + 1
            else:
                self.seconds = self.seconds + 1
        else:
            self.part = self.part + 1


class Lights(Design):
    """Which of four lamps is lit, as long as the host says."""

    long = HostReg(unsigned(24), reset=10_000_000)
    short = HostReg(unsigned(24), reset=2_000_000)
    lamps = DigitalOut("lamps", unsigned(4))

    @sequenced
    def run(self):
        self.lamps = 1
        wait(self.long)
        self.lamps = 3
        wait(self.short)
        self.lamps = 4
        wait(self.long)
        self.lamps = 8
        wait(self.short)


class Window(Design):
    """Is the level inside a window, how often was it outside, and for how long at most?"""

    accel = AnalogIn("fan A bearing")
    low = HostReg(signed(24), reset=-100_000)
    high = HostReg(signed(24), reset=100_000)
    outside = HostReg(unsigned(16), access="ro")
    longest = HostReg(unsigned(16), access="ro")
    now = Reg(unsigned(16))
    lamp = DigitalOut("lamp")

    @sequenced
    def run(self):
        a = self.accel.read()
        if a < self.low or a > self.high:
            self.outside = self.outside + 1
            self.now = self.now + 1
            self.lamp = 1
        else:
            if self.now > self.longest:
                self.longest = self.now
            self.now = 0
            self.lamp = 0


class Extremes(Design):
    """Smallest, largest and sum of blocks of 256 samples."""

    accel = AnalogIn("fan B bearing")
    smallest = HostReg(signed(24), access="ro")
    largest = HostReg(signed(24), access="ro")
    total = HostReg(signed(32), access="ro")
    count = Reg(unsigned(8))
    lo = Reg(signed(24))
    hi = Reg(signed(24))
    sum = Reg(signed(32))

    @sequenced
    def run(self):
        a = self.accel.read()
        if self.count == 0:
            self.smallest = self.lo
            self.largest = self.hi
            self.total = self.sum
            self.lo = a
            self.hi = a
            self.sum = resize(a, signed(32))
        else:
            self.lo = min(self.lo, a)
            self.hi = max(self.hi, a)
            self.sum = self.sum + resize(a, signed(32))
        self.count = self.count + 1


class Decimals(Design):
    """A counter in decimal digits, one digit shown at a time on seven segments."""

    pulse = DigitalIn("fan A pulse")
    segments = DigitalOut("segments", unsigned(7))
    digit = DigitalOut("digits", unsigned(4))
    before = Reg(bit)
    scan = Reg(unsigned(16))
    ones = Reg(unsigned(4))
    tens = Reg(unsigned(4))
    hundreds = Reg(unsigned(4))
    thousands = Reg(unsigned(4))
    shapes = Rom(unsigned(7), [63, 6, 91, 79, 102, 109, 125, 7, 127, 111, 0, 0, 0, 0, 0, 0])

    @clocked
    def count(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            self.ones = 0 if self.ones == 9 else self.ones + 1
            if self.ones == 9:
                self.tens = 0 if self.tens == 9 else self.tens + 1
                if self.tens == 9:
                    self.hundreds = 0 if self.hundreds == 9 else self.hundreds + 1
                    if self.hundreds == 9:
                        self.thousands = 0 if self.thousands == 9 else self.thousands + 1

    @sequenced(every=us(50))
    def show(self):
        self.scan = self.scan + 1
        which = bits(self.scan, 1, 0)
        shown = self.ones
        if which == 1:
            shown = self.tens
        elif which == 2:
            shown = self.hundreds
        elif which == 3:
            shown = self.thousands
        shape = self.shapes.read(shown)
        self.segments = shape
        self.digit = unsigned(4)(1) << which


class Ratio(Design):
    """On-time of a pulse in 1/256 of its period, by repeated subtraction."""

    pulse = DigitalIn("fan B pulse")
    part = HostReg(unsigned(8), access="ro")
    on = Reg(unsigned(20))
    whole = Reg(unsigned(20))
    rest = Reg(unsigned(28))
    times = Reg(unsigned(8))

    @sequenced
    def run(self):
        until(self.pulse)
        self.on = 0
        self.whole = 0
        while self.pulse:
            self.on = self.on + 1
            self.whole = self.whole + 1
            tick()
        while not self.pulse:
            self.whole = self.whole + 1
            tick()
        self.rest = cat(self.on, unsigned(8)(0))
        self.times = 0
        tick()
        while self.rest >= self.whole:
            self.rest = self.rest - self.whole
            self.times = self.times + 1
            tick()
        self.part = self.times


class Mixer(Design):
    """Three channels weighted by the host and added up."""

    a = HostReg(signed(16))
    b = HostReg(signed(16))
    c = HostReg(signed(16))
    weight_a = HostReg(signed(12))
    weight_b = HostReg(signed(12))
    weight_c = HostReg(signed(12))
    mixed = HostReg(signed(16), access="ro")
    total = Reg(signed(30))

    @clocked
    def run(self):
        kind = signed(30)
        self.total = (
            resize(self.a * self.weight_a, kind)
            + resize(self.b * self.weight_b, kind)
            + resize(self.c * self.weight_c, kind)
        )
        self.mixed = signed(16)(bits(self.total, 26, 11))


class Guard(Design):
    """Four conditions, each with its own hold-off, latched until the host clears them."""

    level = AnalogIn("fan B bearing")
    door = DigitalIn("door")
    flow = DigitalIn("air flow")
    limit = HostReg(signed(24), reset=900_000)
    clear = HostReg(bit)
    tripped = HostReg(unsigned(3), access="ro")
    relay = DigitalOut("fan B trip")
    high = Reg(unsigned(10))
    still = Reg(unsigned(22))
    loud = Reg(bit)
    open = Reg(bit)
    stopped = Reg(bit)

    @sequenced
    def watch(self):
        a = self.level.read()
        if abs(a) > resize(self.limit, signed(25)):
            if self.high < 1000:
                self.high = self.high + 1
        else:
            self.high = 0

    @clocked
    def trip(self):
        self.still = 0 if self.flow else (self.still + 1 if self.still < 4_000_000 else self.still)
        self.loud = (self.loud or self.high == 1000) and not self.clear
        self.open = (self.open or self.door) and not self.clear
        self.stopped = (self.stopped or self.still == 4_000_000) and not self.clear
        self.tripped = cat(self.loud, self.open, self.stopped)
        self.relay = self.loud or self.open or self.stopped


class Ramped(Design):
    """Follows a set point with a limited slope, every millisecond."""

    wanted = HostReg(signed(16))
    slope = HostReg(signed(16), reset=20)
    speed = AnalogOut("fan A speed")
    now = Reg(signed(17))

    @sequenced(every=ms(1))
    def run(self):
        gap = resize(self.wanted, signed(17)) - self.now
        most = resize(self.slope, signed(17))
        if gap > most:
            self.now = self.now + most
        elif gap < -most:
            self.now = self.now - most
        else:
            self.now = resize(self.wanted, signed(17))
        self.speed = resize(self.now, signed(16))


class Delay(Design):
    """A sample from up to 500 samples ago, and the difference to now."""

    accel = AnalogIn("fan A bearing")
    back = HostReg(unsigned(9), reset=100)
    change = HostReg(signed(25), access="ro")
    store = Ram(signed(24), 512)
    place = Reg(unsigned(9))

    @sequenced
    def run(self):
        a = self.accel.read()
        old = self.store.read(self.place - self.back)
        self.store[self.place] = a
        self.place = self.place + 1
        self.change = resize(a, signed(25)) - resize(old, signed(25))


class Matches(Design):
    """Finds a bit pattern in a serial line and counts how often."""

    line = DigitalIn("switch")
    pattern = HostReg(unsigned(12), reset=0xA5A)
    mask = HostReg(unsigned(12), reset=0xFFF)
    found = HostReg(unsigned(20), access="ro")
    seen = Reg(unsigned(12))

    @clocked
    def run(self):
        self.seen = cat(bits(self.seen, 10, 0), unsigned(1)(self.line))
        if (self.seen ^ self.pattern) & self.mask == 0:
            self.found = self.found + 1


class Lines(Design):
    """Eight counters, one chosen by the host, each counting its own line."""

    lines = DigitalIn("lines", unsigned(8))
    which = HostReg(unsigned(3))
    count = HostReg(unsigned(12), access="ro")
    before = Reg(unsigned(8))

    def __init__(self) -> None:
        self.counts = Regs(unsigned(12), 8)

    @clocked
    def run(self):
        self.before = self.lines
        for i in range(8):
            if bits(self.lines, i, i) == 1 and bits(self.before, i, i) == 0:
                self.counts[i] = self.counts[i] + 1
        self.count = self.counts[self.which]


class Stamped(Design):
    """Puts the time of every edge into a stream for the host."""

    pulse = DigitalIn("fan A pulse")
    edges = HostStream(unsigned(32), 64, "to_host")
    now = Reg(unsigned(31))
    before = Reg(bit)

    @clocked
    def run(self):
        self.now = self.now + 1
        self.before = self.pulse
        if self.pulse != self.before:
            self.edges.try_put(cat(self.now, unsigned(1)(self.pulse)))


class Staged(Design):
    """Square, scale and add, one step a tick, at 120 MHz."""

    clock = Clock(120_000_000)
    x = HostReg(signed(16))
    gain = HostReg(signed(16))
    y = HostReg(signed(33), access="ro")
    square = Reg(signed(32))
    scaled = Reg(signed(32))

    @clocked
    def run(self):
        self.square = self.x * self.x
        self.scaled = signed(16)(bits(self.square, 31, 16)) * self.gain
        self.y = resize(self.scaled, signed(33)) + resize(self.square, signed(33))


class Between(Design):
    """One loop measures, another sends; a queue of 32 words between them."""

    accel = AnalogIn("fan A bearing")
    out = DigitalOut("lamp")
    queue = Fifo(unsigned(8), 32)

    @sequenced
    def measure(self):
        a = self.accel.read()
        self.queue.put(unsigned(8)(bits(a, 23, 16)))

    @sequenced
    def send(self):
        word = self.queue.get()
        for _ in range(8):
            self.out = bits(word, 7, 7) == 1
            word = cat(bits(word, 6, 0), unsigned(1)(0))
            wait(100)


DESIGNS: dict[str, Callable[[], Design]] = {
    "day clock": DayClock,
    "lights": Lights,
    "window": Window,
    "extremes": Extremes,
    "decimals": Decimals,
    "ratio": Ratio,
    "mixer": Mixer,
    "guard": Guard,
    "ramped": Ramped,
    "delay": Delay,
    "matches": Matches,
    "lines": Lines,
    "stamped": Stamped,
    "staged": Staged,
    "between": Between,
}
