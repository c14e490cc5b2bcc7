"""Memories, queues and streams."""

from __future__ import annotations

from simkit import (
    AnalogIn,
    Clock,
    Design,
    DigitalOut,
    Fifo,
    HostReg,
    HostStream,
    Ram,
    Reg,
    Rom,
    bits,
    clocked,
    sequenced,
    signed,
    unsigned,
)


class Sine(Design):
    """A table of n values read out at a rate that the host sets."""

    step = HostReg(unsigned(24), reset=4321)
    out = HostReg(signed(16), access="ro")
    phase = Reg(unsigned(24))

    def __init__(self, n: int) -> None:
        import math

        self.top = n.bit_length() - 1
        self.table = Rom(signed(16), [round(32767 * math.sin(2 * math.pi * i / n)) for i in range(n)])

    @sequenced
    def run(self):
        self.phase = self.phase + self.step
        self.out = self.table.read(bits(self.phase, 23, 24 - self.top))


class Histogram(Design):
    """Counts how often each level was seen."""

    accel = AnalogIn("fan A bearing")
    seen = HostReg(unsigned(24), access="ro")
    count = Ram(unsigned(24), 512)

    @sequenced
    def run(self):
        a = self.accel.read()
        i = bits(a, 23, 15)
        n = self.count.read(i)
        self.count[i] = n + 1
        self.seen = n + 1


class Queue(Design):
    """A queue between two loops of one clock."""

    accel = AnalogIn("fan A bearing")
    out = HostReg(signed(24), access="ro")
    lost = HostReg(unsigned(16), access="ro")

    def __init__(self, depth: int) -> None:
        self.queue = Fifo(signed(24), depth)

    @clocked
    def give(self):
        if self.accel.valid:
            if not self.queue.try_put(self.accel.value):
                self.lost = self.lost + 1

    @sequenced(every=400)
    def take(self):
        self.out = self.queue.get()


class Log(Design):
    """Samples of two channels to the host, tagged."""

    a = AnalogIn("fan A bearing")
    b = AnalogIn("fan B bearing")
    log = HostStream(signed(24), 1024, "to_host")

    @sequenced
    def run(self):
        x = self.a.read()
        self.log.put(x)
        y = self.b.read()
        self.log.put(y)


class Player(Design):
    """Plays words from the host, one in each period."""

    words = HostStream(unsigned(16), 256, "from_host")
    out = HostReg(unsigned(16), access="ro")
    lamp = DigitalOut("lamp")

    @sequenced(every=1000)
    def run(self):
        w = self.words.get()
        self.out = w
        self.lamp = bits(w, 15, 15) == 1


class SmallRam(Design):
    """A memory of few words."""

    index = HostReg(unsigned(4))
    value = HostReg(unsigned(8))
    out = HostReg(unsigned(8), access="ro")
    store = Ram(unsigned(8), 16)

    @sequenced
    def run(self):
        self.store[self.index] = self.value
        self.out = self.store.read(self.index)


class BigRam(Design):
    """A memory over several blocks."""

    store = Ram(unsigned(18), 4096)
    sum = HostReg(unsigned(24), access="ro")
    place = Reg(unsigned(12))

    @sequenced
    def run(self):
        w = self.store.read(self.place)
        self.store[self.place] = w + 1
        self.sum = self.sum + w
        self.place = self.place + 1


class TwoClocks(Design):
    """A queue from a fast clock to the fabric clock."""

    fast = Clock(100_000_000)
    queue = Fifo(unsigned(16), 16)
    count = Reg(unsigned(16))
    out = HostReg(unsigned(16), access="ro")

    @clocked(clock=fast)
    def give(self):
        if self.queue.try_put(self.count):
            self.count = self.count + 1

    @sequenced
    def take(self):
        w = self.queue.get()
        self.out = w


DESIGNS = {
    "sine 1024": lambda: Sine(1024),
    "sine 64": lambda: Sine(64),
    "histogram": Histogram,
    "queue 16": lambda: Queue(16),
    "queue 512": lambda: Queue(512),
    "log": Log,
    "player": Player,
    "small ram": SmallRam,
    "big ram": BigRam,
    "two clocks": TwoClocks,
}
