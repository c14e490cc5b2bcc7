"""Exercises of lab 03, "Numbers in wires".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a small instrument of its own, and measures.
"""

from __future__ import annotations

import functools

import numpy as np

from simkit import Design, HostReg, Reg, bits, cat, clocked, compile_design, resize, signed, unsigned
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, endpoint

SETTLE = 8
"""Ticks from a host's write to the look at the result: the register takes one, and a design may take some more."""


def responses(netlist, name, rows):
    """What ``name`` shows for each row of host registers ``{register: raw value}``, one after the other."""
    changes = [(1 + SETTLE * n, register, value) for n, row in enumerate(rows) for register, value in row.items()]
    run = drive(netlist, SETTLE * (len(rows) + 1), changes)
    return [int(run.at(name, SETTLE * (n + 1))) for n in range(len(rows))]


def listed(values):
    return ", ".join(str(int(value)) for value in values)


# --- 03-a: widths needed ---


def draw_widths(rng):
    return {"count": rng.choice((256, 512, 1024, 2048, 4096)), "samples": rng.integer(300, 900),
            "bits": rng.choice((12, 14, 16)), "other": rng.choice((6, 8, 10)),
            "low": -rng.integer(140, 250), "high": rng.integer(60, 120)}


def narrowest(kind, low, high):
    """The narrowest type of a kind that holds both ends."""
    return next(width for width in range(1, 64) if kind(width).holds(low) and kind(width).holds(high))


def ends_of(answer, mine):
    """Register -> (kind, smallest and largest number that it must show, found by trying all corners)."""
    ends, other = (signed(mine.bits).low, signed(mine.bits).high), (signed(mine.other).low, signed(mine.other).high)
    corners = [a * b for a in ends for b in other]
    return {"count": (unsigned, 0, mine.count), "total": (signed, mine.samples * ends[0], mine.samples * ends[1]),
            "product": (signed, min(corners), max(corners)), "span": (signed, mine.low, mine.high)}


def judge_widths(answer, mine, seed):
    for name, (kind, low, high) in ends_of(answer, mine).items():
        width, found = narrowest(kind, low, high), answer[name]
        yield Result(name, found == width, found, None, "bits", _why_width(name, found, width))


def _why_width(name, found, width):
    if found > width:
        return "wasted"
    return {"count": "power_of_two", "product": "corner"}.get(name, "") if found == width - 1 else ""


# --- 03-b: wrap or saturate ---


def draw_command(rng):
    return {"bits": rng.choice((10, 12, 14))}


def judge_command(netlist, mine, seed):
    rng, kind = Draw("command", seed), signed(mine.bits)
    half, far = kind.high // 2, rng.integer(10, kind.high // 4)
    a, b = rng.integer(20, half - 1), rng.integer(20, half - 1)
    rows = [(a, b), (a, -b), (-a, -b), (kind.high - far, 2 * far), (kind.low + far, -2 * far)]
    found = responses(netlist, "command", [{"base": base, "trim": trim} for base, trim in rows])
    wanted = [base + trim for base, trim in rows]
    yield Result("sum", found[:3] == wanted[:3], listed(found[:3]), listed(wanted[:3]))
    shown = [f"{value} for {base} + {trim}" for value, (base, trim) in zip(found, rows, strict=True)]
    yield Result("top", found[3] == kind.high, shown[3], kind.high, "", _why_end(found[3], wanted[3], kind))
    hint = "symmetric" if found[4] == -kind.high else _why_end(found[4], wanted[4], kind)
    yield Result("bottom", found[4] == kind.low, shown[4], kind.low, "", hint)


def _why_end(found, true, kind):
    whole = 2**kind.width
    if abs(found - true) == whole:
        return "wrap"
    return "plain_resize" if abs(found - true) == whole // 2 else ""


# --- 03-c: signed meets unsigned ---


def draw_corrected(rng):
    return {"bits": rng.choice((10, 12, 14))}


def judge_corrected(netlist, mine, seed):
    rng, most = Draw("corrected", seed), 2**mine.bits - 1
    small, large, offset = rng.integer(150, 400), most - rng.integer(0, 100), rng.integer(20, 100)
    rows = [(small, offset), (large, offset), (most, -128), (small, -offset), (3, offset)]
    found = responses(netlist, "value", [{"raw": raw, "offset": off} for raw, off in rows])
    first = found[0]
    hint = "added" if first == small + offset else ""
    yield Result("ordinary", first == small - offset, first, small - offset, "", hint)
    upper = [value - first for value in found[1:3]]
    wanted = [large - small, most + 128 - small + offset]
    hint = _why_upper(upper, wanted, mine)
    if hint == "one_more" and endpoint(netlist, "value").type.holds(most + 128):
        hint = "too_late"
    yield _moved("upper", upper, wanted, first, hint)
    hint = "byte" if found[3] - first - 2 * offset == -256 else ""
    yield _moved("negative", [found[3] - first], [2 * offset], first, hint)
    yield _moved("below", [found[4] - first], [3 - small], first, "held" if found[4] == 0 else "")


def _why_upper(found, wanted, mine):
    off, most = found[0] - wanted[0], found[1] - wanted[1]
    known = {-(2**mine.bits): "bits_kept"}.get(off, "")
    return known or {-256: "byte", -(2**(mine.bits + 1)): "one_more"}.get(most, "")


def _moved(name, found, wanted, first, hint):
    """A result relative to the ordinary case, so that a constant error fails only that one."""
    shown, right = ([first + one for one in values] for values in (found, wanted))
    return Result(name, found == wanted, listed(shown), listed(right), "", hint)


# --- 03-d: the binary point after a multiplication ---


def draw_scaled(rng):
    return {"fraction": rng.choice((12, 13, 14))}


