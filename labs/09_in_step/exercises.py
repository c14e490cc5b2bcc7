"""Exercises of lab 09, "In step".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a small instrument of its own, and measures.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simkit import Design, DigitalOut, HostReg, bit, compile_design, sequenced
from simkit.bench.parts import CARDS
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive
from simkit.dsp import synchronizer_mtbf

HZ = 40_000_000
YEAR_S = 365.25 * 86400

# --- 09-a: two loops that look at a switch in turn ---


class Polled(Design):
    """Two loops, each looking at ``go`` once in a period of its own: the design of exercise 09-a."""

    go = HostReg(bit)
    lamp = DigitalOut("lamp")
    lamp_2 = DigitalOut("lamp 2")

    def __init__(self, one, two):
        self.one = one
        self.two = two

    @sequenced(every=lambda self: self.one)
    def fan_a(self):
        self.lamp = self.go

    @sequenced(every=lambda self: self.two)
    def fan_b(self):
        self.lamp_2 = self.go


def draw_polled(rng):
    while True:
        one, two, go = 10 * rng.integer(70, 95), 10 * rng.integer(110, 140), 10 * rng.integer(2000, 3000) + 5
        waits = -go % one, -go % two
        apart = abs(waits[0] - waits[1])
        if apart >= 60 and min(abs(apart - x) for x in (two - one, *waits)) > 20 and min(waits) > 30:
            return {"one": one, "two": two, "go": go}


def judge_polled(answer, mine, seed):
    run = drive(compile_design(Polled(mine.one, mine.two)), mine.go + 2 * mine.two, [(mine.go, "go", 1)])
    first, second = int(run.changes("lamp")[0]), int(run.changes("lamp 2")[0])
    apart = abs(first - second)
    hint = ""
    if abs(abs(answer) - (mine.two - mine.one)) <= 1:
        hint = "periods"
    elif min(abs(abs(answer) - abs(x - mine.go)) for x in (first, second)) <= 2:
        hint = "one_loop"
    elif 0 < abs(abs(answer) - apart) <= 2:
        hint = "one_tick"
    yield Result("apart", abs(answer) == apart, answer, None, "ticks", hint)


# --- 09-b: start together, hold the phase ---


def draw_together(rng):
    period = 10 * rng.integer(60, 90)
    return {"period": period, "lag": rng.integer(120, 260), "work": rng.integer(period // 2, period - 60)}


def judge_together(netlist, mine, seed):
    rng = Draw("together", seed)
    go, turns = rng.integer(30, 200), 8
    stop = go + turns * mine.period + rng.integer(300, 400)
    later = stop + 3 * mine.period + rng.integer(40, 90)
    end = later + 4 * mine.period
    run = drive(netlist, end, [(go, "go", 1), (stop, "go", 0), (later, "go", 1)])
    a, b = run.changes("lamp", 1), run.changes("lamp 2", 1)
    a_1, b_1 = a[a < stop], b[b < stop]
    lag = int(b_1[0] - a_1[0]) if len(a_1) and len(b_1) else None
    early = lag is not None and min(a_1[0], b_1[0]) <= go
    hint = "silent" if lag is None else "early" if early else "one_tick" if 0 < abs(lag - mine.lag) <= 2 else ""
    yield Result("start", lag == mine.lag and not early, lag, mine.lag, "ticks", hint,
                 lambda: _apart(run, mine, go, stop) if lag is not None else None)
    gaps = np.concatenate([np.diff(a_1), np.diff(b_1)])
    flashes = _flashes(run, "lamp") | _flashes(run, "lamp 2")
    right = len(gaps) >= 2 * turns - 4 and bool(np.all(gaps == mine.period))
    shown = f"{min(gaps)} to {max(gaps)}, flashes of {sorted(flashes)}" if len(gaps) else "no second flash"
    hint = "length" if right else "one_tick" if len(gaps) and max(abs(gaps - mine.period)) <= 2 else ""
    yield Result("period", right and flashes == {10}, shown, f"{mine.period}, flashes of [10]", "ticks", hint)
    busy = drive(netlist, go + 20 * mine.period, [(0, "switch", 1), (go, "go", 1)])
    held = _held(busy.changes("lamp", 1), busy.changes("lamp 2", 1), lag)
    yield replace(held, look=lambda: _apart(busy, mine, go, busy.ticks, lag))
    yield replace(_again(a, b, stop, later, lag, mine), look=lambda: _anew(run, mine, stop, later))


def _apart(run, mine, go, until, lag=None):
    """The first flash before go, or the first of fan B that does not follow one of fan A by the lag."""
    a, b = run.changes("lamp", 1), run.changes("lamp 2", 1)
    if len(a) and min(a[0], b[0] if len(b) else a[0]) <= go:
        return run.look(expected={"lamp": [(0, 0)], "lamp 2": [(0, 0)]}, around=(0, go + 40), note=f"go is 0 until tick {go}")
    lag = lag or mine.lag
    due = [int(tick) + lag for tick in a[a < until]]
    wrong = next((i for i, tick in enumerate(due) if i >= len(b) or b[i] != tick), 0)
    at = min([*due[wrong : wrong + 1], *(int(tick) for tick in b[wrong : wrong + 1])], default=0)
    flashes = [row for tick in due for row in ((tick, 1), (tick + 10, 0))]
    return run.look("lamp", expected={"lamp 2": [(0, 0), *flashes]}, at=at, around=(at - lag - 20, at + 20),
                    note=f"fan B follows fan A by {lag} ticks")


def _anew(run, mine, stop, later):
    """A flash while stopped, or what comes, or fails to come, when go is 1 again."""
    late = [int(t) for name in ("lamp", "lamp 2") for t in run.changes(name, 1) if stop + mine.period + 20 < t <= later]
    at, note = (min(late), "go is 0: no lamp may flash") if late else (later + 20, "go is 1 again: fan A at once, fan B after its lag")
    return run.look("lamp", "lamp 2", at=at, around=(stop - 20, later + 2 * mine.period), note=note)


def _flashes(run, name):
    """The lengths that occur among the flashes of a lamp, without one that is cut off by the end of the run."""
    rises, falls = run.changes(name, 1), run.changes(name, 0)
    count = min(len(rises), len(falls))
    return {int(x) for x in falls[:count] - rises[:count]}


def _held(a, b, lag):
    count = min(len(a), len(b))
    lags = b[:count] - a[:count]
    right = count >= 15 and bool(np.all(lags == lag))
    return Result("held", right, f"{min(lags)} to {max(lags)}" if count else "no flashes", lag, "ticks")


def _again(a, b, stop, later, lag, mine):
    quiet = not np.any((np.concatenate([a, b]) > stop + mine.period + 20) & (np.concatenate([a, b]) <= later))
    a, b = a[a > later], b[b > later]
    found = int(b[0] - a[0]) if len(a) and len(b) else None
    prompt = found is not None and int(a[0]) <= later + 20
    hint = "" if quiet else "stopped"
    shown = "flashes while stopped" if not quiet else "no start" if found is None else found if prompt else "a late start"
    return Result("again", quiet and prompt and found == lag, shown, lag, "ticks", hint)


# --- 09-c: the trigger ---

LENGTH = 16


def draw_trigger(rng):
    return {"pre": rng.choice((4, 5, 6, 9, 10, 11)), "level": 100 * rng.integer(10, 40)}


def _samples(rng, count, mine):
    """Numbers below the level, all different."""
    return [-7000 + 37 * n + rng.integer(0, 30) for n in range(count)]


def _recorded(netlist, mine, samples, gate, gap=20):
    """Runs the samples, ``gate`` being ``(sample number, level of the switch)``; reads the record afterwards."""
    changes = [(5, "level", mine.level)] + [(100 + gap * n - gap // 2, "switch", v) for n, v in gate]
    changes += [(100 + gap * n, "fan B bearing", v) for n, v in enumerate(samples)]
    end = 100 + gap * len(samples) + 20
    changes += [(end + 20 * i, "index", i) for i in range(LENGTH)]
    run = drive(netlist, end + 20 * LENGTH + 20, changes)
    return run, [run.at("word", end + 20 * i + 15) for i in range(LENGTH)], run.at("done", end)


def judge_trigger(netlist, mine, seed):
    rng = Draw("trigger", seed)
    at, high = rng.integer(28, 34), mine.level + rng.integer(50, 900)
    plain = _samples(rng, 80, mine)
    usual = [*plain[:at], high, *plain[at + 1 :]]
    run, record, done = _recorded(netlist, mine, usual, [(0, 1)])
    yield Result("fires", bool(done) and high in record, _says(done, high in record), "done, with that sample", "",
                 "" if done else "never")
    wanted = usual[at - mine.pre : at - mine.pre + LENGTH]
    yield _place(record, wanted, high, mine)
    yield _lines(netlist, mine, plain, rng)
    yield _early(netlist, mine, plain, rng)
    yield _stamp(netlist, mine, usual, run)
    yield _kept(netlist, mine, usual, record, at)


def _says(done, there):
    return ("done" if done else "not done") + (", the sample is there" if there else ", the sample is not there")


def _place(record, wanted, high, mine):
    found = record.index(high) if high in record else None
    hint = "one_sample" if found is not None and abs(found - mine.pre) == 1 else ""
    if found == mine.pre and record != wanted:
        return Result("place", False, "right sample, wrong neighbours", mine.pre, "", "order")
    return Result("place", record == wanted, found, mine.pre, "place in the record", hint)


def _lines(netlist, mine, plain, rng):
    """A crossing with the switch off; a level already high as the switch goes on; then the one that counts."""
    off, still, true = (mine.level + rng.integer(50, 300) + 400 * i for i in range(3))
    samples = [*plain[:20], off, *plain[21:41], still, still + 1, still + 2, *plain[44:60], true, *plain[61:80]]
    _, record, done = _recorded(netlist, mine, samples, [(0, 0), (42, 1)])
    hint = "gate" if off in record else "edge" if still in record or still + 1 in record else ""
    # the true one is far enough behind the second for a record never to hold both, whatever its pre-trigger
    return Result("lines", bool(done) and true in record and not hint,
                  "a sample with the switch off" if off in record else "no crossing" if hint else _says(done, true in record),
                  "the third one", "", hint)


def _early(netlist, mine, plain, rng):
    early, true = mine.level + rng.integer(50, 300), mine.level + rng.integer(400, 800)
    at = mine.pre - 1
    samples = [*plain[:at], early, *plain[at + 1 : 40], true, *plain[41:80]]
    _, record, done = _recorded(netlist, mine, samples, [(0, 1)])
    return Result("early", bool(done) and true in record, "the early one" if early in record else _says(done, true in record),
                  "the second one")


def _stamp(netlist, mine, usual, run):
    slower, _, _ = _recorded(netlist, mine, usual, [(0, 1)], gap=27)
    at = next(n for n, v in enumerate(usual) if v >= mine.level)
    first, second = (r.at("stamp", 100 + gap * (at + 1)) for r, gap in ((run, 20), (slower, 27)))
    last = run.at("stamp", run.ticks - 1)
    moved = first != last
    return Result("stamp", second - first == 7 * at and not moved,
                  "the stamp goes on moving" if moved else second - first, 7 * at, "ticks apart", "moving" if moved else "")


def _kept(netlist, mine, usual, record, at):
    samples = [*usual[:60], mine.level + 5, *usual[61:]]
    run, again, done = _recorded(netlist, mine, samples, [(0, 1)])
    stamp = run.at("stamp", 100 + 20 * 55), run.at("stamp", run.ticks - 1)
    same = bool(done) and any(record) and again == record and stamp[0] == stamp[1]
    return Result("kept", same, "unchanged" if same else "changed, or nothing recorded", "unchanged")


# --- 09-d: in turn or at once ---


def draw_turn(rng):
    used, rate, tone = rng.integer(6, 12), rng.choice((10_000, 50_000)), 10 * rng.integer(18, 30)
    skew = (used - 1) / rate
    degrees = 360 * tone * skew
    return {"used": used, "rate": rate, "tone": tone, "allowed": round(degrees * rng.choice((0.4, 0.6, 1.6, 2.5)), 1),
            "start_a": rng.integer(50, 70), "run_a": rng.integer(9, 13), "fans": rng.integer(2, 4)}


def judge_turn(answer, mine, seed):
    degrees = _read_phase(mine)
    found = answer["degrees"]
    hint = "last_channel" if abs(found - degrees * mine.used / (mine.used - 1)) < 0.02 * degrees else ""
    hint = hint or ("next_channel" if abs(found * (mine.used - 1) - degrees) < 0.02 * degrees else "")
    yield Result("degrees", abs(found - degrees) < 0.01 * degrees, found, None, "degrees", hint)
    best = "in turn" if degrees <= mine.allowed else "at once"
    yield Result("card", answer["card"] == best, answer["card"], None)
    peak = max(_currents(mine))
    hint = "together" if abs(answer["amps"] - mine.fans * mine.start_a) < 0.5 else ""
    yield Result("amps", abs(answer["amps"] - peak) < 0.5, answer["amps"], None, "A", hint)


def _read_phase(mine):
    """What a tone on the first and the last channel of the scanned card reads, degrees."""
    cards = CARDS["A12"].converters(mine.used, mine.rate)
    n = np.arange(20_000)
    found = []
    for card in (cards[0], cards[-1]):
        t = (n + 0.0) / float(card.rate_hz) + float(card.skew_s)
        wave = np.sin(2 * np.pi * mine.tone * t)
        found.append(np.angle(np.sum(wave * np.hanning(n.size) * np.exp(-2j * np.pi * mine.tone * n / float(card.rate_hz)))))
    turn = np.degrees(found[1] - found[0])
    skew = 360 * mine.tone * float(cards[-1].skew_s)
    return float(turn % 360 + 360 * (skew // 360))


def _currents(mine):
    """Sum of the fans' currents in each 0.1 s, one starting every 10 s and drawing its starting current for 4 s."""
    t = np.arange(0, 10 * mine.fans + 20, 0.1)
    return sum(np.where(t < 10 * i, 0, np.where(t < 10 * i + 4, mine.start_a, mine.run_a)) for i in range(mine.fans))


