"""Blocks at work on the fan house."""

import numpy as np
import pytest

from simkit import (
    AnalogIn,
    Design,
    DigitalIn,
    DigitalOut,
    Fifo,
    HostReg,
    HostStream,
    clocked,
    ms,
    s,
    sequenced,
    signed,
    unsigned,
    until,
)
from simkit.bench import FanHouse, load
from simkit.blocks import Debounce, LevelTrigger, MovingRms, Recorder, Tachometer, UartReceiver
from simkit.dsp import rpm_from_ticks


class Speed(Design):
    pulse = DigitalIn("fan A pulse")
    period = HostReg(unsigned(26), access="ro", unit="ticks")

    def __init__(self):
        self.tacho = Tachometer()

    @clocked
    def measure(self):
        self.tacho.step(self.pulse)
        self.period = self.tacho.period


@pytest.mark.parametrize("rpm, reads", [(1480, 1480.000567), (2900, 2900.000725)])
def test_tachometer(rpm, reads):
    """A period counted in whole ticks at 40 MHz reads at most one count off (figures of tests/outside/test_counting.py)."""
    bench = FanHouse(seed=1)
    bench.fan("A").hold_speed(rpm)
    period = load(Speed, bench, record=[]).run(s(0.2)).host.period
    assert rpm_from_ticks(period, 40e6) == pytest.approx(reads, abs=2e-3)


class Button(Design):
    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")

    def __init__(self):
        self.clean = Debounce(400_000)

    @clocked
    def follow(self):
        level = self.clean.step(self.switch)
        self.lamp = level


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_debounce_makes_one_edge_of_a_bouncing_contact(seed):
    bench = FanHouse(seed=seed)
    bench.press("switch", at=ms(5), hold=ms(50))
    rig = load(Button, bench, record=["switch", "lamp"]).run(ms(90))
    assert len(rig.trace("switch").ticks) > 8
    assert rig.trace("lamp").values.tolist() == [0, 1, 0]
    on = rig.trace("lamp").seconds[1]
    assert 15e-3 < on < 19.1e-3, "10 ms after the last bounce"


class Level(Design):
    accel = AnalogIn("fan B bearing")
    rms = HostReg(unsigned(24), access="ro")

    def __init__(self):
        self.mean = MovingRms(4096, signed(24))

    @sequenced
    def watch(self):
        a = self.accel.read()
        v = self.mean.step(a)
        self.rms = v


def test_rms_of_the_vibration():
    bench = FanHouse(seed=4)
    bench.fan("B").hold_speed(1500)
    rig = load(Level, bench, record=["accel"]).run(s(0.3))
    codes = rig.samples("fan B bearing").codes[-4096:]
    assert rig.host.rms == pytest.approx(np.sqrt(np.mean(codes.astype(float) ** 2)), abs=1)
    assert rig.missed == {"accel": 0}


class Capture(Design):
    accel = AnalogIn("fan B bearing")
    out = HostStream(signed(24), 512, "to_host")

    def __init__(self):
        self.trigger = LevelTrigger(signed(24), 50_000, 20_000)
        self.keep = Recorder(signed(24), 256, 64)

    @sequenced
    def record(self):
        while not self.keep.done:
            a = self.accel.read()
            fires = self.trigger.step(a)
            self.keep.step(a, fires)
        for i in range(256):
            v = self.keep.read(unsigned(8)(i))
            self.out.put(v)
        until(False)


def test_a_record_around_a_level():
    bench = FanHouse(seed=4)
    bench.fan("B").hold_speed(1500)
    rig = load(Capture, bench, record=["accel"])
    words = rig.host.out.read(256)
    codes = rig.samples("fan B bearing").codes.tolist()
    start = next(i for i in range(len(codes)) if codes[i : i + 256] == words.tolist())
    assert words[64] >= 50_000 > words[63] and start > 0


class Meter(Design):
    line = DigitalIn("serial in")
    words = Fifo(unsigned(8), 16)
    out = HostStream(unsigned(8), 64, "to_host")

    def __init__(self):
        self.receiver = UartReceiver(self.line, self.words, 347)

    @sequenced
    def pass_on(self):
        v = self.words.get()
        self.out.put(v)


def test_bytes_of_the_moisture_meter():
    bench = FanHouse()
    bench.send("serial in", b"M=14.2%", at=ms(1), baud=115_200)
    rig = load(Meter, bench, record=[])
    assert bytes(rig.host.out.read(7).tolist()) == b"M=14.2%"
