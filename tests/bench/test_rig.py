"""Running designs on the fan house."""

import hashlib
import signal

import numpy as np
import pytest

from simkit import AnalogIn, Design, HostReg, clocked, compile_design, signed
from simkit.bench import BenchFault, FanHouse, load, ms, ns, s, us
from simkit.host import HostFault
from tests.bench.bench_designs import Both, Mirror, Registers, Slow, Vibration, misnamed


def fingerprint(rig):
    digest = hashlib.sha256()
    for name in sorted(rig._tap.kept):
        trace = rig.trace(name)
        digest.update(name.encode() + trace.ticks.astype("<i8").tobytes() + trace.values.astype("<i8").tobytes())
    return digest.hexdigest()


def test_a_clean_press_reaches_the_lamp_two_synchroniser_ticks_and_one_register_later():
    bench = FanHouse()
    rig = load(Mirror, bench)
    bench.press("switch", at=ms(3), hold=us(500), bounce=False)
    rig.run(ms(4))
    assert rig.trace("lamp").edges(1).tolist() == [3 * 40_000 + 3]
    assert rig.trace("lamp").edges(0).tolist() == [3 * 40_000 + 500 * 40 + 3]
    assert rig.trace("lamp").seconds[1] == pytest.approx(3e-3 + 75e-9, abs=1e-12)


def test_a_contact_bounces_and_comes_to_rest():
    bench = FanHouse(seed=3, bounce_ms=4.0)
    rig = load(Mirror, bench, record=["switch"])
    bench.press("switch", at=ms(1), hold=ms(20))
    rig.run(ms(30))
    edges = rig.trace("switch")
    rising = edges.edges(1)
    assert rising[0] == 40_000 and 4 <= np.sum(rising < 5 * 40_000) <= 9
    assert edges.at(6 * 40_000) == 1 and edges.at(20 * 40_000) == 1
    assert edges.at(26 * 40_000) == 0


def test_an_active_low_switch_rests_at_one():
    bench = FanHouse(active_low=True)
    bench.press("switch", at=ms(1), hold=ms(1), bounce=False)
    rig = load(Mirror, bench, record=["switch"]).run(ms(3))
    assert rig.trace("switch").ticks.tolist() == [0, 40_000, 80_000]
    assert rig.trace("switch").values.tolist() == [1, 0, 1]


@pytest.mark.parametrize("speed_rpm, ticks", [(1500, 1_600_000), (1480, 60 * 40_000_000 / 1480), (3000, 800_000)])
def test_a_held_speed_gives_exact_pulse_periods(speed_rpm, ticks):
    bench = FanHouse(seed=5)
    bench.fan("A").hold_speed(speed_rpm)
    rig = load(Mirror, bench, record=["pulse"]).run(ms(400))
    gaps = np.diff(rig.trace("pulse").edges(1))
    assert len(gaps) > 7
    assert set(gaps.tolist()) <= {int(np.floor(ticks)), int(np.ceil(ticks))}
    assert abs(gaps.mean() - ticks) < 1 / len(gaps) + 1e-9
    assert rig.host.period in (int(ticks) - 1, int(np.ceil(ticks)) - 1)


def test_driven_edges_fall_on_their_ticks():
    bench = FanHouse()
    bench.fan("A").hold_speed(1500)
    bench.pulse("fan A pulse", at=100, width=7, count=3, every=1000)
    rig = load(Mirror, bench, record=["pulse"]).run(ms(60))
    assert rig.trace("pulse").edges(1).tolist() == [100, 1100, 2100]
    assert rig.trace("pulse").edges(0).tolist() == [107, 1107, 2107]
    assert rig.host.period == 999


def test_driven_samples_arrive_with_their_strobe():
    bench = FanHouse()
    bench.drive("fan B bearing", [(10, -5), (20, 2**23 - 1)])
    rig = load(Vibration, bench)
    assert rig.run(ticks=15).host.level == -5
    assert rig.run(ticks=15).host.level == 2**23 - 1


@pytest.mark.parametrize("cuts", [[8_000_000], [1, 39_999, 1, 79_999, 123_457, 7_756_543]])
def test_cutting_a_run_changes_nothing(cuts):
    prints = []
    for pieces in ([8_000_000], cuts):
        bench = FanHouse(seed=4)
        bench.press("switch", at=ms(2), hold=ms(5))
        rig = load(Vibration, bench, record="all")
        rig.host.command = 20_000
        for piece in pieces:
            rig.run(ticks=piece)
        prints.append(fingerprint(rig))
    assert prints[0] == prints[1]


def test_both_engines_give_the_same_and_another_seed_does_not():
    prints = {}
    for engine, seed in (("native", 1), ("reference", 1), ("native", 2)):
        rig = load(Vibration, FanHouse(seed=seed), record="all", engine=engine)
        rig.host.command = 9000
        prints[engine, seed] = fingerprint(rig.run(ticks=33_000))
    assert prints["native", 1] == prints["reference", 1] != prints["native", 2]