# --- 09-e: align two channels ---


def draw_align(rng):
    return {"whole": rng.integer(2, 4), "part": rng.choice((3, 4, 5, 6, 10, 11, 12, 13))}


def _two(netlist, a, b, gap=40):
    rows = [(50 + gap * n, name, int(v)) for name, line in (("fan A bearing", a), ("fan B bearing", b)) for n, v in enumerate(line)]
    run = drive(netlist, 50 + gap * len(a), rows)
    seen = [50 + gap * n + gap - 2 for n in range(len(a))]
    return run, np.array([[run.at(name, t) for t in seen] for name in ("a", "b")], float)


def judge_align(netlist, mine, seed):
    slope = 16 * Draw("align", seed).integer(40, 90)
    ramp = slope * (np.arange(40) - 20)
    run, (a, b) = _two(netlist, ramp, ramp)
    delay, wanted = float(np.median((b - a)[15:])) / slope, mine.whole + mine.part / 16
    shown = round(delay, 3)
    yield Result("whole", abs(delay - wanted) < 0.95, shown, round(wanted, 3), "samples",
                 "other_side" if abs(delay + wanted) < 0.5 else "")
    off = (delay - wanted + 0.5) % 1 - 0.5
    swapped = abs((delay + wanted + 0.5) % 1 - 0.5) < 0.03
    cut = abs(delay - round(delay)) < 0.01
    yield Result("part", abs(off) < 0.03, shown, round(wanted, 3), "samples", "swapped" if swapped else "rounded" if cut else "")
    ticks = [set(run.changes(name).tolist()) for name in ("a", "b")]
    apart = len(ticks[0] ^ ticks[1])
    right = len(ticks[0]) > 25 and apart <= 2 * mine.whole + 4 and bool(np.all(np.isin(b, ramp) | (b == 0)))
    yield Result("together", right, f"{apart} changes alone" if len(ticks[0]) else "no changes", "changes in the same tick")
    ends = [2**23 - 1, -(2**23)]
    found = [_two(netlist, [end] * 20, [end] * 20)[1][0, -1] for end in ends]
    right = all(abs(x - end) <= 2 for x, end in zip(found, ends, strict=True))
    yield Result("ends", right, f"{found[0]:.0f}, {found[1]:.0f}", f"{ends[0]}, {ends[1]}", "codes")


