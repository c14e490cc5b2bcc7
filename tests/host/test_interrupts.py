"""Interrupts: noticed after the host's reaction time, acknowledged, timed out."""

import pytest

from simkit import ms, us
from simkit.bench import load
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