def judge_scaled(netlist, mine, seed):
    rng, one = Draw("scaled", seed), 2**mine.fraction
    sample = rng.integer(9_000, 15_000)
    rows = [(sample, one), (sample, one // 2), (-sample, one), (sample, -one // 2), (-32768, 32767),
            (32767, 32767), (-32768, -32768)]
    found = responses(netlist, "result", [{"sample": x, "gain": gain} for x, gain in rows])
    wanted = [int(np.clip(round(x * gain / one), -32768, 32767)) for x, gain in rows]
    wanted[2:4] = [-found[0], -found[1]]                 # relative, so that a wrong scale fails only its own criterion
    near = [abs(a - b) <= 1 for a, b in zip(found, wanted, strict=True)]
    hint = _why_scale(found, sample, one)
    yield Result("scale", all(near[:2]), listed(found[:2]), listed(wanted[:2]), "", hint)
    plain = abs(found[5] - (32767 * 32767 // one) % 2**15) <= 1
    hint = "plain_resize" if plain else "ends" if all(near[2:4]) else ""
    yield Result("signs", all(near[2:5]), listed(found[2:5]), listed(wanted[2:5]), "", hint)
    yield Result("ends", all(near[5:]), listed(found[5:]), listed(wanted[5:]), "", "plain_resize" if plain else "")


def _why_scale(found, sample, one):
    if found[0] == sample // one * one or (found[0], found[1]) == (sample, 0):
        return "too_early"
    found = found[0]
    product = sample * one
    if found in (product, (product + 2**15) % 2**16 - 2**15, 32767):
        return "no_point"
    for shift in range(11, 18):
        if 2**shift != one and abs(found - (product >> shift)) <= 1:
            return "habit"
    return ""


# --- 03-e: the price of dropped bits ---


class Million(Design):
    """Drops bits of noise in two ways and adds up the errors: the instrument of exercise 03-e."""

    noise = Reg(unsigned(20), reset=1)
    cut = HostReg(signed(32), access="ro")
    half = HostReg(signed(32), access="ro")

    def __init__(self, drop):
        self.drop = drop

    @clocked
    def turn(self):
        n = self.noise
        self.noise = cat(bits(n, 18, 0), n[19] ^ n[16])         # a new number in each tick
        x = resize(signed(20)(n), signed(32))
        self.cut = self.cut + ((x >> self.drop) << self.drop) - x
        self.half = self.half + (((x + 2**(self.drop - 1)) >> self.drop) << self.drop) - x


MILLION = 2**20 - 1


def draw_drop(rng):
    return {"drop": rng.integer(2, 5)}


@functools.cache
def mean_errors(drop):
    """Mean errors of cutting and of adding a half first, in steps of the result."""
    run = drive(compile_design(Million(drop)), MILLION + 1)
    return [run.at(name, MILLION) / MILLION / 2**drop for name in ("cut", "half")]


def judge_drop(answer, mine, seed):
    cut, half = mean_errors(mine.drop)
    yield Result("cut", abs(answer["cut"] - cut) < 0.004, answer["cut"], None, "steps", _why_mean(answer["cut"], cut, mine))
    yield Result("half", abs(answer["half"] - half) < 0.004, answer["half"], None, "steps",
                 _why_mean(answer["half"], half, mine))


def _why_mean(found, mean, mine):
    if found and abs(found + mean) < 0.004:
        return "sign"
    if abs(found / 2**mine.drop - mean) < 0.002 and found:
        return "unit"
    if abs(found) < 1e-9:
        return "no_average" if mean < 0 else "tie"
    return "not_half" if abs(abs(found) - 0.5) < 1e-9 else ""


# --- 03-f: a rounder ---


def judge_rounder(netlist, mine, seed):
    step = 2**mine.drop
    values = np.arange(-1024, 1024) + 2048 * Draw("rounder", seed).integer(-3, 3)
    values -= values[0] + 1024 if values[0] != -1024 else 0                # symmetric about 0
    found = np.array(responses(netlist, "y", [{"x": int(x)} for x in values]))
    errors = found - values / step
    worst, mean = float(np.max(np.abs(errors))), float(np.mean(errors))
    hint = "floor" if mean < -0.3 else "to_zero" if worst < 1 else ""
    yield Result("nearest", worst <= 0.5, round(worst, 3), "at most 0.5", "steps", hint)
    hint = "floor" if mean < -0.3 else ""
    yield Result("bias", abs(mean) < 0.002, round(mean, 4), "0 ± 0.002", "steps", hint)
    top = responses(netlist, "y", [{"x": 32767}, {"x": 32767 - step // 4}])
    wanted = 2**(15 - mine.drop) - 1
    yield Result("top", top == [wanted] * 2, listed(top), listed([wanted] * 2))


# --- 03-g: the level ---


GAP = 40
"""Ticks between two samples in the check; the bench leaves 781."""


def draw_level(rng):
    return {"taps": rng.choice((4, 8))}


def levels(netlist, samples):
    """What the level shows 20 ticks after each sample."""
    run = drive(netlist, GAP * (len(samples) + 2), [(GAP * (n + 1), "fan B bearing", int(x)) for n, x in enumerate(samples)])
    return np.array([int(run.at("level", GAP * (n + 1) + 20)) for n in range(len(samples))])


def judge_level(netlist, mine, seed):
    rng, taps = Draw("level", seed), mine.taps
    size = rng.integer(20_000, 60_000)
    steady = levels(netlist, [size if n % 2 else -size for n in range(3 * taps)])
    last = int(steady[-1])
    yield Result("mean", abs(last - size) <= 1, last, size, "codes", _why_mean_level(last, size, mine))
    early = 0 <= size - last < taps                                          # each sample has lost less than one code
    scale = last / size if not early and abs(last - size) > 1 and last > 1 else 1  # a wrong scale fails only its own criterion
    yield _window(netlist, mine, rng, scale)
    top, bottom = (int(levels(netlist, [code] * 2 * taps)[-1]) for code in (2**23 - 1, -(2**23)))
    wanted = 2**23 - 1 if scale == 1 else round((2**23 - 1) * scale)
    right = abs(top - wanted) <= (1 if scale == 1 else 1 + wanted / size)
    hint = "divided_early" if 1 < wanted - top <= mine.taps else ""
    yield Result("loud", right, top, wanted, "codes", hint)
    yield Result("lopsided", abs(bottom - top) <= 2 * scale, bottom, f"{top} ± 2", "codes", "negative" if bottom < 0 else "")


def _why_mean_level(found, size, mine):
    if abs(found) <= 1:
        return "no_magnitude"
    if 1 < size - found < mine.taps:
        return "divided_early"
    return "not_divided" if abs(found - mine.taps * size) <= mine.taps else ""


def _window(netlist, mine, rng, scale):
    before = rng.integer(1, mine.taps - 1)
    runs = [_impulse(netlist, mine, scale, place) for place in (before, before % (mine.taps - 1) + 1)]
    right = all(np.all(np.abs(shown[: mine.taps] - 1000) <= 1) and not np.any(shown[mine.taps :]) for shown in runs)
    shown = next((one for one in runs if one[0] == 0), runs[0])
    held, delays = int(np.sum(np.abs(shown - 1000) <= 1)), [int(np.argmax(one != 0)) for one in runs]
    late = delays == [1, 1] and held == mine.taps
    blocks = delays[0] != delays[1] and held == mine.taps
    found = "one sample late" if late else f"{max(delays)} samples late at times" if blocks else (
        f"for {held} samples" if held else "it fades" if np.any(shown) else "never")
    hint = "late" if late else "blocks" if blocks else "fades" if len(set(shown.tolist())) > 3 else ""
    return Result("window", right, found, f"for {mine.taps} samples", "", hint)


def _impulse(netlist, mine, scale, before):
    """Levels from a single loud sample on, which comes after ``before`` samples of 0; 1000 while it counts."""
    shown = levels(netlist, [0] * before + [1000 * mine.taps] + [0] * 2 * mine.taps)[before:]
    return np.round((shown - shown[-1]) / scale)


# --- 03-h: states, and a lamp beside them ---


QUIET, LOUD, TRIPPED = range(3)


def draw_watch(rng):
    return {"limit": 1000 * rng.integer(60, 120), "hold": rng.integer(200, 400), "blink": rng.integer(50, 90)}


def judge_watch(netlist, mine, seed):
    hold, loud = mine.hold, mine.limit + Draw("watch", seed).integer(500, 5000)
    run = drive(netlist, 900, [(50, "level", mine.limit), (150, "level", mine.limit + 1), (200, "level", 0)])
    shown = [_held(run, start, start + 38) for start in (110, 160, 210)]
    hint = "at_limit" if shown[0] == "loud" else ""
    yield Result("warn", shown == ["quiet", "loud", "quiet"], ", ".join(shown), "quiet, loud, quiet", "", hint)
    run = drive(netlist, 200 + 3 * hold, [(100, "level", loud)])
    on = run.changes("fan B trip", 1)
    took = int(on[0]) - 101 if len(on) else None
    right = took is not None and abs(took - hold) <= 6 and run.at("state", 199 + 3 * hold) == TRIPPED
    hint = "state_2" if took is not None and abs(took - hold) <= 6 else ""
    yield Result("hold", right, took, f"{hold} ± 6", "ticks", hint)
    yield _again(netlist, hold, loud)
    yield _latch(netlist, hold, loud)
    yield _beside(netlist, mine, loud)


def _held(run, start, stop):
    """The state in all of these ticks, or that there was more than one."""
    seen = {int(run.at("state", tick)) for tick in range(start, stop)}
    return _word(seen.pop()) if len(seen) == 1 else "changing"


def _word(state):
    return {QUIET: "quiet", LOUD: "loud", TRIPPED: "tripped"}.get(int(state), str(int(state)))


def _again(netlist, hold, loud):
    """Three spells that are each too short; together they are not."""
    part, at, changes = 7 * hold // 10, 100, []
    for _ in range(3):
        changes += [(at, "level", loud), (at + part, "level", 0)]
        at += part + 60
    tripped = len(drive(netlist, at + 100, changes).changes("fan B trip", 1)) > 0
    return Result("again", not tripped, "tripped" if tripped else "not tripped", "not tripped")


def _latch(netlist, hold, loud):
    start = 200 + 2 * hold
    run = drive(netlist, start + 900, [(100, "level", loud), (start, "restart", 1), (start + 100, "restart", 0),
                                       (start + 200, "level", 0), (start + 700, "restart", 1), (start + 760, "restart", 0)])
    pushed, quiet, after = (run.at("fan B trip", start + tick) for tick in (90, 690, 800))
    hint = "unlatched" if not quiet and pushed else "while_loud" if not pushed else "no_way_out" if after else ""
    shown = f"{_relay(pushed)} after a restart while loud, {_relay(quiet)} when quiet again, {_relay(after)} after a restart"
    return Result("latch", (pushed, quiet, after) == (1, 1, 0), shown, "on, on, off", "", hint)


def _relay(level):
    return "on" if level else "off"


def _beside(netlist, mine, loud):
    hold = mine.hold
    changes = [(300, "level", loud), (300 + hold // 2, "level", 0), (900, "level", loud), (1600 + hold, "level", 0),
               (1700 + hold, "restart", 1), (1750 + hold, "restart", 0)]
    run = drive(netlist, 2600 + hold, changes)
    gaps = np.diff(run.changes("lamp"))
    low, high = (int(min(gaps)), int(max(gaps))) if len(gaps) else (None, None)
    shown = low if low == high else f"{low} to {high}"
    hint = "disturbed" if low != high else "one_tick" if low and abs(low - mine.blink) <= 2 else ""
    return Result("beside", low == high == mine.blink, shown, mine.blink, "ticks", hint,
                  lambda: run.look(expected={"lamp": run.paced("lamp", mine.blink)}))


# --- 03-i: the model that hides the overflow ---


class Power(Design):
    """Adds up squares: the hardware of exercise 03-i."""

    code = HostReg(signed(16))
    total = HostReg(signed(32), access="ro")

    @clocked
    def turn(self):
        self.total = self.total + self.code * self.code


def draw_model(rng):
    return {"peak": rng.choice(PEAKS), "step": 2 * rng.integer(2000, 6000) + 1}


PEAKS = tuple(range(262, 300)) + tuple(range(301, 313)) + tuple(range(370, 405))
"""Their squares wrap to a positive number in 16 bits, which looks plausible."""


def codes_of(mine):
    """The recording of exercise 03-i."""
    return np.array([mine.step * k % 40_001 - 20_000 for k in range(40)], dtype=np.int16)


@functools.cache
def totals_of(codes):
    """What the hardware shows after each code: the code stands in its register for one tick."""
    changes = [(n, "code", code) for n, code in enumerate((*codes, 0))]
    run = drive(compile_design(Power), len(codes) + 6, changes)
    return np.array([run.at("total", n + 2) for n in range(len(codes))])


def judge_model(answer, mine, seed):
    square = int((np.array([mine.peak], dtype=np.int16) ** 2)[0])
    found = answer["square"]
    hint = {mine.peak**2: "grown", 32767: "clipped"}.get(found, "")
    yield Result("int16", found == square, found, None, "", hint)
    codes, model = codes_of(mine), answer["model"]
    totals, true = totals_of(tuple(codes.tolist())), np.cumsum(codes.astype(np.int64) ** 2)
    early = int(np.argmax(totals != true))
    wrong = np.flatnonzero(model != totals)
    hint = "narrow_square" if model[0] == int((codes**2)[0]) else ""
    yield Result("before", bool(np.array_equal(model[:early], totals[:early])), _differs(wrong[wrong < early]),
                 "all the same", "", hint)
    late = model[early:]
    hint = "no_wrap" if np.array_equal(late, true[early:]) else "held" if np.all(np.diff(late) >= 0) else ""
    yield Result("after", bool(np.array_equal(late, totals[early:])), _differs(wrong[wrong >= early]), "all the same", "",
                 hint)


def _differs(wrong):
    return f"differs first at sample {int(wrong[0])}" if len(wrong) else "all the same"


# --- what the learners are asked, and the hints ---

ONE_TICK = Hint(
    "How many counts does your lamp's counter take?",
    "Counts 0 to N - 1 are N ticks; a counter that runs to N makes N + 1.",
    "N = 3: 0, 1, 2 and back to 0. With 0, 1, 2, 3 it is 4 ticks.",
)
WRAP = Hint(
    "By how much is your number off? Is that a power of two?",
    "An adder keeps the width of its operands and wraps. Make room first, then cut down with saturation.",
    "100 + 100 in 8 bits is -56, which is 256 too little. In 9 bits it is 200, and 200 saturates to 127.",
)


def _reg(name, kind="", access="rw"):
    return answers.Port("host_reg", name=name, type=kind, access=access)


lab = Lab(
    "03_numbers_in_wires",
    "Numbers in wires",
    [
        Exercise(
            "03-a",
            "Widths needed",
            points=4,
            objective="work out the width that a number needs",
            kind=answers.Record(**{name: answers.Number(unit="bits", whole=True)
                                   for name in ("count", "total", "product", "span")}),
            parameters=draw_widths,
            judge=judge_widths,
            answer="widths",
            criteria=[
                Criterion("count", "the count is held, 0 and the last value included", points=1, hint="count"),
                Criterion("total", "the sum is held at both ends", points=1, hint="total"),
                Criterion("product", "the product is held at both ends", points=1, hint="product"),
                Criterion("span", "the position is held at both ends", points=1, hint="span"),
            ],
            hints={
                "count": Hint(
                    "What is the largest number that n bits show?",
                    "n bits without a sign show 0 to 2**n - 1. Look for the first n that reaches your number.",
                    "A count up to 100: 6 bits end at 63, 7 bits at 127, so 7.",
                ),
                "power_of_two": Hint(
                    "How many values are there from 0 to your number, both included?",
                    "The logarithm counts values, and 0 is one of them: 0 to N are N + 1 values.",
                    "0 to 16 are 17 values. 4 bits have 16 of them and end at 15, so it takes 5.",
                ),
                "total": Hint(
                    "What does the sum read if every sample is at the end of its range?",
                    "Each doubling of the number of samples costs one bit. Round up.",
                    "1000 samples of 10 bits: 1000 lies between 512 and 1024, so 10 bits more: 20.",
                ),
                "product": Hint(
                    "How large can the product be at most, and how small?",
                    "Try all four corners: most negative and most positive of each factor.",
                    "4 bits (-8 to 7) times 3 bits (-4 to 3): the corners are 32, -24, -28, 21.",
                ),
                "corner": Hint(
                    "What is the product of the two most negative numbers?",
                    "Two's complement has one more negative number than positive ones, and their product is positive: "
                    "just one too large for a bit less.",
                    "(-8) x (-4) = 32; 6 bits end at 31, so 4 + 3 = 7 bits. Only this one product needs the 7th.",
                ),
                "span": Hint(
                    "Which of the two ends needs more bits?",
                    "n bits with a sign show -2**(n-1) to 2**(n-1) - 1. Both ends must fit.",
                    "-40 to 10: 6 bits show -32 to 31, 7 bits show -64 to 63, so 7.",
                ),
                "wasted": Hint(
                    "Would one bit less still hold every value?",
                    "Wires are not free: a bit too many goes through each adder and register behind it.",
                    "Values up to 100 in 8 bits: the top bit is always 0.",
                ),
            },
        ),
        Exercise(
            "03-b",
            "A command that stays at the end of its range",
            points=3,
            objective="decide what happens at the end of a range, and build it",
            kind=answers.Design(ports=[_reg("base"), _reg("trim"), _reg("command", access="ro")]),
            parameters=draw_command,
            judge=judge_command,
            answer="Command",
            criteria=[
                Criterion("sum", "a sum that fits is exact", points=1, hint="sum"),
                Criterion("top", "a sum that is too large stays at the top", points=1, hint="wrap"),
                Criterion("bottom", "a sum that is too small stays at the bottom", points=1, hint="wrap"),
            ],
            hints={
                "sum": Hint(
                    "Is a sum in the middle of the range exact, with both signs?",
                    "base + trim and nothing else, as long as it fits.",
                    "5 + (-3) = 2, (-5) + (-3) = -8.",
                ),
                "wrap": Hint(
                    "How far is your number from base + trim? Is that a power of two?",
                    "The sum has wrapped, and then nothing can hold it any more. Make room first, then add, then cut down.",
                    "8 bits: 100 + 100 wraps to -56. In 9 bits it is 200, and 200 held at the end of 8 bits is 127.",
                ),
                "plain_resize": Hint(
                    "What does resize do if you do not say what shall become of the rest?",
                    "resize without a style keeps the sign bit and the lowest bits: neither a wrap nor a saturation. "
                    'Say overflow="saturate".',
                    "200 in 9 bits is 0 1100 1000. Sign bit 0 and the seven lowest bits make 72.",
                ),
                "symmetric": Hint(
                    "Which is the most negative number of your width?",
                    "The range has one more number below 0 than above. Staying at minus the top leaves that one out.",
                    "8 bits: -128 to 127, so the bottom is -128 and not -127.",
                ),
            },
        ),
        Exercise(
            "03-c",
            "A code without a sign, an offset with one",
            points=4,
            objective="combine signed and unsigned numbers without changing a value",
            kind=answers.Design(ports=[_reg("raw"), _reg("offset", "signed(8)"), _reg("value", access="ro")]),
            parameters=draw_corrected,
            judge=judge_corrected,
            answer="Corrected",
            criteria=[
                Criterion("ordinary", "a small code and a positive offset", points=1, hint="ordinary"),
                Criterion("upper", "codes in the upper half, up to the largest result", points=1, hint="range"),
                Criterion("negative", "a negative offset raises the value", points=1, hint="negative"),
                Criterion("below", "a code below the offset gives a negative value", points=1, hint="below"),
            ],
            hints={
                "ordinary": Hint(
                    "What is 300 with an offset of 20?",
                    "value = raw - offset, with nothing lost.",
                    "300 - 20 = 280.",
                ),
                "added": Hint(
                    "Which way does an offset act?",
                    "The offset is what the sensor shows at 0. It is taken away.",
                    "A scale that shows 20 when empty, and 300 when loaded: the load is 280.",
                ),
                "bits_kept": Hint(
                    "What does a code with its top bit set become when you read it as signed?",
                    "A conversion to the same number of bits keeps the bits, and the top bit turns into a sign. Convert to "
                    "one bit more, and the number is kept.",
                    "200 in 8 bits is 1100 1000; read as signed(8) it is -56, as signed(9) it is 200.",
                ),
                "range": Hint(
                    "Which is the largest value that can come out, and does your register hold it?",
                    "Largest code minus most negative offset. It is larger than the largest code.",
                    "8 bits of code, 4 bits of offset: 255 - (-8) = 263, which needs signed(10).",
                ),
                "one_more": Hint(
                    "What is the largest code minus the most negative offset, and how many bits does it need?",
                    "One bit more keeps every code, but the subtraction can go beyond the largest code.",
                    "255 - (-8) = 263; signed(9) ends at 255, so 263 wraps to -249.",
                ),
                "too_late": Hint(
                    "In how many bits is the subtraction itself done?",
                    "In the width of the wider operand. It has wrapped before your wider register sees it: widen an operand first.",
                    "signed(9)(255) - (-8) is a sum of 9 bits and wraps to -249; signed(10)(255) - (-8) is 263.",
                ),
                "negative": Hint(
                    "What is 300 with an offset of -20?",
                    "Taking a negative number away raises the value, by as much as a positive one lowers it.",
                    "300 - (-20) = 320.",
                ),
                "byte": Hint(
                    "What does the offset -1 read as, if its top bit is no sign?",
                    "Widen each operand by its own sign first, and only then combine. -1 in 8 bits, read as unsigned, is 255.",
                    "300 - (-1) = 301. With 255 instead of -1 it is 45, which is 256 less.",
                ),
                "below": Hint(
                    "What shall 3 with an offset of 20 give?",
                    "A negative value is a value. An unsigned result has no place for it.",
                    "3 - 20 = -17; in unsigned(8) it would be 239.",
                ),
                "held": Hint(
                    "Who asked for a 0?",
                    "Holding the value at 0 hides that the offset is wrong. This exercise wants the negative number.",
                    "3 - 20 = -17, not 0.",
                ),
            },
        ),
        Exercise(
            "03-d",
            "The binary point after a multiplication",
            points=4,
            objective="place the binary point after a multiplication",
            kind=answers.Design(ports=[_reg("sample"), _reg("gain"), _reg("result", access="ro")]),
            parameters=draw_scaled,
            judge=judge_scaled,
            answer="Scaled",
            criteria=[
                Criterion("scale", "a gain of 1.0 and of 0.5 give the sample and its half", points=2, hint="point"),
                Criterion("signs", "negative samples and negative gains", points=1, hint="signs"),
                Criterion("ends", "a result that is too large stays at the top", points=1, hint="ends"),
            ],
            hints={
                "point": Hint(
                    "How many fraction bits does the product have?",
                    "Write the number of fraction bits next to each wire. A multiplication adds them up.",
                    "No fraction bits in the sample, 10 in the gain: 10 in the product. Move the point by 10.",
                ),
                "no_point": Hint(
                    "Which raw number stands for a gain of 1.0?",
                    "1.0 is 2**F as a raw number, so the product is 2**F too large, and its low bits mean little.",
                    "F = 10: 1.0 is 1024, and 7 x 1024 = 7168, which means 7.",
                ),
                "too_early": Hint(
                    "Which bits have you dropped before the multiplication?",
                    "What is shifted out is lost. Multiply first, with all bits, and drop the fraction bits of the product.",
                    "F = 4: 13 x 24 >> 4 = 19. With (24 >> 4) = 1 it would be 13, with (13 >> 4) = 0 nothing.",
                ),
                "habit": Hint(
                    "By which power of two is your result off?",
                    "The shift is the number of fraction bits of *your* gain, not 15 or 16 by habit.",
                    "F = 10 and a shift of 12: the result is 4 times too small.",
                ),
                "signs": Hint(
                    "What comes in from the left when you shift a negative number to the right?",
                    "Its sign must. Keep the product signed until the shift is done.",
                    "-8 >> 1 is -4. Without its sign it would be a huge positive number.",
                ),
                "plain_resize": Hint(
                    "What does resize do with a number that does not fit, if you say nothing?",
                    "It keeps the sign bit and the lowest bits, and the rest is lost. Say overflow=\"saturate\".",
                    "In 8 bits: 200 becomes 72, and with overflow=\"saturate\" 127.",
                ),
                "ends": Hint(
                    "What is the most negative number times itself?",
                    "A gain can be larger than 1, and even -1.0 x -1.0 does not fit where 1.0 does not. Saturate.",
                    "8 bits, 7 fraction bits: (-128) x (-128) >> 7 = 128, which wraps to -128. It should stay at 127.",
                ),
            },
        ),
        Exercise(
            "03-e",
            "The price of dropped bits",
            points=2,
            objective="predict the mean error of dropped bits",
            kind=answers.Record(cut=answers.Number(unit="steps"), half=answers.Number(unit="steps")),
            parameters=draw_drop,
            judge=judge_drop,
            answer="price",
            criteria=[
                Criterion("cut", "mean error of cutting, with its sign", points=1, hint="list"),
                Criterion("half", "mean error after adding half a step first, with its sign", points=1, hint="list_half"),
            ],
            hints={
                "list": Hint(
                    "Which errors are possible, and how often does each of them occur?",
                    "The dropped bits take 2**k values, 0 to 2**k - 1, all equally often. Each of them is lost.",
                    "k = 1: errors of 0 and -1/2 step, so -1/4 step on average.",
                ),
                "list_half": Hint(
                    "List the errors again, now with half a step added before the cut. Do they cancel in pairs?",
                    "All but one of them do. The one without a partner is the tie, which always goes up.",
                    "k = 1: errors of 0 and +1/2 step, so +1/4 step on average.",
                ),
                "sign": Hint(
                    "Is what remains too small or too large?",
                    "Error = what comes out minus what went in.",
                    "7 cut to 4: an error of -3, not +3.",
                ),
                "unit": Hint(
                    "In which unit is your number?",
                    "Divide by 2**k: one step of the result is 2**k steps of the input.",
                    "k = 1: the mean loss is half a step of the input, a quarter of a step of the result.",
                ),
                "no_average": Hint(
                    "Can a cut ever make the number larger?",
                    "Errors that all have one sign never average out.",
                    "Errors of 0, -1, -2 and -3, equally often, have a mean of -1.5.",
                ),
                "tie": Hint(
                    "Where does a value go that lies exactly half-way?",
                    "Half-way values always go up, and no value makes up for it.",
                    "k = 2: errors of 0, -1/4, +1/2, +1/4 step have a mean of +1/8.",
                ),
                "not_half": Hint(
                    "Can the error be a whole step?",
                    "The largest loss is one input step less than a whole step, so the mean loss is less than half.",
                    "k = 2: 0, 1, 2, 3 quarters are lost: 3/8 on average and not 1/2.",
                ),
            },
        ),
        Exercise(
            "03-f",
            "A rounder without a bias",
            points=3,
            objective="build a rounding that has no bias and does not wrap",
            kind=answers.Design(ports=[_reg("x", "signed(16)"), _reg("y", access="ro")]),
            parameters=draw_drop,
            shares="03-e",
            judge=judge_rounder,
            answer="Rounder",
            criteria=[
                Criterion("nearest", "no error is larger than half a step", points=1, hint="nearest"),
                Criterion("bias", "the mean error is 0", points=1, hint="ties"),
                Criterion("top", "the largest inputs stay at the top", points=1, hint="top"),
            ],
            hints={
                "nearest": Hint(
                    "Which multiple of the step is nearest to your input?",
                    "Rounding goes to the nearer neighbour, so no error is larger than half a step.",
                    "Steps of 4: 7 goes to 8 (2 steps), and 5 goes to 4 (1 step).",
                ),
                "floor": Hint(
                    "Does your error ever have the other sign?",
                    "A shift always goes down, for negative numbers as well. It is no rounding.",
                    "7 >> 2 = 1 and -7 >> 2 = -2; rounded they are 2 and -2.",
                ),
                "to_zero": Hint(
                    "What does your rounder make of 7 and of -7, in steps of 4?",
                    "Cutting towards 0 is symmetric, so its mean is 0, but the single error can be almost a whole step.",
                    "7 / 4 = 1.75: cut to 1, an error of 0.75 step. The nearest is 2.",
                ),
                "ties": Hint(
                    "Where do the values go that lie exactly half-way?",
                    "If all ties go up, a small bias remains. Send a tie to the even neighbour: half of them go up.",
                    "0.5, 1.5, 2.5, 3.5 become 0, 2, 2, 4: a mean error of 0.",
                ),
                "top": Hint(
                    "What is the largest input rounded to?",
                    "Rounding up can go one step beyond the range. Let it stay there.",
                    "7.5 in 4 signed bits rounds to 8, which wraps to -8. It should stay at 7.",
                ),
            },
        ),
        Exercise(
            "03-g",
            "The level of fan B",
            points=5,
            objective="build the level of the last samples, with registers in a row, that is right at full scale",
            kind=answers.Design(ports=[answers.Port("analog_in", terminal="fan B bearing", type="signed(24)"),
                                       _reg("level", access="ro")]),
            parameters=draw_level,
            judge=judge_level,
            answer="Level",
            criteria=[
                Criterion("mean", "level is the mean magnitude", points=2, hint="mean"),
                Criterion("window", "each sample counts for exactly its number of samples", points=1, hint="window"),
                Criterion("loud", "at the top of the range it is right too", points=1, hint="loud"),
                Criterion("lopsided", "the most negative code reads like the most positive one", points=1, hint="lopsided"),
            ],
            hints={
                "mean": Hint(
                    "What should it read for samples of +100 and -100 in turn?",
                    "Magnitudes first, then the sum of the registers, then divide by their number.",
                    "3, -5, 4, -4: magnitudes 3, 5, 4, 4; sum 16; mean 4.",
                ),
                "no_magnitude": Hint(
                    "What is the mean of +100 and -100?",
                    "The mean of a vibration is 0. Take the magnitude of each sample before you add.",
                    "+100, -100, +100, -100: mean 0, mean magnitude 100.",
                ),
                "not_divided": Hint(
                    "Is your reading the sum or the mean?",
                    "Divide by the number of registers. It is a power of two, so a shift does it.",
                    "Sum 16 of 4 samples: 16 >> 2 = 4.",
                ),
                "window": Hint(
                    "How many registers stand in a row, and does each new sample push out the oldest one?",
                    "A sample counts while it stands in one of the registers: one register for each sample of the window.",
                    "3 registers and the samples 9, 0, 0, 0: the sums are 9, 9, 9, 0.",
                ),
                "late": Hint(
                    "Is the newest sample in the sum that you show?",
                    "A register shows its new value one tick after the assignment. A sum made in the same tick still has the "
                    "old registers.",
                    "a = 5 in tick 10: whoever reads a in tick 10 sees the old value, in tick 11 the 5.",
                ),
                "blocks": Hint(
                    "After how many samples does your level change: after each, or after each block?",
                    "The last samples are others after every sample. Keep them in registers in a row, and add these up each time.",
                    "Blocks of 3: 1 2 3 | 4 5 6. The last three after the fifth sample are 3 4 5.",
                ),
                "fades": Hint(
                    "For how long does a single sample act on your level?",
                    "A level that feeds back into itself never quite forgets. A row of registers forgets at once.",
                    "Half of the old level plus half of the new sample: 8, 4, 2, 1 instead of 4, 4, 0, 0.",
                ),
                "loud": Hint(
                    "How many bits does the sum of all registers need when each of them is at full scale?",
                    "A sum keeps the width of what is added. Widen each magnitude first: one bit for each doubling.",
                    "Four numbers of 8 bits: widen them to 10 bits, then add.",
                ),
                "divided_early": Hint(
                    "Do you divide before the sum or after it?",
                    "Each division drops bits. Add all of them first, with enough bits, and divide once.",
                    "7 + 7 + 7 + 7 = 28, 28 >> 2 = 7. With 7 >> 2 = 1 four times it is 4.",
                ),
                "lopsided": Hint(
                    "What is the magnitude of the most negative code, and does its type hold it?",
                    "There is one more negative number than positive ones. Widen by one bit before abs, or saturate.",
                    "8 bits: abs(-128) is 128, one more than the top. In 8 bits it wraps to -128.",
                ),
                "negative": Hint(
                    "How can a magnitude be negative?",
                    "abs of the most negative number does not fit its own width and wraps back to itself. Widen before abs.",
                    "signed(8): abs(-128) = -128. signed(9): abs(-128) = 128.",
                ),
            },
        ),
        Exercise(
            "03-h",
            "Quiet, loud, tripped",
            points=5,
            objective="build a state machine, and a second loop beside it",
            kind=answers.Design(ports=[
                _reg("level", "unsigned(24)"), _reg("restart", "bit"), _reg("state", access="ro"),
                answers.Port("digital_out", terminal="fan B trip"), answers.Port("digital_out", terminal="lamp"),
            ]),
            parameters=draw_watch,
            judge=judge_watch,
            answer="Watch",
            criteria=[
                Criterion("warn", "above the limit it is loud, at the limit and below it is quiet", points=1, hint="warn"),
                Criterion("hold", "it trips when the level has been loud for your time", points=1, hint="hold"),
                Criterion("again", "a new spell starts at 0", points=1, hint="again"),
                Criterion("latch", "only a restart in a quiet moment ends the trip", points=1, hint="latch"),
                Criterion("beside", "the lamp changes every so many ticks, always", points=1, hint="lamp"),
            ],
            hints={
                "warn": Hint(
                    "In which state is it, and what takes it to the next one?",
                    "For each state, write down which conditions lead out of it, and where to.",
                    "A door: shut, open. Shut goes to open on the handle, open goes to shut on the spring.",
                ),
                "at_limit": Hint(
                    "Is a level that equals the limit above it?",
                    "Above means >, at least means >=.",
                    "Limit 70: a level of 70 is quiet, 71 is loud.",
                ),
                "hold": Hint(
                    "How many ticks pass from the first loud tick to the relay?",
                    "Count while loud; trip when the count reaches your time. A few ticks more or less do not matter.",
                    "Time 50: loud from tick 100 on, relay on near tick 150.",
                ),
                "state_2": Hint(
                    "What does state read while the relay is on?",
                    "Tripped is state 2, and it stays.",
                    "Quiet 0, loud 1, tripped 2.",
                ),
                "again": Hint(
                    "What is left in your counter from the last spell?",
                    "In a row means in a row: whatever ends a spell sets the counter back to 0.",
                    "Time 50: 30 ticks loud, a pause, 30 ticks loud: no trip. Without going back to 0 it is 60.",
                ),
                "latch": Hint(
                    "What takes your machine out of tripped?",
                    "A restart and a quiet level at the same time, and nothing else.",
                    "Tripped and restart = 1, but still loud: it stays tripped.",
                ),
                "unlatched": Hint(
                    "Does the fan come back by itself when the level falls?",
                    "It is quiet because it was tripped. Without a latch it would start, shake and trip for ever.",
                    "Tripped, level 0, no restart: still tripped.",
                ),
                "while_loud": Hint(
                    "May somebody restart a fan that still shakes?",
                    "The way out needs both: restart = 1 and a level that is not above the limit.",
                    "Level above the limit, restart = 1: still tripped.",
                ),
                "no_way_out": Hint(
                    "Does a restart in a quiet moment end the trip?",
                    "A state without a way out is a dead end. Look at restart in state 2.",
                    "Tripped, level 0, restart = 1: quiet, and the relay goes off.",
                ),
                "lamp": Hint(
                    "Which loop changes the lamp?",
                    "A loop of its own with every= needs nothing else.",
                    "@sequenced(every=30) with one assignment: a change in every 30th tick.",
                ),
                "disturbed": Hint(
                    "What does your lamp wait for?",
                    "Lines of one loop wait for each other. A second loop is hardware of its own and waits for nobody.",
                    "A loop that sits in until(...) for 1000 ticks changes no lamp in that time.",
                ),
                "one_tick": ONE_TICK,
            },
        ),
        Exercise(
            "03-i",
            "A model that does not hide the overflow",
            points=3,
            objective="write a model on the host that overflows where the hardware does",
            kind=answers.Record(square=answers.Number(whole=True), model=answers.Array((40,), "int64")),
            parameters=draw_model,
            judge=judge_model,
            answer="office",
            criteria=[
                Criterion("int16", "what an array of int16 makes of the square", points=1, hint="int16"),
                Criterion("before", "the model agrees with the hardware as long as the sum fits", points=1, hint="wide"),
                Criterion("after", "and after that too", points=1, hint="cut"),
            ],
            hints={
                "int16": Hint(
                    "What is left of the square modulo 65 536?",
                    "An array of int16 keeps 16 bits of each result: take away 65 536 until it lies between -32 768 and 32 767.",
                    "200 x 200 = 40 000; 40 000 - 65 536 = -25 536.",
                ),
                "grown": Hint(
                    "Which type has the result?",
                    "A whole number of Python grows as needed. An array of int16 stays int16, and says nothing.",
                    "200 x 200 is 40 000 in Python, and -25 536 in an array of int16.",
                ),
                "clipped": Hint(
                    "Does anything in numpy saturate?",
                    "Arrays of integers wrap, like registers. Nothing stays at the end of the range.",
                    "200 x 200 in int16 is -25 536, not 32 767.",
                ),
                "wide": Hint(
                    "What does your model say after the first sample, and what is its square on paper?",
                    "Change to int64 before you calculate, then square, then add up.",
                    "codes.astype(np.int64) of -300 squared is 90 000.",
                ),
                "narrow_square": Hint(
                    "Of which type is the array in the moment in which you square it?",
                    "Squaring int16 gives int16, and the harm is done before the sum is wide. Widen first.",
                    "300 squared in int16 is 24 464; as int64 it is 90 000.",
                ),
                "cut": Hint(
                    "What does a register of 32 bits show for a sum that does not fit?",
                    "Calculate wide, then cut to the width of the hardware, on purpose.",
                    "8 bits: (200 + 128) % 256 - 128 = -56.",
                ),
                "no_wrap": Hint(
                    "Can the register of the hardware show your largest number?",
                    "Your model is wide for ever; the hardware is not. Cut each sum to the width of the register.",
                    "8 bits: 200 is shown as (200 + 128) % 256 - 128 = -56.",
                ),
                "held": Hint(
                    "Does the register stay at its end, or does it wrap?",
                    "The hardware here wraps: nobody asked it to saturate. A model must do what the hardware does, not what "
                    "you wish.",
                    "8 bits: 200 is shown as -56, not as 127.",
                ),
            },
        ),
    ],
)