# --- 09-f: carry a pulse ---

CLOSE = 25


def draw_carry(rng):
    return {"events": rng.integer(30, 50)}


def _counted(netlist, begins, length=1):
    changes = [row for t in begins for row in ((t, "switch", 1), (t + length, "switch", 0))]
    end = begins[-1] + length + 500
    return drive(netlist, end, changes).at("seen", end - 1)


def judge_carry(netlist, mine, seed):
    rng = Draw("carry", seed)
    far = np.cumsum([300] + [rng.integer(61, 99) for _ in range(mine.events - 1)]).tolist()
    found = _counted(netlist, far)
    hint = "lost" if found < mine.events // 2 else "one" if abs(found - mine.events) == 1 else ""
    yield Result("every", found == mine.events, found, mine.events, "events", hint)
    close = np.cumsum([301] + [CLOSE] * 39).tolist()
    found = _counted(netlist, close)
    yield Result("close", found == 40, found, 40, "events", "merged" if 0 < found < 40 else "")
    held = [_counted(netlist, [300 + t, 800 + t, 1400 + t], 203) for t in range(3)]
    yield Result("long", held == [3, 3, 3], ", ".join(str(x) for x in held), 3, "events")


# --- 09-g: a bus across ---

OTHER_HZ = 37_300_000