def test_wiring_another_channel_changes_nothing_in_the_first():
    alone = load(Vibration, FanHouse(seed=8), record=["accel"]).run(ms(20)).trace("accel")
    both = load(Both, FanHouse(seed=8), record=["accel"]).run(ms(20)).trace("accel")
    assert np.array_equal(alone.values, both.values) and np.array_equal(alone.ticks, both.ticks)


def test_the_loop_is_closed():
    bench = FanHouse(seed=1)
    rig = load(Vibration, bench, record=[])
    rig.host.command = 16_384
    rig.run(s(6))
    assert bench.fan("B").speed_rpm == pytest.approx(1480, abs=40)
    assert bench.fan("A").speed_rpm == 0
    running = bench.fan("B").speed_rpm
    rig.host.command = 0
    assert rig.run(s(2)).bench.fan("B").speed_rpm < 0.85 * running


def test_registers_read_write_and_refuse():
    rig = load(Registers)
    assert rig.host.limit == 900
    rig.host.limit = 77
    assert rig.run(ticks=2).host.seen == 77
    rig.host.gain = 2.53
    assert rig.run(ticks=1).host.gain == 2.5
    with pytest.raises(HostFault, match=r"limit is unsigned\(16\): 65536 is outside 0 to 65535"):
        rig.host.limit = 65536
    with pytest.raises(HostFault, match="'x' is not a number"):
        rig.host.limit = "x"
    with pytest.raises(HostFault, match="limit is unsigned.*1.5 is not a whole number"):
        rig.host.limit = 1.5
    with pytest.raises(HostFault, match="outside 0.0 to 15.9375 mm/s"):
        rig.host.gain = 16
    with pytest.raises(HostFault, match="seen is read-only"):
        rig.host.seen = 1
    with pytest.raises(HostFault, match="nothing called .limt.. Did you mean limit"):
        _ = rig.host.limt
    assert not hasattr(rig.host, "nothing") and dir(rig.host) == ["gain", "limit", "link", "now", "seen", "wait"]


def test_without_a_bench_a_design_with_channels_gets_a_fan_house():
    rig = load(Mirror).run(ms(1))
    assert isinstance(rig.bench, FanHouse) and rig.bench.seed == 0
    assert not isinstance(load(Registers).bench, FanHouse)


def test_a_wrong_terminal_is_named():
    with pytest.raises(BenchFault, match='no terminal "lmap".*did you mean "lamp"'):
        load(misnamed("lmap"), FanHouse())
    with pytest.raises(
        BenchFault, match='terminal "switch" is a digital input; lamp .* is declared as a digital output'
    ):
        load(misnamed("switch"), FanHouse())


def test_bad_requests_say_what_is_wrong():
    bench = FanHouse()
    rig = load(Mirror, bench)
    rig.run(ms(1))
    with pytest.raises(BenchFault, match="1 us is over, the rig is at 1 ms"):
        bench.drive("switch", [(us(1), 1)])
    with pytest.raises(BenchFault, match="takes raw bit values from 0 to 1, not 2"):
        bench.drive("switch", [(ms(2), 2)])
    with pytest.raises(BenchFault, match="is an output of the design"):
        bench.drive("lamp", [(ms(2), 1)])
    with pytest.raises(BenchFault, match="is no switch; switches: switch, switch 2"):
        bench.press("fan A pulse", at=ms(2))
    with pytest.raises(BenchFault, match="0.4 ticks; a whole number is wanted"):
        rig.run(ns(10))
    with pytest.raises(BenchFault, match=r"run\(ms\(5\)\)"):
        rig.run()
    with pytest.raises(BenchFault, match="'pulse' was not recorded; recorded: .*lamp"):
        rig.trace("pulse")
    with pytest.raises(BenchFault, match="no signal 'puls'"):
        rig.trace("puls")
    with pytest.raises(BenchFault, match="there is no fan 'C'; fans: A, B"):
        bench.fan("C")
    with pytest.raises(BenchFault, match="no engine 'fast'; write 'native' or 'reference'"):
        load(Mirror, FanHouse(), engine="fast")
    load(Mirror, bench)
    with pytest.raises(BenchFault, match="loaded with another design since"):
        rig.run(ms(1))


def test_download_reset_and_abort():
    bench = FanHouse(seed=1)
    rig = load(Mirror, bench)
    bench.press("switch", at=ms(1), hold=ms(1), bounce=False)
    rig.run(ms(3))
    rig.abort()
    with pytest.raises(BenchFault, match=r"was aborted: reset\(\) starts it again"):
        rig.run(ms(1))
    again = rig.reset().run(ms(3)).trace("lamp")
    assert again.ticks.tolist() == [0, 40_003, 80_003]
    other = rig.download(Registers)
    assert other.bench is bench and other.host.limit == 900 and other.ticks == 0
    with pytest.raises(BenchFault, match="another design since"):
        rig.run(ms(1))


