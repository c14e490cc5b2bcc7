"""Interrupts: noticed after the host's reaction time, acknowledged, timed out."""

import pytest

from simkit import (
    Design,
    DigitalIn,
    HostReg,
    HostStream,
    Interrupt,
    ms,
    sequenced,
    unsigned,
    until,
    us,
    wait,
)
from simkit.bench import Bench, load
from simkit.bench.digital import DigitalInput
from simkit.engines.native import NativeEngine
from simkit.host import HostTimeout
from tests.host.host_designs import Alarm


@pytest.mark.parametrize("host, most", [("ideal", us(221)), ("real-time", us(46)), ("desktop", ms(81))])
def test_the_host_goes_on_after_its_reaction_time(host, most):
    rig = load(Alarm, host=host, record=["alarm"])
    at = rig.host.alarm.wait(timeout=ms(20))
    asked = rig.trace("alarm").edges(1)[0]
    assert asked == 120_001
    assert asked <= at.ticks(40_000_000) <= asked + most.ticks(40_000_000)


def test_a_request_stands_until_it_is_acknowledged():
    rig = load(Alarm).run(ms(4))
    assert rig.host.alarm.pending
    rig.host.alarm.acknowledge()
    assert not rig.run(ticks=2).host.alarm.pending


def test_no_request_in_time():
    rig = load(Alarm)
    with pytest.raises(HostTimeout, match="interrupt alarm: nothing was asked by 2 ms"):
        rig.host.alarm.wait(timeout=ms(2))


class Doorbell(Design):
    """Asks a while after each ring; a loop of its own is busy in between."""

    button = DigitalIn("bell")
    turns = HostReg(unsigned(16), access="ro")
    rings = HostReg(unsigned(8), access="ro")
    bell = Interrupt()
    words = HostStream(unsigned(16), 64, "to_host")

    @sequenced(every=us(700))
    def turn(self):
        self.turns = self.turns + 1

    @sequenced
    def watch(self):
        until(self.button)
        wait(us(333))
        self.rings = self.rings + 1
        self.bell.request()
        self.words.try_put(7)
        until(not self.button)


def _answers(host):
    """What a host program sees that waits for a bell, at which instants."""
    bench = Bench(3)
    bench.terminals["bell"] = DigitalInput("bell", "a button")
    rings = [ms(4), ms(13), ms(13.6), ms(26), ms(40.0002), ms(41)]
    bench.drive("bell", [(at + us(width), value) for at in rings for width, value in ((0, 1), (400, 0))])
    rig, seen = load(Doorbell, bench, host=host), []
    for _ in range(12):
        try:
            seen.append((rig.host.bell.wait(timeout=ms(6.3)), rig.host.turns, rig.host.rings))
            rig.host.bell.acknowledge()
        except HostTimeout as fault:
            seen.append((rig.now, str(fault), rig.host.words.available))
    return seen, rig.trace("bell").ticks.tolist()


@pytest.mark.parametrize("host", ["ideal", "real-time", "desktop"])
def test_looks_that_are_left_out_would_have_seen_nothing(host, monkeypatch):
    """The host program's looks are left out while the design rests: the same instants as with every look taken."""
    runs, run = [], NativeEngine.run
    monkeypatch.setattr(NativeEngine, "run", lambda self, *given: (runs.append(1), run(self, *given))[1])
    quick, few = _answers(host), len(runs)
    monkeypatch.setattr(NativeEngine, "rests_until", NativeEngine.ticks)
    assert _answers(host) == quick
    assert few < 0.75 * (len(runs) - few)
    assert len([one for one in quick[0] if isinstance(one[1], int)]) >= 4