def draw_bus(rng):
    return {"value": rng.choice((11, 19, 23, 39, 47, 55, 79, 95, 111))}


def judge_bus(answer, mine, seed):
    old, new = mine.value, mine.value + 1
    mixed = {(old & ~mask) | (new & mask) for mask in range(256)}
    found = answer["values"]
    hint = "old_new" if found == 2 else "all" if found == 256 else "bits" if 2**found == len(mixed) else ""
    yield Result("values", found == len(mixed), found, None, "values", hint)
    ticks = 40_000
    run = drive(answer["design"], ticks, seed=seed % 2**31)
    seen = run.trace("shown").values
    steps = np.diff(seen) % 256
    wrong = int(np.sum(steps != 1))
    yield Result("steps", len(steps) > 5000 and wrong == 0, f"{wrong} wrong of {len(steps)}", "0 wrong of more than 5000", "",
                 "missing" if len(steps) <= 5000 else "after" if wrong > 200 else "")
    lag = [(int(t * OTHER_HZ / HZ / 5) - run.at("shown", t) + 1) % 256 for t in range(ticks - 900, ticks, 100)]
    alive = len(steps) > 1000
    yield Result("fresh", alive and max(lag) <= 5, f"up to {max(lag) - 1}" if alive else "nothing shown", "at most 4", "counts behind")


# --- 09-h: mean time between failures ---


def draw_mtbf(rng):
    tau, window = rng.integer(70, 110), rng.integer(15, 40)
    short = [0.2 + 0.1 * i for i in range(6)]
    rate = [60 / synchronizer_mtbf(x * 1e-9, tau * 1e-12, window * 1e-12, HZ, 2e6) for x in short]
    return {"settle_ns": [round(x, 1) for x in short], "failures": [round(x) for x in rate],
            "full_ns": round(tau * 1e-3 * rng.real(36, 40), 2),
            "sheet_tau_ps": rng.integer(180, 260), "sheet_t0_ps": rng.integer(60, 150), "sheet_ns": rng.integer(60, 80) / 10,
            "changes": 1000 * rng.integer(100, 400)}


