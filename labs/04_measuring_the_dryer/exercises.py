"""Exercises of lab 04, "Measuring the dryer".  All numbers are invented.

Nothing here holds an answer: a check feeds the design with words, samples or settings and measures what comes out.
"""

from __future__ import annotations

import numpy as np

from simkit.bench import FanHouse
from simkit.check import AnswerFault, Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, endpoint
from simkit.dsp import emf_mv, temperature_c

TOP, BOTTOM = 2**23 - 1, -(2**23)
APART = 200
"""Ticks from one stimulus to the next."""


def settled(netlist, rows, name):
    """What ``name`` shows some ticks after each row; a row is a dict: name of an input -> raw value."""
    changes = [(100 + APART * i, key, value) for i, row in enumerate(rows) for key, value in row.items()]
    run = drive(netlist, 100 + APART * len(rows), changes)
    return [run.at(name, 100 + APART * (i + 1) - 1) for i in range(len(rows))]


def listed(values):
    return ", ".join(str(value) for value in values)


# --- 04-a: from a word to a number ---


def draw_word(rng):
    return {"low": rng.choice((0, 2, 3, 4))}


def judge_word(netlist, mine, seed):
    rng = Draw("word", seed)

    def word(code, status):
        low_bits, high_bits = status & (2**mine.low - 1), status >> mine.low
        return high_bits << (mine.low + 24) | (code % 2**24) << mine.low | low_bits

    positive, negative = rng.integer(1000, 2**22 - 1), -rng.integer(2, 50_000)
    wanted = [positive, positive, negative, negative, TOP, BOTTOM, -1]
    status = [rng.integer(1, 127) | 2**mine.low, 255, rng.integer(1, 254), 255, 0, 0, 0]
    found = settled(netlist, [{"word": word(*pair)} for pair in zip(wanted, status, strict=True)], "code")
    for name, part, hint in (("positive", slice(0, 2), "status"), ("negative", slice(2, 4), ""), ("ends", slice(4, 7), "")):
        right = found[part] == wanted[part]
        if name == "negative" and found[2] - wanted[2] == 2**24:
            hint = "sign"
        yield Result(name, right, listed(found[part]), listed(wanted[part]), "", hint)


# --- 04-b: gain and zero ---


def draw_unit(rng):
    """A bench whose plenum channel is visibly off in gain and in zero."""
    while True:
        seed = rng.integer(1, 9999)
        constants = FanHouse(seed=seed).calibration("plenum")
        if abs(constants.zero_code) > 60 and abs(constants.volts_per_code / NOMINAL_V - 1) > 2e-4:
            return {"seed": seed}


NOMINAL_V = 0.078125 / 2**23


def judge_unit(netlist, mine, seed):
    constants = FanHouse(seed=mine.seed).calibration("plenum")
    zero, step = round(constants.zero_code), constants.volts_per_code * 1e9
    span = 2**20 + Draw("unit", seed).integer(0, 5000)
    rows = [{"plenum": code} for code in (zero, zero + span, zero - span, TOP, BOTTOM)]
    at_zero, up, down, top, bottom = settled(netlist, rows, "nanovolts")
    if abs(up - down) < 1:
        raise AnswerFault("nanovolts does not follow the samples of plenum", "zero")
    hint = "zero_sign" if abs(at_zero - 2 * zero * step) < 30 or abs(at_zero + 2 * zero * step) < 30 else ""
    if abs(at_zero) >= 30 and abs(abs(at_zero) - abs((step - 1) * zero)) < 8:
        hint = "after_gain"
    yield Result("zero", abs(at_zero) < 30, at_zero, "0 ± 30", "nV", hint)
    found, wanted = up - down, 2 * span * step
    hint = "nominal" if abs(found - 2 * span * NOMINAL_V * 1e9) < 60 else ""
    yield Result("gain", abs(found - wanted) < 60, found, f"{wanted:.0f} ± 60", "nV", hint)
    whole = (TOP - BOTTOM) * found / (2 * span)
    yield Result("ends", abs(top - bottom - whole) < 120, top - bottom, f"{whole:.0f} ± 120", "nV")


# --- 04-c: three ways to a temperature ---


def draw_ways(rng):
    hot, cold = -rng.integer(120, 140), rng.integer(18, 28)
    return {"cold": cold, "meter": round(float(emf_mv(hot) - emf_mv(cold)), 3)}


def judge_ways(answer, mine, seed):
    right = float(temperature_c(mine.meter, mine.cold))
    added = float(temperature_c(mine.meter)) + mine.cold
    straight = mine.meter / 0.041 + mine.cold
    wrong = {"temperatures": added, "straight_line": straight, "subtracted": _inverse(mine.meter - float(emf_mv(mine.cold))),
             "no_junction": added - mine.cold}
    found = answer["right"]
    hint = next((name for name, value in wrong.items() if abs(found - value) < 0.15), "")
    yield Result("right", abs(found - right) < 0.1, found, None, "degrees C", hint)
    found = answer["added"]
    yield Result("added", abs(found - added) < 0.1, found, None, "degrees C")
    found = answer["straight"]
    yield Result("straight", abs(found - straight) < 0.1, found, None, "degrees C")


def _inverse(emf):
    return float(temperature_c(emf)) if emf > -5.89 else float("nan")


# --- 04-d: type K in fixed point ---


