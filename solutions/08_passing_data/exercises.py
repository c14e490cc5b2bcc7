"""Exercises of lab 08, "Passing data".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a small instrument of its own, and measures.
"""

from __future__ import annotations

import numpy as np

from simkit import Design, Fifo, HostReg, Reg, bit, bits, cat, clocked, compile_design, sequenced, unsigned, until, wait
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive

# --- 08-a: the latest value, or every value ---


class Shared(Design):
    """A writer leaves booking after booking in one register; a reader adds up what it finds: exercise 08-a."""

    booking = HostReg(unsigned(16), access="ro")
    total = HostReg(unsigned(32), access="ro")

    def __init__(self, n, write, read):
        self.n = n
        self.write = write
        self.read = read

    @sequenced(every=lambda self: self.write)
    def writer(self):
        if self.booking < self.n:
            self.booking = self.booking + 1

    @sequenced(every=lambda self: self.read)
    def reader(self):
        self.total = self.total + self.booking


def draw_shared(rng):
    slow = rng.choice((4, 5, 6, 8))
    return {"n": slow * rng.integer(6, 12), "slow": slow, "fast": rng.choice((2, 4, 5))}


def _added(mine, read):
    return drive(compile_design(Shared(mine.n, 1000, read)), 1000 * mine.n + 10).at("total", 1000 * mine.n + 1)