def judge_mtbf(answer, mine, seed):
    wanted = synchronizer_mtbf(mine.sheet_ns * 1e-9, mine.sheet_tau_ps * 1e-12, mine.sheet_t0_ps * 1e-12, HZ, mine.changes) / 3600
    found = answer["sheet_hours"]
    ratio = found / wanted
    hint = "unit" if min(abs(ratio - x) for x in (3600, 60, 1 / 24)) < 0.05 * ratio else "rates" if ratio > 1000 else ""
    yield Result("sheet", abs(ratio - 1) < 0.02, found, None, "h", hint)
    tau, constant = _best_line(mine)
    found = answer["tau_ps"]
    hint = "log10" if abs(found / tau - np.log(10)) < 0.1 else "unit" if abs(found * 1000 / tau - 1) < 0.1 else ""
    yield Result("tau", abs(found / tau - 1) < 0.04, found, None, "ps", hint)
    years = 60 / np.exp(constant - mine.full_ns * 1e3 / tau) / YEAR_S
    found = answer["years"]
    minute = found > 0 and abs(np.log(found / years * 60)) < 0.7
    seconds = found > 0 and abs(np.log(found / years / YEAR_S)) < 0.9
    yield Result("full", found > 0 and 1 / 3 < found / years < 3, found, None, "years",
                 "minute" if minute else "year" if seconds else "")


def _best_line(mine):
    """The constants that make the counts most likely, found by looking at many: tau in ps, log of the failures at 0."""
    t, counts = np.array(mine.settle_ns) * 1e3, np.array(mine.failures, float)
    taus = np.arange(40, 160, 0.1)
    shapes = np.exp(-t / taus[:, None])
    scale = counts.sum() / shapes.sum(1)
    expected = scale[:, None] * shapes
    best = int(np.argmax((counts * np.log(expected) - expected).sum(1)))
    return float(taus[best]), float(np.log(scale[best]))



ONE_TICK = Hint(
    "Which of the two counts one tick more?",
    "A register is seen one tick after it is assigned, and until() costs one tick. What both loops pay cancels.",
    "A loop that starts at 100 and one that starts at 201 are 101 apart, not 100.",
)


