"""Exercises of lab 05, "Keeping time".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a small instrument of its own, and measures.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from simkit import Design, DigitalOut, Reg, compile_design, sequenced, tick, unsigned, wait
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
    endpoint,
    flip_flops,
)

HZ = 40_000_000
TICK_US = 0.025
SLOW_TICKS = 40_000


def spread(gaps):
    """Distances as a learner reads them: "800", "800 to 812", or None for none."""
    low, high = (int(min(gaps)), int(max(gaps))) if len(gaps) else (None, None)
    return low if low == high else f"{low} to {high}"


def all_equal(gaps, wanted):
    return len(gaps) > 0 and bool(np.all(np.asarray(gaps) == wanted))


# --- 05-a: predict a period ---


class Chatty(Design):
    """Works for some ticks, then waits: the loop of exercise 05-a."""

    lamp = DigitalOut("lamp")

    def __init__(self, steps, pause):
        self.steps = steps
        self.pause = pause

    @sequenced
    def turn(self):
        self.lamp = not self.lamp
        for _ in range(self.steps):
            tick()
        wait(self.pause)


def draw_chatty(rng):
    return {"steps": rng.integer(60, 180), "pause": 40 * rng.integer(10, 25)}


def judge_chatty(answer, mine, seed):
    changes = drive(compile_design(Chatty(mine.steps, mine.pause)), 4 * (mine.steps + mine.pause)).changes("lamp")
    ticks = int(changes[2] - changes[1])
    yield Result("period", abs(answer - ticks * TICK_US) < 0.01, answer, None, "us", _why_period(answer, ticks, mine))


def _why_period(answer, ticks, mine):
    if min(abs(answer - ticks), abs(answer - ticks * 25), abs(answer - ticks * TICK_US / 1000)) < 1e-6:
        return "unit"
    if abs(answer / TICK_US - mine.pause) < 1.5:
        return "work_forgotten"
    if abs(answer / TICK_US - (ticks - 1)) < 0.5:
        return "last_tick"
    if 0.5 < abs(answer / TICK_US - ticks) < 3.5:
        return "free_ticks"
    return ""


# --- 05-b: a steady loop ---


def draw_steady(rng):
    return {"period": 10 * rng.integer(80, 120), "short": rng.integer(150, 250), "long": rng.integer(450, 600)}


def judge_steady(netlist, mine, seed):
    ticks = 9 * (mine.period + mine.long)
    runs = [drive(netlist, ticks, [(0, "switch", level)]) for level in (0, 1)]
    (short, long), (off, on) = runs, (np.diff(run.changes("lamp"))[1:] for run in runs)
    moved = len(runs[0].changes("lamp")) > 0
    hint = _why_gap(off, mine) if len(off) else "slow" if moved else "still"
    yield Result("period", all_equal(off, mine.period), spread(off), mine.period, "ticks", hint,
                 look=short.look(expected={"lamp": short.paced("lamp", mine.period)}))
    same = all_equal(on, off[0]) if len(off) else False
    yield Result("steady", same, spread(on), spread(off), "ticks",
                 look=lambda: long.look(expected={"lamp": short}) or long.look(expected={"lamp": long.paced("lamp", mine.period)}))
    worked = [_high(run, "lamp 2") for run in runs]
    right = all_equal(worked[0], mine.short) and all_equal(worked[1], mine.long)
    shown = " and ".join(str(spread(one) or "no whole pulse") for one in worked)
    yield Result("work", right, shown, f"{mine.short} and {mine.long}", "ticks", look=lambda: _work(short, mine.short, mine.period)
                 or _work(long, mine.long, mine.period))


def _work(run, work, period):
    """Where lamp 2 is not on for ``work`` ticks of each period."""
    pulses = [row for tick in range(1, run.ticks, period) for row in ((tick, 1), (tick + work, 0))]
    paced = run.paced("lamp 2", work, period - work)
    return run.look(expected={"lamp 2": paced if len(paced.ticks) > 2 else [(0, 0), *pulses]})


def _why_gap(gaps, mine):
    first = int(gaps[0])
    if first - mine.period in range(mine.short - 2, mine.short + 3):
        return "after_work"
    return "one_tick" if abs(first - mine.period) <= 2 else ""


def _high(run, name):
    """How long each whole pulse of an output lasted, without the first one."""
    rises, falls = run.changes(name, 1), run.changes(name, 0)
    falls = falls[np.searchsorted(falls, rises[0]) :] if len(rises) else falls[:0]
    whole = min(len(rises), len(falls))
    return (falls[:whole] - rises[:whole])[1:]


# --- 05-c: a loop that is late ---


class Logger(Design):
    """Every so many turns, a self-test makes the turn longer than its period: the loop of exercise 05-c."""

    lamp = DigitalOut("lamp")
    count = Reg(unsigned(8))

    def __init__(self, work, often, selftest):
        self.work = work
        self.often = often
        self.selftest = selftest

    @sequenced(every=800)
    def turn(self):
        self.lamp = not self.lamp
        wait(self.work)
        if self.count == self.often - 1:
            self.count = 0
            wait(self.selftest)
        else:
            self.count = self.count + 1


LOGGER_TICKS = 400_000


def draw_logger(rng):
    return {"work": rng.integer(520, 680), "often": rng.integer(6, 12), "selftest": rng.integer(400, 600)}


def _late(mine, selftest):
    netlist = compile_design(Logger(mine.work, mine.often, selftest))
    return drive(netlist, LOGGER_TICKS).late["turn"]


def judge_logger(answer, mine, seed):
    late, longest = _late(mine, mine.selftest), answer["longest"]
    turns = LOGGER_TICKS // 800
    hint = "lost_turns" if abs(answer["late"] - turns // mine.often) <= 1 else ""
    yield Result("late", answer["late"] == late, answer["late"], None, "turns", hint)
    if not 1 <= longest <= 4000:
        yield Result("longest", False, longest, "between 1 and 4000", "ticks")
        return
    here, next_one = _late(mine, longest), _late(mine, longest + 1)
    found = f"{longest} ticks: {here} late turns; {longest + 1} ticks: {next_one}"
    hint = "room" if here and not _late(mine, max(longest - 2, 1)) else ""
    yield Result("longest", here == 0 and next_one > 0, found, "0, then more than 0", "", hint)


# --- 05-d: the pulse timer ---


def draw_timer(rng):
    rpm = 10 * rng.integer(240, 295)
    return {"rpm": rpm, "ticks": HZ * 60 // (20 * rpm)}


def judge_timer(netlist, mine, seed):
    rng = Draw("timer", seed)
    usual, other = mine.ticks + rng.integer(-200, 200), rng.integer(2000, 4000)
    begin = rng.integer(60_000, 65_000)
    pulses = [(rng.integer(100, 300), usual), (52_000, other), (begin, usual)]
    at = begin + usual + 100
    for length in (1, 2, 1):
        pulses.append((at, length))
        at += length + 20
    readings, kept = _timed(netlist, pulses)
    first, second, across = readings[:3]
    hint = "one_tick" if 0 < abs(first - usual) <= 2 else ""
    if first != kept:
        yield Result("exact", False, f"{first}, then {kept} during the next pulse", usual, "ticks", "kept")
    else:
        yield Result("exact", first == usual, first, usual, "ticks", hint)
    differ = second - first == other - usual
    added = abs(second - first - other) <= 3 and not differ
    hint = "adds_up" if added else "wrap_by_one" if differ and 0 < abs(across - first) <= 2 else ""
    yield Result("wrap", differ and across == first, across, first, "ticks", hint)
    wanted = [length + first - usual for length in (1, 2, 1)]
    shown = ", ".join(str(x) for x in readings[3:])
    yield Result("short", readings[3:] == wanted, shown, ", ".join(str(x) for x in wanted), "ticks")
    size = flip_flops(netlist)
    yield Result("size", size <= 64, size, "at most 64", "flip-flops")


def _timed(netlist, pulses):
    """Readings 10 ticks after the end of each pulse, and the first one as it stands at the end of the second pulse.

    ``pulses`` are (first tick, ticks).
    """
    changes = [row for at, length in pulses for row in ((at, "fan A pulse", 1), (at + length, "fan A pulse", 0))]
    ends = [at + length + 10 for at, length in pulses]
    run = drive(netlist, max(ends) + 2, changes)
    return [run.at("width", tick) for tick in ends], run.at("width", pulses[1][0] + pulses[1][1])


# --- 05-e: gate or period ---


def draw_methods(rng):
    marks, clock_hz = rng.choice(((1, HZ), (160, 250_000)))
    return {"rpm": 10 * rng.integer(60, 290) + 3, "marks": marks, "clock_hz": clock_hz,
            "gate_ms": rng.choice((200, 250, 400, 500))}


def judge_methods(answer, mine, seed):
    gate, period, (least, most) = _gate_step(mine), _period_step(mine), _bounds(mine)
    found = answer["gate_step"]
    hint = "per_minute" if abs(found * 60 - gate) < 0.02 * gate else ""
    yield Result("gate", abs(found - gate) < 0.01 * gate, found, None, "r/min", hint)
    found = answer["period_step"]
    hint = "per_minute" if least <= found * 60 <= most else ""
    yield Result("period", least <= found <= most, found, None, "r/min", hint)
    best = "gate" if gate < period else "period"
    yield Result("choice", answer["choice"] == best, answer["choice"], None)


def _gate_step(mine):
    """Difference between the two readings that a counter with a gate gives at one speed, over all phases."""
    pulse, gate = Fraction(60, mine.rpm * mine.marks), Fraction(mine.gate_ms, 1000)
    counts = {int((gate + phase * pulse / 50) / pulse) for phase in range(50)}
    counts |= {min(counts) + 1}
    return float((max(counts) - min(counts)) * 60 / gate / mine.marks)


def _bounds(mine):
    """Smallest and largest step that counts as right: the count may be rounded either way, and the step by 5 %."""
    return 0.95 * _period_step(mine, 1), 1.05 * _period_step(mine, 0)


def _period_step(mine, more=0):
    """Difference between the readings of two neighbouring counts of ticks from mark to mark."""
    count = mine.clock_hz * 60 // (mine.rpm * mine.marks) + more
    return (mine.clock_hz / count - mine.clock_hz / (count + 1)) * 60 / mine.marks


# --- 05-f: the tachometer ---


def draw_tacho(rng):
    return {"slowest": rng.integer(80, 120)}


def judge_tacho(netlist, mine, seed):
    rng = Draw("tacho", seed)
    limit, turn = rng.integer(2400, 2800), rng.integer(500, 800)
    other = turn + rng.integer(40, 200)
    edges = np.cumsum([200, turn, other, 2 * limit, turn])
    run = _turned(netlist, edges, limit, 40)
    one, two = (run.at("period", int(edge) + 10) for edge in edges[1:3])
    hint = "one_tick" if 0 < abs(one - turn) <= 2 else ""
    yield Result("speed", (one, two) == (turn, other), f"{one}, {two}", f"{turn}, {other}", "ticks", hint)
    quick = _turned(netlist, 200 + 2 * np.arange(8), limit, 1)
    yield _neighbours(quick.at("period", 224), 2 + (one - turn if abs(one - turn) <= 2 else 0))
    yield _first(netlist, run, edges, limit)
    yield _stop(run, int(edges[2]), limit)
    again = _ever(run, "turning", int(edges[3]) - 20, int(edges[4]))
    back = run.at("turning", int(edges[4]) + 10)
    shown = "a reading" if again else "none" if back else "no reading after the second edge either"
    yield Result("again", not again and back == 1, shown, "none after the first edge, one after the second", "",
                 "lost_edge" if one and not again else "")
    reset, slowest = run.at("limit", 0), 60 * HZ / mine.slowest
    hint = "per_minute" if abs(reset * 60 - slowest) < 0.02 * slowest else ""
    yield Result("limit", abs(reset - slowest) <= 0.001 * slowest, reset, None, "ticks", hint)


def _neighbours(found, wanted):
    return Result("neighbours", found == wanted, found, wanted, "ticks")


def _turned(netlist, edges, limit, high):
    """The tachometer with a pulse of ``high`` ticks from each of ``edges`` on, and its limit written first."""
    if not endpoint(netlist, "limit").type.holds(limit):
        raise AnswerFault(f"the register limit must hold {limit}")
    changes = [(10, "limit", limit)]
    for edge in (int(e) for e in edges):
        changes += [(edge, "fan A pulse", 1), (edge + high, "fan A pulse", 0)]
    return drive(netlist, int(edges[-1]) + 60, changes)


def _first(netlist, run, edges, limit):
    early = _ever(run, "turning", 0, int(edges[1]))
    idle = drive(netlist, 3 * limit, [(10, "limit", limit)])
    alone = _ever(idle, "turning", 0, 3 * limit - 1)
    shown = "a reading without any pulse" if alone else "a reading after one edge" if early else "none"
    look = lambda: (_no_reading(idle, 3 * limit) if alone else _no_reading(run, int(edges[1]) + 3))  # noqa: E731
    return Result("first", not early and not alone, shown, "no reading before the second edge", look=look)


def _no_reading(run, until):
    trace = run.trace("turning")
    own = [(int(t), int(v)) for t, v in zip(trace.ticks, trace.values, strict=True) if t > until]
    return run.look("period", expected={"turning": [(0, 0), (until, trace.at(until)), *own]}, around=(0, until))


def _stop(run, last, limit):
    turning, period = run.at("turning", last + limit + 20), run.at("period", last + limit + 20)
    kept = run.at("turning", last + limit - 20)
    shown = f"turning {turning}, period {period}" if kept else "gave up before the limit"
    return Result("stop", (turning, period, kept) == (0, 0, 1), shown, "turning 0, period 0", "", "" if kept else "early")


def _ever(run, name, start, stop):
    """Whether a register was 1 at any time in these ticks."""
    trace = run.trace(name)
    inside = trace.values[(trace.ticks >= start) & (trace.ticks <= stop)]
    return bool(run.at(name, start)) or bool(np.any(inside))


# --- 05-g: pulse-width modulation ---


def draw_pwm(rng):
    return {"period": rng.choice((800, 1000, 1250, 1600, 2000)), "percent": rng.integer(20, 80)}


def judge_pwm(netlist, mine, seed):
    n, kind = mine.period, endpoint(netlist, "duty").type
    middle = min(n * mine.percent // 100, kind.high)
    run = _with_duty(netlist, middle, n)
    gaps = np.diff(run.changes("lamp", 1))[1:]
    hint = "still" if not len(gaps) else "n_plus_one" if 0 < abs(int(gaps[0]) - n) <= 2 else ""
    look = run.look(expected={"lamp": run.paced("lamp", middle, n - middle)})
    yield Result("period", all_equal(gaps, n), spread(gaps), n, "ticks", hint, look=look)
    found = [_high(_with_duty(netlist, duty, n), "lamp") for duty in (1, middle)]
    shown = " and ".join(str(spread(one) or "no whole pulse") for one in found)
    right = all_equal(found[0], 1) and all_equal(found[1], middle)
    yield Result("high", right, shown, f"1 and {middle}", "ticks", look=look)
    yield _ends(netlist, n, kind)
    size, most = flip_flops(netlist), 3 * n.bit_length() + 8
    yield Result("size", size <= most, size, f"at most {most}", "flip-flops")


def _with_duty(netlist, duty, n):
    return drive(netlist, 7 * n, [(0, "duty", duty)])


def _ends(netlist, n, kind):
    none, full = (_with_duty(netlist, duty, n) for duty in (0, min(n, int(kind.high))))
    dark, trace = _ever(none, "lamp", 2 * n, 7 * n - 1), full.trace("lamp")
    look = lambda: _all_of_it(none, 0, n) if dark else _all_of_it(full, 1, n)  # noqa: E731
    if not kind.holds(n):
        return Result("ends", False, f"duty holds {int(kind.high)} at most", f"0 to {n}", "", "narrow", look)
    gaps = bool(np.any(trace.values[trace.ticks >= 2 * n] == 0)) or trace.at(2 * n) == 0
    shown = f"duty 0: {'on at times' if dark else 'off'}; duty {n}: {'off at times' if gaps else 'on'}"
    return Result("ends", not dark and not gaps, shown, f"duty 0: off; duty {n}: on", "", "zero" if dark else "full", look)


def _all_of_it(run, level, n):
    """Where the lamp does not stay at one level, from the third period on."""
    trace = run.trace("lamp")
    before = [(int(t), int(v)) for t, v in zip(trace.ticks, trace.values, strict=True) if t < 2 * n]
    wrong = next((int(t) for t in run.changes("lamp", 1 - level) if t > 2 * n), None)
    return run.look(expected={"lamp": [*before, (2 * n, level)]}, at=wrong)


# --- 05-h, 05-i: two rates ---


def draw_rates(rng):
    return {"rate": rng.choice((51_200, 48_000, 96_000, 32_768, 38_400)), "work": rng.integer(6000, 9000)}


def nearest(rate):
    """Whole ticks nearest to one period."""
    return round(Fraction(HZ, rate))


def judge_rate(answer, mine, seed):
    ticks = nearest(mine.rate)
    hint = "rounding" if abs(answer["ticks"] - ticks) == 1 else ""
    yield Result("ticks", answer["ticks"] == ticks, answer["ticks"], None, "ticks", hint)
    ppm, found = (HZ / ticks / mine.rate - 1) * 1e6, answer["ppm"]
    hint = "sign" if abs(found + ppm) < 1.5 else "million" if abs(found * 1e4 - ppm) < 50 else ""
    yield Result("ppm", abs(found - ppm) < 1.5, found, None, "ppm", hint)


def judge_two(netlist, mine, seed):
    run, ticks = drive(netlist, 4 * SLOW_TICKS + 2000), nearest(mine.rate)
    fast = np.diff(run.changes("lamp 2"))[1:]
    hint = "disturbed" if len(fast) and len(np.unique(fast)) > 1 else "one_tick" if len(fast) else ""
    if len(fast) and len(np.unique(fast)) == 1 and abs(int(fast[0]) - ticks) > 2:
        hint = ""
    yield Result("fast", all_equal(fast, ticks), spread(fast), ticks, "ticks", hint,
                 look=run.look(expected={"lamp 2": run.paced("lamp 2", ticks)}))
    slow = np.diff(run.changes("lamp", 1))
    hint = "multiple" if len(slow) > 1 and all(int(gap) % ticks == 0 for gap in slow[1:]) else ""
    yield Result("slow", all_equal(slow, SLOW_TICKS), spread(slow), SLOW_TICKS, "ticks", hint,
                 look=run.look(expected={"lamp": run.paced("lamp", mine.work, SLOW_TICKS - mine.work)}))
    work = _high(run, "lamp")
    yield Result("work", all_equal(work, mine.work), spread(work), mine.work, "ticks")


# --- what the learners are asked, and the hints ---

STILL = Hint(
    "Does the output change at all?",
    "An output keeps its value until a loop assigns to it; a loop that never reaches the assignment leaves it alone.",
    "self.lamp = not self.lamp, once in each turn, makes one change per turn.",
)
ONE_TICK = Hint(
    "How far is your number from the wanted one?",
    "One tick too many or too few: a count that starts at 1 instead of 0, a limit compared with > instead of ==, "
    "or a tick() besides the wait.",
    "Write a loop of 3 ticks on paper with the tick number under each line: 0, 1, 2, and the next turn starts in 3.",
)
PER_MINUTE = Hint(
    "Is your number 60 times too small or too large?",
    "Speeds here are in turns per minute, times in seconds: a factor of 60 stands between them.",
    "One turn in 0.5 s is 2 turns per second, which is 120 r/min.",
)

lab = Lab(
    "05_keeping_time",
    "Keeping time",
    [
        Exercise(
            "05-a",
            "Predict a period",
            points=2,
            objective="predict the period of a loop from what costs ticks",
            kind=answers.Number(unit="us"),
            parameters=draw_chatty,
            judge=judge_chatty,
            answer="period_us",
            criteria=[Criterion("period", "the predicted period is the one measured", points=2, hint="table")],
            hints={
                "table": Hint(
                    "Which lines of the turn stand in the tick table?",
                    "Add up the ticks of one turn: tick() costs 1, wait(n) costs n, and the turn ends in a tick of its own.",
                    "Ten times tick(), then wait(30): 10 + 30 + 1 = 41 ticks, which is 41 x 25 ns = 1.025 us.",
                ),
                "work_forgotten": Hint(
                    "When does the wait begin: at the start of the turn, or when the work is done?",
                    "A wait after the work lengthens the turn by the work: period = work + wait.",
                    "Work of 130 us and then a wait of 1000 us: a turn of 1130 us, 885 turns a second instead of 1000.",
                ),
                "free_ticks": Hint(
                    "Did you count ticks for the assignment or the for line?",
                    "Only the lines in the tick table cost ticks; assignments, for and if cost none.",
                    "Three assignments and wait(3): 3 + 1 = 4 ticks, whatever the number of assignments.",
                ),
                "last_tick": Hint(
                    "In which tick is the turn over, and in which does the next one start?",
                    "What follows the last wait is done in a tick of its own, even if nothing follows. The next turn "
                    "starts in the tick after it.",
                    "wait(3) alone: the turn starts in tick 0 and ends in tick 3; the next ones start in 4, 8, 12.",
                ),
                "unit": Hint(
                    "Which unit is asked for?",
                    "The count of ticks is right. One tick of 40 MHz lasts 25 ns; the task asks for microseconds.",
                    "400 ticks are 10 000 ns, which is 10 us.",
                ),
            },
        ),
        Exercise(
            "05-b",
            "A loop that keeps its period",
            points=3,
            objective="build a loop whose period does not depend on its work",
            kind=answers.Design(
                ports=[
                    answers.Port("digital_out", terminal="lamp"),
                    answers.Port("digital_out", terminal="lamp 2"),
                    answers.Port("digital_in", terminal="switch"),
                ]
            ),
            parameters=draw_steady,
            judge=judge_steady,
            answer="Steady",
            criteria=[
                Criterion("period", "turns start the right number of ticks apart", points=1, hint="pace"),
                Criterion("steady", "they do so with the long work too", points=1, hint="after_work"),
                Criterion("work", "lamp 2 is on for short and long ticks", points=1, hint="work"),
            ],
            hints={
                "pace": Hint(
                    "What decides when the next turn starts?",
                    "every=n starts a turn in each multiple of n ticks, whatever the work takes.",
                    "@sequenced(every=40) starts turns in ticks 0, 40, 80, if each ends before the next is due.",
                ),
                "after_work": Hint(
                    "From which moment is the next start measured: from the last start, or from the end of the work?",
                    "Next start = last start + period. A wait after the work gives end of the work + wait.",
                    "Work of 5 or 8 ticks and wait(20): turns of 26 or 29 ticks. With every=20: always 20.",
                ),
                "one_tick": ONE_TICK,
                "still": STILL,
                "slow": Hint(
                    "In which unit is the number at every=?",
                    "A plain number is ticks. us(n) is n microseconds, 40 ticks each.",
                    "every=800 and every=us(20) are the same; us(800) is 32 000 ticks.",
                ),
                "work": Hint(
                    "In which tick does lamp 2 go on, and in which off?",
                    "It must go on and off the right number of ticks apart: wait(n) stands between the assignments.",
                    "Assign 1, wait(7), assign 0: the output is 1 for 7 ticks.",
                ),
            },
        ),
        Exercise(
            "05-c",
            "A loop that is late, and why",
            points=2,
            objective="count the turns that a loop loses, and find how long its work may last",
            kind=answers.Record(late=answers.Number(whole=True), longest=answers.Number(whole=True)),
            parameters=draw_logger,
            judge=judge_logger,
            answer="diagnosis",
            criteria=[
                Criterion("late", "the number of late turns is the one counted", points=1, hint="count"),
                Criterion("longest", "with this self-test no turn is late, with one tick more some are", points=1,
                          hint="longest"),
            ],
            hints={
                "count": Hint(
                    "Have you asked the bench?",
                    "rig.late holds, for each loop, how often a due turn found the loop busy.",
                    'rig.run(ms(1)) and then rig.late: {"turn": 3} means that 3 turns were lost.',
                ),
                "lost_turns": Hint(
                    "Does the counter also count a turn that never started?",
                    "A lost turn does not count towards the next self-test: the cycle is one period longer.",
                    "A self-test in every 4th turn that loses one: 4 turns take 5 periods, so 20 periods lose 4, not 5.",
                ),
                "longest": Hint(
                    "How many ticks does the turn with the self-test take in all?",
                    "The work, the self-test and the tick of the next start must fit in one period.",
                    "A period of 20 and work of 12: a self-test of 7 leaves the loop free again for tick 20.",
                ),
                "room": Hint(
                    "Is the loop ready in the very tick in which the next turn is due?",
                    "The turn's last lines run in a tick of their own, after the wait. That tick must be over too.",
                    "With every=8, wait(7) is in time: the last tick of the turn is tick 7. wait(8) is late.",
                ),
            },
        ),
        Exercise(
            "05-d",
            "A pulse timer that survives the wrap",
            points=5,
            objective="time a pulse with a counter that wraps",
            kind=answers.Design(
                ports=[
                    answers.Port("digital_in", terminal="fan A pulse"),
                    answers.Port("host_reg", name="width", type="unsigned(16)", access="ro"),
                ]
            ),
            parameters=draw_timer,
            judge=judge_timer,
            answer="PulseTimer",
            criteria=[
                Criterion("exact", "an ordinary pulse reads its ticks", points=2, hint="edges"),
                Criterion("wrap", "across the wrap it reads the same", points=1, hint="wrap"),
                Criterion("short", "pulses of 1 and 2 ticks read like the others", points=1, hint="neighbours"),
                Criterion("size", "it is no larger than needed", points=1, hint="size"),
            ],
            hints={
                "edges": Hint(
                    "Which two values of now do you subtract, and in which ticks are they read?",
                    "Read now at the rising edge and at the falling edge with the same delay; the delay cancels.",
                    "until(a), start = now, until(b), now - start: both readings come one tick after their condition.",
                ),
                "one_tick": ONE_TICK,
                "kept": Hint(
                    "Does width change while the next pulse lasts?",
                    "The host may look at any time. Count in a register of its own, and write width once, at the end.",
                    "A pulse of 5 ticks and then one of 7: width shows 5 until the second is over, never 1, 2, 3.",
                ),
                "adds_up": Hint(
                    "Does your count start anew with each pulse?",
                    "The second reading is the sum of both pulses. If one tick assigns a register twice, the last assignment wins.",
                    "count = 0, then count = count + 1 in the same tick: it is the old count plus 1, and never 0.",
                ),
                "wrap": Hint(
                    "What does now - start give when now has wrapped and start has not?",
                    "Subtract in the counter's own width: the difference wraps back and is right. Compare nothing first.",
                    "4 bits: start 14, stop 3. 3 - 14 = -11, and -11 modulo 16 = 5 ticks.",
                ),
                "wrap_by_one": Hint(
                    "How many values does a 16-bit counter have: 65535 or 65536?",
                    "The largest value is 65535, but the counter returns after 65536 ticks. Plain subtraction knows that.",
                    "4 bits, start 14, stop 3: ticks 14, 15, 0, 1, 2 have passed, which is 5. 15 - 14 + 3 is only 4.",
                ),
                "neighbours": Hint(
                    "What happens when the pulse is over before your loop looks again?",
                    "Between seeing the rise and waiting for the fall there must be no tick() and no wait.",
                    "until(a) and until(b) after each other: a fall in the very next tick is still seen.",
                ),
                "size": Hint(
                    "How many bits do your registers have together?",
                    "A difference of two 16-bit values needs no register wider than 16 bits.",
                    "Three registers of 8 bits are 24 flip-flops; three of 32 bits are 96.",
                ),
            },
        ),
        Exercise(
            "05-e",
            "Gate or period",
            points=3,
            objective="choose between counting pulses and timing one, and defend it by numbers",
            kind=answers.Record(
                gate_step=answers.Number(unit="r/min"),
                period_step=answers.Number(unit="r/min"),
                choice=answers.Text(("gate", "period")),
            ),
            parameters=draw_methods,
            judge=judge_methods,
            answer="methods",
            criteria=[
                Criterion("gate", "the step of gate counting is right", points=1, hint="gate"),
                Criterion("period", "the step of period timing is right", points=1, hint="period"),
                Criterion("choice", "the finer one is chosen", points=1, hint="choice"),
            ],
            hints={
                "gate": Hint(
                    "By how much does the reading change if one more pulse falls into the gate?",
                    "One pulse more is one mark more in the gate's time, a turn divided by the marks. The speed does not "
                    "matter.",
                    "A gate of 2 s and 10 marks: a tenth of a turn in 2 s is 0.05 turns per second, which is 3 r/min.",
                ),
                "period": Hint(
                    "How many ticks does it take from mark to mark, and what would one tick more read?",
                    "Reading = 60 x clock / (ticks x marks). Put in ticks and ticks + 1, and subtract.",
                    "A 1 MHz clock and one mark at 1500 r/min: 40 000 ticks; 40 001 read 0.0375 r/min less.",
                ),
                "choice": Hint(
                    "Which of your two steps is smaller?",
                    "The method with more counts in its reading resolves finer: pulses in the gate, or ticks from mark to mark.",
                    "20 pulses in the gate against 40 000 ticks in a turn: the ticks win by a factor of 2000.",
                ),
                "per_minute": PER_MINUTE,
            },
        ),
        Exercise(
            "05-f",
            "The tachometer",
            points=6,
            objective="build a tachometer that tells a standing fan from a slow one",
            kind=answers.Design(
                ports=[
                    answers.Port("digital_in", terminal="fan A pulse"),
                    answers.Port("host_reg", name="limit", access="rw"),
                    answers.Port("host_reg", name="period", access="ro"),
                    answers.Port("host_reg", name="turning", type="bit", access="ro"),
                ]
            ),
            parameters=draw_tacho,
            judge=judge_tacho,
            answer="Tacho",
            criteria=[
                Criterion("speed", "period holds the ticks of the last turn", points=1, hint="period"),
                Criterion("neighbours", "edges 2 ticks apart are timed too", points=1, hint="neighbours"),
                Criterion("first", "one edge alone gives no reading", points=1, hint="first"),
                Criterion("stop", "after limit ticks without an edge it reads 0", points=1, hint="frozen"),
                Criterion("again", "nor does the first edge after a stop", points=1, hint="again"),
                Criterion("limit", "limit starts at the turn of your slowest speed", points=1, hint="limit"),
            ],
            hints={
                "period": Hint(
                    "From which tick to which tick does your counter run?",
                    "Count from one rising edge to the next: all ticks of the turn, high or low.",
                    "Edges seen in ticks 100 and 140: the turn has 40 ticks.",
                ),
                "one_tick": Hint(
                    "Which value has the counter in the tick of an edge?",
                    "If it is set to 0 in the tick of the edge, it is 0 in the tick after: one tick of the turn is lost. "
                    "Set it to 1.",
                    "Edge in tick 5, age = 1 seen in tick 6, 2 in 7, 3 in 8: an edge in tick 8 finds 3.",
                ),
                "neighbours": Hint(
                    "Does your loop see an edge in every second tick?",
                    "An edge is: high now, low one tick before. A clocked loop can ask this in every tick.",
                    "Keep the input of the last tick in a bit, and compare.",
                ),
                "first": Hint(
                    "How many edges does it take to bound one interval?",
                    "The first edge only starts the counting. Remember in a bit that an edge has been seen.",
                    "Edges after 3, 5 and 7 s: three edges, two intervals. The 3 s before the first are no interval.",
                ),
                "frozen": Hint(
                    "If no pulse comes for 2 s, how fast can the fan be at most?",
                    "A reading that is made only on edges never changes when the edges stop. Count on and compare with "
                    "limit in every tick.",
                    "Last turn 40 ms, then 2 s of silence: the fan turns at less than 30 r/min, whatever period says.",
                ),
                "early": Hint(
                    "When did your design give up: before the limit was over?",
                    "turning may fall only when limit ticks have passed since the last rising edge.",
                    "limit 1000, edge in tick 300: still turning in tick 1250, stopped by tick 1320.",
                ),
                "lost_edge": Hint(
                    "In the tick of the first edge after a stop, which of your conditions hold?",
                    "Perhaps two: the edge, and the limit that is still over. The last assignment of a tick wins, so the edge may be "
                    "forgotten at once.",
                    "if edge: seen = 1 ... if age > limit: seen = 0. With age far beyond limit, seen stays 0. An elif decides.",
                ),
                "again": Hint(
                    "What does your design remember of the time before the stop?",
                    "An interval that contains a stop is no turn. Forget the old edge when the limit is over.",
                    "Edge, 5 s of silence, edge: the silence is no period of 5 s.",
                ),
                "limit": Hint(
                    "At your slowest speed, how long is a turn, in ticks?",
                    "One turn takes 60 s divided by the speed in r/min; the clock gives 40 000 000 ticks a second.",
                    "At 600 r/min a turn takes 0.1 s, which is 4 000 000 ticks. Is the register wide enough?",
                ),
                "per_minute": PER_MINUTE,
            },
        ),
        Exercise(
            "05-g",
            "Pulse-width modulation",
            points=4,
            objective="build a pulse-width modulator that reaches 0 % and 100 %",
            kind=answers.Design(
                ports=[
                    answers.Port("digital_out", terminal="lamp"),
                    answers.Port("host_reg", name="duty", access="rw"),
                ]
            ),
            parameters=draw_pwm,
            judge=judge_pwm,
            answer="Pwm",
            criteria=[
                Criterion("period", "the pulses start the right number of ticks apart", points=1, hint="count"),
                Criterion("high", "each pulse lasts duty ticks", points=1, hint="compare"),
                Criterion("ends", "0 is always off, the full period always on", points=1, hint="full"),
                Criterion("size", "it is no larger than needed", points=1, hint="size"),
            ],
            hints={
                "still": STILL,
                "count": Hint(
                    "How many different values does your counter take?",
                    "A period of N ticks has the N counts 0 to N - 1.",
                    "N = 3: 0, 1, 2, 0, 1, 2.",
                ),
                "n_plus_one": Hint(
                    "Write down the counts for N = 3. How many are there?",
                    "Counting 0 to N makes N + 1 ticks. Back to 0 after N - 1. (With waits: a turn lasts the sum of its waits plus one.)",
                    "N = 3 with the counts 0, 1, 2, 3 is a period of 4 ticks: a third too long, and easy to see.",
                ),
                "compare": Hint(
                    "For how many of the counts is your comparison true?",
                    "count < duty holds for exactly duty of the counts 0 to N - 1.",
                    "duty 2: it holds for 0 and 1. With <= it would hold for 0, 1 and 2.",
                ),
                "zero": Hint(
                    "Is there a count for which your comparison holds even with duty 0?",
                    "With duty 0 no count may pass: 0 < 0 is false, 0 <= 0 is true. (With waits: wait(0) of a signal takes a tick all the same.)",
                    "A heater that gets one tick in each period at 0 % is never off.",
                ),
                "full": Hint(
                    "Is there a count for which your comparison fails although duty is the whole period?",
                    "The largest count is N - 1, and N - 1 < N holds: full duty never drops out.",
                    "N = 4, duty 4: counts 0 to 3 are all below 4.",
                ),
                "narrow": Hint(
                    "What is the largest number that your duty register holds?",
                    "n bits hold 0 to 2**n - 1. The register must hold the whole period, not one less.",
                    "A period of 20 ticks needs duty up to 20: 5 bits, for 4 end at 15.",
                ),
                "size": Hint(
                    "How many bits does a count up to your period need?",
                    "Registers wider than the largest number they hold cost flip-flops and comparators for nothing.",
                    "Counts up to 500 need 9 bits, not 32.",
                ),
            },
        ),
        Exercise(
            "05-h",
            "A rate that the clock cannot hit",
            points=2,
            objective="choose a whole number of ticks for a rate, and state the error",
            kind=answers.Record(ticks=answers.Number(whole=True), ppm=answers.Number(unit="ppm")),
            parameters=draw_rates,
            judge=judge_rate,
            answer="rate",
            criteria=[
                Criterion("ticks", "the nearest whole number of ticks is chosen", points=1, hint="divide"),
                Criterion("ppm", "the error of the rate is right, sign included", points=1, hint="relative"),
            ],
            hints={
                "divide": Hint(
                    "How many ticks is one period, before rounding?",
                    "Clock rate divided by the wanted rate, then the nearest whole number.",
                    "44 100 Hz: 40 000 000 / 44 100 = 907.03, so 907 ticks.",
                ),
                "rounding": Hint(
                    "Up or down: which whole number is nearer?",
                    "Both neighbours are possible; the nearer one makes the smaller error.",
                    "907.03 lies 0.03 from 907 and 0.97 from 908.",
                ),
                "relative": Hint(
                    "What rate do your ticks really give?",
                    "Error = (real rate - wanted rate) / wanted rate, times one million.",
                    "907 ticks give 44 101.43 Hz: 1.43 / 44 100 = 0.0000325, which is +32.5 ppm.",
                ),
                "sign": Hint(
                    "Is your rate too high or too low?",
                    "Too few ticks make the rate too high: a positive error of the rate, a negative one of the period.",
                    "907 instead of 907.03 ticks: shorter, so faster, so +.",
                ),
                "million": Hint(
                    "Per cent or parts per million?",
                    "1 % is 10 000 ppm.",
                    "0.00325 % is 32.5 ppm.",
                ),
            },
        ),
        Exercise(
            "05-i",
            "Two rates side by side",
            points=4,
            objective="run two loops of different rates that do not disturb each other",
            kind=answers.Design(
                ports=[
                    answers.Port("digital_out", terminal="lamp"),
                    answers.Port("digital_out", terminal="lamp 2"),
                ]
            ),
            parameters=draw_rates,
            shares="05-h",
            judge=judge_two,
            answer="TwoRates",
            criteria=[
                Criterion("fast", "lamp 2 changes every so many ticks as 05-h says, always", points=2, hint="fast"),
                Criterion("slow", "lamp goes on every 40 000 ticks", points=1, hint="slow"),
                Criterion("work", "lamp stays on while the slow work lasts", points=1, hint="work"),
            ],
            hints={
                "fast": Hint(
                    "Which loop changes lamp 2, and what paces it?",
                    "The fast loop needs nothing but its own every=, with the ticks from exercise 05-h.",
                    "@sequenced(every=100) with one assignment: a change in every 100th tick.",
                ),
                "one_tick": ONE_TICK,
                "disturbed": Hint(
                    "What happens to lamp 2 while the slow work lasts?",
                    "Inside one loop, lines wait for each other. Two loops run at the same time and share only what you "
                    "let them share.",
                    "A loop that takes 6000 ticks for its work cannot do anything else every 800 ticks. A second loop can.",
                ),
                "slow": Hint(
                    "What paces the slow loop?",
                    "1 kHz of 40 MHz is exactly 40 000 ticks; let every= count them.",
                    "100 Hz would be every=400000.",
                ),
                "multiple": Hint(
                    "Did you derive the slow rate from the fast one?",
                    "40 000 is no multiple of your fast period. Counting fast turns gives only multiples of it.",
                    "39 turns of 1024 ticks are 39 936 ticks: 1001.6 Hz instead of 1 kHz.",
                ),
                "work": Hint(
                    "When does lamp go on and off?",
                    "On at the start of the slow turn, off when its work is over.",
                    "Assign 1, wait(50), assign 0: on for 50 ticks.",
                ),
            },
        ),
    ],
)