def judge_shared(answer, mine, seed):
    true = mine.n * (mine.n + 1) // 2
    slow, fast = answer["slow"], answer["fast"]
    hint = "every" if slow == true else "share" if abs(slow - true / mine.slow) < 0.6 else ""
    yield Result("slow", slow == _added(mine, 1000 * mine.slow), slow, None, "", hint)
    hint = "once" if fast == true else ""
    yield Result("fast", fast == _added(mine, 1000 // mine.fast), fast, None, "", hint)


# --- 08-b: two rates ---


def draw_station(rng):
    return {"burst": rng.integer(7, 12), "work": rng.integer(40, 70), "gap": rng.integer(5, 9)}


def judge_station(netlist, mine, seed):
    rng = Draw("station", seed)
    values = [rng.integer(1000, 5000) for _ in range(mine.burst)]
    values[3] = values[2]
    at = [50 + mine.gap * i for i in range(mine.burst)]
    end = at[-1] + mine.burst * (mine.work + 8) + 200
    run = drive(netlist, end, [(t, "fan A bearing", v) for t, v in zip(at, values, strict=True)])
    shown = [run.at("newest", t + 4) for t in at]
    behind = "queued" if shown[0] == values[0] else ""
    yield Result("newest", shown == values, _first_difference(shown, values), "each sample", "", behind)
    total = run.at("total", end - 1)
    different = [v for i, v in enumerate(values) if i == 0 or v != values[i - 1]]
    hint = "alike" if total == sum(different) else ""
    yield Result("every", total == sum(values), total, sum(values), "counts", hint)
    gaps = np.diff(run.changes("total"))
    least = int(min(gaps)) if len(gaps) else None
    yield Result("work", least is not None and least >= mine.work, least, f"at least {mine.work}", "ticks")


def _first_difference(shown, wanted):
    for i, (a, b) in enumerate(zip(shown, wanted, strict=False)):
        if a != b:
            return f"{a} instead of {b} in sample {i + 1} of {len(shown)}"
    return "each sample"


# --- 08-c: depth ---


class Pipe(Design):
    """A writer, a queue and a reader that sleeps at first: the design of exercise 08-c."""

    lost = HostReg(unsigned(16), access="ro")
    given = Reg(unsigned(16))
    awake = Reg(bit)

    def __init__(self, depth, words, write, read, sleep=1):
        self.queue = Fifo(unsigned(16), depth)
        self.words = words
        self.write = write
        self.read = read
        self.sleep = sleep

    @sequenced(every=lambda self: self.write)
    def writer(self):
        if self.given < self.words:
            self.given = self.given + 1
            if not self.queue.try_put(self.given):
                self.lost = self.lost + 1

    @sequenced(every=lambda self: self.read)
    def reader(self):
        if self.awake:
            self.queue.try_get()

    @sequenced
    def alarm_clock(self):
        wait(self.sleep)
        self.awake = 1
        until(False)


def draw_depth(rng):
    write, read = rng.choice(((2, 3), (2, 5), (3, 5), (4, 5), (5, 8)))
    return {"burst": rng.integer(90, 180), "write": write, "read": read, "stall_ms": rng.integer(3, 7), "every": 781}


def _lost_burst(mine, depth):
    return drive(compile_design(Pipe(depth, mine.burst, mine.write, mine.read)), mine.burst * mine.write + 20).at(
        "lost", mine.burst * mine.write + 10)


def _lost_stall(mine, depth):
    sleep = 40_000 * mine.stall_ms
    return drive(compile_design(Pipe(depth, 60_000, mine.every, 100, sleep)), sleep + 9000).at("lost", sleep + 8000)


def _deep_enough(name, found, lost, hint):
    if not 1 <= found <= 4096:
        return Result(name, False, found, "between 1 and 4096", "words", hint)
    here, fewer = lost(found), 1 if found <= 3 else lost(found - 3)
    hint = hint or ("spare" if here == 0 else "")
    return Result(name, here == 0 and fewer > 0, f"{found} words: {here} lost" if here else f"{found} words: none lost",
                  "none lost, at most 2 words to spare", "", hint)


def judge_depth(answer, mine, seed):
    burst, stall = answer["burst"], answer["stall"]
    share = mine.burst * mine.write / mine.read
    hint = "average" if burst <= 2 else ""
    if not hint and abs(burst - share) <= 2 < abs(burst - (mine.burst - share)):
        hint = "taken"
    yield _deep_enough("burst", burst, lambda depth: _lost_burst(mine, depth), hint)
    hint = "average" if stall <= 2 else ""
    yield _deep_enough("stall", stall, lambda depth: _lost_stall(mine, depth), hint)


# --- 08-d: overflow counted ---


def draw_counted(rng):
    return {"depth": rng.integer(6, 14)}


def judge_counted(netlist, mine, seed):
    rng = Draw("counted", seed)
    more = mine.depth + rng.integer(3, 12)
    run = drive(netlist, 400, _arrive(20, 6))
    free = run.at("taken", 200), run.at("lost", 200), run.at("overflow", 200)
    yield Result("through", free == (6, 0, 0), f"{free[0]} taken, {free[1]} lost, overflow {free[2]}",
                 "6 taken, 0 lost, overflow 0")
    yield from _losses(netlist, mine, more)
    run = drive(netlist, 5000, [(2, "hold", 1), *_arrive(20, mine.depth + 300)])
    full = run.at("lost", 20 + 10 * (mine.depth + 320))
    yield Result("full", full == 255, full, 255, "words")


def _arrive(start, count):
    return [(start + 10 * i, "fan A bearing", 100 + i) for i in range(count)]


def _losses(netlist, mine, more):
    stop = 20 + 10 * (mine.depth + more)
    again = stop + 600
    changes = [(2, "hold", 1), *_arrive(20, mine.depth + more), (stop + 50, "hold", 0), (stop + 300, "clear", 1),
               (stop + 320, "clear", 0), (again - 10, "hold", 1), *_arrive(again, mine.depth + 2)]
    run = drive(netlist, again + 10 * mine.depth + 200, changes)
    lost = run.at("lost", stop + 20)
    hint = "depth" if abs(lost - more) == mine.depth else ""
    yield Result("count", lost == more, lost, more, "words", hint)
    during, after = run.at("overflow", stop + 20), run.at("overflow", stop + 290)
    yield Result("sticky", (during, after) == (1, 1), f"{during} while full, {after} when the queue was empty again",
                 "1 and 1", "", "" if during else "never")
    end = again + 10 * mine.depth + 100
    cleared, back, kept = run.at("overflow", stop + 330), run.at("overflow", end), run.at("lost", stop + 330)
    good = (cleared, back) == (0, 1) and kept == lost and during == 1
    shown = f"overflow {cleared} after clear, {back} after the next loss; count {lost} before, {kept} after"
    yield Result("clear", good, shown, "overflow 0, then 1; the count stays")


# --- 08-e: a torn read ---


class Torn(Design):
    """Two readers take a counter of 32 bits in two halves, some ticks apart: the design of exercise 08-e."""

    upper_first = HostReg(unsigned(32), access="ro")
    lower_first = HostReg(unsigned(32), access="ro")

    def __init__(self, first, gap):
        self.now = Reg(unsigned(32), reset=first)
        self.gap = gap

    @clocked
    def count(self):
        self.now = self.now + 1

    @sequenced
    def one(self):
        high = bits(self.now, 31, 16)
        wait(self.gap)
        self.upper_first = cat(high, bits(self.now, 15, 0))
        until(False)

    @sequenced
    def other(self):
        low = bits(self.now, 15, 0)
        wait(self.gap)
        self.lower_first = cat(bits(self.now, 31, 16), low)
        until(False)


def draw_torn(rng):
    return {"high": rng.integer(3, 60), "short_of": rng.integer(4, 12), "gap": rng.integer(20, 40)}


def judge_torn(answer, mine, seed):
    first = (mine.high + 1) * 65536 - mine.short_of
    run = drive(compile_design(Torn(first, mine.gap)), mine.gap + 10)
    for name in ("upper_first", "lower_first"):
        found, right = answer[name], run.at(name, mine.gap + 5)
        whole = found in (first, first + mine.gap)
        hint = "whole" if whole else "swapped" if abs(abs(found - right) - 65536 * 2) <= 2 * mine.gap else ""
        hint = "close" if 0 < abs(found - right) <= 2 else hint
        yield Result(name, found == right, found, None, "ticks", hint)


# --- 08-f: prevented ---


def draw_stamp(rng):
    return {"first": 65536 * rng.integer(3, 60) - 60}


def judge_stamp(netlist, mine, seed):
    usual = _asked(netlist, mine, 20)
    yield Result("fresh", 0 <= usual <= 8, usual, "0 to 8", "ticks after the request")
    errors = [_asked(netlist, mine, at) for at in range(38, 64)]
    worst = max(errors, key=lambda error: abs(error - usual))
    yield Result("whole", all(abs(error - usual) <= 8 for error in errors), worst, f"about {usual}",
                 "ticks after the request", "torn" if abs(worst - usual) > 60_000 else "fresh")
    run = drive(netlist, 300, [(30, "ask", 1)])
    one, two = (_pair(run, tick) for tick in (50, 240))
    yield Result("still", one == two and one != 0, two - one, 0, "ticks")
    run = drive(netlist, 400, [(20, "ask", 1), (25, "ask", 0), (200, "ask", 1), (205, "ask", 0)])
    moved = _pair(run, 230) - _pair(run, 50)
    yield Result("again", abs(moved - 180) <= 8, moved, 180, "ticks between the stamps")


def _pair(run, tick):
    return 65536 * run.at("high", tick) + run.at("low", tick)


def _asked(netlist, mine, at):
    """How far the stamp is from the counter at the request, in ticks, as it is read 30 ticks later."""
    run = drive(netlist, at + 35, [(at, "ask", 1), (at + 5, "ask", 0)])
    return _pair(run, at + 30) - (mine.first + at)


# --- 08-g: a table ---


def draw_sine(rng):
    return {"amplitude": 100 * rng.integer(12, 19)}


def judge_sine(netlist, mine, seed):
    ticks, angles = 40, list(range(0, 1024, 3)) + [255, 256, 511, 512, 767, 768, 1023]
    run = drive(netlist, ticks * len(angles) + 50, [(20 + ticks * i, "angle", a) for i, a in enumerate(angles)])
    settled = np.array([run.at("out", 20 + ticks * i + 38) for i in range(len(angles))], float)
    soon = np.array([run.at("out", 20 + ticks * i + 6) for i in range(len(angles))], float)
    wanted = mine.amplitude * np.sin(2 * np.pi * np.array(angles) / 1024)
    error = np.abs(settled - wanted) / mine.amplitude
    worst = float(100 * error.max())
    first = np.array(angles) < 256
    hint = "quarter" if error[first].max() < 0.012 else "start" if 1.2 < worst < 2.2 else ""
    yield Result("shape", worst <= 1.2, round(worst, 2), "at most 1.2", "% of the amplitude", hint)
    moved = bool(np.ptp(settled))
    late = int(np.sum(soon != settled))
    yield Result("quick", moved and late == 0, f"{late} of {len(angles)} values come later" if moved else "nothing moves",
                 "none comes later")
    words = sum(mem.depth for mem in netlist.mems)
    yield Result("size", 0 < words <= 256, words, "1 to 256", "words of memory", "" if words else "no_memory")


# --- 08-h: a record with pre-trigger ---

DEPTH = 64


def draw_record(rng):
    return {"before": rng.integer(10, 40), "level": 100 * rng.integer(40, 60)}


def judge_record(netlist, mine, seed):
    rng = Draw("record", seed)
    fires = 100 + rng.integer(0, 60)
    rest = DEPTH - mine.before
    run, values, start = _recorded(netlist, mine, {fires: mine.level}, fires + rest)
    words = _words(run, start)
    place, done = words.index(mine.level) if mine.level in words else None, run.at("done", start)
    hint = "" if done and place is not None else "never"
    yield Result("trigger", place == mine.before and done == 1, place if done else "no complete record", mine.before,
                 "", hint)
    oldest = values.index(words[0]) if words[0] in values else 0
    wanted = values[oldest : oldest + DEPTH]
    yield Result("order", words == wanted, _first_difference(words, wanted), "each sample, oldest first")
    yield _early(netlist, mine, rest)
    run, _, start = _recorded(netlist, mine, {fires: mine.level, fires + 90: mine.level}, fires + 220)
    end, done = _words(run, start), (run.at("done", 10), run.at("done", start))
    yield Result("frozen", done == (0, 1) and end == words,
                 f"done {done[0]} at first, {done[1]} at the end; record {'as it was' if end == words else 'changed'}",
                 "done 0, then 1; record as it was")


def _early(netlist, mine, rest):
    """A trigger that comes too early for its history must not count; one that comes in time for it must."""
    run, _, start = _recorded(netlist, mine, {mine.before - 1: mine.level, 150: mine.level + 7}, 150 + rest)
    waits = run.at("done", start) == 1 and mine.level + 7 in _words(run, start)
    run, _, start = _recorded(netlist, mine, {mine.before: mine.level}, DEPTH)
    prompt = run.at("done", start) == 1
    shown = f"{mine.before - 1} samples before it: {'waits' if waits else 'does not wait'}; {mine.before}: "
    return Result("early", waits and prompt, shown + ("triggers" if prompt else "does not trigger"), "waits; triggers")


def _recorded(netlist, mine, high, count):
    """A ramp of samples, ten ticks apart, with some ``high`` ones; then the host reads the whole record."""
    values = [high.get(i, 1 + i) for i in range(count)]
    changes = [(20 + 10 * i, "fan A bearing", v) for i, v in enumerate(values)]
    start = 20 + 10 * count + 20
    changes += [(start + 12 * i, "index", i) for i in range(DEPTH)]
    return drive(netlist, start + 12 * DEPTH + 20, changes), values, start


def _words(run, start):
    return [run.at("word", start + 12 * i + 10) for i in range(DEPTH)]


# --- 08-i: sharing ---


def draw_sharing(rng):
    return {"hold": rng.integer(20, 40)}


def judge_sharing(netlist, mine, seed):
    hold = mine.hold
    run = drive(netlist, 42 * hold, [(5, "request", 15)])
    grant = run.trace("grant")
    values = [int(v) for v in grant.values]
    two = sum(v & (v - 1) != 0 for v in values)
    given = any(values)
    yield Result("one", given and two == 0, f"{two} times more than one" if given else "none", "one at a time", "",
                 "" if given else "never", lambda: _turns(run, hold))
    lengths = [int(b - a) for a, b, v in zip(grant.ticks[:-1], grant.ticks[1:], values[:-1], strict=True) if v]
    shown = f"{min(lengths)} to {max(lengths)}" if lengths else "none"
    yield Result("length", bool(lengths) and set(lengths) <= {hold, hold + 1}, shown, f"{hold} or {hold + 1}", "ticks",
                 look=lambda: _turns(run, hold))
    ticks = [_granted(run, n, 100, 40 * hold) for n in range(4)]
    yield Result("fair", min(ticks) > 0 and min(ticks) >= 0.75 * max(ticks), "/".join(map(str, ticks)),
                 "equal shares of the ticks", look=lambda: _turns(run, hold))
    lone = drive(netlist, 41 * hold, [(5, "request", 4), (30 * hold, "request", 0)])
    shares = [_granted(lone, n, 100, 30 * hold) for n in range(4)]
    idle = sum(_granted(lone, n, 32 * hold, 41 * hold) for n in range(4))
    part = shares[2] / (30 * hold - 100)
    good = part >= 0.85 and sum(shares) == shares[2] and idle == 0
    yield Result("idle", good, f"{100 * part:.0f} % for it, {sum(shares) - shares[2]} ticks for others, "
                 f"{idle} ticks after its request", "at least 85 %, 0, 0", look=lambda: _alone(lone, hold, idle))


def _turns(run, hold):
    """Four requests that last: the first turn given to two, or shorter or longer than ``hold`` ticks; six turns in all."""
    grant = run.trace("grant")
    rows = list(zip(grant.ticks.tolist(), grant.values.tolist(), [*grant.ticks[1:].tolist(), run.ticks], strict=True))
    two = next((a for a, v, b in rows if v & (v - 1)), None)
    odd = two or next((min(b, a + hold + 1) for a, v, b in rows if v and not hold <= b - a <= hold + 1), 5 + hold)
    return run.look("grant", at=odd, around=(max(odd - 2 * hold, 0), odd + 4 * hold), note=f"four requests: turns of {hold} ticks each")


def _alone(run, hold, idle):
    """One request: its grant is still there after it ended, or is away for long while it lasts."""
    if idle:
        return run.look(expected={"grant": [(0, 4), (30 * hold + 2, 0)]}, at=32 * hold, around=(28 * hold, 34 * hold))
    grant = run.trace("grant")
    away = next((int(t) for t, v in zip(grant.ticks, grant.values, strict=True) if v != 4 and t > 20), 100)
    return run.look("grant", at=away, around=(max(away - 2 * hold, 0), away + 2 * hold), note="2 alone asks for the line: value 4")


def _granted(run, n, start, stop):
    """In how many of these ticks requester ``n`` had the line."""
    trace = run.trace("grant")
    at = np.searchsorted(trace.ticks, np.arange(start, stop), side="right") - 1
    return int(np.sum((np.asarray(trace.values, np.int64)[at] >> n) & 1))


# --- what the learners are asked, and the hints ---

def ro(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="ro")


def rw(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="rw")


SENSOR = answers.Port("analog_in", terminal="fan A bearing")

lab = Lab(
    "08_passing_data",
    "Passing data",
    [
        Exercise(
            "08-a",
            "Two readers of one register",
            points=2,
            objective="predict what a reader of a shared register gets",
            kind=answers.Record(slow=answers.Number(whole=True), fast=answers.Number(whole=True)),
            parameters=draw_shared,
            judge=judge_shared,
            answer="sums",
            criteria=[
                Criterion("slow", "the slow reader's sum is the one measured", points=1, hint="slow"),
                Criterion("fast", "the fast reader's sum is the one measured", points=1, hint="fast"),
            ],
            hints={
                "slow": Hint(
                    "Which numbers stand in the register when the slow reader looks?",
                    "It looks once in so many bookings and finds only the last of them. Add those up.",
                    "Bookings 1 to 9, every third one seen: 3 + 6 + 9 = 18.",
                ),
                "every": Hint(
                    "Where do the bookings wait until the reader comes?",
                    "Nowhere: a register holds one value, and the next booking overwrites it.",
                    "Bookings 1 to 9 sum to 45; whoever sees 3, 6 and 9 gets 18.",
                ),
                "share": Hint(
                    "Are the bookings that are seen average ones?",
                    "Of each group of bookings the reader sees the last, which is the largest here.",
                    "1 to 9 in groups of three: seen are 3, 6, 9, which sum to 18; a third of 45 is 15.",
                ),
                "fast": Hint(
                    "How often does the fast reader find the same booking?",
                    "A register does not say whether its value is new. Each booking is added as often as it is seen.",
                    "Bookings 1, 2, 3, each seen three times: 3 x 6 = 18.",
                ),
                "once": Hint(
                    "How does the reader know that it has seen a booking before?",
                    "It does not: it adds whatever stands in the register, again and again.",
                    "Bookings 1, 2, 3, each seen three times: 3 x 6 = 18, not 6.",
                ),
            },
        ),
        Exercise(
            "08-b",
            "Two rates, nothing lost, nothing stale",
            points=4,
            objective="connect a fast producer with a slow consumer",
            kind=answers.Design(ports=[SENSOR, ro("newest"), ro("total")]),
            parameters=draw_station,
            judge=judge_station,
            answer="Station",
            criteria=[
                Criterion("newest", "newest shows each sample within 4 ticks", points=1, hint="newest"),
                Criterion("every", "total is the sum of all samples", points=2, hint="every"),
                Criterion("work", "each booking takes its work", points=1, hint="work"),
            ],
            hints={
                "newest": Hint(
                    "Which loop assigns newest, and in which tick does it see a sample?",
                    "A clocked loop sees every sample in the tick in which sensor.valid is 1.",
                    "if self.sensor.valid: self.seen = self.sensor.value stores each sample one tick later.",
                ),
                "queued": Hint(
                    "How old is the sample that comes out of the queue?",
                    "A queue gives the oldest first. Whoever wants the newest must take it before the queue.",
                    "Five samples wait and each takes 60 ticks: the last is taken out about 300 ticks after it arrived.",
                ),
                "every": Hint(
                    "What becomes of a sample that arrives while the slow loop works?",
                    "It must wait somewhere: in a queue, put there by a loop that has time, in each tick with a sample.",
                    "Samples come every 6 ticks and a turn takes 60: a loop that reads the channel itself sees one in ten.",
                ),
                "alike": Hint(
                    "What happens to two equal samples in a row?",
                    "A sample is new because sensor.valid says so, and not because its value differs.",
                    "Samples 4, 4, 9 sum to 17. Whoever waits for a change gets 13.",
                ),
                "work": Hint(
                    "How many ticks lie between two changes of total?",
                    "Each booking takes your number of ticks of work: the wait stands between get() and the sum.",
                    "With get(), wait(20) and the sum, totals change at least 20 ticks apart.",
                ),
            },
        ),
        Exercise(
            "08-c",
            "How deep a queue",
            points=2,
            objective="predict the depth that a burst and a stalled reader need",
            kind=answers.Record(burst=answers.Number(whole=True), stall=answers.Number(whole=True)),
            parameters=draw_depth,
            judge=judge_depth,
            answer="depth",
            criteria=[
                Criterion("burst", "no word of the burst is lost, at most 2 words to spare", points=1, hint="burst"),
                Criterion("stall", "no word is lost while the reader stalls, at most 2 to spare", points=1, hint="stall"),
            ],
            hints={
                "burst": Hint(
                    "How many words have been taken when the last one of the burst is put?",
                    "Draw words put and words taken against time. The depth is the largest distance between the two.",
                    "60 words, one in 2 ticks, last 120 ticks; a read in 6 ticks takes 20 meanwhile: 40 remain.",
                ),
                "average": Hint(
                    "Where are the words that have been put and not yet taken?",
                    "Equal rates in the long run say nothing about the moment: the queue must hold the largest surplus.",
                    "60 words in 120 ticks and 20 taken meanwhile: 40 words must wait, however long the pause after it.",
                ),
                "taken": Hint(
                    "Is your number the words that were taken, or those that wait?",
                    "During the burst the reader takes burst x write / read words. The others need room.",
                    "60 words, write 2, read 6: taken are 20, so 40 wait.",
                ),
                "stall": Hint(
                    "How many words come while nobody reads?",
                    "Time of the stall divided by the time between two words. Round up.",
                    "2 ms are 80 000 ticks; one word in 1000 ticks makes 80 words.",
                ),
                "spare": Hint(
                    "Does the largest level come near your depth?",
                    "No word is lost, and more than two places are never used. A queue costs memory.",
                    "If the level reaches 40, depths from 40 to 42 are right here.",
                ),
            },
        ),
        Exercise(
            "08-d",
            "Losses that are counted",
            points=5,
            objective="count and flag the words that a full queue loses",
            kind=answers.Design(ports=[SENSOR, rw("hold", "bit"), rw("clear", "bit"), ro("taken"), ro("lost"),
                                       ro("overflow")]),
            parameters=draw_counted,
            judge=judge_counted,
            answer="Counted",
            criteria=[
                Criterion("through", "without a stall all words are taken, none is called lost", points=1, hint="through"),
                Criterion("count", "lost is the number of words lost", points=1, hint="count"),
                Criterion("sticky", "overflow stays 1 when the queue is empty again", points=1, hint="sticky"),
                Criterion("clear", "clear resets the flag, not the count; the next loss sets it again", points=1,
                          hint="clear"),
                Criterion("full", "the count stops at 255", points=1, hint="full"),
            ],
            hints={
                "through": Hint(
                    "When does the writer put, and what counts as lost?",
                    "Put once for each sample (sensor.valid), and count only a put that was refused.",
                    "Six samples and a reader that keeps up: six puts that succeed, none refused.",
                ),
                "count": Hint(
                    "When exactly is a word lost?",
                    "When it is offered and there is no room: try_put() is 0 in that tick. One count for each such word.",
                    "Depth 4, nobody reads, 7 words: 4 are kept and 3 lost.",
                ),
                "depth": Hint(
                    "Is your count too large or too small by the depth of the queue?",
                    "The words that were kept are not lost; the depth must be the one asked for.",
                    "Depth 4, 7 words: lost are 3, not 7.",
                ),
                "sticky": Hint(
                    "Who may set the flag back to 0?",
                    "The host looks once in a while, and long after the event. The flag must stay until it is cleared.",
                    "A flag that is 1 only while the queue is full is 0 again 10 ticks later. Nobody has seen it.",
                ),
                "never": Hint(
                    "Is the flag ever 1?",
                    "Set it in the tick in which a word is refused.",
                    "In the branch of the refused word: the count goes up and the flag becomes 1.",
                ),
                "clear": Hint(
                    "What does clear change, and what must it leave alone?",
                    "clear = 1 sets the flag to 0. The count is the history; and the next loss must set the flag again.",
                    "3 lost, flag 1; after clear: 3 lost, flag 0; one more loss: 4 lost, flag 1.",
                ),
                "full": Hint(
                    "What does a counter of 8 bits do after 255?",
                    "It wraps to 0, and 256 losses look like none. Let it stop at its largest value.",
                    "With 2 bits: 0 1 2 3 3 3, and not 0 1 2 3 0 1.",
                ),
            },
        ),
        Exercise(
            "08-e",
            "Tear a word in two",
            points=2,
            objective="work out what a torn read shows",
            kind=answers.Record(upper_first=answers.Number(whole=True), lower_first=answers.Number(whole=True)),
            parameters=draw_torn,
            judge=judge_torn,
            answer="torn",
            criteria=[
                Criterion("upper_first", "upper half first: the value is the one read", points=1, hint="upper"),
                Criterion("lower_first", "lower half first: the value is the one read", points=1, hint="lower"),
            ],
            hints={
                "upper": Hint(
                    "What is the upper half before the wrap, and the lower half after it?",
                    "Write the counter in two halves, at the first read and at the second; take one half from each.",
                    "Counter 2:65534, second read 5 ticks later at 3:3. Upper first: 2:3, which is 2 x 65536 + 3.",
                ),
                "lower": Hint(
                    "What is the lower half before the wrap, and the upper half after it?",
                    "Write the counter in two halves, at the first read and at the second; take one half from each.",
                    "Counter 2:65534, second read 5 ticks later at 3:3. Lower first: 3:65534, 3 x 65536 + 65534.",
                ),
                "whole": Hint(
                    "Did the counter stand still between the two reads?",
                    "It did not. Your number is a value that the counter really had; the reader's is none of them.",
                    "Halves 2:65534 and, later, 3:3: the reader gets 2:3 or 3:65534.",
                ),
                "swapped": Hint(
                    "Which half was read first?",
                    "The half that is read first is old, the other one is new.",
                    "Upper first, from 2:65534 to 3:3: the old upper half is 2, the new lower half is 3.",
                ),
                "close": Hint(
                    "Your number is a tick or two off. Where does the counter stand after the wait?",
                    "wait(n) goes on n ticks later, and the counter is n larger then. From 65535 it takes one tick to 0.",
                    "65534 and 5 ticks: 65535, 0, 1, 2, 3.",
                ),
            },
        ),
        Exercise(
            "08-f",
            "A stamp in one piece",
            points=5,
            objective="prevent a torn read",
            kind=answers.Design(ports=[rw("ask", "bit"), ro("low", "unsigned(16)"), ro("high", "unsigned(16)")]),
            parameters=draw_stamp,
            judge=judge_stamp,
            answer="Stamp",
            criteria=[
                Criterion("fresh", "the stamp is the time of the request", points=1, hint="fresh"),
                Criterion("whole", "so it is around a wrap of the lower half", points=2, hint="torn"),
                Criterion("still", "the halves stay until the next request", points=1, hint="still"),
                Criterion("again", "the next request takes a new stamp", points=1, hint="again"),
            ],
            hints={
                "fresh": Hint(
                    "Which value of the counter is in low and high 10 ticks after the request?",
                    "The one of the tick in which ask goes from 0 to 1, at most 8 ticks later.",
                    "Request in tick 100 with a counter that started at 5000: the stamp is 5100 to 5108.",
                ),
                "torn": Hint(
                    "Are the two halves of your stamp from the same tick?",
                    "Copy both halves in one and the same tick; later it does not matter when each of them is read.",
                    "Low copied at 2:65535 and high a tick later, at 3:0: the stamp says 3:65535, 65 536 too much.",
                ),
                "still": Hint(
                    "What do low and high do while ask stays at 1?",
                    "Take the stamp at the change from 0 to 1, not as long as ask is 1: remember ask of the tick before.",
                    "ask 0 1 1 1: a stamp in one tick only, that of the first 1.",
                ),
                "again": Hint(
                    "What does your design do at the second request?",
                    "It must be ready for the next change from 0 to 1, once ask has been 0.",
                    "ask 0 1 1 0 0 1: two stamps.",
                ),
            },
        ),
        Exercise(
            "08-g",
            "A sine from block RAM",
            points=4,
            objective="use block RAM as a look-up table",
            kind=answers.Design(ports=[rw("angle", "unsigned(10)"), ro("out", "signed(12)")]),
            parameters=draw_sine,
            judge=judge_sine,
            answer="Sine",
            criteria=[
                Criterion("shape", "the sine within 1.2 % of the amplitude, at all angles", points=2, hint="shape"),
                Criterion("quick", "it is there 6 ticks after the angle", points=1, hint="quick"),
                Criterion("size", "at most 256 words of memory", points=1, hint="size"),
            ],
            hints={
                "shape": Hint(
                    "What stands in the table at a quarter of the turn?",
                    "Word i belongs to angle i / words of a turn. Compare a plot of your table with a sine.",
                    "Eight words, amplitude 100: 0, 71, 100, 71, 0, -71, -100, -71.",
                ),
                "start": Hint(
                    "For which angle of the four that share a word is the word right?",
                    "Four angles share one word. Right for the first of them means three steps wrong for the last. "
                    "Right for the middle of the four halves the worst error.",
                    "Words shared by the angles 0, 1, 2, 3: their middle is 1.5.",
                ),
                "quarter": Hint(
                    "Is only the first quarter of the turn right?",
                    "The other quarters are the first one, backwards, with the other sign, or both.",
                    "sin(100 deg) = sin(80 deg), sin(190 deg) = -sin(10 deg).",
                ),
                "quick": Hint(
                    "How many ticks does one turn of your loop take?",
                    "A read of the table costs one tick, the register another; a wait in the loop adds to it.",
                    "A turn with one read starts again 2 ticks after the last start.",
                ),
                "size": Hint(
                    "How many words would the full table need?",
                    "With 256 words for 1024 angles, four angles share a word: leave out the two lowest bits.",
                    "16 angles and 4 words: angle 13 is 1101 in binary, its upper two bits are 11: word 3.",
                ),
                "no_memory": Hint(
                    "Is there a memory at all?",
                    "Declare the table as a Rom and read it by its index.",
                    "self.squares = Rom(unsigned(8), [0, 1, 4, 9]), then v = self.squares.read(i).",
                ),
            },
        ),
        Exercise(
            "08-h",
            "What happened before the trigger",
            points=6,
            objective="build a circular record with pre-trigger",
            kind=answers.Design(ports=[SENSOR, rw("index", "unsigned(6)"), ro("word"), ro("done")]),
            parameters=draw_record,
            judge=judge_record,
            answer="Snapshot",
            criteria=[
                Criterion("trigger", "the trigger's sample has your number as its index", points=2, hint="place"),
                Criterion("order", "all samples are there, oldest first", points=2, hint="order"),
                Criterion("early", "a trigger counts when its history is there, not before", points=1, hint="early"),
                Criterion("frozen", "a complete record stays", points=1, hint="frozen"),
            ],
            hints={
                "place": Hint(
                    "How many samples does your record take after the trigger, its own sample included?",
                    "64 places: those before the trigger, and the rest from the trigger's sample on.",
                    "8 places, 3 before: 5 from the trigger on, so the oldest is 3 samples before the trigger.",
                ),
                "never": Hint(
                    "Does done ever become 1, and is the trigger's sample in the record?",
                    "Once triggered, store the rest of the samples, then set done.",
                    "8 places, 3 before: done after 5 samples from the trigger on.",
                ),
                "order": Hint(
                    "Where is the oldest sample when the record is complete?",
                    "In the place that would be written next. Count the index from there; an address of 6 bits wraps.",
                    "8 places, the next write would go to 5: index 0 is place 5, index 3 is place 0.",
                ),
                "early": Hint(
                    "What if the trigger comes with the very first sample?",
                    "Count the samples up to the number that must lie before the trigger; only then let it count.",
                    "3 before: samples number 0, 1, 2 cannot trigger, number 3 can.",
                ),
                "frozen": Hint(
                    "What does your loop do with samples after done?",
                    "It must not store them, nor move on the address.",
                    "Done after sample 90: sample 91 leaves memory, address and done alone.",
                ),
            },
        ),
        Exercise(
            "08-i",
            "One line, four askers",
            points=5,
            objective="share one resource fairly",
            kind=answers.Design(ports=[rw("request", "unsigned(4)"), ro("grant", "unsigned(4)")]),
            parameters=draw_sharing,
            judge=judge_sharing,
            answer="Sharing",
            criteria=[
                Criterion("one", "never two grants at a time", points=1, hint="one"),
                Criterion("length", "a grant lasts your number of ticks", points=1, hint="length"),
                Criterion("fair", "four who ask always get equal shares", points=2, hint="fair"),
                Criterion("idle", "one alone gets at least 85 %, nobody gets what nobody wants", points=1, hint="idle"),
            ],
            hints={
                "one": Hint(
                    "What is grant when two bits of request are 1?",
                    "Choose one of them. A grant has one bit set, or none.",
                    "request 0110: grant 0010 or 0100, not 0110.",
                ),
                "never": Hint(
                    "Does anybody ever get a grant?",
                    "Assign grant when a bit of request is 1.",
                    "request 0010: grant 0010, for the length of a grant.",
                ),
                "length": Hint(
                    "How many ticks lie between two changes of grant?",
                    "From the assignment of a grant to the next one: one wait of your number of ticks, and at most one tick more.",
                    "grant = 1, wait(10), grant = 2: the first grant lasts 10 ticks.",
                ),
                "fair": Hint(
                    "Who comes next after number 0, if number 0 asks again at once?",
                    "The one after it. Who has been served goes to the end of the line.",
                    "0 and 2 ask all the time: 0 2 0 2 ..., not 0 0 0 0.",
                ),
                "idle": Hint(
                    "What does your design do for those who do not ask?",
                    "Pass them over in the same tick, and take the grant back when nobody asks.",
                    "Only number 2 asks: 2 2 2 2, and not (pause) (pause) 2 (pause).",
                ),
            },
        ),
    ],
)
