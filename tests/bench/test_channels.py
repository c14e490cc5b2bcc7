"""Converters and sensors: codes that mean what the data sheet and the calibration constants say."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from simkit import ms, s
from simkit.bench import CARDS, BenchFault, Converter, Fan, FanHouse, Weight, load, parts_list
from simkit.dsp import first_order, sine_fit, spectrum, temperature_c
from tests.bench.bench_designs import Listener, Serial, Vibration, Warmth


def volts(rig, terminal="fan B bearing"):
    """The samples in volts, by the calibration stored with the channel."""
    return rig.samples(terminal).volts


def listen(bench, seconds, *names):
    return load(Listener, bench, record=list(names or ("a", "b"))).run(s(seconds))


def test_calibration_constants_turn_codes_into_volts():
    errors, corrected = [], []
    for seed in range(12):
        bench = FanHouse(seed=seed)
        bench.generate("fan B bearing", (1000.0, 2.0))
        rig = listen(bench, 0.1, "b")
        raw = rig.samples("fan B bearing").codes * CARDS["V24"].converter.volts_per_code
        errors.append(abs(sine_fit(raw, 51200, 1000).amplitude - 2.0))
        corrected.append(abs(sine_fit(volts(rig), 51200, 1000).amplitude - 2.0))
    assert max(errors) > 3e-3, "gain errors are there"
    assert max(corrected) < 2e-4, "and the stored constants take them out"


def test_noise_is_that_of_the_data_sheet():
    bench = FanHouse(seed=2)
    bench.generate("fan B bearing")
    noise = volts(listen(bench, 1.0, "b"))
    assert np.std(noise) == pytest.approx(30e-6, rel=0.03)


def test_a_constant_voltage_is_blocked_by_the_vibration_input_and_not_by_the_others():
    for card, left in (("V24", 0.0), ("A16", 1.5)):
        bench = FanHouse(seed=2, cards={"bearings": card}, rates={"bearings": CARDS[card].rates_hz[-1]})
        bench.generate("fan B bearing", offset_v=1.5)
        rig = listen(bench, 3.0, "b")
        assert np.mean(volts(rig)[-500:]) == pytest.approx(left, abs=5e-3)


def test_samples_tell_of_an_instant_a_group_delay_ago():
    bench = FanHouse(seed=1, cards={"bearings": Converter(noise_v=0, ac_corner_hz=0)})
    bench.generate("fan B bearing", (100.0, 1.0))
    rig = listen(bench, 0.05, "b")
    fit = sine_fit(volts(rig), 51200, 100)
    late = rig.trace("b").seconds[1] - 38 / 51200
    assert 0 <= late < 25e-9 and fit.phase_deg == pytest.approx(0, abs=0.01)


def test_the_digital_filter_keeps_aliases_out_and_its_absence_lets_them_in():
    """A tone at 0.55 of the rate and above must not be seen; without the filter it appears at |f - fs round(f/fs)|."""
    for card, seen in (("V24", False), ("A16", True)):
        rate = 12_800 if card == "V24" else 10_000
        bench = FanHouse(seed=3, cards={"bearings": card}, rates={"bearings": rate})
        bench.generate("fan B bearing", (rate - 1000.0, 1.0))
        got = spectrum(volts(listen(bench, 0.5, "b"))[-2000:], rate, "flat top")
        hz, peak = got.highest(100)
        assert (peak > 0.9 and hz == pytest.approx(1000, abs=10)) if seen else peak < 1e-3


def test_the_filter_s_corner():
    response = Converter().response
    assert (
        response(0.45 * 51200) == 1.0 and response(0.5 * 51200) < 0.01 and response(0.56 * 51200) == pytest.approx(1e-5)
    )


def test_clipping_at_the_end_of_the_range():
    bench = FanHouse(seed=1)
    bench.generate("fan B bearing", (200.0, 8.0))
    codes = listen(bench, 0.05, "b").samples("fan B bearing").codes
    assert codes.max() == 2**23 - 1 and codes.min() == -(2**23)
    assert np.mean(codes == 2**23 - 1) > 0.2


def test_channels_of_one_card_sample_at_once_or_in_turn():
    for card, skew in (("V24", 0), ("A12", 800)):
        a, b = _both(FanHouse(seed=1, cards={"bearings": card}))
        assert set(((b - a) % 1600).tolist()) == {skew}
    assert CARDS["A12"].converters(2)[1].skew_s == Fraction(1, 50_000)


def _both(bench):
    """Ticks in which samples of both bearings arrive, as the design sees them."""
    rig = load(Listener, bench, record=["a.valid", "b.valid"]).run(ms(20))
    return [rig.trace(f"{name}.valid").edges(1)[:200] for name in "ab"]


def test_skew_shows_as_phase():
    bench = FanHouse(seed=1, cards={"bearings": "A12"})
    for terminal in ("fan A bearing", "fan B bearing"):
        bench.generate(terminal, (1000.0, 5.0))
    rig = listen(bench, 0.1)
    phases = [sine_fit(volts(rig, f"fan {n} bearing"), 25_000, 1000).phase_deg for n in "AB"]
    assert phases[1] - phases[0] == pytest.approx(360 * 1000 / 50_000, abs=0.1)


def test_a_coarse_card_makes_steps_that_a_fine_one_does_not():
    sizes = {}
    for card in ("V24", "A12"):
        bench = FanHouse(seed=1, cards={"bearings": card})
        bench.generate("fan B bearing", (80.0, 0.1))
        sizes[card] = len(np.unique(listen(bench, 0.1, "b").trace("b").values))
    assert sizes["V24"] > 2000 and sizes["A12"] < 60


def test_unfit_requests_for_cards_are_refused():
    with pytest.raises(BenchFault, match="isolated for 60 V and must not be near the mains; 300 V"):
        FanHouse(cards={"mains": "V24"})
    with pytest.raises(BenchFault, match="there is no card 'V25'; cards: V24, T24"):
        FanHouse(cards={"bearings": "V25"})
    with pytest.raises(BenchFault, match="card V24 cannot sample at 48000 samples/s; rates: 51200, 25600"):
        FanHouse(rates={"bearings": 48_000})
    with pytest.raises(BenchFault, match="no group of sensors 'bearing'; groups: bearings"):
        FanHouse(cards={"bearing": "V24"})
    with pytest.raises(BenchFault, match="card V24 has 4 channels; 5 sensors want one"):
        FanHouse(fans=[Fan(name) for name in "ABCDE"])
    with pytest.raises(BenchFault, match="2 to 32 bits"):
        replace(Converter(), bits=40)


def test_the_parts_list_is_a_table_with_every_card():
    lines = parts_list().splitlines()
    assert len(lines) == 2 + len(CARDS) and all(line.count("|") == lines[0].count("|") for line in lines)


def test_the_terminals_are_a_table():
    text = FanHouse().describe()
    assert "| fan B bearing | analog in | signed(24) |" in text and "| switch | digital in | bit |" in text


def test_mains():
    bench = FanHouse(seed=4)
    rig = load(Listener, bench, record=["mains"]).run(s(0.2))
    v = volts(rig, "mains") / bench.sensor("mains").volts_per_unit
    assert np.sqrt(np.mean(v[:16000] ** 2)) == pytest.approx(230, rel=3e-3)
    assert sine_fit(v, 100_000).hz == pytest.approx(bench.mains_hz, abs=5e-3)


# --- analog outputs ---


def test_an_output_beyond_its_width_clips_or_wraps_as_the_part_does():
    for over, expected in (("clip", 2800), ("wrap", 0)):
        bench = FanHouse(seed=1, over_range=over)
        rig = load(Listener, bench, record=[])
        rig.host.command = 40_000
        rig.run(s(6))
        assert bench.fan("B").speed_rpm == pytest.approx(expected, abs=200)
    with pytest.raises(BenchFault, match='"clip" or "wrap", not \'stop\''):
        FanHouse(over_range="stop")


def test_the_output_follows_its_code_at_the_next_update_and_settles():
    bench = FanHouse(seed=1)
    out = bench.terminals["fan B speed"]
    rig = load(Listener, bench, record=[])
    rig.run(ms(5))
    rig.run(ms(1))
    rig.host.command = 32_767
    rig.run(ms(9) + ms(1))
    assert out.volts_at(np.array([0.0]))[0] == pytest.approx(0.0, abs=5e-3) or out.level.first == 32_767
    after = bench.calibration("fan B speed").volts(32_767)
    assert after == pytest.approx(10.0, abs=0.05)


def test_a_small_change_is_averaged_over_a_block():
    bench = FanHouse(seed=1)
    rig = load(Listener, bench, record=[])
    rig.run(ms(15))
    rig.host.command = 16_384
    rig.run(ms(10))
    assert bench.terminals["fan B speed"].mean_volts == pytest.approx(2.5, abs=0.05)


# --- temperatures ---


def warm(bench, **faults):
    return load(Warmth, bench, record=[])


def temperatures(rig):
    """Plenum and grain in degrees C, cold junction compensated."""
    bench, host = rig.bench, rig.host
    cold = bench.calibration("cold junction").volts(host.cold_code) / bench.sensor("cold junction").volts_per_unit
    return [
        float(temperature_c(1e3 * bench.calibration(t).volts(code), cold))
        for t, code in (("plenum", host.plenum_code), ("grain", host.grain_code))
    ]


def test_temperatures_come_out_right_through_cold_junction_and_constants():
    bench = FanHouse(seed=6)
    bench.fan("A").hold_speed(2000)
    bench.fan("B").hold_speed(2000)
    rig = warm(bench)
    rig.run(s(1))
    assert temperatures(rig) == pytest.approx([15, 15], abs=0.2)
    rig.host.heat = 1
    rig.run(s(20))
    plenum, grain = temperatures(rig)
    assert plenum == pytest.approx(bench.air.plenum_probe_c, abs=0.3) and 35 < plenum < 55
    assert grain == pytest.approx(bench.air.grain_probe_c, abs=0.3) and 15.5 < grain < plenum


def test_a_broken_thermocouple_reads_full_scale_and_recovers():
    bench = FanHouse(seed=6)
    bench.fault("plenum", "open", at=s(1), until=s(3))
    rig = warm(bench).run(s(2))
    assert rig.host.plenum_code == 2**23 - 1 and rig.host.grain_code < 2**22
    assert rig.run(s(2)).host.plenum_code < 2**22


def test_short_conversions_let_the_mains_through():
    """Averaging over 100 ms takes 50 Hz out; over 10 ms it does not."""
    scatter = {}
    for rate in (10, 100):
        bench = FanHouse(seed=6, rates={"temperatures": rate})
        rig = load(Warmth, bench, record=["plenum"]).run(s(4))
        scatter[rate] = np.std(rig.samples("plenum").volts[1:])
    assert scatter[10] < 2e-6 and scatter[100] > 100 * scatter[10] / 2


def test_thermocouples_are_converted_in_turn():
    rig = load(Warmth, FanHouse(seed=1), record=["plenum.valid", "grain.valid"]).run(s(2))
    plenum, grain = (rig.trace(f"{name}.valid").edges(1)[:6] for name in ("plenum", "grain"))
    assert set(np.diff(plenum)) == {12_000_000} and set(((grain - plenum) % 12_000_000).tolist()) == {4_000_000}


def test_without_air_the_thermostat_cuts_the_burner():
    bench = FanHouse(seed=6)
    rig = warm(bench)
    rig.host.heat = 1
    highest = 0.0
    for _ in range(80):
        rig.run(s(1))
        highest = max(highest, bench.air.plenum_c)
    assert 105 < highest < 115 and bench.air.plenum_c < 112


# --- vibration ---


def vibration_of(bench, seconds=2.0):
    """Acceleration of fan B's bearing in m/s2 with its times, and the pulses' instants, in s."""
    rig = load(Listener, bench, record=["b", "pulse"]).run(s(seconds))
    samples = rig.samples("fan B bearing")
    return (
        samples.volts / bench.sensor("fan B bearing").volts_per_unit,
        samples.seconds,
        rig.trace("pulse").edges(1) / 40e6,
    )


@pytest.mark.parametrize("speed_rpm", [900, 1480, 2700])
def test_once_per_turn_vibration_is_that_of_the_closed_form(speed_rpm):
    bench = FanHouse(seed=3)
    fan = bench.fan("B")
    fan.hold_speed(speed_rpm)
    got = first_order(*vibration_of(bench))
    w = 2 * np.pi * speed_rpm / 60
    wanted = -fan.unbalance * w**4 * fan.mount.response(speed_rpm / 60)
    wanted /= 1 - 0.5j / (speed_rpm / 60)  # the channel blocks constant voltage: high-pass at 0.5 Hz
    assert abs(got - wanted) < 0.02 * abs(wanted) + 0.01


def test_blade_tone_and_flow_noise_grow_with_the_square_of_the_speed():
    peaks = []
    for speed_rpm in (1200, 2400):
        bench = FanHouse(seed=3)
        bench.fan("B").hold_speed(speed_rpm)
        a, _, _ = vibration_of(bench)
        peaks.append(spectrum(a[-51200:], 51200, "flat top").highest(7 * speed_rpm / 60 - 5, 7 * speed_rpm / 60 + 5)[1])
    assert peaks[1] / peaks[0] == pytest.approx(4, rel=0.02) and peaks[1] == pytest.approx(2.0 * 0.64, rel=0.02)


@pytest.mark.parametrize("defect", ["outer", "inner", "ball", "cage"])
def test_a_bearing_defect_shows_in_the_envelope_at_its_order(defect):
    bench = FanHouse(seed=3, fans=[Fan("A"), Fan("B", [Weight(1.0, 150.0, 0.0)], flow_noise=0.1)])
    fan = bench.fan("B")
    fan.hold_speed(1500)
    fan.damage_bearing(defect, 20.0)
    a, times, _ = vibration_of(bench, 4.1)
    from scipy.signal import butter, hilbert, sosfiltfilt

    band = sosfiltfilt(butter(4, [2500, 4000], "bandpass", fs=51200, output="sos"), a)
    envelope = np.abs(hilbert(band))[2560 : 2560 + 4 * 51200]
    wanted = 25 * fan.bearing.order(defect)
    got = spectrum(envelope - envelope.mean(), 51200).highest(5, 1.5 * wanted)[0]
    assert got == pytest.approx(wanted, abs=0.3)


def test_a_loose_accelerometer_feels_less_of_the_motion_and_knocks():
    got = {}
    for fault in ("", "loose"):
        bench = FanHouse(seed=3)
        bench.fan("B").hold_speed(1500)
        if fault:
            bench.fault("fan B bearing", fault)
        record = vibration_of(bench)
        got[fault] = abs(first_order(*record)), np.max(np.abs(record[0])) / np.std(record[0])
    assert got["loose"][0] == pytest.approx(0.3 * got[""][0], rel=0.1)
    assert got["loose"][1] > 1.5 * got[""][1]


def test_a_broken_wire_and_missing_pulses():
    bench = FanHouse(seed=3)
    bench.fan("B").hold_speed(1500)
    bench.fault("fan B bearing", "open", at=ms(50), until=ms(100))
    bench.fault("fan B pulse", "missing", at=ms(500), until=ms(1000))
    rig = load(Listener, bench, record=["b", "pulse"]).run(s(1.5))
    codes = rig.samples("fan B bearing").codes
    assert codes[int(0.06 * 51200)] == 2**23 - 1
    gaps = np.diff(rig.trace("pulse").edges(1)) / 40e6
    assert np.sum(gaps > 0.3) == 1 and gaps.max() == pytest.approx(0.52, abs=0.041)


def test_a_stuck_relay_and_a_dead_drive():
    bench = FanHouse(seed=3)
    bench.fault("fan B trip", "stuck", at=s(1))
    rig = load(Listener, bench, record=[])
    rig.host.command = 20_000
    rig.run(s(2))
    rig.host.stop = 1
    faster = rig.run(s(1)).bench.fan("B").speed_rpm
    assert faster > 800, "the relay did not act"
    dead = FanHouse(seed=3)
    dead.fault("fan B speed", "dead", at=s(2))
    rig = load(Listener, dead, record=[])
    rig.host.command = 20_000
    running = rig.run(s(2)).bench.fan("B").speed_rpm
    assert rig.run(s(1)).bench.fan("B").speed_rpm < running


def test_a_trip_relay_takes_the_power_off():
    rig = load(Listener, FanHouse(seed=3), record=[])
    rig.host.command = 20_000
    running = rig.run(s(2)).bench.fan("B").speed_rpm
    rig.host.stop = 1
    assert rig.run(s(1)).bench.fan("B").speed_rpm < running


def test_impossible_faults_are_refused():
    bench = FanHouse()
    with pytest.raises(BenchFault, match="terminal \"lamp\" cannot have the fault 'open'; faults here: stuck"):
        bench.fault("lamp", "open")
    with pytest.raises(BenchFault, match="faults here: none"):
        bench.fault("switch", "open")
    rig = load(Listener, bench, record=[]).run(ms(20))
    with pytest.raises(BenchFault, match="fault: 10 ms is over, the rig is at 20 ms"):
        rig.bench.fault("lamp", "stuck", at=ms(10))
    with pytest.raises(BenchFault, match="a bearing's defect is on its cage, outer, inner, ball, not 'shaft'"):
        bench.fan("B").damage_bearing("shaft")
    with pytest.raises(BenchFault, match="carries no such weight"):
        bench.fan("A").remove_weight(Weight(9.0, 1.0, 1.0))


def test_a_generator_and_a_scale_want_the_right_terminal():
    bench = FanHouse()
    with pytest.raises(BenchFault, match="is a digital line; use drive"):
        bench.generate("switch", (1.0, 1.0))
    with pytest.raises(BenchFault, match="is an analog channel; use drive"):
        bench.pulse("mains", at=1, width=1)
    with pytest.raises(BenchFault, match="digital and has no calibration"):
        bench.calibration("lamp")
    with pytest.raises(BenchFault, match="0 to 10 MHz"):
        bench.generate("mains", (-1.0, 1.0))


def test_reset_repeats_everything():
    bench = FanHouse(seed=9, pulse_jitter_us=2.0)
    bench.fan("B").hold_speed(1480)
    bench.fault("fan B bearing", "loose", at=ms(60))
    rig = load(Vibration, bench, record=["accel"])
    first = rig.run(ms(100)).trace("accel")
    second = rig.reset().run(ms(100)).trace("accel")
    assert np.array_equal(first.values, second.values) and np.array_equal(first.ticks, second.ticks)


def test_pulse_jitter_has_the_scatter_asked_for():
    bench = FanHouse(seed=9, pulse_jitter_us=20.0)
    bench.fan("B").hold_speed(3000)
    edges = load(Listener, bench, record=["pulse"]).run(s(8)).trace("pulse").edges(1) / 40e6
    deviation = edges - np.polyval(np.polyfit(np.arange(len(edges)), edges, 1), np.arange(len(edges)))
    assert np.std(deviation) == pytest.approx(20e-6, rel=0.12)


def test_serial_bytes_arrive_bit_by_bit():
    bench = FanHouse()
    bench.send("serial in", b"\x55\x00", at=ms(1), baud=10_000)
    trace = load(Serial, bench, record=["line"]).run(ms(4)).trace("line")
    centres = [trace.at(40_000 + 4000 * i + 2000) for i in range(20)]
    assert centres == [0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1]
