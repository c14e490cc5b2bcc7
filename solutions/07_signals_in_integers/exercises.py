"""Exercises of lab 07, "Signals in integers".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given on samples that it knows, and compares what came
out with numpy and scipy.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy import signal

from simkit.check import (
    AnswerFault,
    Criterion,
    Draw,
    Exercise,
    Hint,
    Lab,
    Result,
    answers,
    drive,
    flip_flops,
    seen,
)
from simkit.check.drive import endpoint
from simkit.engines import Events, make_engine
from simkit.netlist.passes import expose

RATE = 3200
FULL = 2**23
APART = 64


def fed(netlist, codes, *names, apart=APART):
    """What the host reads just before the next sample: an array per name.  A sample of fan A arrives each ``apart``."""
    codes = [int(code) for code in codes]
    rows = [(apart * (k + 1) - 1, "fan A bearing", code) for k, code in enumerate(codes)]
    run = drive(netlist, apart * (len(codes) + 1), rows)
    at = apart * (np.arange(len(codes)) + 2) - 2
    found = [held(run.trace(name), at) for name in names]
    return found[0] if len(found) == 1 else found


def held(trace, at):
    """Values of a trace in the ticks ``at``."""
    return trace.values[np.searchsorted(trace.ticks, at, side="right") - 1]


def noise(rng, count, size):
    return np.array([rng.integer(-size, size) for _ in range(count)])


# --- 07-a: moving average ---


def draw_mean(rng):
    return {"n": rng.choice((8, 16, 32))}


def judge_mean(netlist, mine, seed):
    rng, n = Draw("mean", seed), mine.n
    codes = n * noise(rng, 4 * n, 500)
    found, wanted = fed(netlist, codes, "mean"), mean_of(codes, n)
    bad = np.flatnonzero(found != wanted)
    where = int(bad[0]) if len(bad) else len(codes) - 1
    late = bool(len(bad)) and np.array_equal(found[1:], wanted[:-1])
    yield Result("mean", not len(bad), int(found[where]), int(wanted[where]), "codes", "late" if late else "")
    level = n * rng.integer(20, 60)
    codes = np.r_[noise(rng, 2000, 1000), np.full(2 * n, level)]
    last = int(fed(netlist, codes, "mean")[-1])
    yield Result("drift", abs(last - level) <= 1, last, level, "codes")
    ends = [int(fed(netlist, np.full(2 * n, code), "mean")[-1]) for code in (FULL - 1, -FULL)]
    right = abs(ends[0] - FULL + 1) <= 2 * n and abs(ends[1] + FULL) <= 2 * n
    yield Result("full", right, f"{ends[0]} and {ends[1]}", f"{FULL - 1} and {-FULL}", "codes")


def mean_of(codes, n):
    """Mean of the last n samples, rounded down; samples before the first count as 0."""
    return np.convolve(codes, np.ones(n, np.int64))[: len(codes)] // n


# --- 07-b: root mean square ---

BLOCK = 64


def draw_rms(rng):
    return {"level": rng.integer(2, 5)}


def judge_rms(netlist, mine, seed):
    rng = Draw("rms", seed)
    small, other = uneven(rng, mine.level), noise(rng, BLOCK, 3 * mine.level)
    readings = blocks(netlist, small, other)
    yield Result("small", near_rms(readings[0], small), readings[0] / 16, round(true_rms(small), 3), "codes")
    yield Result("blocks", near_rms(readings[1], other) if near_rms(readings[0], small) else _alike(netlist, small),
                 readings[1] / 16, round(true_rms(other), 3), "codes")
    loud = np.full(BLOCK, -FULL)
    found = blocks(netlist, loud)[0] / 16
    yield Result("large", abs(found - FULL) <= 1, found, FULL, "codes")


def uneven(rng, level):
    """Noise with a peak of four times its level at the end, whose RMS is far from a whole number."""
    codes = np.ones(BLOCK, int)
    while not 0.2 < true_rms(codes) % 1 < 0.8:
        codes = noise(rng, BLOCK, level)
        codes[-1] = 4 * level
    return codes


def _alike(netlist, codes):
    """Whether two equal blocks read the same."""
    one, two = blocks(netlist, codes, codes)
    return one == two


def blocks(netlist, *parts):
    """The reading after each block of samples."""
    found = fed(netlist, np.r_[(*parts, np.zeros(1, int))], "rms")
    return [int(found[BLOCK * (k + 1) - 1]) for k in range(len(parts))]


def true_rms(codes):
    return float(np.sqrt(np.mean(np.square(codes, dtype=float))))


def near_rms(reading, codes):
    return abs(reading / 16 - true_rms(codes)) <= 1 / 16


# --- 07-c: one-pole low-pass ---


def draw_pole(rng):
    return {"k": rng.integer(3, 5), "level": rng.integer(300, 900)}


def judge_pole(netlist, mine, seed):
    k, level = mine.k, mine.level + Draw("pole", seed).integer(0, 99)
    stay = 16 * 2**k
    found = fed(netlist, np.repeat([level, 3 * level, level], stay), "level")
    up, down = int(found[stay - 1]), int(found[-1])
    hint = "dead" if 0 < level - up < 2**k else ""
    yield Result("rise", up == level, up, level, "codes", hint)
    hint = "dead" if 0 < down - level < 2**k else ""
    yield Result("fall", down == level, down, level, "codes", hint)
    step, a = 100_000, 2.0**-k
    found = fed(netlist, np.full(3 * 2**k, step), "level")
    wanted = signal.lfilter([a], [1, a - 1], np.full(3 * 2**k, float(step)))
    error = min(np.abs(found - wanted).max(), np.abs(found[1:] - wanted[:-1]).max())
    at = int(round(-1 / math.log1p(-a)))
    yield Result("time", error <= 0.01 * step, f"{found[at]} after {at + 1} samples", f"about {wanted[at]:.0f}", "codes")
    ends = (FULL - 64, 64 - FULL)
    found = [int(fed(netlist, np.full(stay, code), "level")[-1]) for code in ends]
    right = all(abs(one - end) <= 2**k for one, end in zip(found, ends, strict=True))
    yield Result("full", right, f"{found[0]} and {found[1]}", f"{ends[0]} and {ends[1]}", "codes")
    size, most = flip_flops(netlist), 84 + k
    yield Result("size", size <= most, size, f"at most {most}", "flip-flops")


# --- 07-d: one polynomial or sections ---


def draw_poles(rng):
    return {"corner": rng.integer(12, 24) * 5, "rate": 10_000}


def quantised(numbers, bits):
    return np.round(np.asarray(numbers) * 2.0**bits) / 2.0**bits


def judge_poles(answer, mine, seed):
    one = radius(signal.butter(6, mine.corner, fs=mine.rate)[1], 10)
    parts = max(radius(row[3:], 14) for row in signal.butter(6, mine.corner, fs=mine.rate, output="sos"))
    ideal = radius(signal.butter(6, mine.corner, fs=mine.rate)[1], 40)
    found = answer["direct"]
    hint = "exact" if abs(found - ideal) < 1e-4 else "numerator" if found < 0.9 else ""
    yield Result("direct", abs(found - one) < 1e-3, found, None, "", hint)
    found = answer["sections"]
    yield Result("sections", abs(found - parts) < 1e-4, found, None, "", "one_section" if found < parts else "")
    best = "direct" if one < 1 else "sections"
    yield Result("choice", answer["choice"] == best, answer["choice"], None)


def radius(a, bits):
    """Largest distance of a root from 0, after the coefficients were stored."""
    return float(np.abs(np.roots(quantised(a, bits))).max())


# --- 07-e: a second-order section ---


def draw_section(rng):
    return {"hz": 10 * rng.integer(30, 40), "q": rng.integer(20, 30)}


def judge_section(netlist, mine, seed):
    rng = Draw("section", seed)
    b, a = signal.iirpeak(mine.hz, mine.q, fs=RATE)
    codes = np.r_[2**22, np.zeros(120, int)]
    found, wanted = fed(netlist, codes, "out"), signal.lfilter(b, a, codes)
    error, most = np.abs(found - wanted).max() / np.abs(wanted).max(), 0.01
    shown = ", ".join(str(int(x)) for x in found[:4])
    hint = "signs" if np.abs(found).max() > 2 * np.abs(wanted).max() else ""
    yield Result("response", error <= most, shown, ", ".join(f"{x:.0f}" for x in wanted[:4]), "codes", hint)
    rest = fed(netlist, np.r_[noise(rng, 100, 3000), np.zeros(2400, int)], "out")[-256:]
    shown = f"{int(rest.min())} to {int(rest.max())}"
    yield Result("rest", not rest.any(), shown, "0", "codes")
    square = np.where(np.sin(2 * np.pi * mine.hz / RATE * np.arange(600) + 0.1) > 0, FULL - 1, -FULL)
    loud = fed(netlist, square, "out")
    ideal = np.clip(signal.lfilter(b, a, square), -FULL, FULL - 1)
    apart = float(np.abs(loud - ideal).max() / FULL)
    yield Result("full", apart < 1, f"off by {100 * apart:.0f} % of full scale", "off by less than 100 %")


# --- 07-f: decimation ---

STAGES = 3


def draw_cic(rng):
    return {"rate": rng.choice((12, 20, 24, 40, 48))}


def hogenauer(rate):
    """Bits of each register: input bits plus the growth ceil(N log2 R), worked out in whole numbers."""
    return 24 + (rate**STAGES - 1).bit_length()


def judge_cic(netlist, mine, seed):
    rng, r = Draw("cic", seed), mine.rate
    codes = noise(rng, 12 * r, 1000)
    found, ticks = outputs(netlist, codes)
    gaps = sorted(set(np.diff(ticks // APART).tolist()))
    shown = "no output" if not len(ticks) else ", ".join(map(str, gaps)) or "one output"
    yield Result("rate", gaps == [r], shown, r, "samples")
    whole = np.convolve(codes, boxes(r))[: len(codes)]
    right = len(found) >= 8 and _aligned(found, whole, r)
    yield Result("filter", right, _ends(found), None, "codes", "stuck" if len(found) and not any(found) else "")
    full = [outputs(netlist, np.full(6 * r, code))[0] for code in (FULL - 1, -FULL)]
    last = [int(one[-1]) if len(one) else 0 for one in full]
    wanted = [(FULL - 1) * r**STAGES, -FULL * r**STAGES]
    shown = " and ".join(f"{x / r**STAGES:.0f}" for x in last)
    yield Result("full", last == wanted, shown, f"{FULL - 1} and {-FULL}", f"codes (value / {r}**3)")
    size, most = flip_flops(netlist), 8 * hogenauer(r) + 24
    yield Result("size", size <= most, size, f"at most {most}", "flip-flops")


def outputs(netlist, codes):
    """New values of ``value`` and the ticks in which they appeared, the reset value left out."""
    codes = [int(code) for code in codes]
    rows = [(APART * (k + 1) - 1, "fan A bearing", code) for k, code in enumerate(codes)]
    trace = drive(netlist, APART * (len(codes) + 1), rows).trace("value")
    return trace.values[1:], trace.ticks[1:]


def boxes(rate):
    """Three moving sums after each other, as one row of weights."""
    one = np.ones(rate, np.int64)
    return np.convolve(np.convolve(one, one), one)


def _aligned(found, whole, rate):
    """Whether the outputs are every ``rate``-th value of the ideal filter, from any sample on."""
    for first in range(rate + STAGES):
        wanted = whole[first::rate]
        for skip in (0, 1):
            common = min(len(found), len(wanted) - skip)
            if common >= 8 and np.array_equal(found[:common], wanted[skip : skip + common]):
                return True
    return False


def _ends(found):
    return ", ".join(str(int(x)) for x in found[2:5]) + " …" if len(found) else "none"


# --- 07-g: one line of a spectrum ---

LINES = 256
SHARES_OF_PEAK = ((0.5, "half"), (0.25, "half"), (2**-0.5, "rms"))  # readings that say which factor is missing


def draw_line(rng):
    line = rng.integer(30, 60)
    line += line == LINES // 4  # there, folded and not folded are the same line
    return {"hz": RATE - line * RATE / LINES, "level": 1000 * rng.integer(20, 60)}


def tone(hz, level, count=LINES, phase=0.4):
    return np.round(level * np.cos(2 * np.pi * hz / RATE * np.arange(count) + phase)).astype(int)


def judge_line(netlist, mine, seed):
    rng = Draw("line", seed)
    level, heard = mine.level, round(abs(mine.hz - RATE) * LINES / RATE)
    at = line_of(netlist)
    mirrored = at == round((mine.hz - RATE / 2) * LINES / RATE)
    yield Result("line", at == heard, f"line {at}" if at else "no line", None, "", "mirror" if mirrored else "")
    if not at:
        raise AnswerFault("your design answers to no line of the spectrum: an impulse in the middle of a block leaves "
                          "real and imag at 0", "recurrence")
    hz, phase = at * RATE / LINES, rng.real(0.2, 1.2)
    codes = tone(hz, level, 2 * LINES, phase)
    real, imag = fed(netlist, np.r_[codes, 0], "real", "imag")
    one, two = (math.hypot(real[k], imag[k]) for k in (LINES - 1, 2 * LINES - 1))
    weights = signal.get_window("hann", LINES)
    wanted = 2 * abs(np.fft.rfft(weights * codes[:LINES])[at]) / weights.sum()
    hint = next((said for share, said in SHARES_OF_PEAK if abs(one / wanted - share) < 0.01), "")
    yield Result("scale", abs(one - wanted) <= 0.005 * wanted, round(one), round(wanted), "codes", hint)
    steady = not np.ptp(real[LINES - 1 : 2 * LINES - 1]) and not np.ptp(imag[LINES - 1 : 2 * LINES - 1])
    shown = round(two) if steady else "other values within a block"
    yield Result("again", steady and abs(two - one) <= 0.005 * one, shown, round(one), "codes")
    # three and a half lines off, where a window shows what it is for
    off = fed(netlist, np.r_[tone(hz + 3.5 * RATE / LINES, level, LINES, phase), 0], "real", "imag")
    leak = math.hypot(off[0][LINES - 1], off[1][LINES - 1]) / max(one, 1)
    yield Result("window", leak < 0.02, round(100 * leak, 2), "less than 2", "% of the tone")


def line_of(netlist):
    """The line to which the design listens: how far a later impulse turns the phase, in turns of 256ths; 0 for none."""
    parts = []
    for place in (LINES // 2, LINES // 2 + 1):
        codes = np.zeros(LINES + 1, int)
        codes[place] = 2**22
        real, imag = fed(netlist, codes, "real", "imag")
        parts.append(complex(real[LINES - 1], imag[LINES - 1]))
    if abs(parts[0]) < 100:
        return 0
    return abs(round(float(np.angle(parts[1] / parts[0])) * LINES / (2 * np.pi)))


# --- 07-h: once per turn ---

SAMPLE = 40


def draw_turn(rng):
    # Even: with 205, 255 or 257 samples the table's 256 angles leave 5 to 20 % of the constant in "others", in a right design too.
    return {"per_turn": 2 * rng.integer(100, 130)}


def judge_turn(netlist, mine, seed):
    rng = Draw("turn", seed)
    level, phase = 1000 * rng.integer(20, 40), rng.integer(30, 150) * rng.choice((-1, 1))
    own = turned(netlist, mine.per_turn, level, phase)
    yield Result("amplitude", abs(abs(own) - level) < 0.03 * level, round(abs(own)), level, "codes",
                 "half" if abs(abs(own) - level / 2) < 0.03 * level else "")
    found = math.degrees(np.angle(own))
    error, mirrored = (abs((found - p + 180) % 360 - 180) for p in (phase, -phase))
    yield Result("phase", error < 5, round(found, 1), phase, "degrees", "mirrored" if mirrored < 5 else "")
    disturbed = turned(netlist, mine.per_turn, level, phase, rest=25 * level)
    share = abs(disturbed - own) / max(abs(own), 1)
    yield Result("others", share < 0.015, round(100 * share, 1), "less than 1.5", "% of 1×")
    faster = turned(netlist, mine.per_turn - 40 - rng.integer(0, 30), level, phase)
    share = abs(faster - own) / max(abs(own), 1)
    yield Result("speed", share < 0.05, round(100 * share, 1), "less than 5", "% of 1×")


def turned(netlist, per_turn, level, phase_deg, rest=0.0):
    """The phasor that the host works out of ``real``, ``imag`` and ``count`` after 17 turns."""
    turn, turns = per_turn * SAMPLE, 17
    marks = 100 + turn * np.arange(turns + 1)
    ticks = SAMPLE * np.arange(1, turn * turns // SAMPLE)
    angle = 2 * np.pi * (ticks - marks[0]) / turn
    wave = level * np.cos(angle + math.radians(phase_deg)) + rest + rest / 10 * np.cos(2 * angle + 1)
    rows = [(int(t), "fan B bearing", int(c)) for t, c in zip(ticks, np.round(wave), strict=True)]
    rows += [(int(at) + d, "fan B pulse", v) for at in marks for d, v in ((0, 1), (400, 0))]
    run = drive(netlist, int(ticks[-1]), sorted(rows))
    real, imag, count = (run.at(name, int(ticks[-1]) - 1) for name in ("real", "imag", "count"))
    return 2 * complex(real, imag) / (max(count, 1) * 2**14)


# --- 07-i: speed control ---

CYCLE = 50
OUT_OF_REACH = 60  # cycles


def draw_control(rng):
    return {"kp": rng.integer(5, 8), "ki": rng.integer(20, 40), "pole": 1 - rng.integer(18, 26) / 1024}


def judge_control(netlist, mine, seed):
    rng = Draw("control", seed)
    target = rng.integer(180, 260)
    speed, command = closed(netlist, mine, [target] * 150)
    wanted = target * step_response(mine, 150)
    error = float(np.abs(speed - wanted).max())
    at = int(np.argmax(np.abs(speed - wanted)))
    yield Result("response", error < 0.02 * target + 2, f"{speed[at]:.0f} in cycle {at}", f"{wanted[at]:.0f}", "r/min",
                 look=lambda: _cycles({"speed": (speed, wanted), "command": command}, at, range(150)))
    moved, due = zip(*(_small(netlist, mine, error) for error in (-1, 1)), strict=True)
    right = all(abs(m - d) <= 2 for m, d in zip(moved, due, strict=True))
    yield Result("small", right, f"{moved[0]} and {moved[1]}", f"{due[0]} and {due[1]}", "codes",
                 look=lambda: _small_look(netlist, mine, 1 if abs(moved[0] - due[0]) <= 2 else -1))
    high, low = (closed(netlist, mine, [far] * OUT_OF_REACH + [1500] * 20)[1] for far in (8000, -8000))
    bad = [int(c) for c in (*high, *low) if not 0 <= c <= 32767]
    told = bad[0] if bad else f"{min(*high, *low)} to {max(*high, *low)}"
    yield Result("limits", not bad, told, "0 to 32767", "codes",
                 look=lambda: _limits_look([low, high][bad[0] in high]))
    yield replace(_windup(high, low), look=lambda: _windup_look(high, low))


def _cycles(rows, at, shown, note=""):
    """A look at values that stand once per cycle: ``rows`` has one for each, or these and what they should be."""
    def spread(values):
        return [(CYCLE * i, round(float(v))) for i, v in enumerate(values)]

    rows = {name: tuple(map(spread, row)) if isinstance(row, tuple) else spread(row) for name, row in rows.items()}
    return seen(rows, at=CYCLE * at, around=(CYCLE * shown[0], CYCLE * shown[-1]), curves=list(rows), note=note)


def _small_look(netlist, mine, error):
    found = opened(netlist, np.full(190, 1000), np.r_[np.full(40, 900), np.full(150, 1000 - error)])
    due = found[40] + np.r_[np.zeros(40), error * np.arange(150) * mine.ki / 256]
    return _cycles({"command": (found, np.r_[found[:40], due[40:]])}, 189, range(36, 190), f"an error of {error} r/min from cycle 40 on")


def _limits_look(command):
    command = np.asarray(command)
    return _cycles({"command": (command, np.clip(command, 0, 32767))}, int(np.argmax(command != np.clip(command, 0, 32767))), range(80))


def _windup_look(high, low):
    above = _after(np.flatnonzero(np.asarray(high) < 32700)) > 5
    stays, far = (high, 8000) if above else (low, -8000)
    rows = {"setpoint": [far] * OUT_OF_REACH + [1500] * 20, "command": stays}
    return _cycles(rows, OUT_OF_REACH, range(50, 80), "the command must leave its limit within 5 cycles of 50 ticks")


def _small(netlist, mine, error):
    """By how much an error of 1 r/min moves the command in 149 cycles, and by how much it should."""
    found = opened(netlist, np.full(190, 1000), np.r_[np.full(40, 900), np.full(150, 1000 - error)])
    return int(found[-1] - found[40]), round(error * 149 * mine.ki / 256)


def _windup(high, low):
    """The wish was out of reach for long, above and below: how long does the command stay at its limit after that?"""
    free = [np.flatnonzero(np.asarray(high) < 32700), np.flatnonzero(np.asarray(low) > 60)]
    waits = max(_after(one) for one in free)
    return Result("windup", waits <= 5, waits, "at most 5", "cycles")


def _after(free):
    later = free[free >= OUT_OF_REACH]
    return int(later[0]) - OUT_OF_REACH if len(later) else 20


def closed(netlist, mine, targets):
    """Speed (r/min) and command of a fan under the design, one pair per cycle."""
    step, speed, seen, given = stepped(netlist), 0.0, [], []
    for target in targets:
        seen.append(speed)
        given.append(step(int(target), round(speed)))
        speed = mine.pole * speed + (1 - mine.pole) * 3000 * given[-1] / 32768
    return np.array(seen), given


def opened(netlist, setpoints, speeds):
    """Commands for errors that the fan does not answer: all are known before, so it is one run."""
    command, *_ = loop_ends(netlist)
    at = CYCLE // 2 + CYCLE * np.arange(len(setpoints) + 1)
    rows = [(int(tick), name, int(number)) for name, numbers in (("setpoint", setpoints), ("speed", speeds))
            for tick, number in zip(at, numbers, strict=False)]
    run = drive(netlist, int(at[-1]) + 1, rows)
    return held(run.trace("command"), at[1:]) * float(command.type.step)


def stepped(netlist):
    """A function that lets the design work for a cycle with a setpoint and a speed (r/min), and gives its command.

    The host writes in the middle between two turns, and reads a cycle later.
    """
    command, *given = loop_ends(netlist)
    netlist = expose(netlist)
    engine, number_of = make_engine(netlist, 0), {port.name: number for number, port in enumerate(netlist.inputs)}
    ports = np.array([number_of[end.ports[role]] for end in given for role in ("data", "write")], np.int32)
    engine.run(CYCLE // 2)

    def step(*numbers):
        values = np.ones(4, np.int64)
        values[::2] = [min(max(number, end.type.low), end.type.high)          # a speed that runs away
                       for end, number in zip(given, numbers, strict=True)]
        engine.run(CYCLE, Events(np.full(4, engine.ticks()), ports, values))
        return command.type.number(engine.peek(command.ports["value"]))

    return step


def loop_ends(netlist):
    """The ends of the control loop: command, setpoint, speed."""
    ends = [endpoint(netlist, name) for name in ("command", "setpoint", "speed")]
    for end in ends[1:]:
        if end.type.step != 1 or not (end.type.holds(-8000) and end.type.holds(8000)):
            raise AnswerFault(f"{end.name} must hold whole numbers from -8000 to 8000; it is {end.type}")
    return ends


def step_response(mine, steps):
    """Closed loop from the setpoint to the speed, by scipy: PI with the sum that includes the present error."""
    kp, ki, b = mine.kp, mine.ki / 256, (1 - mine.pole) * 3000 / 32768
    num = b * np.array([kp + ki, -kp])
    den = np.polymul([1, -1], [1, -mine.pole])
    _, (y,) = signal.dstep(signal.dlti(num, np.polyadd(den, num), dt=1), n=steps)
    return y[:, 0]


# --- what the learners are asked, and the hints ---

SAMPLES = [answers.Port("analog_in", terminal="fan A bearing")]


def shown(*names):
    return [answers.Port("host_reg", name=name, access="ro") for name in names]


lab = Lab(
    "07_signals_in_integers",
    "Signals in integers",
    [
        Exercise(
            "07-a",
            "A moving average without drift",
            points=3,
            objective="build an average that stays exact in whole numbers",
            kind=answers.Design(ports=SAMPLES + shown("mean")),
            parameters=draw_mean,
            judge=judge_mean,
            answer="Mean",
            criteria=[
                Criterion("mean", "mean shows the mean of the last n samples", points=1, hint="mean"),
                Criterion("drift", "it still does after 2000 samples of noise", points=1, hint="drift"),
                Criterion("full", "it is right at both ends of the range", points=1, hint="full"),
            ],
            hints={
                "mean": Hint(
                    "Which samples are in your sum right after the n-th one came?",
                    "The newest goes in, the one n samples older goes out: the last register of the row, before it moves.",
                    "n = 2, samples 4, 6, 10: sums 4, 10, 16, means 2, 5, 8. With 10 in, 4 goes out.",
                ),
                "late": Hint(
                    "Does your mean know the newest sample already?",
                    "self.total keeps its old value until the next tick. Use the sum that you have just worked out, "
                    "under a name of its own.",
                    "total = self.total + 5; self.total = total; then show total >> 1, not self.total >> 1.",
                ),
                "drift": Hint(
                    "What goes into your memory with each sample: something exact?",
                    "A shift rounds down. What is rounded before it is added up is lost for ever; shift only what you show.",
                    "Adding 3 >> 1 and then -3 >> 1 gives 1 - 2 = -1. Adding 3 and -3 gives 0, whatever is shown.",
                ),
                "full": Hint(
                    "How large is the sum of n samples at the end of the range?",
                    "n = 2**m samples need m bits more than one. Widen each operand before you add.",
                    "Four samples of 127: 508 needs 10 bits as a signed number, 8 + 2.",
                ),
            },
        ),
        Exercise(
            "07-b",
            "RMS within a sixteenth of a code",
            points=3,
            objective="build a level in fixed point within a stated error",
            kind=answers.Design(ports=SAMPLES + shown("rms")),
            parameters=draw_rms,
            judge=judge_rms,
            answer="Rms",
            criteria=[
                Criterion("small", "a small signal is read within a sixteenth of a code", points=1, hint="fraction"),
                Criterion("blocks", "the next block starts afresh", points=1, hint="afresh"),
                Criterion("large", "full scale is read within a code", points=1, hint="wide"),
            ],
            hints={
                "fraction": Hint(
                    "In which unit is rms, and where do its sixteenths come from?",
                    "Multiply under the root: the root of 256 m is 16 times the root of m. 256/64 of the sum is the sum "
                    "times 4. See too that all 64 squares are in the total when you take the root.",
                    "Four samples 1, 2, 1, 2 in quarters of a code: sum 10, times 16/4 is 40, root 6: 6/4 = 1.5.",
                ),
                "afresh": Hint(
                    "What is in the total when the first sample of a block comes?",
                    "A block knows only its own samples: set the total to 0 before them.",
                    "Blocks of 2: samples 3, 3, then 0, 0. The second RMS is 0, not the root of 9.",
                ),
                "wide": Hint(
                    "How many bits does the sum of 64 squares of -2**23 need?",
                    "A square of 24 bits has up to 2**46; 64 of them make 2**52. Shift left only where the width allows it.",
                    "Four squares of -128: 65536, which is 17 bits; in 16 bits it is 0.",
                ),
            },
        ),
        Exercise(
            "07-c",
            "A low-pass that arrives",
            points=5,
            objective="build a one-pole low-pass without a dead band",
            kind=answers.Design(ports=SAMPLES + shown("level")),
            parameters=draw_pole,
            judge=judge_pole,
            answer="Smooth",
            criteria=[
                Criterion("rise", "it arrives from below", points=1, hint="arrive"),
                Criterion("fall", "it arrives from above", points=1, hint="arrive"),
                Criterion("time", "it is as fast as your k says", points=1, hint="speed"),
                Criterion("full", "it is right near both ends of the range", points=1, hint="wide"),
                Criterion("size", "it is no larger than needed", points=1, hint="size"),
            ],
            hints={
                "wide": Hint(
                    "What is the largest number that your scaled register must hold?",
                    "2**k times the largest sample. A register that is too narrow wraps, and large levels turn round.",
                    "12-bit samples and k = 3: 8 times 2047 needs 15 bits; 14 bits hold 8191 at most.",
                ),
                "arrive": Hint(
                    "What does your level show after a thousand equal samples?",
                    "It must show the sample itself. At rest, what goes in per sample equals what goes out.",
                    "With scaled = 4 y: at rest x = scaled >> 2.",
                ),
                "dead": Hint(
                    "What is (x - y) >> k when x - y is smaller than 2**k?",
                    "0 from one side, -1 from the other: a dead band. Keep the fraction: a register that holds 2**k times y.",
                    "k = 2, scaled = 4 y: scaled += x - (scaled >> 2). x = 10 from 0: 10, 18, 24, 28 … 40, and 40 >> 2 is 10.",
                ),
                "speed": Hint(
                    "By which part of the difference does the level move in one sample?",
                    "By 1/2**k: the scaled register takes x and gives away its own 2**k-th part.",
                    "k = 2: a step of 100 gives 25, 43, 57, 68.",
                ),
                "size": Hint(
                    "How many bits do your registers have together?",
                    "2**k times a number of 24 bits fits into 24 + k bits.",
                    "12-bit samples and k = 3: 15 bits, not 32.",
                ),
            },
        ),
        Exercise(
            "07-d",
            "Direct form or sections",
            points=3,
            objective="choose between one long filter and short sections by their poles",
            kind=answers.Record(
                direct=answers.Number(), sections=answers.Number(), choice=answers.Text(("direct", "sections"))
            ),
            parameters=draw_poles,
            judge=judge_poles,
            answer="poles",
            criteria=[
                Criterion("direct", "the outermost pole of the direct form is right", points=1, hint="roots"),
                Criterion("sections", "the outermost pole of the sections is right", points=1, hint="rows"),
                Criterion("choice", "the one that works is chosen", points=1, hint="stable"),
            ],
            hints={
                "roots": Hint(
                    "Which polynomial has the poles as its roots, and which numbers of it are stored?",
                    "The poles are the roots of a, rounded to 10 bits after the point: np.roots, np.abs, the largest.",
                    "a = 1, -1.8, 0.9 with 2 bits: 1, -1.75, 1. Its roots have the size 1.0 instead of 0.949.",
                ),
                "exact": Hint(
                    "Did you round the coefficients before you looked for the roots?",
                    "The hardware has the rounded ones. Take the roots of quantised(a, 10).",
                    "-5.7572 with 3 bits after the point is stored as -5.75.",
                ),
                "numerator": Hint(
                    "butter gives two lists. Which one did you take?",
                    "The roots of b are the zeros. The poles, which decide about stability, are the roots of a.",
                    "b, a = signal.butter(…): a starts with 1.",
                ),
                "rows": Hint(
                    "How many bits after the point, and which three numbers of a row?",
                    "Each row is b0, b1, b2, 1, a1, a2. Round the last three to 14 bits and take the roots.",
                    "Row …, 1, -1.9, 0.95: the roots have the size √0.95 = 0.9747.",
                ),
                "one_section": Hint(
                    "Did you look at all sections?",
                    "The outermost pole of the chain is the outermost of all its sections.",
                    "Sections at 0.95, 0.96 and 0.98: the answer is 0.98.",
                ),
                "stable": Hint(
                    "Which of your two numbers are smaller than 1?",
                    "A pole outside 1 makes the output grow without end, whatever the input.",
                    "1.05 in each sample is a factor of 131 after 100 samples.",
                ),
            },
        ),
        Exercise(
            "07-e",
            "A section that comes to rest",
            points=4,
            objective="build a second-order section without a limit cycle",
            kind=answers.Design(ports=SAMPLES + shown("out")),
            parameters=draw_section,
            judge=judge_section,
            answer="Section",
            criteria=[
                Criterion("response", "an impulse comes out as scipy says", points=2, hint="formula"),
                Criterion("rest", "it is 0 when the input has been 0 for long", points=1, hint="hum"),
                Criterion("full", "at full scale it saturates", points=1, hint="wraps"),
            ],
            hints={
                "formula": Hint(
                    "What are the first three outputs for a single 1, worked out by hand?",
                    "b0, then -a1 b0, then -b0 - a1 y1 - a2 y2. Compare with your outputs, one by one.",
                    "b0 = 0.5, a1 = -1, a2 = 0.5: 0.5, then 0.5, then -0.5 + 0.5 - 0.25 = -0.25.",
                ),
                "signs": Hint(
                    "Your output grows. Which sign do a1 and a2 have in the formula?",
                    "scipy's form is y = b0 x + … - a1 y1 - a2 y2. Other tools print them with the other sign.",
                    "a1 = -1.8: the term is - (-1.8) y1 = + 1.8 y1.",
                ),
                "hum": Hint(
                    "What does rounding do to a state that should shrink by less than half a code?",
                    "It puts it back. Keep more bits after the point in y1 and y2, so that the hum is below half a code.",
                    "A hum of 20 codes becomes 20/64 = 0.3 codes with 6 bits more, and is shown as 0.",
                ),
                "wraps": Hint(
                    "What does your output show when the right value is just above the largest code?",
                    "resize of a fixed-point value saturates unless you say overflow='wrap'; resize of a whole number, and a "
                    "cast, do not.",
                    "In 8 bits, 130 is shown as 127, not as -126.",
                ),
            },
        ),
        Exercise(
            "07-f",
            "A CIC decimator",
            points=5,
            objective="build a decimator with registers of the right width",
            kind=answers.Design(ports=SAMPLES + shown("value")),
            parameters=draw_cic,
            judge=judge_cic,
            answer="Decimator",
            criteria=[
                Criterion("rate", "one output comes for r samples", points=1, hint="count"),
                Criterion("filter", "the outputs are three moving sums over r samples", points=2, hint="order"),
                Criterion("full", "full scale is right at both ends", points=1, hint="wide"),
                Criterion("size", "the registers are no wider than needed", points=1, hint="narrow"),
            ],
            hints={
                "count": Hint(
                    "How many different values does your sample number take?",
                    "r samples have the numbers 0 to r - 1.",
                    "r = 3: 0, 1, 2, 0, 1, 2.",
                ),
                "order": Hint(
                    "Which of your steps run in every sample, and which once in r samples?",
                    "Integrators in every sample, combs only with the outputs; each comb keeps its own input of last time, "
                    "and nothing saturates on the way.",
                    "One stage, r = 2, samples 1, 2, 3, 4: sums 1, 3, 6, 10; outputs 3 - 0 = 3 and 10 - 3 = 7.",
                ),
                "stuck": Hint(
                    "All outputs are 0. What do your combs subtract?",
                    "A comb subtracts its input of one *output* before. If it is stored in every sample, or not at all, "
                    "the difference is another one.",
                    "Inputs 3, 10 of a comb: 3 - 0, then 10 - 3.",
                ),
                "wide": Hint(
                    "How large is the largest output, and does an integrator saturate on the way?",
                    "The gain is r**3: input bits + ceil(3 log2 r). The integrators must wrap, so that the combs can undo it.",
                    "12 bits, r = 16: 12 + 12 = 24 bits. r = 20: 3 log2 20 = 12.97, so 25.",
                ),
                "narrow": Hint(
                    "How many bits does the growth add, for your r?",
                    "ceil(3 log2 r), for all registers alike. More bits cost flip-flops and carry nothing.",
                    "r = 10: 3 log2 10 = 9.97, so 10 bits more.",
                ),
            },
        ),
        Exercise(
            "07-g",
            "Listen to a folded tone",
            points=6,
            objective="measure one line of a spectrum, and scale it",
            kind=answers.Design(ports=SAMPLES + shown("real", "imag")),
            parameters=draw_line,
            judge=judge_line,
            answer="Line",
            criteria=[
                Criterion("line", "it listens where your tone appears", points=2, hint="fold"),
                Criterion("scale", "real and imag give the peak amplitude, as numpy's", points=2, hint="scale"),
                Criterion("again", "the second block reads like the first", points=1, hint="afresh"),
                Criterion("window", "a tone 3.5 lines away hardly counts", points=1, hint="window"),
            ],
            hints={
                "fold": Hint(
                    "Where does a tone above half the sample rate appear?",
                    "At the distance to the nearest multiple of the sample rate. Divide by the distance of the lines.",
                    "1300 Hz at 2000 samples/s appears at 700 Hz; with lines 10 Hz apart that is line 70.",
                ),
                "mirror": Hint(
                    "Does a tone a little below the sample rate appear high or low?",
                    "Low: it is folded back from half the rate, as a strip of paper. You counted on from half the rate.",
                    "1300 Hz at 2000 samples/s is 300 above the fold, so it appears 300 below it: at 700 Hz, not at 300.",
                ),
                "recurrence": Hint(
                    "What is in s1 and s2 after an impulse?",
                    "s = x + 2 cos(w) s1 - s2; then s2 takes s1, and s1 takes s, all in the same tick.",
                    "2 cos(w) = 1, impulse 8: s = 8, then 8, then 0, then -8.",
                ),
                "scale": Hint(
                    "What does your filter read for a sine of known size?",
                    "Peak = 2 |X| / (sum of the window). Here the sum is 128, so divide by 64. And mind which s1 the last "
                    "line uses: real = cos(w) s - s1 with the newest s.",
                    "256 samples without a window: the sum is 256, so divide by 128.",
                ),
                "half": Hint(
                    "Your reading is a half or a quarter of the tone. Which factor is missing?",
                    "One factor 2 for the negative frequency, another for the Hann window: 2 / sum, and not 1 / n.",
                    "A sine of 3000: |X|/n is 1500, with a Hann window 750.",
                ),
                "afresh": Hint(
                    "What is in s1 and s2 when a block begins?",
                    "Nothing: set both to 0 with the last sample of the block before.",
                    "A filter that rings on adds the last block to the next: the reading of a steady tone grows.",
                ),
                "window": Hint(
                    "Do your samples reach the filter with their weights?",
                    "A block that begins and ends at once smears a tone over all lines. x in step is already weighted: use it.",
                    "3.5 lines off: 9 % without a window, less than 1 % with a Hann window.",
                ),
                "rms": Hint(
                    "Is that the peak of the tone or its RMS?",
                    "The RMS of a sine is its peak divided by √2. Here the peak is wanted: do not divide by it.",
                    "A peak of 10 has an RMS of 7.07.",
                ),
            },
        ),
        Exercise(
            "07-h",
            "Amplitude and phase from the mark",
            points=5,
            objective="detect the once-per-turn vibration in amplitude and phase",
            kind=answers.Design(
                ports=[
                    answers.Port("analog_in", terminal="fan B bearing"),
                    answers.Port("digital_in", terminal="fan B pulse"),
                    *shown("real", "imag", "count"),
                ]
            ),
            parameters=draw_turn,
            judge=judge_turn,
            answer="OneTimes",
            criteria=[
                Criterion("amplitude", "the amplitude is right", points=1, hint="sum"),
                Criterion("phase", "the phase is right, sign included", points=2, hint="sum"),
                Criterion("others", "a constant and a tone twice per turn do not count", points=1, hint="whole"),
                Criterion("speed", "at another speed it reads the same", points=1, hint="count"),
            ],
            hints={
                "sum": Hint(
                    "What are real, imag and count for a signal that is the cosine itself?",
                    "Add x c to one sum and subtract x s from the other, in every sample; the count goes with the sums.",
                    "x = 10 cos(angle) over 4 samples: x c sums to 20, count 4, amplitude 2 × 20 / 4 = 10.",
                ),
                "half": Hint(
                    "Your amplitude is half of the right one. What is counted twice, or added only half as often?",
                    "The count has one step for each sample whose products are in the sums.",
                    "8 turns of 200 samples: count is 1600.",
                ),
                "mirrored": Hint(
                    "Which sign has the sine's sum?",
                    "x = A cos(angle + phase) contains - A sin(phase) sin(angle): so imag is minus the sum of x sin.",
                    "Phase 90 degrees: x = - A sin(angle). Minus the sum of x sin is positive.",
                ),
                "whole": Hint(
                    "Which samples are in your sum: exactly those of eight turns?",
                    "The sample that comes with done belongs to the new block, as its first. None may be lost, none counted "
                    "twice.",
                    "A constant of 100 over 200 samples cancels. Over 199 it leaves 100, the weight of one sample.",
                ),
                "count": Hint(
                    "Which of your results changes when a turn has fewer samples?",
                    "All three. The count is the number of samples that really are in the sums, and c and s follow the "
                    "measured turn.",
                    "8 turns of 200 samples: count 1600. 8 turns of 150: 1200.",
                ),
            },
        ),
        Exercise(
            "07-i",
            "A speed control that does not wind up",
            points=5,
            objective="control a speed with an integral that does not run away",
            kind=answers.Design(
                ports=[
                    answers.Port("host_reg", name="setpoint", access="rw"),
                    answers.Port("host_reg", name="speed", access="rw"),
                    *shown("command"),
                ]
            ),
            parameters=draw_control,
            judge=judge_control,
            answer="Control",
            criteria=[
                Criterion("response", "the step response is scipy's", points=2, hint="rule"),
                Criterion("small", "an error of 1 r/min moves the command in the end", points=1, hint="small"),
                Criterion("limits", "the command stays within 0 and 32 767", points=1, hint="limits"),
                Criterion("windup", "the command leaves its limit soon after the wish has dropped", points=1, hint="windup"),
            ],
            hints={
                "rule": Hint(
                    "What is the command in the first cycle after a step of 100?",
                    "kp times the error, plus ki/256 times the error: the sum includes the present one. Error = setpoint - "
                    "speed.",
                    "kp = 2, ki = 64, error 100: 200 + 25 in the first cycle, 200 + 50 in the second.",
                ),
                "small": Hint(
                    "What is ki × 1 / 256 in whole numbers?",
                    "0, or -1 for an error of -1. Add up ki times the error as it is, and shift the sum when you use it.",
                    "64 × 1 added up 100 times is 6400; 6400 >> 8 is 25. (64 >> 8) added up 100 times is 0.",
                ),
                "limits": Hint(
                    "What does your command show when the rule gives -500, or 40 000?",
                    "Compare the wide sum with both limits before you narrow it.",
                    "0 for -500, 32 767 for 40 000.",
                ),
                "windup": Hint(
                    "What does the integral do while the command stands at its limit?",
                    "It must not grow: keep the old sum whenever the command is limited and the error pushes further.",
                    "Command wanted 40 000, error +10: keep. Error -10: let it sum, for that leads back.",
                ),
            },
        ),
    ],
)
