"""Exercises of lab 11, "Talking to the host".  All numbers are invented.

Nothing here holds an answer: a check runs the design or the host program that it is given, or a small instrument of its
own, and measures.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np

from simkit import (
    Design,
    DigitalIn,
    HostReg,
    HostStream,
    Interrupt,
    Reg,
    Rom,
    bit,
    bits,
    cat,
    clocked,
    compile_design,
    ms,
    resize,
    sequenced,
    signed,
    tick,
    unsigned,
    until,
    us,
    wait,
)
from simkit.bench import Bench, FanHouse, load
from simkit.bench.digital import DigitalInput
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, seen
from simkit.dsp.codes import crc

FABRIC_HZ = 40_000_000
PER_MS = FABRIC_HZ // 1000
FRAME_TICKS = 781
"""Ticks between two samples of a channel at 51.2 kS/s."""


# --- 11-a: a limit in two halves ---


class InHalves(Design):
    """A limit of 32 bits in sixteenths of a µm/s, which the host writes in two halves."""

    def __init__(self, first):
        self.limit = HostReg(unsigned(32), access="ro", unit="1/16 µm/s", reset=first)
        self.low = HostReg(unsigned(16), reset=first % 65536)
        self.high = HostReg(unsigned(16), reset=first // 65536)

    @clocked
    def show(self):
        self.limit = cat(self.high, self.low)


def draw_map(rng):
    edge = 4096 * rng.integer(1, 3)
    return {"old": edge - rng.integer(20, 90), "new": edge + rng.integer(200, 900)}


@functools.lru_cache(maxsize=64)
def _between(old, new, order):
    """The limit in force after the first of two writes, in µm/s."""
    halves = {"low": 16 * new % 65536, "high": 16 * new // 65536}
    run = drive(compile_design(InHalves(16 * old)), 40, [(10, order[0], halves[order[0]]), (20, order[1], halves[order[1]])])
    return run.at("limit", 15) / 16


def judge_map(answer, mine, seed):
    raw = answer["raw"]
    hint = "unscaled" if raw == mine.new else ""
    yield Result("raw", raw == 16 * mine.new, raw, None, "", hint)
    for name, order in (("low_first", ("low", "high")), ("high_first", ("high", "low"))):
        found, right = answer[name], _between(mine.old, mine.new, order)
        other = _between(mine.old, mine.new, order[::-1])
        hint = "whole" if found in (mine.old, mine.new) else "swapped" if abs(found - other) < 0.5 else ""
        hint = "unit" if abs(found - 16 * right) < 0.5 else hint
        yield Result(name, abs(found - right) < 0.01, found, None, "µm/s", hint)


# --- 11-b: settings in one piece ---


def draw_settings(rng):
    return {"start": 65536 * rng.integer(1, 3) - rng.integer(100, 900)}


def judge_settings(netlist, mine, seed):
    rng = Draw("settings", seed)
    first, second = (65536 * rng.integer(2, 5) + rng.integer(1000, 9000) for _ in range(2))
    writes = [(100, "low", first % 65536), (150, "high", first // 65536), (200, "version", 9), (300, "high", second // 65536 + 7),
              (350, "low", second % 65536)]
    run = drive(netlist, 700, [*writes, (450, "version", 4)])
    early = [run.at("limit", t) for t in (1, 60, 149, 199, 299, 349, 449)]
    wanted = [mine.start] * 4 + [first] * 3
    alone = early[:4] == [mine.start] * 4 and early[4:] == [early[4]] * 3
    yield Result("quiet", alone, _first_other(early, [mine.start] * 4 + [early[4]] * 3), "no change", "", "")
    later = 65536 * (second // 65536 + 7) + second % 65536
    seen = [int(v) for v in run.trace("limit").values]
    mixed = [v for v in seen if v not in (mine.start, first, later)]
    done = run.at("limit", 206) == first and run.at("limit", 456) == later and early == wanted
    shown = f"{mixed[0]} was in force" if mixed else "old and new only" if done else f"{run.at('limit', 206)} after version 9"
    yield Result("whole", done and not mixed, shown, "old and new only", "", "mixed" if mixed else "never" if not done else "")
    at = run.changes("limit")
    told = run.changes("active")
    moved = [run.at("active", t) for t in (199, 206, 456)]
    together = len(at) > 0 and at.tolist() == told.tolist()
    yield Result("told", together and moved == [0, 9, 4], f"active {moved[0]}, {moved[1]}, {moved[2]}"
                 + ("" if together else "; not in the tick of the limit"), "active 0, 9, 4, together with the limit")
    run = drive(netlist, 700, [*writes[:3], (300, "version", 255), (310, "low", 5), (400, "version", 0)])
    ends = [run.at("limit", t) for t in (306, 399, 410)]
    wanted = [first, first, first - first % 65536 + 5]
    yield Result("any", ends == wanted, f"{ends[2]} after version 0", wanted[2])


def _first_other(found, wanted):
    pairs = [(a, b) for a, b in zip(found, wanted, strict=True) if a != b]
    return f"{pairs[0][0]} in force too early" if pairs else "no change"


# --- 11-c: how much must wait ---


class Streamer(Design):
    """Some channels at 51.2 kS/s, a word each, to the host."""

    number = Reg(unsigned(32))

    def __init__(self, channels, depth):
        self.channels = channels
        self.log = HostStream(unsigned(32), depth, "to_host")

    @sequenced(every=781)
    def send(self):
        for _ in range(self.channels):
            self.log.try_put(self.number)
            self.number = self.number + 1
            tick()


def draw_stall(rng):
    channels = rng.integer(2, 4)
    return {"channels": channels, "stall_ms": 5 * rng.integer(4, 9), "long_ms": 5 * rng.integer(14, 20), "depth": 1024 * channels}


@functools.lru_cache(maxsize=256)
def lost_words(channels, depth, stall_ms):
    """Words that a queue loses in a stall; its length is a multiple of the time between bursts."""
    rig = load(Streamer(channels, depth), record=[], host="desktop")
    rig.host.link.drop(ms(20), ms(20 + stall_ms))
    rig.run(ms(stall_ms + 40))
    return rig.host.log.overflow


def judge_stall(answer, mine, seed):
    per_ms = mine.channels * FABRIC_HZ / FRAME_TICKS / 1000
    depth, lost = answer["depth"], answer["lost"]
    sensible = 1 <= depth <= 60_000
    hint = "burst" if abs(depth - per_ms * mine.stall_ms) <= 0.02 * depth else ""
    hint = "channels" if abs(depth * mine.channels - per_ms * (mine.stall_ms + 5)) <= 0.1 * per_ms * mine.stall_ms else hint
    here = lost_words(mine.channels, depth, mine.stall_ms) if sensible else None
    spare = sensible and here == 0 and lost_words(mine.channels, max(int(depth * 0.95), 1), mine.stall_ms) == 0
    shown = "no such queue" if not sensible else f"{depth} words: {here} lost" if here else f"{depth} words: none lost"
    right = sensible and here == 0 and not spare
    yield Result("depth", right, shown, "none lost, at most 5 % to spare", "", "spare" if spare else hint)
    true = lost_words(mine.channels, mine.depth, mine.long_ms)
    hint = "all" if abs(lost - true - mine.depth) <= 0.03 * true else ""
    hint = "burst" if abs(lost - (per_ms * mine.long_ms - mine.depth)) <= 0.01 * true else hint
    yield Result("lost", abs(lost - true) <= 0.02 * true, lost, None, "words", hint)


# --- 11-d: a mark in the stream ---

APART = 1000
"""Ticks between two samples in the check: 40 in a millisecond."""


def draw_marked(rng):
    return {"depth": rng.integer(90, 150)}


@functools.lru_cache(maxsize=64)
def _ramp(count, first):
    return tuple((APART * (k + 1), first + k) for k in range(count))


def streamed(netlist, length_ms, stalls=(), first=1000):
    """Words that reached the host, and the sample values that came; each sample is one more than the one before."""
    samples = _ramp(length_ms * PER_MS // APART - 1, first)
    bench = FanHouse()
    bench.drive("fan B bearing", samples)
    rig = load(netlist, bench, record=[])
    for start, stop in stalls:
        rig.host.link.drop(ms(start), ms(stop))
    rig.run(ms(length_ms + 2))
    log = rig.host.log
    return [int(word) for word in log.read(log.available)], samples


def replayed(words, first):
    """``(consistent, marks, real gaps)``: does each mark stand where samples are missing, and tell how many?"""
    due, marks, gaps, right, before = first, [], [], True, first - 1
    for word in words:
        if word >> 31:
            marks.append(word & 0x7FFFFFFF)
            due += marks[-1]
            continue
        right = right and word == due
        if word > before + 1:
            gaps.append(word - before - 1)
        before, due = word, word + 1
    return right, marks, gaps


def judge_marked(netlist, mine, seed):
    rng = Draw("marked", seed)
    first, start = rng.integer(1000, 5000), rng.choice((3, 4))
    stop = start + mine.depth // 40 + rng.choice((4, 6))
    words, samples = streamed(netlist, 8, first=first)
    whole = words == [value for _, value in samples]
    yield Result("through", whole, f"{len(words)} words", f"the {len(samples)} samples", look=_words_look(words, samples))
    words, samples = streamed(netlist, stop + 6, [(start, stop)], first)
    look = _lost_look(words, samples)
    right, marks, gaps = replayed(words, first)
    stuck = len(words) > 0 and words[-1] != samples[-1][1]
    shown = f"marks {_some(marks)} for gaps {_some(gaps)}"
    counted = len(gaps) > 0 and sum(marks) == sum(gaps) and not stuck
    hint = "nomark" if not marks else "depth" if not gaps else "stuck" if stuck else ""
    yield Result("count", counted, shown, "the number of lost samples", "", hint, look)
    place = "no mark" if not marks else shown if len(marks) != len(gaps) else "right place" if right else "elsewhere"
    yield Result("place", right and len(gaps) > 0 and bool(marks), place, "right place", "", "nomark" if not marks else "",
                 look)
    twice = stop - start
    words, samples = streamed(netlist, 2 * stop + twice + 12, [(start, stop), (stop + 6, stop + 6 + twice + 2)], first)
    right, marks, gaps = replayed(words, first)
    again = len(gaps) >= 2 and sum(marks) == sum(gaps)
    yield Result("again", again, f"marks {_some(marks)} for gaps {_some(gaps)}", "each gap its own count",
                 look=_lost_look(words, samples))
    words, samples = streamed(netlist, 6, first=-400)
    words = [word for word in words if word != 1 << 31]                # a mark that tells of nothing
    masked = [word & 0xFFFFFF for word in words] == [value % 2**24 for _, value in samples]
    marked = any(word >> 24 for word in words)
    yield Result("negative", masked and not marked, "taken for marks" if marked else "as they were" if masked else "changed",
                 "as they were", look=_words_look(words, [(tick, value % 2**24) for tick, value in samples]))


def _words_look(words, samples):
    """A look at the words that reached the host, each drawn at the tick of its sample, and at the samples."""
    def look():
        late = [tick for tick, _ in samples] + [samples[-1][0] + APART * (k + 1) for k in range(len(words))]
        found = list(zip(late, words, strict=False))
        wrong = next((i for i, (word, (_, value)) in enumerate(zip(words, samples, strict=False)) if word != value), None)
        i = wrong if wrong is not None else min(len(words), len(samples))
        around = (APART * max(i - 2, 0), APART * (i + 4))
        return seen({"words": (found, samples)}, at=APART * (i + 1), around=around, types={"words": "unsigned(32)"}, base="hex",
                    note="the words that the host read, each at the tick of a sample")
    return look


def _lost_look(words, samples):
    """A look at how many samples are lost up to each sample, and how many the marks tell of."""
    def look():
        first = samples[0][1]
        place = lambda value: APART * (value - first + 1)  # noqa: E731
        read, told, lost, before = [], [(0, 0)], [(0, 0)], first - 1
        for word in words:
            if word >> 31:
                told.append((place(before + 1), told[-1][1] + (word & 0x7FFFFFFF)))
                continue
            if word > before + 1:
                lost.append((place(before + 1), lost[-1][1] + word - before - 1))
            if word - first < len(samples):
                read.append((place(word), word))
                before = max(word, before)
        ends = [tick for tick, _ in (*told[1:], *lost[1:])]
        if not ends:
            return None
        around = (min(ends) - 20 * APART, max(ends) + 40 * APART)
        return seen({"word read": read, "lost": (told, lost)}, around=around,
                    note="samples lost so far: as the marks say, and as they are")
    return look


def _some(numbers):
    return ", ".join(map(str, numbers[:3])) + (" …" if len(numbers) > 3 else "") if numbers else "none"


# --- 11-e: a program that is called ---


class Door(Design):
    """Counts how often a door is opened, and calls the host."""

    contact = DigitalIn("door")
    opened = Interrupt()
    count = HostReg(unsigned(8), access="ro")
    handled = HostReg(unsigned(8))
    open_now = HostReg(bit, access="ro")
    flag = HostReg(bit, access="ro")
    clear = HostReg(unsigned(8))
    before = Reg(bit)
    cleared = Reg(unsigned(8))

    @clocked
    def watch(self):
        self.open_now = self.contact
        self.before = self.contact
        self.cleared = self.clear
        if self.clear != self.cleared:
            self.flag = 0
        if self.contact and not self.before:
            self.count = self.count + 1
            self.flag = 1
            self.opened.request()


@functools.lru_cache(maxsize=1)
def _door():
    return compile_design(Door)


def door_bench(openings_ms, width_ms, seed):
    """A bench whose door is opened at these times."""
    bench = Bench(seed)
    bench.terminals["door"] = DigitalInput("door", "contact at the door: 1 while it is open")
    per_us = PER_MS // 1000
    rows = [(per_us * (round(1000 * t) + w), v) for t in openings_ms for w, v in ((0, 1), (round(1000 * width_ms), 0))]
    bench.drive("door", rows)
    return bench


def served(answer, openings_ms, length_ms, seed, width_ms=0.4):
    """What the program gave, and the rig after it."""
    rig = load(_door(), door_bench(openings_ms, width_ms, seed), record=["count", "handled"], host="desktop")
    given = answer(rig.host, ms(length_ms), within=ms(length_ms + 700), accesses=20_000)
    accesses = rig.host.link.accesses
    rig.run(ms(1))
    return given, rig, accesses


def behind(rig, at_ms):
    """Openings not reported as handled at an instant."""
    count, handled = rig.trace("count"), rig.trace("handled")
    tick_at = round(at_ms * PER_MS)
    return (count.at(tick_at) - handled.at(tick_at)) % 256


def judge_serve(answer, mine, seed):
    rng = Draw("serve", seed)
    private = rng.integer(1, 12)
    single = [60 + 170 * k + 10 * private for k in range(6)]
    given, rig, accesses = served(answer, single, 1200, private)
    yield replace(_counted("each", given, 6), look=_door_look(rig, [single[-1]]))
    yield Result("quiet", bool(given) and accesses <= 30, accesses, "at most 30", "accesses in 1.2 s")
    starts, times = bursts()
    given, rig, _ = served(answer, times, starts[-1] + 200, private)
    look = _door_look(rig, starts)
    yield replace(_counted("burst", given, len(times)), look=look)
    left = sum(behind(rig, start + 105) != 0 for start in starts)
    silent = len(rig.trace("handled").ticks) == 1
    yield Result("newer", left == 0, "handled is never written" if silent else f"{left} of {len(starts)} bursts not done 100 ms later",
                 "all done", "", "silent" if silent else "", look)
    # quick, so that the count wraps in few turns of the program; yet it takes 76 ms to come round to the same number
    given, rig, _ = served(answer, [30 + 0.3 * k for k in range(299)] + [240], 330, private, 0.15)
    yield replace(_counted("wrap", given, 300), look=_door_look(rig, [135, 235]))


def _door_look(rig, starts):
    """A look at the openings counted by the fabric and reported as handled: a burst that is not done 100 ms later.

    A number that the program only returns is in no signal.
    """
    def look():
        late = next((start for start in starts if behind(rig, start + 95)), None)
        if late is None:
            return None
        rows = {"count": rig.trace("count"), "handled": rig.trace("handled")}
        kinds = dict.fromkeys(rows, "unsigned(8)")
        return seen(rows, at=round((late + 95) * PER_MS), around=(max(round((late - 10) * PER_MS), 0), round((late + 100) * PER_MS)),
                    types=kinds, note="openings counted, and openings handled, 95 ms after a burst began")
    return look


def _counted(name, given, wanted):
    """A count is told by its error, and only if it is small: the program might return something else that it knows."""
    error = given - wanted
    shown = "no such number" if abs(error) > 600 else f"{abs(error)} too {'few' if error < 0 else 'many'}" if error else "right"
    return Result(name, error == 0, shown, f"{wanted} openings", "", "signed" if error and error % 256 == 0 else "")


def bursts():
    """Starts of bursts in ms, and all openings: the third comes about when the program reads or acknowledges.

    A last one comes alone, so that a program that is late for one of a burst still counts it.
    """
    starts = [40 + 110 * k for k in range(9)]
    return starts, [start + gap for start in starts for gap in (0, 0.9, 2.7)] + [starts[-1] + 110]


# --- 11-f: a watchdog ---


def draw_dog(rng):
    return {"timeout_ms": rng.integer(15, 35), "command": 100 * rng.integer(60, 150)}


def beats(start, stop, every, first=1):
    """Beats as writes, in milliseconds."""
    return [(round(t * PER_MS), "beat", (first + k) % 256) for k, t in enumerate(np.arange(start, stop, every))]


def watched(netlist, mine, length, rows):
    """The run, with a command that the host has written at the start."""
    changes = [(round(0.5 * PER_MS), "command", mine.command), *rows]
    return drive(netlist, round(length * PER_MS), sorted(changes, key=lambda row: row[0]))


def armed(*times, hold=2.0):
    return [(round((t + dt) * PER_MS), "arm", v) for t in times for dt, v in ((0, 1), (hold, 0))]


def state(run, at_ms):
    """``(speed, trip, running)`` at an instant."""
    at = round(at_ms * PER_MS)
    return tuple(run.at(name, at) for name in ("fan B speed", "fan B trip", "running"))


def judge_dog(netlist, mine, seed):
    rng = Draw("dog", seed)
    limit, go, safe = mine.timeout_ms, (mine.command, 0, 1), (0, 1, 0)
    every = limit / rng.choice((2.5, 3.5))
    last = 3 * limit + rng.integer(5, 15)
    run = watched(netlist, mine, 6 * limit + 20, [*beats(2, last, every), *armed(4)])
    steady = [state(run, t) for t in (5.5, 10, limit + 5, 2 * limit + 5, 3 * limit)]
    hint = "" if steady == [go] * 5 else "time" if _runs_with_quick_beats(netlist, mine, limit, go) else ""
    bad = next((t for t, s in zip((5.5, 10, limit + 5, 2 * limit + 5, 3 * limit), steady, strict=True) if s != go), 5.5)
    follow = _dog_look(run, bad, go)
    yield Result("follow", steady == [go] * 5, _told(next((s for s in steady if s != go), go)), _told(go), "", hint, follow)
    end = float(np.arange(2, last, every)[-1])
    stop = run.changes("fan B trip", 1)
    after = float(stop[stop > end * PER_MS][0]) / PER_MS - end if np.any(stop > end * PER_MS) else None
    timely, found = after is not None and abs(after - limit) <= 1, state(run, end + limit + 3)
    shown = "never trips" if after is None else f"trip {after:.1f} ms after the last beat; then " + _told(found)
    yield Result("stop", timely and found == safe and steady[-1] == go, shown, f"trip {limit} ± 1 ms after it; then " + _told(safe),
                 "", "" if timely or after is None else "time")
    nobody = watched(netlist, mine, 3 * limit, beats(2, 3 * limit, every))
    unheard, at_once = (watched(netlist, mine, 2 * limit, armed(at)) for at in (4, 0.6))
    early = ((run, 3), (nobody, 2.5 * limit), (unheard, 8), (at_once, 1.2))
    found = [state(*one) for one in early]
    earlier = steady[-1] == go
    wrong = [name for name, one in zip(("before it was armed", "beats, but never armed", *["armed, but no beat"] * 2), found, strict=True)
             if one != safe]
    yield Result("start", earlier and not wrong, wrong[0] + ": runs" if wrong else "safe" if earlier else "never runs", "safe",
                 look=next((_dog_look(*one, safe) for one in early if state(*one) != safe), follow))
    stuck = [*beats(2, last, every), *armed(4), *[(round(t * PER_MS), "beat", 77) for t in np.arange(last + 1, last + 4 * limit, every)]]
    run = watched(netlist, mine, last + 4 * limit, stuck)
    found = state(run, last + 2.5 * limit)
    yield Result("stuck", found == safe and earlier, _told(found), _told(safe))
    gap = last + 2 * limit
    back = [*beats(2, last, every), *armed(4), *beats(gap, gap + 4 * limit, every, 101)]
    run = watched(netlist, mine, gap + 4 * limit, back)
    held = watched(netlist, mine, gap + 4 * limit, [*back, (round(10 * PER_MS), "arm", 1)])
    found = [state(run, gap + 2 * limit), state(held, gap + 2 * limit)]
    yield Result("latch", earlier and found == [safe] * 2, _told(next((s for s in found if s != safe), safe)), _told(safe), "",
                 "held" if found[0] == safe else "")
    run = watched(netlist, mine, gap + 4 * limit, [*back, *armed(gap + limit)])
    found = [state(run, gap + limit - 1), state(run, gap + limit + 1.5), state(run, gap + 3 * limit)]
    yield Result("again", found[1:] == [go] * 2, _told(found[1]), _told(go))


def _runs_with_quick_beats(netlist, mine, limit, go):
    """True for a design that runs, and takes its time for shorter than it is."""
    run = watched(netlist, mine, limit, [*beats(2, limit, 0.4), *armed(4)])
    return state(run, 10) == go


def _dog_look(run, at_ms, wanted):
    """A look at an instant at which the outputs are not what they should be from it on."""
    at = round(at_ms * PER_MS)

    def look():
        expected = {}
        for name, value in zip(("fan B speed", "fan B trip", "running"), wanted, strict=True):
            trace = run.trace(name)
            before = [(int(t), int(v)) for t, v in zip(trace.ticks, trace.values, strict=True) if t < at]
            expected[name] = [*before, (at, value)]
        return run.look(expected=expected, at=at, around=(0, at + 2 * PER_MS))
    return look


def _told(found):
    return f"speed {found[0]}, trip {found[1]}, running {found[2]}"


# --- 11-g: frames on a noisy line ---

MARK = 0xA5
LONGEST = 40


def frame(payload):
    """Mark, length, payload, and the checksum of length and payload, high byte first."""
    body = bytes([len(payload)]) + bytes(payload)
    return bytes([MARK]) + body + crc(body, "CRC-16/IBM-3740").to_bytes(2, "big")


END = 256
"""Stands after the last byte."""


class Line(Design):
    """Sends bytes to the host at 100 000 bytes a second, and stops."""

    def __init__(self):
        self.line = HostStream(unsigned(8), 256, "to_host")
        self.text = Rom(unsigned(9), [END] * 1024)
        self.at = Reg(unsigned(10))

    @sequenced
    def send(self):
        word = self.text.read(self.at)
        if word == END:
            until(False)
        self.line.put(bits(word, 7, 0))
        self.at = self.at + 1
        wait(400)


@functools.lru_cache(maxsize=1)
def _silent_line():
    return compile_design(Line())


def line_rig(data, seed=0):
    """A line that brings these bytes, fewer than 1024, and the host at its end."""
    silent = _silent_line()
    memories = [replace(memory, init=(*data, END)) if memory.name == "text" else memory for memory in silent.mems]
    return load(replace(silent, mems=memories), Bench(seed), record=[])


def payloads_of(rng, count):
    return [bytes(rng.integer(0, 255) for _ in range(rng.integer(6, 20))) for _ in range(count)]


def received(answer, data):
    """The payloads that the program gave, as bytes; None for anything else."""
    given = answer(line_rig(data).host, within=ms(1000), accesses=20_000)
    if not isinstance(given, (list, tuple)):
        return None
    try:
        return [bytes(one) for one in given]
    except (TypeError, ValueError):
        return None


def draw_line(rng):
    return {"key": rng.integer(1, 9999)}


def judge_receive(answer, mine, seed):
    rng = Draw("receive", seed)
    sent = payloads_of(rng, 4)
    sent[1] = sent[1][:3] + bytes([MARK, 5, MARK]) + sent[1][3:]
    found = received(answer, b"".join(map(frame, sent)))
    hint = "" if found else "nothing"
    yield Result("clean", found == sent, _frames(found, sent), f"{len(sent)} right, 0 others", "", hint)
    sent = payloads_of(rng, 5)
    pieces = [frame(one) for one in sent]
    pieces[1] = _flipped(pieces[1], 2 + rng.integer(0, 4), rng.integer(0, 7))
    pieces[3] = _flipped(pieces[3], len(pieces[3]) - 1, rng.integer(0, 7))
    wanted = [sent[0], sent[2], sent[4]]
    found = received(answer, b"".join(pieces))
    yield Result("damaged", found == wanted, _frames(found, wanted), f"{len(wanted)} right, 0 others")
    sent = [_plain(one) for one in payloads_of(rng, 5)]
    pieces = [frame(one) for one in sent]
    pieces[1] = pieces[1][:3] + pieces[1][4:]
    wanted = [sent[0], *sent[2:]]
    found = received(answer, b"".join(pieces))
    yield Result("slip", found == wanted, _frames(found, wanted), f"{len(wanted)} right, 0 others")
    sent = [_plain(one) for one in payloads_of(rng, 4)]
    pieces = [frame(one) for one in sent]
    pieces[1] = pieces[1][:1] + b"\xf7" + pieces[1][2:]
    wanted = [sent[0], *sent[2:]]
    found = received(answer, b"".join(pieces))
    yield Result("length", found == wanted, _frames(found, wanted), f"{len(wanted)} right, 0 others")


def _plain(payload):
    """Without the mark in it."""
    return bytes(17 if byte == MARK else byte for byte in payload)


def _flipped(data, at, which):
    return data[:at] + bytes([data[at] ^ 1 << which]) + data[at + 1 :]


def _frames(found, wanted):
    if found is None:
        return "no list of payloads"
    right = sum(one in wanted for one in found)
    return f"{right} right, {len(found) - right} others"


# --- 11-h: two hosts in one loop ---


class Damper(Design):
    """An air damper that moves as long as it is told to."""

    rate = HostReg(signed(20), unit="1/256 counts per 0.1 ms")
    position = HostReg(signed(24), access="ro", unit="counts")
    fine = Reg(signed(32))

    @sequenced(every=us(100))
    def move(self):
        self.fine = self.fine + self.rate
        self.position = resize(self.fine >> 8, signed(24))


@functools.lru_cache(maxsize=1)
def _damper():
    return compile_design(Damper)


STEP_MS = 150
STEPS = 5


def steer(host, gain, pause_ms, steps=STEPS):
    """A program that steers the damper to 8000 and to 2000 in turn, STEP_MS each: rate = gain x what is missing."""
    for number in range(steps):
        target = 8000 if number % 2 == 0 else 2000
        end = ms(STEP_MS * (number + 1))
        while host.now < end:
            wanted = gain * (target - host.position)                       # counts per second
            host.rate = max(-(2**19), min(2**19 - 1, round(wanted * 256 / 10_000)))
            host.wait(us(1000 * pause_ms))


def steered(kind, gain, pause_ms, seed, steps=STEPS):
    """The position while ``steer`` is at work."""
    rig = load(_damper(), Bench(seed), record=["position"], host=kind)
    steer(rig.host, gain, pause_ms, steps)
    rig.run(ms(1))
    return rig.trace("position")


def beyond(trace, steps=STEPS):
    """``(overshoot in %, time to 90 % in ms)``, the worst of all steps."""
    worst, slowest = 0.0, 0.0
    for number in range(steps):
        goal, sign = (8000, 1) if number % 2 == 0 else (2000, -1)
        size = 8000 if number == 0 else 6000
        a, b = number * STEP_MS * PER_MS, (number + 1) * STEP_MS * PER_MS
        inside = (trace.ticks >= a) & (trace.ticks < b)
        moved, ticks = sign * (trace.values[inside] - goal), trace.ticks[inside]
        worst = max(worst, 100 * float(np.max(moved, initial=-size)) / size)
        near = np.flatnonzero(moved >= -0.1 * size)
        slowest = max(slowest, (int(ticks[near[0]]) - a) / PER_MS if len(near) else float(STEP_MS))
    return worst, slowest


TASKS = ("desktop", "real-time", "fabric")


def draw_loop(rng):
    pause = rng.integer(2, 4)
    return {"pause_ms": pause, "task_ms": rng.choice((100, 15, 0.02)), "desktop_ms": 60, "real_ms": 8 * pause}


@functools.lru_cache(maxsize=128)
def loop_result(kind, gain, pause_ms, seed):
    steps = STEPS if kind == "desktop" else 2              # a desktop's pauses are rare: look at more of it
    return beyond(steered(kind, gain, pause_ms, seed, steps), steps)


def judge_loop(answer, mine, seed):
    private = 1 + Draw("loop", seed).integer(0, 3)             # few, so that equal loops are run once for a class
    for name, kind, within in (("desktop", "desktop", mine.desktop_ms), ("real_time", "real-time", mine.real_ms)):
        gain = float(answer[name])
        sensible = 0 < gain <= 5000
        over, slow = loop_result(kind, gain, mine.pause_ms, private) if sensible else (0.0, float(STEP_MS))
        hint = "slow" if slow > within else "wild"
        yield Result(name, sensible and over <= 20 and slow <= within, f"{over:.0f} % over, 90 % after {slow:.0f} ms",
                     f"at most 20 % over, 90 % within {within} ms", "", hint)
    right = slowest_host(mine.pause_ms, mine.task_ms)
    yield Result("host", answer["host"] == right, answer["host"], None, "", "costly" if _dearer(answer["host"], right) else "late")


@functools.lru_cache(maxsize=32)
def slowest_host(pause_ms, task_ms):
    """The first kind of host whose loop does the task with a gain made for its time (a first-order loop: 2.3 / time)."""
    for kind in TASKS[:2]:
        for spare in (1.2, 2.0):
            over, slow = loop_result(kind, spare * 2300 / task_ms, pause_ms, 5)
            if over <= 20 and slow <= task_ms:
                return kind
    return TASKS[-1]


def _dearer(given, right):
    return TASKS.index(given) > TASKS.index(right)


# --- 11-i: the work moved to the fabric ---

RATE = 51_200


def draw_moved(rng):
    return {"shift": rng.integer(7, 9), "depth": 16 * rng.integer(3, 6)}


def judge_moved(answer, mine, seed):
    rng = Draw("moved", seed)
    size = 1 << mine.shift
    codes = [rng.integer(-600_000, 600_000) for _ in range(3 * size)]
    found = _means(answer["design"], codes)
    wanted = [sum((c >> 6) ** 2 for c in codes[k * size : (k + 1) * size]) >> mine.shift for k in range(3)]
    fine = sum(c * c for c in codes[:size]) >> mine.shift
    near = len(found) > 0 and abs(found[0] - wanted[0]) <= 1
    ratio = found[0] / wanted[0] if found else 0.0
    hint = "divide" if abs(ratio / size - 1) < 0.01 else "root" if abs(ratio * (found or [0])[0] - 1) < 0.01 else ""
    hint = "upper" if found and found[0] == fine % 2**36 else hint
    look = _blocks_look(codes, found, wanted)
    yield Result("mean", near, found[0] if found else "no word", wanted[0], "", hint, look)
    same = len(found) == 3 and all(abs(a - b) <= 1 for a, b in zip(found[1:], wanted[1:], strict=True))
    first = near or len(found) < 2
    yield Result("blocks", same, f"{len(found)} words" if len(found) != 3 else "right" if same else f"{found[1]}",
                 f"3 words, the second {wanted[1]}", "", "" if first else "mean",
                 look)
    full = _means(answer["design"], [-(2**23)] * size)
    yield Result("full", full == [2**34], full[0] if full else "no word", 2**34, "",
                 look=_blocks_look([-(2**23)] * size, full, [2**34]))
    rate, stall = answer["words_per_s"], answer["stall_ms"]
    yield Result("rate", abs(rate - RATE / size) <= 0.01 * RATE / size, rate, None, "words/s")
    true = 1000 * mine.depth * size / RATE
    hint = "raw" if abs(stall - 1000 * mine.depth / RATE) < 0.05 * stall else "seconds" if abs(stall - true / 1000) < 0.02 * true / 1000 else ""
    yield Result("stall", abs(stall - true) <= 0.02 * true, stall, None, "ms", hint)


def _blocks_look(codes, found, wanted):
    """A look at the samples, and at the words drawn where their blocks end."""
    def look():
        ends = [200 * len(codes) * (k + 1) // len(wanted) for k in range(len(wanted))]
        extra = [ends[-1] + 200 * (k + 1) for k in range(len(found))]
        words = [(0, 0), *zip([*ends, *extra], found, strict=False)]
        due = [(0, 0), *zip(ends, wanted, strict=True)]
        bad = next((i for i in range(len(wanted)) if i >= len(found) or abs(found[i] - wanted[i]) > 1), len(wanted) - 1)
        rows = {"fan B bearing": [(200 * (k + 1), code) for k, code in enumerate(codes)], "energy": (words, due)}
        return seen(rows, at=ends[bad], around=(0, ends[-1] + len(codes) * 200 // len(wanted)), curves=["fan B bearing"],
                    note="each word is drawn where its block ends")
    return look


def _means(netlist, codes):
    """The words that reach the host for samples of the bearing."""
    bench = FanHouse()
    bench.drive("fan B bearing", [(200 * (k + 1), code) for k, code in enumerate(codes)])
    rig = load(netlist, bench, record=[])
    rig.run(ticks=200 * (len(codes) + 20))
    rig.run(ms(3))
    log = rig.host.energy
    return [int(word) for word in log.read(log.available)]


# --- what the learners are asked, and the hints ---


def ro(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="ro")


def rw(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="rw")


SENSOR = answers.Port("analog_in", terminal="fan B bearing")

lab = Lab(
    "11_talking_to_the_host",
    "Talking to the host",
    [
        Exercise(
            "11-a", "A limit in two halves", points=3, objective="predict what a register holds, and what two writes make of it",
            kind=answers.Record(raw=answers.Number(whole=True), low_first=answers.Number(unit="µm/s"),
                                high_first=answers.Number(unit="µm/s")),
            parameters=draw_map, judge=judge_map, answer="limits",
            criteria=[
                Criterion("raw", "the raw number of the new limit", points=1, hint="scale"),
                Criterion("low_first", "the limit in force when the low half came first", points=1, hint="low"),
                Criterion("high_first", "the limit in force when the high half came first", points=1, hint="high"),
            ],
            hints={
                "scale": Hint("How much is one count?", "One count is 1/16 µm/s, so the raw number is the limit times 16.",
                              "A limit of 100 µm/s is the raw number 1600."),
                "unscaled": Hint("Does the register count in µm/s?", "It counts in sixteenths of a µm/s: the unit is part of the map.",
                                 "A limit of 100 µm/s is the raw number 1600, not 100."),
                "low": Hint("Which half is new, and which is still old?", "Write both raw numbers as high x 65536 + low. Take the old high and the new low.",
                            "Old 2 x 65536 + 65000, new 3 x 65536 + 800. Low first: 2 x 65536 + 800, divided by 16 is 8242."),
                "high": Hint("Which half is new, and which is still old?", "Write both raw numbers as high x 65536 + low. Take the new high and the old low.",
                             "Old 2 x 65536 + 65000, new 3 x 65536 + 800. High first: 3 x 65536 + 65000, divided by 16 is 16350.5."),
                "whole": Hint("Does the register change all at once?", "Each write changes one half. In between the halves belong to two different limits.",
                              "Halves 2:65000 and later 3:800: in between stands 2:800 or 3:65000."),
                "swapped": Hint("Which half was written first?", "The half that was written is new; the other one is still old.",
                                "From 2:65000 to 3:800, low first: 2:800."),
                "unit": Hint("Raw, or in µm/s?", "The design sees the raw number; in µm/s it is a sixteenth of that.", "Raw 131872 is 8242 µm/s."),
            },
        ),
        Exercise(
            "11-b", "Settings in one piece", points=4, objective="take a setting over in one tick",
            kind=answers.Design(ports=[rw("low", "unsigned(16)"), rw("high", "unsigned(16)"), rw("version", "unsigned(8)"),
                                       ro("limit", "unsigned(32)"), ro("active", "unsigned(8)")]),
            parameters=draw_settings, judge=judge_settings, answer="Settings",
            criteria=[
                Criterion("quiet", "writing a half changes nothing yet", points=1, hint="quiet"),
                Criterion("whole", "no mixture is ever in force, and the new limit comes within 4 ticks", points=1, hint="never"),
                Criterion("told", "active tells which version is in force, from the same tick on", points=1, hint="told"),
                Criterion("any", "any change of version counts, downwards too", points=1, hint="any"),
            ],
            hints={
                "quiet": Hint("What does the limit follow?", "It must hold until version changes. Copy the halves in that tick, in no other.",
                              "low 5 is written, version stays: the limit is the old one."),
                "mixed": Hint("Do both halves go over in the same tick?", "Assign the limit once, from both halves: cat(high, low).",
                              "From 2:65000 to 3:800: 2:800 must never be seen, not for one tick."),
                "never": Hint("How do you notice that version has changed?", "Compare it with what is in force; take over when they differ.",
                              "active 3, version 4: take over. In the next tick both are 4."),
                "told": Hint("When does the host know that its limit is in force?", "active gets the version in the tick in which the limit is taken over.",
                             "version 9 is written; some ticks later limit and active change together."),
                "any": Hint("Is a new version always larger?", "A count of 8 bits wraps: after 255 comes 0. Ask whether it is different.",
                            "Active 200, version 3: different, so it counts."),
            },
        ),
        Exercise(
            "11-c", "How much must wait", points=2, objective="size a stream's queue for a host that stalls",
            kind=answers.Record(depth=answers.Number(whole=True, unit="words"), lost=answers.Number(whole=True, unit="words")),
            parameters=draw_stall, judge=judge_stall, answer="stall",
            criteria=[
                Criterion("depth", "no word is lost in your stall, with at most 5 % to spare", points=1, hint="depth"),
                Criterion("lost", "the loss in the long stall is the one measured (2 %)", points=1, hint="lost"),
            ],
            hints={
                "depth": Hint("How many words come while nobody fetches any?", "Channels times 51.216 words in a millisecond, times the time from the burst before the stall to the one after it.",
                              "One channel, a stall of 10 ms, a burst each 5 ms: 15 ms without a burst, 768 words and a fraction."),
                "burst": Hint("How many bursts does the stall take away, and what lies between the two that are left?",
                              "Take away n bursts, and n + 1 times 5 ms lie between: the stall and 5 ms.",
                              "A stall of 10 ms makes 15 ms without a burst."),
                "channels": Hint("Is that one channel, or all?", "Each channel makes a word in each sample.", "Three channels at 50 words a millisecond: 150."),
                "spare": Hint("Would a smaller queue do?", "At most 5 % to spare: queues cost memory, and the number must be worked out.",
                              "If 768 are needed, 769 to 806 are right."),
                "lost": Hint("What comes in the long stall, and what of it finds room?", "All words of stall and 5 ms come; the queue keeps as many as it is deep.",
                             "One channel, 30 ms: 35 ms x 51.216 = 1792 words; a depth of 1000 loses 792."),
                "all": Hint("Are all of them lost?", "The queue keeps as many as it is deep. The others are lost.", "1792 come, depth 1000: 792 are lost."),
            },
        ),
        Exercise(
            "11-d", "A mark in the stream", points=5, objective="detect an overflow and recover from it",
            kind=answers.Design(ports=[SENSOR, answers.Port("host_stream", name="log", type="unsigned(32)")]),
            parameters=draw_marked, judge=judge_marked, answer="Marked",
            criteria=[
                Criterion("through", "without a stall the stream is the samples", points=1, hint="through"),
                Criterion("count", "after a stall a mark tells how many samples are lost", points=1, hint="count"),
                Criterion("place", "the mark stands where they are missing", points=1, hint="place"),
                Criterion("again", "the next stall is counted anew", points=1, hint="again"),
                Criterion("negative", "a negative sample is no mark", points=1, hint="negative"),
            ],
            hints={
                "through": Hint("What is put for each sample?", "One word, the sample, as long as nothing was lost.", "Samples 7, 8, 9: words 7, 8, 9."),
                "count": Hint("When exactly is a sample lost?", "When try_put() is 0 for it. Count these, and only these.", "Depth 4, 7 samples, nobody reads: 3 are lost."),
                "nomark": Hint("How does the host learn of a loss?", "When something was lost and there is room again, put a word with bit 31 set and the count in it.",
                               "3 lost: 2**31 + 3."),
                "stuck": Hint("Does your stream go on after the stall?", "Mark, then samples as before. Nothing waits for the host.", "1 2 (lost 3 4) mark 5 6."),
                "depth": Hint("Was anything lost at all?", "Use the depth that you were given; the check makes it overflow.", "Depth 100 and 200 samples: about 100 are lost."),
                "place": Hint("Which word must come next to the gap?", "Before the first sample that finds room again, not after it.", "1 2 (lost 3 4) mark 5: not 1 2 5 mark."),
                "again": Hint("What does your count hold after the mark has gone?", "Start again from 0 when the mark was put.", "First gap 3, second gap 5: marks 3 and 5, not 3 and 8."),
                "negative": Hint("What are the top bits of a negative sample?", "Widening copies the sign into bit 31. Take bits 23 to 0 only.",
                                 "-1 is 0x00FFFFFF in the stream, not 0xFFFFFFFF."),
            },
        ),
        Exercise(
            "11-e", "A program that is called", points=5, objective="serve an interrupt without missing an event",
            kind=answers.Program(takes=("host", "stop"), result=answers.Number(whole=True)),
            judge=judge_serve, answer="serve",
            criteria=[
                Criterion("each", "single openings are counted", points=1, hint="each"),
                Criterion("quiet", "it leaves the link alone while nothing happens", points=1, hint="quiet"),
                Criterion("burst", "several openings before it looks are all counted", points=1, hint="one_each"),
                Criterion("newer", "an opening that comes while it works is handled too", points=1, hint="newer"),
                Criterion("wrap", "300 openings are counted right", points=1, hint="one_each"),
            ],
            hints={
                "each": Hint("What does the function return?", "The number of openings since it was called, when host.now has reached stop.", "Three openings: 3."),
                "quiet": Hint("How often do you ask when nothing happens?", "Wait for the interrupt. Waiting costs the link nothing.", "One look each 10 ms makes 100 accesses a second."),
                "one_each": Hint("May two openings make one interrupt?", "Yes: a request that is pending cannot be raised again. Use the difference of count.",
                                 "count was 4, is 7: three openings, one interrupt."),
                "newer": Hint("What comes between your reading and your acknowledging?", "An opening between the two: its request is wiped out unseen. Acknowledge first, then read.",
                              "Read 7, an eighth opening, acknowledge: nobody calls you for the eighth."),
                "silent": Hint("How does the design learn what you have handled?", "Write the count that you have read into handled, after each call.",
                               "count reads 7, all seen: host.handled = 7."),
                "signed": Hint("What is the count after 255?", "0. Take the difference modulo 256.", "254, then 1: (1 - 254) % 256 is 3."),
            },
        ),
        Exercise(
            "11-f", "A watchdog for the host", points=6, objective="bring a fan to its safe state when the host dies",
            kind=answers.Design(ports=[answers.Port("analog_out", terminal="fan B speed"), answers.Port("digital_out", terminal="fan B trip"),
                                       rw("command"), rw("beat"), rw("arm", "bit"), ro("running", "bit")]),
            parameters=draw_dog, judge=judge_dog, answer="Guarded",
            criteria=[
                Criterion("follow", "armed and with beats, the fan gets its command", points=1, hint="follow"),
                Criterion("stop", "it goes to the safe state your time after the last beat", points=1, hint="stop"),
                Criterion("start", "it is safe until somebody arms it, and without a beat stays so", points=1, hint="start"),
                Criterion("stuck", "a host that writes the same beat again and again counts as dead", points=1, hint="stuck"),
                Criterion("latch", "beats that come back do not start it", points=1, hint="latch"),
                Criterion("again", "armed anew, it runs again", points=1, hint="again"),
            ],
            hints={
                "follow": Hint("When does the fan run?", "After arm has gone from 0 to 1 while beats come; then speed is command and trip is 0.", "command 9000, armed, beats: 9000, 0, 1."),
                "stop": Hint("What happens when beat does not change any more?", "Count the turns since its last change; at your time running becomes 0, speed 0 and trip 1.",
                             "Time 5 ms, a turn each 0.1 ms: 50 turns."),
                "time": Hint("How many turns of 100 µs are your time?", "Ten in a millisecond.", "20 ms are 200 turns."),
                "start": Hint("What does the design know of the host at reset?", "Nothing: so it is dead until a beat has come. And nobody has armed it.",
                              "Let the count of silent turns start at its end."),
                "stuck": Hint("What shows that a host is alive?", "A change. A program that hangs in a loop may write the same value for ever.", "1, 1, 1 is no life; 1, 2, 3 is."),
                "latch": Hint("May a fan start by itself?", "Never. What has stopped it must not start it when it ends; somebody arms it again.", "Beats stop, beats come back: still safe."),
                "held": Hint("What if arm is 1 all the time?", "It is a value that somebody left there. Act on its change from 0 to 1.", "arm at 1 since yesterday starts nothing."),
                "again": Hint("How does the fan start after a stop?", "As at first: beats come, and arm goes from 0 to 1.", "Safe, beats, arm: runs."),
            },
        ),
        Exercise(
            "11-g", "Frames on a noisy line", points=4, objective="receive frames through a noisy line",
            kind=answers.Program(takes=("host",)),
            parameters=draw_line, judge=judge_receive, answer="receive",
            criteria=[
                Criterion("clean", "on a clean line every payload arrives", points=1, hint="marks"),
                Criterion("damaged", "a damaged frame is dropped, the others arrive", points=1, hint="crc"),
                Criterion("slip", "a lost byte costs one frame, not two", points=1, hint="slip"),
                Criterion("length", "a damaged length costs one frame, not the rest", points=1, hint="length"),
            ],
            hints={
                "nothing": Hint("Does any frame pass your test?", "The checksum covers length and payload, and its high byte comes first.",
                                "Length 1, payload 0x42: crc(bytes([1, 0x42])); CRC 0x1234 is sent as 0x12, 0x34."),
                "marks": Hint("Can 0xA5 stand inside a payload?", "Yes. Only the length tells where a frame ends; do not split at the mark.", "A5 03 A5 01 02 .. is one frame of three bytes."),
                "crc": Hint("Do you compare the checksum before you accept?", "Accept a payload only if the CRC of length and payload is the one that was sent.",
                            "Sent 0x12 0x34, worked out 0x1235: drop it."),
                "slip": Hint("Where do you go on after a wrong checksum?", "One byte after the mark that you tried. The next frame may have begun inside the one you dropped.",
                             "A5 04 1 2 3 crc crc A5 …: the frame tried is one byte long into the next; so search again right after its A5."),
                "length": Hint("What if the length says more than there is?", "Then this mark was none, or its length is damaged: go on one byte after it, do not stop.",
                               "Length 200 and 60 bytes left: search on after the mark."),
            },
        ),
        Exercise(
            "11-h", "Two hosts in one loop", points=3, objective="choose a host for a loop, by numbers",
            kind=answers.Record(desktop=answers.Number(unit="1/s"), real_time=answers.Number(unit="1/s"), host=answers.Text(TASKS)),
            parameters=draw_loop, judge=judge_loop, answer="loop",
            criteria=[
                Criterion("desktop", "the gain keeps the desktop's loop calm, and quick enough", points=1, hint="wild"),
                Criterion("real_time", "the gain keeps the real-time host's loop calm, and quick enough", points=1, hint="wild"),
                Criterion("host", "the host fits the task", points=1, hint="late"),
            ],
            hints={
                "wild": Hint("How much does the damper move between two looks of the host?", "gain times the time of a turn is the part of the way done in one turn. Above 1 it overshoots.",
                             "gain 100, a turn of 4 ms: 0.4 of the way. A turn of 20 ms: twice the way."),
                "slow": Hint("How long does the loop take to 90 %?", "About 2.3 divided by the gain.", "gain 100: 23 ms."),
                "late": Hint("Can this host be that quick?", "Compare the task's time with the best that you reached with it.", "Best 80 ms, task 30 ms: not with this host."),
                "costly": Hint("Would a slower host do?", "Choose the slowest that is quick enough; it is the one that is easiest to change.", "Best 80 ms, task 300 ms: it will do."),
            },
        ),
        Exercise(
            "11-i", "The work moved to the fabric", points=5, objective="move a computation to the fabric, and say what is gained",
            kind=answers.Record(design=answers.Design(ports=[SENSOR, answers.Port("host_stream", name="energy", type="unsigned(36)")]),
                                words_per_s=answers.Number(unit="words/s"), stall_ms=answers.Number(unit="ms")),
            parameters=draw_moved, judge=judge_moved, answer="moved",
            criteria=[
                Criterion("mean", "the first word is the mean of the squares of the first block", points=1, hint="mean"),
                Criterion("blocks", "one word for each block, with no sample in two blocks or in none", points=1, hint="blocks"),
                Criterion("full", "a block at full scale is right", points=1, hint="full"),
                Criterion("rate", "the words per second are right (1 %)", points=1, hint="rate"),
                Criterion("stall", "the longest stall is right (2 %)", points=1, hint="stall"),
            ],
            hints={
                "mean": Hint("Which samples are in the first sum?", "The first block: each sample squared, added up, shifted right once at the end.", "1, 2, 3, 4: (1 + 4 + 9 + 16) / 4 = 7 and a half, cut to 7."),
                "divide": Hint("Sum or mean?", "A block of 2**n samples: shift the sum right by n.", "Sum 30 of 4 samples: 30 >> 2 = 7."),
                "root": Hint("Is a root wanted?", "No: the mean of the squares; the host takes the root, once for each word.", "3 and 4: 12, not 3."),
                "blocks": Hint("What does the sum start with in the next block?", "With 0. And the block's last sample belongs to it.", "Blocks of 2 of the samples 1 2 3 4: 1 + 4 and 9 + 16."),
                "upper": Hint("Which bits do you square?", "The upper 18: signed(18)(bits(x, 23, 6)).", "A sample of 640 counts as 10, and its square as 100."),
                "full": Hint("How many bits has the sum of a whole block?", "2**34 for a square of -2**17, times the block: with 100 samples 41 bits.", "36 bits wrap after four such squares."),
                "rate": Hint("How many samples make one word?", "51 200 a second, divided by the block.", "A block of 100: 512 words a second."),
                "stall": Hint("How many samples does your queue stand for now?", "Depth times block, divided by 51 200 a second.", "10 words of 100 samples: 1000 samples, 19.5 ms."),
                "raw": Hint("Is that the stall for raw samples?", "Each word now stands for a whole block.", "10 samples are 0.2 ms; 10 blocks of 100 are 19.5 ms."),
                "seconds": Hint("Seconds or milliseconds?", "The answer is wanted in ms.", "0.0195 s is 19.5 ms."),
            },
        ),
    ],
)
