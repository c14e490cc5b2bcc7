"""The library's blocks, each between a channel and registers of the host."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from simkit import AnalogIn, Design, DigitalIn, DigitalOut, HostReg, bit, clocked, sequenced, sfixed, signed, unsigned
from simkit.blocks import (
    BiquadChain,
    Checksum,
    Cic,
    Debounce,
    Goertzel,
    LevelTrigger,
    MovingAverage,
    MovingRms,
    Pid,
    Pwm,
    Recorder,
    RoundRobin,
    SpiController,
    Tachometer,
    Watchdog,
)

K = signed(16)
LOW_PASS = [[0.0675, 0.1349, 0.0675, 1.0, -1.1430, 0.4128]]
"""A second-order low pass; its numbers come from no design."""


class Sampled(Design):
    """A block that takes each sample of a channel."""

    accel = AnalogIn("fan A bearing", K)

    def __init__(self, block: Design, result: Any) -> None:
        self.block = block
        self.result = HostReg(result, access="ro")

    @sequenced
    def run(self):
        x = self.accel.read()
        v = self.block.step(x)
        self.result = v


class Decimated(Design):
    """Every sixteenth value of a decimating filter."""

    accel = AnalogIn("fan A bearing", K)
    result = HostReg(signed(24), access="ro")

    def __init__(self) -> None:
        self.block = Cic(2, 16, K)

    @sequenced
    def run(self):
        x = self.accel.read()
        if self.block.step(x):
            self.result = self.block.value


class Tone(Design):
    """Real and imaginary part of one tone."""

    accel = AnalogIn("fan A bearing", K)

    def __init__(self) -> None:
        self.block = Goertzel(1200, 51_200, 512, K)
        self.real = HostReg(self.block.result, access="ro")
        self.imag = HostReg(self.block.result, access="ro")

    @sequenced
    def run(self):
        x = self.accel.read()
        if self.block.step(x):
            self.real = self.block.real
            self.imag = self.block.imag


class Averaged(Design):
    """Two bearings, each with a moving average, and which one is the louder."""

    left = AnalogIn("fan A bearing", K)
    right = AnalogIn("fan B bearing", K)
    louder = DigitalOut("lamp")

    def __init__(self) -> None:
        self.a = MovingAverage(16, K)
        self.b = MovingAverage(16, K)
        self.mean_a = HostReg(K, access="ro")
        self.mean_b = HostReg(K, access="ro")

    @sequenced
    def first(self):
        x = self.left.read()
        self.mean_a = self.a.step(x)

    @sequenced
    def second(self):
        x = self.right.read()
        self.mean_b = self.b.step(x)

    @clocked
    def compare(self):
        self.louder = self.mean_b > self.mean_a


class Turning(Design):
    """Two tachometers and a lamp for a standing fan."""

    pulse_a = DigitalIn("fan A pulse")
    pulse_b = DigitalIn("fan B pulse")
    standing = DigitalOut("lamp")
    period_a = HostReg(unsigned(26), access="ro")
    period_b = HostReg(unsigned(26), access="ro")

    def __init__(self) -> None:
        self.a = Tachometer()
        self.b = Tachometer()

    @clocked
    def run(self):
        if self.a.step(self.pulse_a):
            self.period_a = self.a.period
        if self.b.step(self.pulse_b):
            self.period_b = self.b.period
        self.standing = self.a.stalled or self.b.stalled


class Lamps(Design):
    """Three dimmed lamps, a debounced switch, a watchdog."""

    switch = DigitalIn("switch")
    red = DigitalOut("lamp")
    green = DigitalOut("lamp 2")
    alarm = DigitalOut("lamp 3")
    bright = HostReg(unsigned(10))
    dark = HostReg(unsigned(10))

    def __init__(self) -> None:
        self.one, self.two = Pwm(1000), Pwm(1000)
        self.clean = Debounce(40_000)
        self.dog = Watchdog(4_000_000)

    @clocked
    def run(self):
        pressed = self.clean.step(self.switch)
        self.red = self.one.step(self.bright if pressed else self.dark)
        self.green = self.two.step(self.dark if pressed else self.bright)
        self.alarm = self.dog.step(pressed)


class Fair(Design):
    """Who of six may use the one channel."""

    asks = HostReg(unsigned(6))
    grant = HostReg(unsigned(6), access="ro")

    def __init__(self) -> None:
        self.arbiter = RoundRobin(6)

    @clocked
    def run(self):
        self.grant = self.arbiter.step(self.asks)


class Summed(Design):
    """A checksum over bytes that the host writes."""

    byte = HostReg(unsigned(8))
    go = HostReg(bit)
    sum = HostReg(unsigned(16), access="ro")

    def __init__(self) -> None:
        self.check = Checksum()

    @clocked
    def run(self):
        if self.go:
            self.check.step(self.byte)
        self.sum = self.check.result()


class Converter(Design):
    """Reads a converter on a serial bus every 100 microseconds."""

    clock_line = DigitalOut("bus clock")
    select = DigitalOut("bus select", reset=1)
    out = DigitalOut("bus out")
    inp = DigitalIn("bus in")
    word = HostReg(unsigned(16), access="ro")
    ask = HostReg(unsigned(16))

    def __init__(self) -> None:
        self.bus = SpiController(self.clock_line, self.select, self.out, self.inp, width=16)

    @sequenced(every=4000)
    def run(self):
        got = self.bus.exchange(self.ask)
        self.word = got


class Kept(Design):
    """A record around a trigger, read back word by word."""

    accel = AnalogIn("fan B bearing", K)
    place = HostReg(unsigned(8))
    word = HostReg(K, access="ro")
    ready = DigitalOut("lamp")

    def __init__(self) -> None:
        self.keep = Recorder(K, 256, 64)
        self.fires = LevelTrigger(K, 3000, 500)

    @sequenced
    def run(self):
        if self.keep.done:
            v = self.keep.read(self.place)
            self.word = v
        else:
            x = self.accel.read()
            f = self.fires.step(x)
            self.keep.step(x, f)
        self.ready = self.keep.done


DESIGNS: dict[str, Callable[[], Design]] = {
    "block averages": Averaged,
    "block tachometers": Turning,
    "block lamps": Lamps,
    "block arbiter": Fair,
    "block checksum": Summed,
    "block bus": Converter,
    "block recorder": Kept,
    "block cic": Decimated,
    "block low pass": lambda: Sampled(BiquadChain(LOW_PASS, K), K),
    "block rms": lambda: Sampled(MovingRms(32, K), unsigned(16)),
    "block pid": lambda: Sampled(Pid(0.5, 0.01, 0.0, K, sfixed(15, 0)), sfixed(15, 0)),
    "block tone": Tone,
}