lab = Lab(
    "09_in_step",
    "In step",
    [
        Exercise(
            "09-a", "Two loops, one command", points=1, objective="predict how far apart two polling loops start",
            kind=answers.Number(unit="ticks"), parameters=draw_polled, judge=judge_polled, answer="apart",
            criteria=[Criterion("apart", "the ticks between the two lamps", points=1, hint="multiples")],
            hints={
                "multiples": Hint(
                    "When does each loop look next?",
                    "A paced loop starts on the multiples of its period, and looks only there.",
                    "Command in tick 1005: a loop of 400 ticks looks in 1200, one of 900 in 1800: 600 ticks apart."),
                "periods": Hint(
                    "Did you subtract the periods?",
                    "The difference of the periods says nothing about where the next multiple lies.",
                    "Periods 400 and 900, command in 1005: 1800 - 1200 = 600, not 500."),
                "one_loop": Hint(
                    "Is your number the delay of one loop?",
                    "Each loop has its own delay from the command; asked is the time between the two.",
                    "195 ticks and 795 ticks after the command: 600 apart."),
                "one_tick": ONE_TICK,
            },
        ),
        Exercise(
            "09-b", "Start together, hold the phase", points=4,
            objective="start loops on a common tick and keep the phase between them",
            kind=answers.Design(ports=[
                answers.Port("host_reg", "go"), answers.Port("digital_in", terminal="switch"),
                answers.Port("digital_out", terminal="lamp"), answers.Port("digital_out", terminal="lamp 2")]),
            parameters=draw_together, judge=judge_together, answer="Together",
            criteria=[
                Criterion("start", "lamp 2 first flashes so many ticks after lamp", points=1, hint="start"),
                Criterion("period", "each lamp flashes for 10 ticks, once a period", points=1, hint="period"),
                Criterion("held", "with work in fan A's loop the lag stays what it was", points=1, hint="held"),
                Criterion("again", "stopped and started again, with the same lag", points=1, hint="again"),
            ],
            hints={
                "start": Hint(
                    "What do both loops count from?",
                    "One register counts the ticks of the period. Each loop waits for its own number in it.",
                    "until(self.phase == 0) in one loop and until(self.phase == 50) in the other: 50 ticks apart."),
                "one_tick": ONE_TICK,
                "early": Hint(
                    "What do the lamps do before go?",
                    "phase stands at 0 while go is 0. So phase == 0 alone does not say that the run has begun.",
                    "until(self.go and self.phase == 0) waits for both."),
                "silent": Hint(
                    "Does each loop wait for something that comes?",
                    "Both lamps must flash after go is 1.",
                    "until(self.phase == 900) never ends if phase wraps at 800."),
                "period": Hint(
                    "After how many ticks does phase come back to 0?",
                    "A counter from 0 to n has n + 1 values.",
                    "For a period of 800 ticks the last value is 799."),
                "length": Hint(
                    "How long is each lamp on?",
                    "Assign 1, wait as long as the flash shall last, assign 0.",
                    "wait(7) between the two: on for 7 ticks."),
                "held": Hint(
                    "Does fan A's next flash depend on how long its work took?",
                    "A wait starts when the work is over. A common counter does not know about the work.",
                    "wait(700) after work of 0 or 300 ticks gives turns of 700 or 1000 ticks."),
                "again": Hint(
                    "Where does phase stand when go comes back?",
                    "While go is 0, hold phase at 0: then each run starts at the same place.",
                    "A counter that only pauses goes on from 317 in the second run."),
                "stopped": Hint(
                    "Who looks at go?",
                    "Lamps flash while the fans are stopped. Both loops, or their common counter, must depend on go.",
                    "A counter that stands at 0 never comes to 50."),
            },
        ),
        Exercise(
            "09-c", "A trigger on two lines", points=6,
            objective="record samples around a trigger on an analog level and a digital line, with a time-stamp",
            kind=answers.Design(ports=[
                answers.Port("analog_in", terminal="fan B bearing"), answers.Port("digital_in", terminal="switch"),
                answers.Port("host_reg", "level"), answers.Port("host_reg", "index"), answers.Port("host_reg", "word"),
                answers.Port("host_reg", "stamp"), answers.Port("host_reg", "done")]),
            parameters=draw_trigger, judge=judge_trigger, answer="Trigger",
            criteria=[
                Criterion("fires", "the record is done, and the trigger sample is in it", points=1, hint="fires"),
                Criterion("place", "the trigger sample stands at its place, and its neighbours around it", points=1, hint="place"),
                Criterion("lines", "only a crossing with the switch on counts", points=1, hint="gate"),
                Criterion("early", "no trigger before the pre-trigger part is full", points=1, hint="early"),
                Criterion("stamp", "the time-stamp tells the tick of the trigger", points=1, hint="stamp"),
                Criterion("kept", "a finished record stays as it is", points=1, hint="kept"),
            ],
            hints={
                "fires": Hint(
                    "Is your trigger sample still in the memory at the end?",
                    "After the trigger only 15 - pre samples may follow, or they run over it.",
                    "Pre 4: 4 before, the trigger, 11 after. 4 + 1 + 11 = 16."),
                "never": Hint(
                    "Which condition never becomes true?",
                    "The sample before is below the level, this one is not, the switch is on, and pre samples are there.",
                    "Level 1000, samples 990, 1010: 990 < 1000 and 1010 >= 1000."),
                "place": Hint(
                    "Where in the ring does the record begin?",
                    "The oldest sample lies pre places before the trigger. Places wrap with the ring.",
                    "Trigger stored at place 3, pre 5: the record begins at 3 - 5 = -2, which is 14."),
                "one_sample": Hint(
                    "Do you count the trigger itself among the samples before it?",
                    "With pre samples before it, it stands at index pre, counted from 0.",
                    "Pre 4: indexes 0, 1, 2, 3 are before; the trigger is index 4."),
                "order": Hint(
                    "How many samples come after the trigger?",
                    "All 16 places must hold neighbours in time. One sample too many overwrites the oldest.",
                    "Pre 4: stop after 11 more samples, not after 12."),
                "gate": Hint(
                    "Was the switch on when your trigger came?",
                    "The switch allows a trigger; the level makes it. Both must hold for one sample.",
                    "Door open: samples may cross, and nothing is recorded."),
                "edge": Hint(
                    "Did the signal cross the level, or was it already above?",
                    "A crossing needs two samples: the one before below, this one not.",
                    "950, 1010 crosses 1000. 1010, 1020 does not."),
                "early": Hint(
                    "What does the memory hold before the first pre samples have come?",
                    "Old words of the last record, or zeros. Count samples up to pre, and refuse triggers until then.",
                    "Pre 300, trigger on sample 120: 180 places were never filled."),
                "stamp": Hint(
                    "In which tick did you copy the counter?",
                    "Copy the free-running counter of ticks once, in the tick of the trigger.",
                    "A counter of samples says nothing about ticks."),
                "moving": Hint(
                    "How often do you copy the counter?",
                    "Once, when the trigger fires. After that the stamp stays.",
                    "Trigger in tick 500: the stamp is 500 in tick 900 too."),
                "kept": Hint(
                    "What does your design do with samples once done is 1?",
                    "Nothing: until the host has read the record it is the only copy.",
                    "if self.accel.valid and not self.done: ..."),
            },
        ),
        Exercise(
            "09-d", "In turn, or at once", points=3, objective="choose between simultaneous and staggered channels by numbers",
            kind=answers.Record(degrees=answers.Number(unit="degrees"), card=answers.Text(("in turn", "at once")),
                                amps=answers.Number(unit="A")),
            parameters=draw_turn, judge=judge_turn, answer="channels",
            criteria=[
                Criterion("degrees", "the phase that one tone shows between the first and the last channel", points=1, hint="degrees"),
                Criterion("card", "the card to buy", points=1, hint="card"),
                Criterion("amps", "the largest current with staggered starts", points=1, hint="amps"),
            ],
            hints={
                "degrees": Hint(
                    "How long after the first channel is the last one sampled?",
                    "phase = 360 degrees x frequency x time between the samples.",
                    "4 channels at 1000 samples/s: 3 ms from first to last; at 50 Hz 54 degrees."),
                "last_channel": Hint(
                    "How many steps lie between the first channel and the last?",
                    "One fewer than there are channels.",
                    "4 channels: 3 steps."),
                "next_channel": Hint(
                    "Is that the step to the next channel?",
                    "Asked is the last channel: the steps add up.",
                    "4 channels: 3 steps of 1 ms are 3 ms."),
                "card": Hint(
                    "Is your phase larger than the permitted one?",
                    "In turn is cheaper and good enough while the phase stays below what is allowed.",
                    "54 degrees, 20 allowed: at once. 54 degrees, 90 allowed: in turn."),
                "amps": Hint(
                    "What do the other fans draw while the last one starts?",
                    "All but one run; one starts.",
                    "3 fans, 40 A to start, 8 A to run: 40 + 8 + 8 = 56 A."),
                "together": Hint(
                    "Is that the current with all starting at once?",
                    "Staggered means that one starts after the other has come to speed.",
                    "3 fans, 40 A to start, 8 A to run: 56 A instead of 120 A."),
            },
        ),
        Exercise(
            "09-e", "Align two channels", points=4, objective="delay one channel by a fraction of a sample",
            kind=answers.Design(ports=[
                answers.Port("analog_in", terminal="fan A bearing"), answers.Port("analog_in", terminal="fan B bearing"),
                answers.Port("host_reg", "a"), answers.Port("host_reg", "b")]),
            parameters=draw_align, judge=judge_align, answer="Aligned",
            criteria=[
                Criterion("whole", "a is delayed by the right number of samples, within one", points=1, hint="whole"),
                Criterion("part", "the fraction of a sample is right", points=1, hint="part"),
                Criterion("together", "a and b change in the same tick, and b is untouched", points=1, hint="together"),
                Criterion("ends", "full scale stays full scale, with both signs", points=1, hint="ends"),
            ],
            hints={
                "whole": Hint(
                    "Which sample is the newest in taps[0] when you read it?",
                    "A register gives its old value: in the tick of a new sample, taps[0] still is the sample before.",
                    "Two samples back is taps[1]."),
                "other_side": Hint(
                    "Which of the two channels is late?",
                    "You cannot hurry the late one. Delay the early one.",
                    "B is 2 samples late: take A of 2 samples ago."),
                "part": Hint(
                    "How much of each neighbour do you take?",
                    "At a fraction f between x(n-k) and x(n-k-1): (1 - f) of the newer and f of the older.",
                    "2.25 samples ago: three quarters of x(n-2), one quarter of x(n-3)."),
                "swapped": Hint(
                    "Which of the two neighbours gets the larger weight?",
                    "The nearer one in time. A longer delay leans to the older sample.",
                    "2.25 samples ago: three quarters of x(n-2), not of x(n-3)."),
                "rounded": Hint(
                    "Is your delay a whole number of samples?",
                    "Then a part of a sample is left: mix two neighbours.",
                    "2.25 samples rounded to 2 leaves a quarter."),
                "together": Hint(
                    "Are a and b assigned in the same tick?",
                    "A pair belongs together only if both change together. b goes through as it is.",
                    "One new sample: one change of each, in one tick."),
                "ends": Hint(
                    "How large can the sum of the two products be?",
                    "16 times a 24-bit code needs 28 bits. Widen before the sum, narrow after the shift.",
                    "8 388 607 x 16 is 134 217 712."),
            },
        ),
        Exercise(
            "09-f", "Carry a pulse across", points=3, objective="carry short pulses to a slower clock without losing any",
            kind=answers.Design(ports=[answers.Port("digital_in", terminal="switch"), answers.Port("host_reg", "seen")]),
            parameters=draw_carry, judge=judge_carry, answer="Carry",
            criteria=[
                Criterion("every", "each pulse of one tick is counted once", points=1, hint="every"),
                Criterion("close", "also if they are 25 ticks apart", points=1, hint="close"),
                Criterion("long", "a long pulse counts once", points=1, hint="long"),
            ],
            hints={
                "every": Hint(
                    "What crosses, a moment or a change?",
                    "Let a bit change its value for each pulse. It stays changed until the slow clock has looked.",
                    "Three pulses: 0 -> 1 -> 0 -> 1. The slow loop counts three changes."),
                "lost": Hint(
                    "How long does the crossing bit keep its value?",
                    "The slow clock looks every 10 ticks. What is over before it looks was never there.",
                    "A bit that changes at each pulse keeps its value until the next one."),
                "one": Hint(
                    "Is the first or the last pulse missing?",
                    "With a changing bit every change counts, from 0 to 1 and from 1 to 0.",
                    "Start both sides at 0: then the first pulse is the first change."),
                "close": Hint(
                    "How soon can your crossing bit take the next pulse?",
                    "A pulse that is made longer needs a gap after it that is long enough as well.",
                    "Made 20 ticks long, 25 apart: a gap of 5 ticks, which a look every 10 ticks misses."),
                "merged": Hint(
                    "Do two of your pulses melt into one?",
                    "A pulse that is made longer needs a gap after it that is long enough as well. A change needs none.",
                    "Made 20 ticks long, 25 apart: a gap of 5 ticks, which a look every 10 ticks misses."),
                "long": Hint(
                    "What happens in the second tick of a pulse?",
                    "An event is a rise: 1 now and 0 in the tick before.",
                    "A pulse of 200 ticks has one rise."),
            },
        ),
        Exercise(
            "09-g", "A number across", points=3, objective="say what an unprotected bus can show, and carry a number safely",
            kind=answers.Record(values=answers.Number(whole=True), design=answers.Design(ports=[answers.Port("host_reg", "shown")])),
            parameters=draw_bus, judge=judge_bus, answer="across",
            criteria=[
                Criterion("values", "how many numbers can be caught", points=1, hint="values"),
                Criterion("steps", "no number is shown that was not there", points=1, hint="steps"),
                Criterion("fresh", "what is shown is at most 4 counts old", points=1, hint="fresh"),
            ],
            hints={
                "values": Hint(
                    "Which bits change?",
                    "Each bit that changes may be caught old or new, by itself.",
                    "3 -> 4 is 011 -> 100: three bits change, 2 x 2 x 2 = 8 numbers."),
                "old_new": Hint(
                    "Do all bits come through at once?",
                    "Only if one bit changes are there no more than two.",
                    "3 -> 4 changes three bits: 8 numbers."),
                "bits": Hint(
                    "Is that the number of bits that change?",
                    "Each of them doubles the number of possibilities.",
                    "Three bits: 2 x 2 x 2 = 8."),
                "all": Hint(
                    "Can a bit that does not change come out wrong?",
                    "No. Only bits that change can be caught in a change.",
                    "3 -> 4 in 8 bits: five bits stay 0 in every case."),
                "steps": Hint(
                    "How many bits change at once in what you carry?",
                    "Either one bit only (a Gray code), or the whole value is held still until it was taken (a handshake).",
                    "Gray: n ^ (n >> 1). 3 -> 4 is 010 -> 110."),
                "after": Hint(
                    "Is your code back in binary when it is shown?",
                    "Turn it back in the reader: each bit is the XOR of all Gray bits from the top down to it.",
                    "110 -> 1, 1^1, 1^1^0 = 100, which is 4."),
                "missing": Hint(
                    "Does every number arrive?",
                    "The count goes on every 5 ticks of its clock. A way that is slower skips numbers, or shows none.",
                    "40 000 ticks hold about 7460 counts."),
                "fresh": Hint(
                    "What waits in your path?",
                    "A queue keeps every number, and a reader that is too slow gets older and older ones.",
                    "A reader that takes one number every 8 ticks from a writer that gives one every 5 falls behind for ever."),
            },
        ),
        Exercise(
            "09-h", "How often does it fail", points=3, objective="work out a mean time between failures, and measure its constants",
            kind=answers.Record(sheet_hours=answers.Number(unit="h"), tau_ps=answers.Number(unit="ps"), years=answers.Number(unit="years")),
            parameters=draw_mtbf, judge=judge_mtbf, answer="failing",
            criteria=[
                Criterion("sheet", "mean time between failures by the data sheet", points=1, hint="sheet"),
                Criterion("tau", "time constant from the measured failures", points=1, hint="tau"),
                Criterion("full", "mean time between failures with the whole settling time", points=1, hint="full"),
            ],
            hints={
                "sheet": Hint(
                    "Did you use all five numbers?",
                    "exp(settling / tau) divided by window, clock rate and changes per second, all in seconds and hertz.",
                    "42.5 ns, 1 ns, 8.7 us, 16 MHz, 100 000 changes/s: 2.06e11 s."),
                "unit": Hint(
                    "In which unit is your number?",
                    "The formula gives seconds if all times are in seconds.",
                    "7200 s are 2 h; 0.1 ns are 100 ps."),
                "rates": Hint(
                    "Which of the rates did you leave out?",
                    "Failures per second grow with the clock rate and with the changes per second.",
                    "1e-10 s x 4e7 Hz x 1e5 Hz = 400 chances per second."),
                "tau": Hint(
                    "By which factor do the failures fall from one row to the next?",
                    "Failures are proportional to exp(-settling / tau). The logarithm is a straight line of slope -1 / tau.",
                    "100 ps more and 2.72 times fewer failures: tau is 100 ps."),
                "log10": Hint(
                    "Which logarithm did you take?",
                    "The slope is -1 / tau for the natural logarithm, np.log.",
                    "A factor 10 in 230 ps: 230 / 2.303 = 100 ps."),
                "full": Hint(
                    "How much longer is the whole settling time than the last row?",
                    "Each tau of settling makes failures 2.72 times rarer. Go on along your line.",
                    "10 per minute at 0.5 ns, tau 0.1 ns: at 1.5 ns exp(10) = 22 026 times fewer."),
                "minute": Hint(
                    "For how long were the failures counted?",
                    "Each row counts one minute. Turn it into failures per second first.",
                    "6 in a minute: one every 10 s."),
                "year": Hint(
                    "Is that in seconds?",
                    "A year has 31.6 million seconds.",
                    "3.16e9 s are 100 years."),
            },
        ),
    ],
)