def judge_curve(netlist, mine, seed):
    rng = Draw("curve", seed)
    middle = [rng.integer(2500, 3000) + 1000 * i for i in range(35)]
    points = [(hot / 100, 25.0) for hot in middle]
    off = np.array(_shown(netlist, points)) / 100 - [hot for hot, _ in points]
    added = [float(temperature_c(emf_mv(hot) - emf_mv(cold))) + cold - hot for hot, cold in points]
    hint = "temperatures" if np.max(np.abs(off - added)) < 0.3 else ""
    worst = float(np.max(np.abs(off)))
    yield Result("curve", worst < 0.3, round(worst, 2), "below 0.3", "degrees C", hint)
    below = _errors(netlist, [(hot, 32.0) for hot in (4.0, 5.5, 7.0)])
    yield Result("below", max(below) < 0.3, round(max(below), 2), "below 0.3", "degrees C")
    ends = _errors(netlist, [(hot, 25.0) for hot in (395.5, 398.0, 400.0)])
    yield Result("end", max(ends) < 0.3, round(max(ends), 2), "below 0.3", "degrees C")
    hot = rng.integer(80, 300)
    shown = [_shown(netlist, [(hot, cold)])[0] for cold in (12.0, 25.0, 38.0)]
    spread = (max(shown) - min(shown)) / 100
    yield Result("cold", spread < 0.3, round(spread, 2), "below 0.3", "degrees C")


def _shown(netlist, points):
    rows = [{"emf": round(1e6 * float(emf_mv(hot) - emf_mv(cold))), "cold": round(100 * cold)} for hot, cold in points]
    return settled(netlist, rows, "hot")


def _errors(netlist, points):
    """Largest first: how far off each temperature is, in degrees C."""
    found = _shown(netlist, points)
    return [abs(shown / 100 - hot) for shown, (hot, _) in zip(found, points, strict=True)]


# --- 04-e: an open thermocouple ---


def judge_probe(netlist, mine, seed):
    rng = Draw("probe", seed)
    warm, frost = rng.integer(150_000, 400_000), -rng.integer(20_000, 90_000)
    again, hottest = warm + rng.integer(1000, 5000), round(54.886 / 78.125 * 2**23)
    samples = [warm, frost, warm, TOP, TOP, again, hottest]
    run = drive(netlist, 100 + APART * 7, [(100 + APART * i, "plenum", code) for i, code in enumerate(samples)])
    seen = [(run.at("code", tick), run.at("open", tick)) for tick in range(100 + APART - 1, 100 + APART * 8 - 1, APART)]
    shown = "; ".join(f"{code} open {flag}" for code, flag in seen[:3])
    yield Result("passes", seen[:3] == [(warm, 0), (frost, 0), (warm, 0)], shown,
                 f"{warm} open 0; {frost} open 0; {warm} open 0")
    found = f"code {seen[4][0]}, open {seen[4][1]}"
    hint = "never" if not seen[4][1] else "old_flag" if seen[3][0] == TOP and seen[5][0] != again else "code_goes_on"
    burst = [(0, 0), *((100 + APART * i + 1, code) for i, code in enumerate([warm, frost, warm, warm, warm, again, hottest]))]
    flags = [(0, 0), (100 + 3 * APART + 1, 1), (100 + 5 * APART + 1, 0)]
    yield Result("open", seen[3:5] == [(warm, 1)] * 2, found, f"code {warm}, open 1", "", hint,
                 lambda: _probe_look(run, burst, flags, [i for i in (3, 4) if seen[i] != (warm, 1)][0]))
    found = f"code {seen[5][0]}, open {seen[5][1]}"
    yield Result("mended", seen[5] == (again, 0), found, f"code {again}, open 0", look=lambda: _probe_look(run, burst, flags, 5))
    yield Result("hot", seen[6][1] == seen[5][1], f"open {seen[6][1]}", f"open {seen[5][1]}, as before")


def _probe_look(run, codes, flags, sample):
    """What the design says of a sample, and what it should say."""
    tick = 100 + APART * sample
    return run.look(expected={"code": codes, "open": flags}, at=tick + APART - 1, around=(tick - 2 * APART, tick + 2 * APART))


# --- 04-f: clipping, counted ---


def draw_window(rng):
    return {"samples": rng.choice((16, 20, 24, 32, 40))}