@pytest.mark.parametrize(
    "damage, words",
    [
        (lambda e: e.ports.pop("value"), "value must be an input of bit on the fabric clock"),
        (lambda e: e.ports.update(value="lamp"), "value must be an input"),
        (lambda e: setattr(e, "kind", "analog_in"), "valid must be a strobe of bit"),
        (lambda e: setattr(e, "kind", "radio"), "there is no kind 'radio'"),
    ],
)
def test_a_netlist_from_elsewhere_is_checked(damage, words):
    netlist = compile_design(Mirror)
    damage(next(e for e in netlist.endpoints if e.name == "switch"))
    with pytest.raises(BenchFault, match=words):
        load(netlist, FanHouse())


def test_one_terminal_takes_one_wire():
    netlist = compile_design(Mirror)
    next(e for e in netlist.endpoints if e.name == "pulse").terminal = "switch"
    with pytest.raises(BenchFault, match='are both wired to terminal "switch"'):
        load(netlist, FanHouse())


def test_an_interrupted_run_goes_on_where_it_stands():
    """Somebody stops the engine in the middle of a block; afterwards the host may still write."""
    rig = load(Registers)
    run, stops = rig.engine.run, [True]

    def stopped_half_way(ticks, events):
        run(ticks // 2 if stops else ticks, events)
        if stops:
            stops.pop()

    rig.engine.run = stopped_half_way
    rig.run(ms(4))
    assert 0 < rig.ticks < 160_000
    rig.host.limit = 5
    assert rig.run(ms(4)).host.seen == 5


def test_engines_and_cuts_agree_over_several_blocks_with_host_and_closed_loop():
    seen = []
    for engine, pieces in (
        ("native", [45_000]),
        ("native", [1, 9_999, 3_000, 32_000]),
        ("reference", [20_000, 25_000]),
    ):
        bench = FanHouse(seed=6, pulse_jitter_us=3.0)
        bench.fault("fan B bearing", "loose", at=ms(20))
        rig = load(Slow, bench, record="all", engine=engine, host="real-time")
        rig.host.command = 30_000
        start = rig.ticks
        for piece in pieces:
            rig.run(ticks=min(piece, start + 45_000 - rig.ticks))
        seen.append((fingerprint(rig), rig.host.log.read().tolist(), bench.fan("B").rotor.after))
    assert seen[0] == seen[1] == seen[2]
    assert len(seen[0][1]) > 1500 and seen[0][2] > 0


def test_an_interrupt_never_stops_in_the_middle_of_the_plant():
    """SIGINT at any moment: the run can go on afterwards and gives what an undisturbed one gives."""

    def made():
        bench = FanHouse(seed=2)
        rig = load(Vibration, bench, record=["accel"])
        rig.host.command = 20_000
        return rig

    undisturbed = made().run(ms(300))
    rig, interrupts = made(), 0
    advance, calls = rig.bench.advance, [0]

    def interrupted(block, levels):
        calls[0] += 1
        if calls[0] % 3 == 0:
            signal.raise_signal(signal.SIGINT)
        advance(block, levels)

    rig.bench.advance = interrupted
    while rig.ticks < 12_000_000:
        try:
            rig.advance_to(12_000_000)
        except KeyboardInterrupt:
            interrupts += 1
    assert interrupts == 10
    assert np.array_equal(rig.trace("accel").values, undisturbed.trace("accel").values)
    assert np.array_equal(rig.trace("accel").ticks, undisturbed.trace("accel").ticks)


class Listen(Design):
    accel = AnalogIn("fan B bearing")
    last = HostReg(signed(24), access="ro")

    @clocked
    def run(self):
        self.last = self.accel.value


@pytest.mark.parametrize("cuts", [[16_000_000], [400_000] * 40, [1, 399_999, 123_457, 7_000_000, 8_476_543]])
def test_a_plant_that_does_not_listen_is_worked_out_ahead_with_the_same_result(cuts):
    """Sixteen blocks are handed to the engine at once; a run in pieces of one block gives the same, faults included."""

    def played(pieces):
        bench = FanHouse(seed=4)
        bench.fan("B").hold_speed(1480)
        bench.fault("fan B bearing", "loose", at=ms(120), until=ms(250))
        rig = load(Listen, bench, record=["fan B bearing"])
        for ticks in pieces:
            rig.run(ticks=ticks)
        return rig.samples("fan B bearing").codes, fingerprint(rig)

    codes, found = played(cuts)
    assert found == played([400_000] * 40)[1] and len(codes) > 20_000


def test_what_hands_break_while_the_plant_is_ahead_breaks_as_soon_as_it_can():
    """An interrupted run may leave the plant up to 16 blocks ahead of the engine."""
    rig = load(Listen, FanHouse(seed=4), record=["fan B bearing"])
    run, stops = rig.engine.run, [True]

    def stopped_early(ticks, events):
        run(ticks // 8 if stops else ticks, events)
        if stops:
            stops.pop()

    rig.engine.run = stopped_early
    rig.run(ms(200))
    assert rig.ticks == 800_000 and rig.ahead == 16
    rig.bench.fault("fan B bearing", "open", at=ms(30), until=ms(60))
    rig.run(ms(380))
    samples = rig.samples("fan B bearing")
    open_s = samples.seconds[samples.codes == 2**23 - 1]
    assert open_s.min() == pytest.approx(0.16, abs=1e-4) and open_s.max() == pytest.approx(0.19, abs=1e-4)
