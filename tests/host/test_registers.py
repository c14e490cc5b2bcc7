"""Registers over a link that takes time."""

import numpy as np
import pytest

from simkit import ms, s, us
from simkit.bench import load
from simkit.host import DESKTOP, REAL_TIME, HostFault, LinkDown
from tests.host.host_designs import Alarm, Whole


def test_an_ideal_host_costs_no_time():
    rig = load(Alarm)
    assert rig.host.now == 0 and rig.ticks == 0
    rig.run(ticks=100)
    assert rig.host.now == 100 and rig.ticks == 100


@pytest.mark.parametrize("kind, least, most", [("desktop", 0.2e-3, 80e-3), ("real-time", 5e-6, 20e-6)])
def test_an_access_takes_the_time_of_its_host(kind, least, most):
    rig = load(Alarm, host=kind, record=[])
    spent = []
    for _ in range(200):
        before = rig.now
        value = rig.host.now
        after = rig.now
        spent.append((after - before).seconds)
        assert before.ticks(40_000_000) <= value <= after.ticks(40_000_000), "sampled on the way"
    assert least <= min(spent) and max(spent) <= most + 50e-9


def test_a_desktop_is_heavy_tailed_and_a_real_time_host_is_not():
    random = np.random.default_rng(1)
    desktop = [DESKTOP.delay(random) for _ in range(20_000)]
    real_time = [REAL_TIME.delay(random) for _ in range(20_000)]
    assert 1e-3 < np.median(desktop) < 2e-3 and np.max(desktop) > 10 * np.median(desktop)
    assert np.max(real_time) < 2 * np.median(real_time) and np.max(real_time) <= 20e-6


def test_a_write_arrives_while_the_host_waits_for_it():
    rig = load(Alarm, host="real-time")
    rig.run(us(100))
    rig.host.limit = 123
    changed = rig.trace("limit").edges(123)[0]
    assert us(100).ticks(40_000_000) < changed <= rig.ticks


def test_registers_of_a_sub_design():
    rig = load(Whole)
    rig.run(ms(2))
    assert rig.host.guard.gain == 1.5 and rig.host["guard.gain"] == 1.5
    rig.host.guard.gain = 2.25
    assert rig.run(ticks=1).host.guard.gain == 2.25
    assert rig.host.guard.seen == -2
    assert dir(rig.host.guard) == ["gain", "link", "now", "seen", "wait"]
    with pytest.raises(HostFault, match=r"nothing called 'guard.gian'. Did you mean guard.gain"):
        _ = rig.host.guard.gian


def test_same_seed_same_times():
    times = []
    for _ in range(2):
        rig = load(Alarm, host="desktop", record=[])
        times.append([(rig.host.now, rig.ticks) for _ in range(20)])
    assert times[0] == times[1]


def test_a_link_that_drops_and_comes_back():
    rig = load(Alarm, host="real-time", record=[])
    rig.host.link.drop(at=ms(1), until=ms(700))
    assert rig.host.now < 40_000
    rig.run(ms(2))
    with pytest.raises(LinkDown, match=r"no answer from the design within 0.5 s: the link is down"):
        _ = rig.host.now
    assert rig.now >= ms(502) and rig.host.link.dropped == 1
    rig.run(ms(200))
    assert rig.host.now > 28_000_000


def test_a_link_can_be_cut_and_mended_by_hand():
    rig = load(Alarm, host="real-time", record=[])
    rig.host.link.drop()
    with pytest.raises(LinkDown):
        rig.host.limit = 1
    rig.host.link.restore()
    rig.host.limit = 1
    assert rig.host.limit == 1 and not rig.host.link.dropped > 1


def test_waiting_wakes_up_late_by_the_host_s_reaction():
    rig = load(Alarm, host="desktop", record=[])
    rig.host.wait(s(0.01))
    assert ms(10.2) <= rig.now <= ms(90)


def test_an_unknown_host_is_named():
    with pytest.raises(HostFault, match="no host 'laptop'; hosts: ideal, desktop, real-time"):
        load(Alarm, host="laptop")


def test_the_time_is_now_unless_a_register_has_that_name():
    assert load(Alarm).host.now == 0  # a register of the design
    rig = load(Whole)
    rig.run(ms(2))
    assert rig.host.now == ms(2) and rig.host.guard.now == ms(2)