def judge_loud(netlist, mine, seed):
    rng, n = Draw("loud", seed), mine.samples
    windows = [[rng.integer(-2_000_000, 2_000_000) for _ in range(n)] for _ in range(6)]
    windows[0][n // 2] = -(2_000_000 + rng.integer(1, 1_000_000))
    windows[1][3], windows[1][5], windows[1][6] = TOP, BOTTOM, TOP
    windows[3][n - 1] = windows[4][0] = windows[4][2] = TOP
    seen = _windows(netlist, windows, n)
    peaks = [max(abs(code) for code in window) for window in windows]
    late = seen[0] == (0, 0) and seen[1][0] > 0
    yield Result("peak", seen[0][0] == peaks[0], seen[0][0], peaks[0], "", "late" if late else "")
    found = (seen[0][1], seen[1][1])
    hint = "late" if late else "one_end" if found[1] in (1, 2) else "hidden" if found[1] == 0 else ""
    yield Result("clipped", found == (0, 3), listed(found), "0, 3", "samples", hint)
    again = [seen[i] for i in (2, 5)]
    shown = "; ".join(f"{clipped} clipped, peak {peak}" for peak, clipped in again)
    yield Result("again", all(not clipped and peak < TOP // 2 for peak, clipped in again), shown,
                 f"0 clipped, peak {peaks[2]}; 0 clipped, peak {peaks[5]}")
    share = seen[3][1], seen[4][1]
    yield Result("borders", share == (1, 2), listed(share), "1, 2", "samples")
    yield Result("lowest", seen[1][0] == -BOTTOM, seen[1][0], -BOTTOM, "codes")


def _windows(netlist, windows, n):
    """(peak, clipped) as they stand after each window, with samples 60 ticks apart."""
    changes = [(100 + 60 * i, "fan B bearing", code) for i, code in enumerate(sum(windows, []))]
    run = drive(netlist, 100 + 60 * n * len(windows) + 60, changes)
    ends = [100 + 60 * (n * (i + 1) - 1) + 40 for i in range(len(windows))]
    return [(run.at("peak", tick), run.at("clipped", tick)) for tick in ends]


# --- 04-g: a command that ramps ---


def draw_ramp(rng):
    return {"step": rng.integer(30, 60) * 10, "millivolts": rng.integer(20, 60) * 100}


TAKE = 60
"""Ticks between two takes of the converter in the check; 400 on the bench."""


def judge_ramp(netlist, mine, seed):
    scale = _taken(netlist, [(0, mine.millivolts, 1)], 120)[-1]
    wanted = mine.millivolts * 32768 / 10000
    steps = scale % mine.step == 0 and 0 < abs(scale - wanted) <= mine.step
    yield Result("scale", abs(scale - wanted) <= 1, scale, f"{wanted:.0f} ± 1", "codes", "last_step" if steps else "")
    top, bottom = (_taken(netlist, [(0, sign * 12_000, 1)], 280)[-1] for sign in (1, -1))
    right = top == 32767 and bottom in (-32768, -32767)
    yield Result("ends", right, f"{top}, {bottom}", "32767, -32768", "codes",
                 "wrap" if top < 0 or bottom > 0 else "")
    yield _steps("ramp", _taken(netlist, [(0, mine.millivolts, 1)], 120), mine.step)
    swing = _taken(netlist, [(0, -9000, 1), (240, 9000, 1)], 680)[245:]
    middle = [code for code in swing if abs(code) < 25_000]
    rising = all(b >= a for a, b in zip(swing, swing[1:], strict=False))
    shown = "rises" if rising and middle else "does not rise all the way"
    yield Result("swing", rising and len(middle) > 0 and swing[-1] > 25_000, shown, "rises from -9000 mV to 9000 mV")
    yield _permit(netlist, mine)


def _permit(netlist, mine):
    stages = _synchroniser(netlist, "switch")
    if stages < 2:
        return Result("permit", False, f"{stages} synchroniser registers", "2 or more", "", "sync", False)
    never = _taken(netlist, [(0, mine.millivolts, 0)], 80)
    fall = _taken(netlist, [(0, mine.millivolts, 1), (120, mine.millivolts, 0)], 240)
    if fall[119] > 0 and fall[122] == 0 and fall[119] > 4 * mine.step:
        return Result("permit", False, "drops to 0 at once", "ramps down", "", "sudden")
    shown = f"without permission {max(never, key=abs)}; after it ended {fall[-1]}"
    return Result("permit", not any(never) and fall[-1] == 0 < fall[119], shown, "without permission 0; after it ended 0")


def _synchroniser(netlist, terminal):
    """How many registers in a row, and nothing else, the line from a pin goes through."""
    place = {port.name: i for i, port in enumerate(netlist.inputs)}[_pin(netlist, terminal)]
    index = next((i for i, node in enumerate(netlist.nodes) if node.op == "input" and node.attr == place), -1)
    stages = 0
    while index >= 0:
        fed = [i for i, reg in enumerate(netlist.regs) if reg.next == index]
        if len(fed) != 1 or any(index in node.args for node in netlist.nodes):
            break
        stages += 1
        index = next((i for i, node in enumerate(netlist.nodes) if node.op == "reg" and node.attr == fed[0]), -1)
    return stages


def _pin(netlist, terminal):
    return endpoint(netlist, terminal).ports["value"]


def _steps(name, codes, step):
    codes = [0, *codes]
    places = np.flatnonzero(np.diff(codes))
    if not len(places):
        return Result(name, False, "the command does not move", f"steps of {step}", "codes", "still")
    if np.any(np.diff(places) != 1):
        return Result(name, False, "updates without a step", "a step in each update", "", "too_rare")
    moves = np.diff(codes)[places]
    right = bool(np.all(moves[:-1] == step)) and 0 < moves[-1] <= step
    hint = "too_often" if max(moves) >= 2 * step else ""
    return Result(name, right, f"steps of {min(moves)} to {max(moves)}", f"steps of {step}, the last one shorter", "codes",
                  hint)


def _taken(netlist, settings, takes):
    """Codes that the converter takes; ``settings`` are (number of the take, millivolts, switch)."""
    changes = [(20 + TAKE * i, "fan A speed", 1) for i in range(takes)]
    for take, millivolts, switch in settings:
        at = TAKE * take + 2
        changes += [(at, "millivolts", millivolts), (at, "switch", switch)]
    run = drive(netlist, 20 + TAKE * takes, sorted(changes))
    return [run.at("fan A speed", 20 + TAKE * i) for i in range(takes)]


# --- 04-h: old samples, lost samples ---


def draw_reader(rng):
    return {"loop_hz": rng.choice((2000, 2500, 4000, 5000)), "tone_hz": rng.choice((50, 60, 80, 100)),
            "span_ms": rng.integer(12, 24) * 10, "work_ms": rng.choice((3.4, 3.6, 4.4, 4.6, 5.4))}


def judge_reader(answer, mine, seed):
    """The converter delivers every millisecond, from 0 on; both loops are followed sample by sample."""
    arrived = np.arange(mine.span_ms)
    looks = np.arange(0, mine.span_ms * mine.loop_hz // 1000) * 1000 / mine.loop_hz
    different = len(np.unique(np.searchsorted(arrived, looks, side="right")))
    found = answer["different"]
    hint = "every_look" if abs(found - len(looks)) <= 2 else ""
    yield Result("different", abs(found - different) <= 1, found, None, "values", hint)
    found, reads_as = answer["reads_as"], mine.tone_hz * mine.loop_hz / 1000
    hint = "upside_down" if abs(found - mine.tone_hz * 1000 / mine.loop_hz) < 0.5 else ""
    hint = "same_tone" if abs(found - mine.tone_hz) < 0.5 else hint
    yield Result("reads_as", abs(found - reads_as) < 0.5, found, None, "Hz", hint)
    missed, found = len(arrived) - _reads(mine), answer["missed"]
    hint = "reads_counted" if abs(found - _reads(mine)) <= 2 else ""
    yield Result("missed", abs(found - missed) <= 2, found, None, "samples", hint)


def _reads(mine):
    """Turns of a loop that takes the newest unread sample and then works."""
    now, taken, turns = 0.0, -1, 0
    while True:
        newest = int(np.floor(now))
        if newest <= taken:
            newest = taken + 1
            now = float(newest)
        if now >= mine.span_ms:
            return turns
        taken, turns = newest, turns + 1
        now += mine.work_ms


# --- 04-i: one instant ---


def draw_skew(rng):
    rate = rng.choice((10_000, 50_000))
    return {"rate": rate, "tone_hz": 20 * rng.integer(2, 3) * rate // 10_000}


def judge_skew(answer, mine, seed):
    skew_us = 1e6 / mine.rate
    found = answer["skew_us"]
    hint = "whole_round" if abs(found - 2 * skew_us) < 0.1 * skew_us else "unit" if abs(found) < 0.01 * skew_us else ""
    yield Result("skew", abs(found - skew_us) < 0.05 * skew_us, found, None, "us", hint)
    yield from _aligned(answer["design"], seed)


ROUND = 160
"""Ticks of one round of the scan in the check; channel B comes half a round after channel A."""


def _pairs(netlist, one, two):
    """Pairs (a, b) that the host sees, read just before each sample, for codes given as functions of time in rounds."""
    rounds = 90
    changes = []
    for k in range(rounds):
        at = 100 + ROUND * k
        changes += [(at, "fan A bearing", round(one(k))), (at + ROUND // 2, "fan B bearing", round(two(k + 0.5)))]
    run = drive(netlist, 100 + ROUND * rounds, changes)
    ticks = range(100 + ROUND * 8 - 2, 100 + ROUND * rounds - 2, ROUND // 2)
    return np.array([(run.at("a", tick), run.at("b", tick)) for tick in ticks])


def _aligned(netlist, seed):
    rng = Draw("skew", seed)
    phase, height = rng.real(0, 6), rng.integer(900, 1500)

    def tone(t):
        return height * np.cos(2 * np.pi * t / 45 + phase)

    pairs = _pairs(netlist, tone, tone)
    worst = int(np.max(np.abs(pairs[:, 0] - pairs[:, 1])))
    apart = 2 * np.pi / 90 * height
    yield Result("aligned", worst <= 6, worst, "at most 6", "codes", "not_corrected" if abs(worst - apart) < 12 else
                 "wrong_way" if worst > 1.5 * apart else "")
    only = _pairs(netlist, tone, lambda t: 0)
    other = _pairs(netlist, lambda t: 0, tone)
    heights = [int(np.max(np.abs(x))) for x in (only[:, 0], only[:, 1], other[:, 0], other[:, 1])]
    own = abs(heights[0] - height) < 15 and heights[1] <= 1 and heights[2] <= 1 and abs(heights[3] - height) < 15
    yield Result("own", own, listed(heights), f"{height}, 0, 0, {height}", "codes")
    full = _pairs(netlist, lambda t: 2047, lambda t: 2047)[-1], _pairs(netlist, lambda t: -2048, lambda t: -2048)[-1]
    right = all(abs(int(x) - wanted) <= 1 for pair, wanted in zip(full, (2047, -2048), strict=True) for x in pair)
    yield Result("full", right, listed(listed(pair) for pair in full), "2047, 2047, -2048, -2048", "codes")


# --- what the learners are asked, and the hints ---


def number(unit="", whole=False):
    return answers.Number(unit=unit, whole=whole)


def shows(name, kind, **more):
    return answers.Port("host_reg", name=name, type=kind, access="ro", **more)


def takes(name, kind):
    return answers.Port("host_reg", name=name, type=kind, access="rw")


SIGN = Hint(
    "Which bit of the code counts negative, and where is it in the 32-bit result?",
    "Bit 23 of the code is its sign. In 32 bits it must stand in all upper places as well: give the 24 bits the type of "
    "a signed number first, then widen.",
    "4 bits, 1011 is -5. With four zeros in front it is +11, 16 too many; with four copies of the sign, 1111 1011, it is -5.",
)

lab = Lab(
    "04_measuring_the_dryer",
    "Measuring the dryer",
    [
        Exercise(
            "04-a", "From a word to a number", points=3,
            objective="extend the sign of a converter's code",
            kind=answers.Design(ports=[takes("word", "unsigned(32)"), shows("code", "signed(32)")]),
            parameters=draw_word, judge=judge_word, answer="Unpack",
            criteria=[
                Criterion("positive", "positive codes are right, whatever the status says", points=1, hint="field"),
                Criterion("negative", "negative codes are right", points=1, hint="sign"),
                Criterion("ends", "the largest, the smallest and -1 are right", points=1, hint="ends"),
            ],
            hints={
                "field": Hint(
                    "Which bits of the word belong to the code?",
                    "bits(x, high, low) takes a field out; both places are included.",
                    "A field of 4 bits whose lowest is bit 3: bits(word, 6, 3).",
                ),
                "status": Hint(
                    "Does your result change if only the status changes?",
                    "Cut the field out before anything else, for positive codes too: the status bits are no part of it.",
                    "Word 1010 0101, field bits 5 to 2: 1001. The 10 before it and the 01 after it are something else.",
                ),
                "sign": SIGN,
                "ends": Hint(
                    "What do you do with the code whose only 1 is the sign?",
                    "All 24 bits are used: from -8 388 608 to 8 388 607. No code has a meaning of its own.",
                    "4 bits: 0111 is 7, 1000 is -8, 1111 is -1.",
                ),
            },
        ),
        Exercise(
            "04-b", "Gain and zero", points=3,
            objective="turn codes into volts with the constants of the unit",
            kind=answers.Design(ports=[answers.Port("thermocouple_in", terminal="plenum"),
                                       shows("nanovolts", "signed(32)")]),
            parameters=draw_unit, judge=judge_unit, answer="Volts",
            criteria=[
                Criterion("zero", "the code of 0 V reads 0", points=1, hint="zero"),
                Criterion("gain", "the slope is this unit's", points=1, hint="gain"),
                Criterion("ends", "from one end of the range to the other it stays a straight line", points=1, hint="ends"),
            ],
            hints={
                "zero": Hint(
                    "What does your design show for the code zero_code?",
                    "Volts = (code - zero_code) x volts per code: the zero is taken off before the gain.",
                    "Zero code 20, 5 nV per code: code 30 is (30 - 20) x 5 = 50 nV.",
                ),
                "zero_sign": Hint(
                    "Is the error twice the zero?",
                    "zero_code is what the unit says at 0 V. Take it off; do not add it.",
                    "Zero code 20, 5 nV per code: at 0 V the unit says 20. (20 + 20) x 5 = 200 nV would be wrong by twice 100.",
                ),
                "after_gain": Hint(
                    "In which unit is zero_code: codes or nanovolts?",
                    "zero_code is in codes. Subtract it from the code, before you multiply.",
                    "Zero code 20, 5 nV per code: code 20 is 0 nV. 20 x 5 - 20 = 80 mixes nanovolts and codes.",
                ),
                "gain": Hint(
                    "How many bits of the gain does your integer keep?",
                    "Nanovolts per code x 2**n, rounded, is a whole number; the product is shifted right by n. The rounding "
                    "costs half a step of that number, relative to the number.",
                    "9.313 x 2**4 = 149.008, as 149: an error of 50 ppm, 4 uV at 78 mV. With 2**20 it is below 0.1 ppm.",
                ),
                "nominal": Hint(
                    "Whose gain is it: the data sheet's, or this unit's?",
                    "No two units are alike. bench.calibration() gives what was measured for this one.",
                    "9.313 nV per code on the data sheet, 9.320 in the unit: 0.075 %, 0.3 degrees at 400.",
                ),
                "ends": Hint(
                    "How wide are the difference and the product?",
                    "code - zero_code needs a bit more than the code, and the product the sum of both widths.",
                    "signed(24) less a zero: signed(25). Times signed(25): signed(50). Shift first, narrow afterwards.",
                ),
            },
        ),
        Exercise(
            "04-c", "Three ways to a temperature", points=3,
            objective="compensate the cold junction, and predict what the short cuts cost",
            kind=answers.Record(right=number("degrees C"), added=number("degrees C"), straight=number("degrees C")),
            parameters=draw_ways, judge=judge_ways, answer="ways",
            criteria=[
                Criterion("right", "the temperature that the probe has", points=1, hint="voltages"),
                Criterion("added", "what adding temperatures gives", points=1, hint="added"),
                Criterion("straight", "what 41 uV per degree gives", points=1, hint="straight"),
            ],
            hints={
                "voltages": Hint(
                    "What does the table need: the voltage at the meter, or the voltage against a junction at 0 degrees?",
                    "Turn the terminals' temperature into a voltage with the same table, add it to the meter's, then look up.",
                    "Meter 3.000 mV, terminals 22 degrees: 3.000 + 0.879 = 3.879 mV, which is 94.75 degrees.",
                ),
                "temperatures": Hint(
                    "Did you add degrees to degrees?",
                    "The curve is bent: equal degrees are unequal voltages. Only voltages may be added.",
                    "Meter 3.000 mV, terminals 22 degrees: 73.58 + 22 = 95.58 is wrong by 0.83. 3.000 + 0.879 mV gives 94.75.",
                ),
                "straight_line": Hint(
                    "How many microvolts does the couple give per degree far below zero?",
                    "41 uV holds near room temperature. At -100 degrees it is 30.5 uV. Use the curve.",
                    "-3.554 mV / 41 uV = -86.7 degrees; the curve says -100.",
                ),
                "subtracted": Hint(
                    "With hot end and terminals at the same temperature, the meter says 0. What must come out?",
                    "The meter shows E(hot) - E(terminals). Add the terminals' voltage to get E(hot).",
                    "0 mV and terminals at 22 degrees: 0 + 0.879 mV is 22 degrees. 0 - 0.879 mV would be -22.7.",
                ),
                "no_junction": Hint(
                    "Where is the terminals' temperature in your number?",
                    "Without it the result is the temperature that a couple with terminals at 0 degrees would have.",
                    "Meter 3.000 mV: 73.58 degrees if the terminals are at 0; 94.75 if they are at 22.",
                ),
                "added": Hint(
                    "This is the wrong way on purpose: what would somebody do who adds temperatures?",
                    "Look up the meter's voltage alone, then add the degrees of the terminals.",
                    "Meter 3.000 mV, terminals 22 degrees: 73.58 + 22 = 95.58.",
                ),
                "straight": Hint(
                    "This is the wrong way on purpose: 41 uV per degree everywhere.",
                    "Divide the meter's voltage by 0.041 mV, then add the degrees of the terminals.",
                    "Meter 3.000 mV, terminals 22 degrees: 73.17 + 22 = 95.17.",
                ),
            },
        ),
        Exercise(
            "04-d", "Type K in fixed point", points=4,
            objective="build a type K curve with cold junction in integers",
            kind=answers.Design(ports=[takes("emf", "signed(32)"), takes("cold", "signed(16)"),
                                       shows("hot", "signed(24)")]),
            judge=judge_curve, answer="TypeK",
            criteria=[
                Criterion("curve", "from 25 to 375 degrees the error is small", points=1, hint="curve"),
                Criterion("below", "and with the probe colder than the terminals", points=1, hint="below"),
                Criterion("end", "and up to 400 degrees", points=1, hint="end"),
                Criterion("cold", "a warm terminal block changes nothing", points=1, hint="cold"),
            ],
            hints={
                "curve": Hint(
                    "How long are your pieces, and does the value between two knots follow the line from one to the next?",
                    "A straight piece errs most in its middle, by an eighth of (length squared x curvature): half the length, "
                    "a quarter of the error.",
                    "Knots 100 and 140, a quarter of the way: 100 + 40 x 0.25 = 110. In integers: 100 + ((40 x 16) >> 6), with "
                    "16 of 64 steps.",
                ),
                "temperatures": Hint(
                    "Is the terminals' temperature turned into a voltage before it is added?",
                    "The table speaks volts against a junction at 0 degrees. Add nanovolts to nanovolts, then go into the table.",
                    "3.000 mV and 22 degrees: 3 000 000 + 878 855 nV = 3 878 855 nV, then the table.",
                ),
                "below": Hint(
                    "Which voltage decides where in the table you look: the one at the terminals, or the sum?",
                    "The voltage at the terminals is negative when the probe is the colder one. The sum is not. Decide by the sum.",
                    "Probe 28, terminals 30 degrees: -81 000 nV at the terminals, +1 122 000 nV in the sum.",
                ),
                "end": Hint(
                    "Which two knots does your last piece have?",
                    "N pieces have N + 1 knots, and the number of the last knot may need a bit more than the number of a piece.",
                    "4 pieces have the knots 0, 1, 2, 3, 4. In 2 bits, 3 + 1 is 0.",
                ),
                "cold": Hint(
                    "By how much does your result change if the same probe sits on warmer terminals?",
                    "Near room temperature the terminals' voltage is nearly straight: its slope is 40.5 uV per degree, not 0.",
                    "Terminals from 20 to 30 degrees: 0.798 to 1.203 mV. Left out, the reading falls by 10 degrees.",
                ),
            },
        ),
        Exercise(
            "04-e", "An open thermocouple", points=4,
            objective="find an open thermocouple",
            kind=answers.Design(ports=[answers.Port("thermocouple_in", terminal="plenum"),
                                       shows("code", "signed(24)"), shows("open", "bit")]),
            judge=judge_probe, answer="Probe",
            criteria=[
                Criterion("passes", "ordinary samples pass, positive and negative", points=1, hint="passes"),
                Criterion("open", "full scale is open, and the last good code stays", points=1, hint="never"),
                Criterion("mended", "the next good sample ends it", points=1, hint="mended"),
                Criterion("hot", "the hottest that type K can be is not taken for open", points=1, hint="hot"),
            ],
            hints={
                "passes": Hint(
                    "Does frost count as a broken wire?",
                    "Negative codes are measurements: the probe is colder than the terminals.",
                    "A probe at 10 and terminals at 25 degrees: -0.60 mV, about code -65 000. The wire is whole.",
                ),
                "never": Hint(
                    "Where does the current pull an input that hangs free?",
                    "To the supply, beyond the range: the converter delivers its largest code, sample after sample.",
                    "A converter of 8 bits delivers 127.",
                ),
                "code_goes_on": Hint(
                    "Who else reads code while open is 1?",
                    "The full-scale code is no measurement. Keep the last good one and say so by open.",
                    "Samples 50, 52, 127, 127: code 50, 52, 52, 52, and open 0, 0, 1, 1.",
                ),
                "old_flag": Hint(
                    "Which value of open does your if see in the tick in which you assign it?",
                    "The old one: open is a register. Ask for the code itself, or for a name without self.",
                    "now = 127: self.open = 1, and in the same tick self.open still reads 0.",
                ),
                "mended": Hint(
                    "What sets open back?",
                    "Decide anew with each sample: open is 1 or 0, never only set.",
                    "Samples 50, 127, 51: open 0, 1, 0, and code 50, 50, 51.",
                ),
                "hot": Hint(
                    "What is the largest voltage of a type K couple, and which code is that?",
                    "54.886 mV at 1372 degrees. The limit must lie above it, and not above the largest code.",
                    "On a card of 8 bits and ±78.125 mV that is code 90. A limit of 26 (16 mV) would call 1372 degrees a broken wire.",
                ),
            },
        ),
        Exercise(
            "04-f", "Clipping, counted", points=5,
            objective="report clipping together with the measurement that it spoils",
            kind=answers.Design(ports=[answers.Port("analog_in", terminal="fan B bearing"),
                                       shows("peak", "unsigned(24)"), answers.Port("host_reg", name="clipped", access="ro")]),
            parameters=draw_window, judge=judge_loud, answer="Loud",
            criteria=[
                Criterion("peak", "the largest magnitude of an ordinary window", points=1, hint="peak"),
                Criterion("clipped", "clipped samples are counted, at both ends", points=1, hint="hidden"),
                Criterion("again", "the next window starts from nothing", points=1, hint="again"),
                Criterion("borders", "the first and the last sample of a window belong to it", points=1, hint="borders"),
                Criterion("lowest", "the most negative code has its true magnitude", points=1, hint="lowest"),
            ],
            hints={
                "peak": Hint(
                    "Which is louder: +1 000 000 or -2 000 000?",
                    "Compare magnitudes: abs(code).",
                    "Samples 3, -7, 5: the peak is 7.",
                ),
                "late": Hint(
                    "In the tick of the last sample, which value has the register that you have assigned in that very tick?",
                    "The old one, so a count or a peak that is asked at once lacks the newest sample. Compare with one less, or "
                    "wait a tick.",
                    "n = n + 1, then if n == 20: n still reads 19, and the window ends one sample late.",
                ),
                "hidden": Hint(
                    "Which codes say that the input may have been beyond the range?",
                    "The largest and the smallest code. Count the samples that have one of them.",
                    "8 bits, samples 100, 127, -128, 3: two are clipped.",
                ),
                "one_end": Hint(
                    "Can a vibration go too far only upwards?",
                    "Both ends count, and they are not each other's negative.",
                    "8 bits: 127 and -128. abs(x) == 127 misses the lower end.",
                ),
                "again": Hint(
                    "What do your sums hold when the second window begins?",
                    "Publish and start anew in the same turn: the next sample meets 0.",
                    "Windows of two: 5, 9 | 2, 3. The peaks are 9 and 3, not 9 and 9.",
                ),
                "borders": Hint(
                    "Is a window's last sample in the numbers that you publish?",
                    "A register shows its new value one tick after the assignment. Publish after that tick, or with the sample "
                    "that you have in your hand.",
                    "Windows of two: 5, 127 | 3, 4. The first has one clipped sample, the second none.",
                ),
                "lowest": Hint(
                    "How many bits does the magnitude of -8 388 608 need?",
                    "In signed(24) it wraps back to itself. Widen by one bit before abs.",
                    "4 bits: abs(-8) is -8. In 5 bits it is 8.",
                ),
            },
        ),
        Exercise(
            "04-g", "A command that ramps", points=5,
            objective="scale, saturate and ramp an analog output, with permission from a switch",
            kind=answers.Design(ports=[answers.Port("analog_out", terminal="fan A speed"),
                                       answers.Port("digital_in", terminal="switch"), takes("millivolts", "signed(16)")]),
            parameters=draw_ramp, judge=judge_ramp, answer="Ramp",
            criteria=[
                Criterion("scale", "the command ends at the code of your millivolts", points=1, hint="scale"),
                Criterion("ends", "12 V and -12 V end at the ends of the range", points=1, hint="wrap"),
                Criterion("ramp", "one step of your size in each update", points=1, hint="step"),
                Criterion("swing", "from -9 V to 9 V it rises all the way", points=1, hint="swing"),
                Criterion("permit", "without the switch it ramps to 0; the switch is synchronised", points=1, hint="permit"),
            ],
            hints={
                "scale": Hint(
                    "How many codes are one millivolt?",
                    "10 000 mV are 32 768 codes: 3.2768 codes per millivolt. As an integer, with a shift: 3.2768 x 2**16 = 214 748.",
                    "1000 mV: 1000 x 214 748 >> 16 = 3276 codes.",
                ),
                "last_step": Hint(
                    "How far is the target away before your last step?",
                    "Less than a step. Move by what is left then, or the command jumps to and fro about the target.",
                    "Step 300, target 1000: 300, 600, 900, 1000.",
                ),
                "wrap": Hint(
                    "What does your code become when it does not fit?",
                    "Saturate as the last step: resize(x, signed(16), overflow=\"saturate\").",
                    "8 bits: 150 wraps to -106, full power backwards. Saturated it is 127.",
                ),
                "step": Hint(
                    "How far does the code move from one update to the next?",
                    "At most your step; when less is left, what is left.",
                    "Steps of 30 to 70: 30, 60, 70.",
                ),
                "too_often": Hint(
                    "How often does your loop run between two updates of the converter?",
                    "A step per turn is too fast if the turn is shorter than the update. write() waits until the converter has "
                    "taken the code.",
                    "An update every 400 ticks and a step of 30 in every tick: 12 000 codes at once.",
                ),
                "too_rare": Hint(
                    "Does each update get a new code?",
                    "Let the converter set the pace: write(), and no wait besides it.",
                    "write() and then a wait of one update: every second update repeats the code before it.",
                ),
                "still": Hint(
                    "Does your command change at all, with the switch at 1?",
                    "The target depends on millivolts and the switch; the command follows the target.",
                    "Target 70, command 0, step 30: the next command is 30.",
                ),
                "swing": Hint(
                    "How large can the difference between target and command become?",
                    "Twice the range: it needs a bit more than the command.",
                    "8 bits: from -100 to 100 the difference is 200, which wraps to -56. Then the ramp turns the wrong way.",
                ),
                "permit": Hint(
                    "What is the target while the switch is off?",
                    "0. The ramp does the rest, with the same steps.",
                    "Command 70, switch off, step 30: 40, 10, 0.",
                ),
                "sudden": Hint(
                    "Does the command go to 0 by the ramp?",
                    "Change the target and not the command: then the way down is a ramp as well.",
                    "Command 70, switch off, step 30: 40, 10, 0.",
                ),
                "sync": Hint(
                    "How many registers stand between the switch's pin and your logic?",
                    "A pin changes whenever it likes, also just while a register looks. Two registers in a row let it settle: "
                    "DigitalIn(..., sync=2), which is the usual.",
                    "With sync=0 two registers that look at the same pin in the same tick may disagree.",
                ),
            },
        ),
        Exercise(
            "04-h", "Old samples, lost samples", points=3,
            objective="predict what a loop gets that reads faster, or slower, than the converter delivers",
            kind=answers.Record(different=number("values"), reads_as=number("Hz"), missed=number("samples")),
            parameters=draw_reader, judge=judge_reader, answer="reading",
            criteria=[
                Criterion("different", "how many different samples the fast loop sees", points=1, hint="different"),
                Criterion("reads_as", "where the tone appears without the repeats", points=1, hint="reads_as"),
                Criterion("missed", "how many samples the slow loop never sees", points=1, hint="missed"),
            ],
            hints={
                "different": Hint(
                    "How many samples does the converter make in that time?",
                    "Looking more often makes no new samples.",
                    "1000 samples/s for 50 ms are 50 samples, with 125 looks or with 500.",
                ),
                "every_look": Hint(
                    "Did you count the looks?",
                    "Two looks between two samples see the same one. The number of samples counts.",
                    "1000 samples/s for 50 ms are 50 samples, with 125 looks or with 500.",
                ),
                "reads_as": Hint(
                    "How long is one period of the tone in samples, and how long do you say a sample lasts?",
                    "The samples that are left came 1 ms apart. If you say that they came at the loop's rate, all frequencies are "
                    "scaled by loop rate / sample rate.",
                    "A loop of 3 kHz on a converter of 1 kS/s: 30 Hz reads 90 Hz.",
                ),
                "same_tone": Hint(
                    "Which rate do you divide by after the repeats are gone?",
                    "The tone would be right with the converter's rate. The task keeps the loop's rate, which is larger.",
                    "A loop of 3 kHz on a converter of 1 kS/s: 30 Hz reads 90 Hz.",
                ),
                "upside_down": Hint(
                    "Is the assumed time between samples too short or too long?",
                    "Too short a time makes too high a frequency.",
                    "A loop of 3 kHz on a converter of 1 kS/s: 30 Hz reads 90 Hz, not 10.",
                ),
                "missed": Hint(
                    "How many turns does the slow loop make in that time?",
                    "Each turn takes one sample, the newest. Delivered less taken is missed.",
                    "1000 samples/s, 50 ms, turns of 2.5 ms: 50 delivered, 20 taken, 30 missed.",
                ),
                "reads_counted": Hint(
                    "Is that the number of samples that were read?",
                    "Missed are the others.",
                    "50 delivered, 20 taken: 30 missed.",
                ),
            },
        ),
        Exercise(
            "04-i", "One instant", points=4,
            objective="measure the skew of a scanned card and correct it",
            kind=answers.Record(skew_us=number("us"), design=answers.Design(ports=[
                answers.Port("analog_in", terminal="fan A bearing"), answers.Port("analog_in", terminal="fan B bearing"),
                answers.Port("host_reg", name="a", access="ro"), answers.Port("host_reg", name="b", access="ro")])),
            parameters=draw_skew, judge=judge_skew, answer="instant",
            criteria=[
                Criterion("skew", "the skew that you measured", points=1, hint="phase"),
                Criterion("aligned", "one signal on both channels gives equal pairs", points=1, hint="not_corrected"),
                Criterion("own", "each channel keeps its own signal", points=1, hint="own"),
                Criterion("full", "full scale is right on both", points=1, hint="full"),
            ],
            hints={
                "phase": Hint(
                    "How long does one degree of the tone last?",
                    "Time = phase / 360 / frequency.",
                    "9 degrees at 25 Hz: 9 / 360 / 25 = 1 ms.",
                ),
                "whole_round": Hint(
                    "Is that the time between the two channels, or the time of a whole round?",
                    "With two channels on one converter, the second is sampled half a round after the first.",
                    "A round of 2 ms: channels 1 ms apart.",
                ),
                "unit": Hint(
                    "Seconds or microseconds?",
                    "The task asks for microseconds.",
                    "0.0001 s are 100 us.",
                ),
                "not_corrected": Hint(
                    "Which instant does a tell about, and which b?",
                    "Between two samples of A lies one of B, half-way. The mean of the two is what A was at B's instant.",
                    "A is 10 and then 14; B in between. At B's instant A was about 12.",
                ),
                "wrong_way": Hint(
                    "Does the sample of B lie between the two samples of A whose mean you take?",
                    "It must. A sample of A that comes after B is needed, so the pair is ready only then.",
                    "A at 0 and 2, B at 1, A at 4, B at 3: pair B(1) with A(0) and A(2), not B(3) with them.",
                ),
                "own": Hint(
                    "What does b show if only A has a signal?",
                    "a is made of A's samples alone, b of B's samples alone, and both change in the same tick.",
                    "A a sine, B at rest: a swings, b stays at 0.",
                ),
                "full": Hint(
                    "How wide is the sum of two samples?",
                    "A bit wider than one of them. Add in the wider type, then halve.",
                    "4 bits: (7 + 7) >> 1 wraps to -1. In 5 bits it is 7.",
                ),
            },
        ),
    ],
)
