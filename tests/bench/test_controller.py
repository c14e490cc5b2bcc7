"""The bench turned round: a design plays the fan, and a test of the controller finds what is wrong with it."""

import numpy as np
import pytest

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Reg,
    bit,
    clocked,
    resize,
    s,
    sequenced,
    signed,
    unsigned,
    us,
)
from simkit.bench import BenchFault, ControllerBench, load


class PlayFan(Design):
    """A fan of first order whose speed follows the command; its pulse; a vibration that the host sets.

    Speed is kept as turns per 2**32 steps of 10 us, so that a phase accumulator makes the pulse.
    """

    run = DigitalOut("run")
    pulse = DigitalOut("pulse")
    shake = AnalogOut("vibration")
    command = AnalogIn("command", signed(16))
    trip = DigitalIn("trip")
    go = HostReg(bit)
    size = HostReg(signed(16))
    jam = HostReg(bit)
    rate = Reg(signed(40))
    phase = Reg(unsigned(32))
    tripped = HostReg(bit, access="ro")

    @sequenced(every=us(10))
    def turn(self):
        wanted = resize(self.command.value, signed(40)) * 65
        moved = self.rate + ((resize(wanted, signed(40)) - self.rate) >> 14)
        rate = 0 if self.jam or not self.go else max(moved, 0)
        self.rate = rate
        self.phase = self.phase + resize(unsigned(40)(rate), unsigned(32))

    @clocked
    def wire(self):
        self.run = self.go
        self.tripped = self.trip
        self.shake = self.size
        self.pulse = self.phase > 0x8000_0000


def running(fault="", **options):
    """A rig after three seconds at its set point."""
    rig = load(PlayFan, ControllerBench(seed=1, fault=fault, **options), record=["trip", "shake", "jam"])
    rig.host.go = 1
    return rig.run(s(3))


def rpm(rig):
    return rig.peek("rate") / 2**32 / 10e-6 * 60


def trips_after(rig, within):
    """Seconds from now to the trip; infinite if there is none."""
    now = rig.now.seconds
    edges = rig.run(within).trace("trip")
    at = edges.edges(1) / 40e6
    return float(np.min(at[at >= now], initial=np.inf) - now)


def test_a_good_controller_holds_its_speed():
    rig = running()
    assert rpm(rig) == pytest.approx(1480, rel=0.01) and not rig.host.tripped


def test_a_good_controller_trips_on_vibration_in_time_and_stays_tripped():
    rig = running()
    rig.host.size = 3000  # 0.92 V
    assert 0.045 < trips_after(rig, s(0.3)) < 0.08
    rig.host.size = 0
    assert rig.run(s(1)).host.tripped and rpm(rig) < 100
    rig.host.go = 0
    rig.run(s(0.1))
    rig.host.go = 1
    assert not rig.run(s(0.1)).host.tripped


def test_small_vibration_does_not_trip():
    rig = running()
    rig.host.size = 1500  # 0.46 V
    assert trips_after(rig, s(1)) == np.inf


def test_a_good_controller_notices_a_jammed_fan():
    rig = running()
    rig.host.jam = 1
    assert 0.45 < trips_after(rig, s(1)) < 0.6


@pytest.mark.parametrize("fault", ["deaf", "late", "forgetful", "blind", "winding"])
def test_each_fault_can_be_found(fault):
    rig = running(fault)
    if fault == "blind":
        rig.host.jam = 1
        assert trips_after(rig, s(1)) == np.inf
        return
    if fault == "winding":
        good = running()
        peaks = []
        for one in (rig, good):
            one.host.jam = 1
            one.run(s(0.4))
            one.host.jam = 0
            peaks.append(max(rpm(one.run(s(0.05))) for _ in range(40)))
        assert peaks[0] > peaks[1] + 20
        return
    rig.host.size = 3000
    if fault == "deaf":
        assert trips_after(rig, s(1)) == np.inf
    elif fault == "late":
        assert 0.45 < trips_after(rig, s(1)) < 0.6
    else:
        assert trips_after(rig, s(0.3)) < 0.1
        rig.host.size = 0
        assert not rig.run(s(0.3)).host.tripped


def test_an_unknown_fault_is_refused():
    with pytest.raises(BenchFault, match="no fault 'lazy'; faults: deaf, late"):
        ControllerBench(fault="lazy")
