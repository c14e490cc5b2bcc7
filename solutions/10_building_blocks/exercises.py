"""Exercises of lab 10, "Building blocks".  All numbers are invented.

Nothing here holds an answer: a check runs the design or the test bench that it is given, and measures.
"""

from __future__ import annotations

import binascii
from dataclasses import replace
from functools import lru_cache

import numpy as np

from simkit import (
    Design,
    HostReg,
    HostStream,
    Reg,
    bit,
    bits,
    clocked,
    compile_design,
    ms,
    operation,
    resize,
    sequenced,
    signed,
    unsigned,
)
from simkit.bench import load
from simkit.build import estimate
from simkit.check import AnswerFault, Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, flip_flops, seen

HZ = 40_000_000

# --- 10-a: a block with a parameter ---

FIXED = (1, 2, 8)


def draw_hold(rng):
    return {"n": rng.choice((10, 11, 12, 13, 18, 19, 20, 21, 22, 23, 24, 25, 26))}


def judge_hold(netlist, mine, seed):
    n, rng = mine.n, Draw("hold", seed)
    runs = [n - 1, rng.integer(2, n - 2), n, n + 1]
    pattern = [over for run in runs for over in [1] * run + [0] * rng.integer(1, 3)]
    found = _told(netlist, pattern, "on_n")
    first = next((i for i, (a, b) in enumerate(zip(found, _held(n, pattern), strict=True)) if a != b), None)
    shown = "as asked" if first is None else f"{found[first]} after {_row(pattern, first)} in a row"
    hint = "" if first is None else "late" if _row(pattern, first) == n and any(found) else ""
    works = any(found)
    if first is not None and not pattern[first]:
        hint = "below"
    yield Result("usual", first is None, shown, f"on from {n} in a row", "", hint,
                 lambda: _told_look(netlist, pattern, "on_n", n))
    rows = {k: [over for run in range(1, k + 1) for over in [0, *[1] * run, 0]] for k in FIXED}
    bad = [k for k, row in rows.items() if _told(netlist, row, f"on_{k}") != _held(k, row)]
    yield Result("edges", not bad, f"wrong for n = {', '.join(map(str, bad))}" if bad else "right", "right for n = 1, 2, 8", "",
                 hint if len(bad) == len(FIXED) else "", lambda: _told_look(netlist, rows[bad[0]], f"on_{bad[0]}", bad[0]))
    long = [0] + [1] * 300
    off = [k for k, name in ((8, "on_8"), (n, "on_n")) if 0 in _told(netlist, long, name)[k:]]
    yield Result("stays", not off, f"goes off for n = {off[0]}" if off else "stays on", "stays on for 300 samples",
                 look=lambda: _told_look(netlist, long, "on_8" if off[0] == 8 else "on_n", off[0]))
    size, most = flip_flops(netlist), 28 + sum(k.bit_length() + 2 for k in (*FIXED, n))
    yield Result("size", works and size <= most, size if works else "never on", f"at most {most}", "flip-flops")


def _told(netlist, pattern, name):
    """What an output says after each sample; a sample arrives each 10 ticks."""
    run = _patterned(netlist, pattern)
    return [run.at(name, 28 + 10 * i) for i in range(len(pattern))]


def _patterned(netlist, pattern):
    changes = [(2, "limit", 1000), *((20 + 10 * i, "fan A bearing", 1500 if p else 1000) for i, p in enumerate(pattern))]
    return drive(netlist, 10 * len(pattern) + 40, changes)


def _told_look(netlist, pattern, name, n):
    """The first sample after which an output says something wrong."""
    run, due = _patterned(netlist, pattern), _held(n, pattern)
    wrong = next((i for i, value in enumerate(due) if run.at(name, 28 + 10 * i) != value), 0)
    return run.look(expected={name: [(0, 0), *((28 + 10 * i, value) for i, value in enumerate(due))]}, at=28 + 10 * wrong,
                    around=(20 + 10 * (wrong - n - 2), 20 + 10 * (wrong + 3)), note=f"n = {n}: a sample arrives each 10 ticks")


def _held(n, pattern):
    return [int(_row(pattern, i) >= n) for i in range(len(pattern))]


def _row(pattern, at):
    """How many samples in a row, this one included, were over."""
    count = 0
    while at - count >= 0 and pattern[at - count]:
        count += 1
    return count


# --- 10-b: copy or share, predicted ---


class Power(Design):
    """Running mean of the square of a sample: the block of section 2."""

    def __init__(self, width, shift):
        self.width = width
        self.shift = shift
        self.mean = Reg(unsigned(2 * width - 1))

    @operation
    def step(self, x):
        square = bits(x * x, 2 * self.width - 2, 0)
        change = signed(2 * self.width)(square >> self.shift) - signed(2 * self.width)(self.mean >> self.shift)
        change = resize(change, signed(2 * self.width - self.shift))
        self.mean = bits(signed(2 * self.width)(self.mean) + change, 2 * self.width - 2, 0)


class Copied(Design):
    """A block for each channel: the design of section 2."""

    go = HostReg(bit)
    channel = HostReg(unsigned(4))
    before = Reg(bit)

    def __init__(self, n=8, width=8, shift=4):
        self.n = n
        self.mean = HostReg(unsigned(2 * width - 1), access="ro")
        self.x = [HostReg(signed(width)) for _ in range(n)]
        self.blocks = [Power(width, shift) for _ in range(n)]

    @clocked
    def run(self):
        self.before = self.go
        if self.go and not self.before:
            for i in range(self.n):
                self.blocks[i].step(self.x[i])

    @clocked
    def show(self):
        for i in range(self.n):
            if self.channel == i:
                self.mean = self.blocks[i].mean


def draw_shared(rng):
    return {"n": rng.integer(10, 16), "width": rng.integer(11, 14), "ticks": rng.integer(3, 6), "khz": rng.choice((48, 96, 200))}


@lru_cache(maxsize=64)
def copied(n, width):
    """Multipliers and bits of state of the design with a block for each channel: few learners have numbers of their own."""
    netlist = compile_design(Copied(n, width))
    state = sum(reg.type.width for reg in netlist.regs if reg.name.startswith("blocks[") and reg.name.endswith(".mean"))
    return estimate(netlist).usage["multipliers"], state


def judge_prediction(answer, mine, seed):
    multipliers, state = copied(mine.n, mine.width)
    yield Result("multipliers", answer["multipliers"] == multipliers, answer["multipliers"], None)
    hint = "shared" if answer["state"] * mine.n == state else "width" if answer["state"] == mine.n * mine.width else ""
    yield Result("state", answer["state"] == state, answer["state"], None, "bits", hint)
    most = HZ // (mine.khz * 1000 * mine.ticks)
    yield Result("most", answer["most"] == most, answer["most"], None, "channels")


# --- 10-c: shared in time ---

CHANNELS = 8


def draw_power(rng):
    return {"shift": rng.integer(2, 5)}


def judge_shared(netlist, mine, seed):
    rng = Draw("shared", seed)
    rounds = [[rng.integer(-120, 120) for _ in range(CHANNELS)] for _ in range(3)]
    rounds[1][rng.integer(0, CHANNELS - 1)] = -128
    means = _after(rounds, mine.shift)
    found = _measured(netlist, rounds)
    bad = [k for k in range(CHANNELS) if found[k] != means[k]]
    one = len({k for k in range(CHANNELS) if found[k] == means[-1]}) == CHANNELS
    shown = f"channel {bad[0]}: {found[bad[0]]}" if bad else "all right"
    yield Result("values", not bad, shown, f"{means[bad[0]]}" if bad else "all right", "", "mixed" if one or _mixed(found, rounds, mine) else "")
    held = _measured(netlist, rounds, held=150)
    yield Result("once", any(held) and held == found, held[0], found[0], "mean of channel 0")
    moving = _measured(netlist, rounds, held=8, move=True)
    late = [k for k in range(CHANNELS) if moving[k] != found[k]]
    yield Result("instant", any(found) and not late, f"channel {late[0]} differs" if late else "as at go", "as at go")
    used = estimate(netlist).usage["multipliers"]
    yield Result("size", any(found) and 1 <= used <= 2, used if any(found) else "nothing moves", "1 or 2", "multipliers")


def _mixed(found, rounds, mine):
    """Whether all channels went through one mean."""
    mean = 0
    for x in (x for row in rounds for x in row):
        mean += (x * x >> mine.shift) - (mean >> mine.shift)
    return mean in found


def _after(rounds, shift):
    means = [0] * CHANNELS
    for row in rounds:
        means = [m - (m >> shift) + (x * x >> shift) for m, x in zip(means, row, strict=True)]
    return means


def _measured(netlist, rounds, held=3, move=False):
    """The means after all rounds, 200 ticks apart; with ``move`` the samples change 4 ticks after go."""
    changes = []
    for number, row in enumerate(rounds):
        start = 20 + 200 * number
        changes += [(start, f"x[{k}]", x) for k, x in enumerate(row)] + [(start + 5, "go", 1), (start + 5 + held, "go", 0)]
        changes += [(start + 9, f"x[{k}]", 7) for k in range(CHANNELS)] if move else []
    end = 20 + 200 * len(rounds)
    changes += [(end + 10 * k, "channel", k) for k in range(CHANNELS)]
    run = drive(netlist, end + 100, sorted(changes, key=lambda row: row[0]))
    return [run.at("mean", end + 10 * k + 8) for k in range(CHANNELS)]


# --- 10-d: a test bench ---


class Scaler(Design):
    """y = x times gain / 8, to the nearest, halves up, held within the limit; ``bug`` plants a mistake."""

    words = HostStream(signed(16), 512, "from_host")
    results = HostStream(signed(16), 512, "to_host")
    count = Reg(unsigned(6))

    def __init__(self, bug=""):
        self.gain = Reg(signed(16))      # its numbers are start values, so one netlist does for all learners
        self.limit = Reg(signed(16))
        self.bug = bug

    @sequenced
    def run(self):
        x = self.words.get()
        p = x * self.gain
        y = (p + 4) >> 3
        if self.bug == "floor":
            y = p >> 3
        if self.bug == "halves" and x < 0:
            y = -((4 - p) >> 3)
        if self.bug != "high":
            y = min(y, self.limit)
        if self.bug != "low":
            y = max(y, -self.limit)
        if self.bug == "corner" and x == -32768:
            y = resize(self.limit, signed(32))
        self.count = self.count + 1
        if self.bug != "lost" or self.count != 40:
            self.results.put(resize(y, signed(16), overflow="wrap"))


BUGS = {"rounding": ("floor", "halves"), "clip": ("high", "low"), "corner": ("corner",), "lost": ("lost",)}


def draw_scaler(rng):
    return {"gain": rng.choice((5, 7, 9, 11)), "limit": 100 * rng.integer(80, 110)}


@lru_cache(maxsize=16)
def _any_scaler(bug):
    return compile_design(Scaler(bug))


@lru_cache(maxsize=64)
def scaler(gain, limit, bug=""):
    """The block with these numbers in its registers."""
    netlist, numbers = _any_scaler(bug), {"gain": gain, "limit": limit}
    return replace(netlist, regs=[replace(reg, reset=numbers.get(reg.name, reg.reset)) for reg in netlist.regs])


def delivered(mine):
    """The block as its maker delivered it."""
    return scaler(mine.gain, mine.limit, ("floor", "halves", "low")[mine.limit // 100 % 3])


def judge_test(answer, mine, seed):
    right = _reported(answer, mine, "")
    yield Result("right", right == 0, right, 0, "wrong words", "always" if right and right > 250 else "")
    for name, bugs in BUGS.items():
        missed = [bug for bug in bugs if not _found(answer, mine, bug)]
        shown = "not found" if missed else "found" if right == 0 else "calls the right block wrong as well"
        yield Result(name, right == 0 and not missed, shown, "found", "", "right" if right else "")


def _reported(answer, mine, bug):
    rig = load(scaler(mine.gain, mine.limit, bug), record=[])
    return answer(rig.host, within=ms(2000))


def _found(answer, mine, bug):
    try:
        return _reported(answer, mine, bug) > 0
    except AnswerFault:
        return False  # a test bench says what is wrong; it does not stop


# --- 10-e: valid and ready ---


def draw_bytes(rng):
    return {"first": rng.choice(("high", "low")), "base": 256 * rng.integer(20, 90) + rng.integer(100, 200)}


def judge_bytes(netlist, mine, seed):
    rng = Draw("bytes", seed)
    free, every = _taken(netlist, [(5, "offer", 1), (5, "ready", 1)], 400)
    wanted = _in_bytes(mine, len(free))
    hint = "swapped" if free[:6] == _in_bytes(mine, 6, "low" if mine.first == "high" else "high") else ""
    yield Result("order", len(free) > 20 and free == wanted, _listed(free), _listed(wanted or _in_bytes(mine, 4)), "", hint)
    changes, level = [(5, "offer", 1), (5, "ready", 1)], {"offer": 1, "ready": 1}
    for tick in range(20, 900, 4):
        for name in level:
            if rng.integer(0, 3) == 0:
                level[name] ^= 1
                changes.append((tick, name, level[name]))
    paused, _ = _taken(netlist, changes, 1000)
    same = free[:1] and paused[: len(free)] == free[: len(paused)]
    yield Result("stall", bool(same) and len(paused) > 20, _difference(paused, free), "the same bytes as without pauses")
    yield Result("pace", len(free) > 20 and every <= 4, round(every, 1) if len(free) > 20 else "no bytes", "at most 4", "ticks for each byte")


def _in_bytes(mine, count, first=""):
    words = [mine.base + 1 + i for i in range(count // 2 + 1)]
    pairs = [(w >> 8, w & 255) if (first or mine.first) == "high" else (w & 255, w >> 8) for w in words]
    return [b for pair in pairs for b in pair][:count]


def _taken(netlist, changes, ticks):
    """The bytes that came out, and the mean distance of two in ticks."""
    run = drive(netlist, ticks, changes)
    at = run.changes("taken")
    found = [run.at("out", int(t)) for t in at]
    return found, float(np.mean(np.diff(at))) if len(at) > 1 else float("inf")


def _listed(values):
    return ", ".join(f"{v:02x}" for v in values[:4]) or "none"


def _difference(found, wanted):
    for i, (a, b) in enumerate(zip(found, wanted, strict=False)):
        if a != b:
            return f"byte {i + 1}: {a:02x} instead of {b:02x}"
    return f"{len(found)} bytes, all right" if len(found) > 20 else f"{len(found)} bytes"


# --- 10-f: a serial converter ---

FASTEST = 4  # ticks of half a period: 5 MHz
EVERY = 1000


def draw_serial(rng):
    return {"bits": rng.integer(11, 14), "lag": rng.integer(3, 5)}


def longest(mine):
    """Ticks that select may be 0."""
    return (2 * mine.bits + 4) * (mine.lag + 6)


def judge_serial(netlist, mine, seed):
    rng, top = Draw("serial", seed), 1 << mine.bits - 1
    sent = [rng.integer(top // 2, top - 1) | 1, rng.integer(1, top // 2), 1, -1, -top, -rng.integer(2, top - 2)]
    found, frames = _converted(netlist, mine, sent)
    plus = found[:3] == sent[:3]
    shown, wanted = ", ".join(map(str, found[:3])) or "no word", ", ".join(map(str, sent[:3]))
    yield Result("word", plus, shown, wanted, "", _why_word(found[:1], sent[0], mine, frames))
    minus = found[3:] == sent[3:]
    yield Result("sign", minus, ", ".join(map(str, found[3:])) or "no word", ", ".join(map(str, sent[3:])))
    pulses = [len(rises) for _, _, rises, _ in frames]
    clean = bool(frames) and all(quiet for *_, quiet in frames)
    shown = f"{min(pulses)} to {max(pulses)} pulses, {'quiet' if clean else 'not quiet'} between" if pulses else "select stays as it is"
    yield Result("frame", clean and set(pulses) == {mine.bits}, shown, f"{mine.bits} pulses, quiet between")
    halves = [int(gap) for _, _, edges, _ in frames for gap in np.diff(edges)]
    least, most = min(halves, default=0) // 2, max((stop - start for start, stop, *_ in frames), default=0)
    right = bool(halves) and least >= FASTEST and 0 < most <= longest(mine)
    yield Result("time", right, f"half a period {least}, a frame {most}", f"at least {FASTEST}; at most {longest(mine)}", "ticks")


def _why_word(found, sent, mine, frames):
    """The hint for a first word that was taken wrongly, if it can be told."""
    if not found or any(len(rises) != mine.bits for _, _, rises, _ in frames):
        return ""
    size = 1 << mine.bits
    reverse = int(f"{sent:0{mine.bits}b}"[::-1], 2)
    return {reverse: "lowest", sent >> 1: "early", 2 * sent % size: "next"}.get(found[0] % size, "")


def _frames(run, ticks):
    """``(select falls, select rises, rising edges of the clock inside, quiet)`` of each whole frame."""
    falls, rises = run.changes("converter select", 0), run.changes("converter select", 1)
    ups, moves = run.changes("converter clock", 1), run.changes("converter clock")
    found = []
    for start in map(int, falls):
        after = rises[rises > start]
        if not len(after):
            break
        stop = int(after[0])
        before = moves[(moves > start - 20) & (moves <= start)]
        behind = moves[(moves > stop) & (moves < stop + 20)]
        low = run.at("converter clock", start) == 0 and run.at("converter clock", stop) == 0
        found.append((start, stop, ups[(ups > start) & (ups <= stop)], low and not len(before) and not len(behind)))
    return found


def _converted(netlist, mine, sent):
    """What the design made of the words that the converter sent, and its frames.

    The design's lines do not depend on the data, so a first run gives the edges and a second one the data that fit them.
    """
    ticks = EVERY * (len(sent) + 1) + 500
    first = drive(netlist, ticks)
    frames = _frames(first, ticks)[: len(sent)]
    falls = first.changes("converter clock", 0)
    changes = []
    for (start, stop, *_), word in zip(frames, sent, strict=False):
        code = [int(b) for b in f"{word % (1 << mine.bits):0{mine.bits}b}"]
        steps = [start, *map(int, falls[(falls > start) & (falls <= stop)])]
        changes += [(at + mine.lag, "converter data", level) for at, level in zip(steps, [*code, 0, 0, 0], strict=False)]
    run = drive(netlist, ticks, sorted(changes))
    if not np.array_equal(run.changes("converter clock"), first.changes("converter clock")):
        raise AnswerFault("clock and select must not depend on the data")
    ends = [start for start, *_ in frames[1:]] + [frames[-1][1] + 400] if frames else []
    return [run.at("value", end) for end in ends], frames


# --- 10-g: a core from elsewhere ---

CHECKSUMS = {"CRC-16/IBM-3740": (0xFFFF, 0x0000, 0x29B1), "CRC-16/GENIBUS": (0xFFFF, 0xFFFF, 0xD64E),
             "CRC-16/SPI-FUJITSU": (0x1D0F, 0x0000, 0xE5CC)}
"""Start value, last exclusive or, and published result for the nine digits (CRC RevEng catalogue)."""
DIGITS = b"123456789"


def draw_checksum(rng):
    name = rng.choice(tuple(CHECKSUMS))
    seed, last, check = CHECKSUMS[name]
    return {"name": name, "seed": seed, "last": last, "published": check}


def judge_checksum(netlist, mine, seed):
    rng = Draw("checksum", seed)
    text = lambda count: bytes(rng.integer(0, 255) for _ in range(count))  # noqa: E731
    rig = load(netlist, record=[])
    found = sums(rig, [DIGITS])
    hint = _why_sum(found[:1], mine) if found[:1] != [mine.published] else ""
    yield Result("check", found == [mine.published], _hex(found), _hex([mine.published]), "", hint,
                 lambda: _sum_look(netlist, [DIGITS], mine))
    others = [text(1), text(4), text(rng.integer(20, 40))]
    found = [sums(rig, [message], pause=number == 1) for number, message in enumerate(others)]
    wanted = [[_sum(message, mine)] for message in others]
    bad = next((i for i in range(3) if found[i] != wanted[i]), None)
    shown = "all right" if bad is None else f"{len(others[bad])} bytes: {_hex(found[bad])}"
    yield Result("others", bad is None, shown, "all right" if bad is None else _hex(wanted[bad]),
                 look=lambda: _sum_look(netlist, [others[bad]], mine, bad == 1))
    messages = [text(9), text(9), DIGITS]
    found, wanted = sums(rig, messages), [_sum(message, mine) for message in messages]
    yield Result("again", found == wanted, _hex(found), _hex(wanted), look=lambda: _sum_look(netlist, messages, mine))


def _sum(message, mine):
    return binascii.crc_hqx(message, mine.seed) ^ mine.last


def _why_sum(found, mine):
    hints = {_sum(DIGITS[:-1], mine): "early", _sum(DIGITS, mine) ^ mine.last: "last", binascii.crc_hqx(DIGITS, 0) ^ mine.last: "start"}
    hints |= {binascii.crc_hqx(b"".join(bytes([b, b]) for b in DIGITS), mine.seed) ^ mine.last: "twice"}
    return hints.get(found[0], "") if found else ""


def _hex(values):
    return ", ".join(f"0x{v:04X}" for v in values[:4]) or "no sum"


def sums(rig, messages, pause=False):
    """The checksums that a design puts out for messages."""
    return [int(v) for v in _summed(rig, messages, pause).host.sums.read()]


def _summed(rig, messages, pause=False):
    """The rig after a design was given messages from reset on; with ``pause`` the host stops after two bytes."""
    rig.reset()
    words = [b | (256 if i == len(m) - 1 else 0) for m in messages for i, b in enumerate(m)]
    for part in (words[:2], words[2:]) if pause else (words,):
        rig.host.text.write(part)
        rig.run(ms(4))
    return rig


def _sum_look(netlist, messages, mine, pause=False):
    """The bytes as the design takes them, the right sum up to each, and the sums that it puts out: the first wrong one."""
    rig = _summed(load(netlist, record=["text.valid", "text.ready", "text.data"]), messages, pause)
    taken, given = _moved(rig), [int(word) for word in rig.host.sums.read()]
    ends = [int(end) for end in np.cumsum([len(message) for message in messages])]
    if len(taken) < ends[-1]:
        return None
    due = [(taken[end - 1][0] + 2, _sum(message, mine)) for end, message in zip(ends, messages, strict=True)]
    here = next((i for i, (_, right) in enumerate(due) if given[i : i + 1] != [right]), 0)
    inside = [(message, count + 1) for message in messages for count in range(len(message))]
    upto = [(tick + 1, _sum(message[:count], mine)) for (tick, _), (message, count) in zip(taken, inside, strict=True)]
    rows = {"text": [(tick, word & 0xFF) for tick, word in taken], "right up to here": upto,
            "sums": ([(0, 0), *((tick, word) for (tick, _), word in zip(due, given, strict=False))], [(0, 0), *due])}
    kinds = {"text": "unsigned(8)", "right up to here": "unsigned(16)", "sums": "unsigned(16)"}
    at, first = due[here][0], taken[max(ends[here] - 4, 0)][0]
    return seen(rows, at=at, around=(first - 1, at + 3), types=kinds, base="hex", note="a sum is drawn where its last byte has gone in")


def _moved(rig):
    """``(tick, word)`` for each word of the text that moved."""
    valid, ready, data = (rig.trace(f"text.{role}") for role in ("valid", "ready", "data"))
    ticks = np.arange(int(max(t.ticks[-1] for t in (valid, ready, data))) + 1)
    both = (_at(valid, ticks) == 1) & (_at(ready, ticks) == 1)
    return [(int(tick), int(word)) for tick, word in zip(ticks[both], _at(data, ticks)[both], strict=True)]


def _at(trace, ticks):
    return trace.values[np.searchsorted(trace.ticks, ticks, side="right") - 1]


# --- what the learners are asked, and the hints ---


def ro(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="ro")


def rw(name, kind=""):
    return answers.Port("host_reg", name=name, type=kind, access="rw")


lab = Lab(
    "10_building_blocks",
    "Building blocks",
    [
        Exercise(
            "10-a", "A block with a parameter", points=5, objective="turn a working loop into a block with a parameter",
            kind=answers.Design(ports=[answers.Port("analog_in", terminal="fan A bearing"), rw("limit"), ro("on_1"), ro("on_2"),
                                       ro("on_8"), ro("on_n")]),
            parameters=draw_hold, judge=judge_hold, answer="Alarms",
            criteria=[
                Criterion("usual", "with your n it is on from n samples in a row on", points=2, hint="usual"),
                Criterion("edges", "n = 1, 2 and 8 are right as well", points=1, hint="edges"),
                Criterion("stays", "it stays on as long as the samples are over", points=1, hint="stays"),
                Criterion("size", "each block has the bits that its n needs", points=1, hint="size"),
            ],
            hints={
                "usual": Hint("Is there a number of the old loop left in your block?",
                              "Every 5 of the loop, also the hidden one in a width, becomes n or something worked out from n. A sample that is not over starts the count again.",
                              "n = 3, over 1 1 0 1 1 1 1: the answer is 0 0 0 0 0 1 1."),
                "below": Hint("What does step() answer to a sample that is not over?",
                              "The register still holds the old count in this tick. The answer needs this sample as well: 1 only if it is over, too.",
                              "n = 3, over 1 1 1 0: the register says full at the fourth sample, and the answer is 0."),
                "late": Hint("In which tick does the answer of step() count this sample?",
                             "The register still holds the count without this sample. So the answer is 1 if the count is n - 1 and this sample is over.",
                             "n = 3: before the third sample the register holds 2, and the answer to the third is already 1."),
                "edges": Hint("How many samples must the register remember if n is 1?",
                              "None: the answer is the sample itself. Try each formula of yours with n = 1, 2 and a power of two.",
                              "n = 1: count 0 only, n - 1 = 0. n = 4: counts 0 to 3, which is 2 bits."),
                "stays": Hint("What does the count do after it has reached its end?",
                              "It must stop there. A count that goes on wraps to 0, and the alarm goes off with the fan still shaking.",
                              "2 bits: 0 1 2 3 3 3, and not 0 1 2 3 0 1."),
                "size": Hint("How many different counts does your block need?",
                             "n counts, 0 to n - 1, need (n - 1).bit_length() bits, and one bit at least. A wide register in a block is paid once for each copy.",
                             "n = 6: counts 0 to 5, 3 bits. Four blocks of 16 bits would be 64 flip-flops."),
            },
        ),
        Exercise(
            "10-b", "Copy or share: predict", points=3, objective="predict what copies cost and what sharing saves",
            kind=answers.Record(multipliers=answers.Number(whole=True), state=answers.Number(whole=True, unit="bits"), most=answers.Number(whole=True)),
            parameters=draw_shared, judge=judge_prediction, answer="cost",
            criteria=[
                Criterion("multipliers", "the multipliers of the copied design are right", points=1, hint="multipliers"),
                Criterion("state", "the bits of state that sharing needs are right", points=1, hint="state"),
                Criterion("most", "the most channels of one shared block are right", points=1, hint="most"),
            ],
            hints={
                "multipliers": Hint("How many times does the product stand on the chip?",
                                    "Each block that you make is a piece of hardware of its own, with its own multiplier, whether it works in this tick or not.",
                                    "Three blocks with one product each: 3 multipliers."),
                "state": Hint("What must the shared block remember of a channel while it serves the others?",
                              "The mean of each channel. Logic can be shared, memory cannot.",
                              "Samples of 4 bits: a mean of 7 bits. Five channels: 35 bits, copied or shared."),
                "shared": Hint("Where is the mean of channel 2 while channel 3 is served?",
                               "It must be kept somewhere: logic can be shared, memory cannot.",
                               "Five channels with a mean of 7 bits each: 35 bits, and not 7."),
                "width": Hint("How wide is the mean?",
                              "It is a mean of squares: width 2 x the sample's width - 1.",
                              "Samples of 4 bits: squares up to 64, 7 bits."),
                "most": Hint("How many ticks lie between two samples of a channel?",
                             "Divide the ticks between two samples by the ticks for one channel, and round down: the last channel must be finished.",
                             "100 kHz: 400 ticks. With 6 ticks for each channel: 66 channels."),
            },
        ),
        Exercise(
            "10-c", "One block for eight channels", points=5, objective="share one block in time between eight channels",
            kind=answers.Design(ports=[rw("go", "bit"), rw("channel"), ro("mean"), *(rw(f"x[{k}]", "signed(8)") for k in range(8))]),
            parameters=draw_power, judge=judge_shared, answer="Shared",
            criteria=[
                Criterion("values", "each channel has the mean of its own samples", points=2, hint="values"),
                Criterion("once", "each rise of go counts once, however long go stays 1", points=1, hint="once"),
                Criterion("instant", "all samples are those at the rise of go", points=1, hint="instant"),
                Criterion("size", "one multiplier, or two", points=1, hint="size"),
            ],
            hints={
                "values": Hint("What does your design do with channel 0, and what with channel 7?",
                               "In turn i: take sample i and mean i, calculate, store mean i. Check that i takes each value from 0 to 7 once, and the shift is yours.",
                               "mean 0, sample 8, shift 2: 0 - 0 + (64 >> 2) = 16; the next sample 8: 16 - 4 + 16 = 28."),
                "mixed": Hint("How many means does your design hold?",
                              "One for each channel: a bank of registers, Regs(type, 8), with the channel as index.",
                              "With one mean for two channels, samples 1 and 100 in turn give the same mean for both."),
                "once": Hint("What starts the eight turns: that go is 1, or that it became 1?",
                             "Wait until go is 0 again, or compare it with its value one tick before.",
                             "go is 1 for 40 ticks and a round takes 10: whoever looks at the level counts four rounds."),
                "instant": Hint("Which samples stand in x[7] when its turn comes?",
                                "The card goes on. Copy all eight samples in the tick of go, and work on the copy.",
                                "for i in range(8): self.bank[i] = self.x[i] copies all of them in one tick."),
                "size": Hint("In how many places of your code does the product stand, once the loops are copied out?",
                             "A for without a tick in it is copied out: eight products. Let the index be a register, and write the product once.",
                             "for i in range(8): a[i] * a[i] in one tick is eight multipliers; self.a[self.i] * self.a[self.i] is one."),
            },
        ),
        Exercise(
            "10-d", "A test bench that finds the bug", points=5, objective="write a test bench with a model of its own and random stimuli",
            kind=answers.Program(takes=("host",), result=answers.Number(whole=True)),
            parameters=draw_scaler, judge=judge_test, answer="test",
            criteria=[
                Criterion("right", "the right block passes", points=1, hint="right"),
                Criterion("rounding", "two blocks that round wrongly are found", points=1, hint="rounding"),
                Criterion("clip", "two blocks that forget one end of the range are found", points=1, hint="clip"),
                Criterion("corner", "a block that is wrong for one word only is found", points=1, hint="corner"),
                Criterion("lost", "a block that swallows a word is found", points=1, hint="lost"),
            ],
            hints={
                "right": Hint("Does your model say what the task says, for the words that you send?",
                              "Work out three words by hand, a negative one and a half among them, and compare model and block.",
                              "Gain 3, x = -4: -12 / 8 = -1.5, a half: up is -1. x = 5: 1.875, so 2."),
                "always": Hint("Does your test call every block wrong?",
                               "A test that always fails finds nothing. Print the first word that differs, with what came and what you wanted.",
                               "All words differ: the model. Shifted by one: the order. None came: the link moves words once in a millisecond, so wait before you read."),
                "rounding": Hint("For which words would a block that only cuts give the same result?",
                                 "For those that divide evenly. Send words of all remainders, negative and positive, and expect what the task says, not what the code does.",
                                 "x gain / 8 with x = 8, 16, 24 is whole: cutting, rounding up and rounding to nearest all agree."),
                "clip": Hint("Do your words reach both ends of the range?",
                             "A limit shows only beyond it, and there are two of them.",
                             "Limit 100 and gain 1: words up to 700 never reach it; 900 and -900 do, one at each end."),
                "corner": Hint("Which single words are likely to be special?",
                               "Random words hit one of 65 536 values hardly ever. Add the corners by hand: the lowest, the highest, -1, 0, 1.",
                               "8 bits: -128, -127, -1, 0, 1, 127. The lowest has no positive partner: -(-128) does not fit."),
                "lost": Hint("What does your test say if fewer results come than words were sent?",
                             "zip() stops at the shorter list. Compare the lengths as well, send more than 64 words, and do not let a time-out end the test.",
                             "Five words and four results: at least one is missing, so the number of wrong words is not 0."),
            },
        ),
        Exercise(
            "10-e", "A border with valid and ready", points=5, objective="build a block that waits at both of its ends",
            kind=answers.Design(ports=[rw("offer", "bit"), rw("ready", "bit"), ro("taken"), ro("out")]),
            parameters=draw_bytes, judge=judge_bytes, answer="Line",
            criteria=[
                Criterion("order", "each word gives its two bytes, in your order", points=2, hint="order"),
                Criterion("stall", "with pauses at both ends nothing is lost or doubled", points=2, hint="stall"),
                Criterion("pace", "without pauses a byte comes at least every 4 ticks", points=1, hint="pace"),
            ],
            hints={
                "order": Hint("Which bytes come out, and in which order?",
                              "One word in, two bytes out: take one word, put the one half, put the other half.",
                              "0x1234, high byte first: 12, 34."),
                "swapped": Hint("Which byte is to be first?",
                                "The bytes are right and their order is not the one that was asked for.",
                                "0x1234, low byte first: 34, 12."),
                "stall": Hint("What becomes of a byte if the other side is not ready?",
                              "put() waits for room. try_put() does not: it says 0, and the byte must be offered again.",
                              "Bytes 1 2 3 and no room for the second: whoever goes on regardless delivers 1 3."),
                "pace": Hint("How many ticks does a turn of your loop take?",
                             "get() and put() cost one tick each. Nothing else has to wait.",
                             "get, put, put and the end of the turn: about 4 ticks for two bytes."),
            },
        ),
        Exercise(
            "10-f", "A serial converter", points=5, objective="build a serial protocol as a block of its own",
            kind=answers.Design(ports=[answers.Port("digital_out", terminal="converter select"), answers.Port("digital_out", terminal="converter clock"),
                                       answers.Port("digital_in", terminal="converter data"), ro("value", "signed(16)")]),
            parameters=draw_serial, judge=judge_serial, answer="Reader",
            criteria=[
                Criterion("word", "positive words arrive as they were sent", points=2, hint="word"),
                Criterion("sign", "negative words arrive as they were sent", points=1, hint="sign"),
                Criterion("frame", "a frame has one pulse for each bit, and the clock rests at 0", points=1, hint="frame"),
                Criterion("time", "the clock is no faster than allowed, the frame no longer", points=1, hint="time"),
            ],
            hints={
                "word": Hint("Which bit is first, and when is it there?",
                             "Select goes to 0, and the highest bit comes. Take a bit as you let the clock rise; the next comes after it falls.",
                             "Bits 1 0 1 1, highest first: 1, 10, 101, 1011: each new bit is put on the right."),
                "lowest": Hint("Is the first bit the highest or the lowest?",
                               "Your word is the sent one in reverse order. The highest bit comes first, so move the others to the left.",
                               "Bits 1 0 0 in this order are 4, and not 1."),
                "early": Hint("How old is the bit that you take?",
                              "Fall of the clock, lag of the converter, 2 ticks of synchroniser, one tick of your register: earlier than that you see the bit before.",
                              "Lag 2 ticks: 1 + 2 + 2 = 5 ticks from the assignment clock = 0 to the first look that may be believed."),
                "next": Hint("Which bit stands on the line after the clock has fallen?",
                             "The next one. Your word has lost its first bit: take a bit as the clock rises, not after it has fallen.",
                             "Sent 1 0 1 1: after the first fall the line shows 0. Whoever begins there gets 0 1 1 and one bit too many."),
                "sign": Hint("Which bit of the word is the sign?",
                             "The first one. It must be copied into all bits above it: signed(n)(shift), and then the wider register.",
                             "4 bits 1111 are -1; stored in 8 bits without the sign they are 15."),
                "frame": Hint("How many rising edges does the clock have while select is 0?",
                              "As many as bits, and none outside; the clock is 0 when select changes.",
                              "3 bits: select 0, up, down, up, down, up, down, select 1."),
                "time": Hint("How long is the clock 1, and how long is it 0?",
                             "At least 4 ticks each; but a frame has an upper limit as well. Work out half from the lag, not from fear.",
                             "8 bits with half = 6: 16 halves of 6 ticks and a little more, about 110 ticks."),
            },
        ),
        Exercise(
            "10-g", "A core, and the proof", points=5, objective="bring in a Verilog core and prove it with a published value",
            kind=answers.Design(ports=[answers.Port("host_stream", name="text"), answers.Port("host_stream", name="sums")]),
            parameters=draw_checksum, judge=judge_checksum, answer="Sealed",
            criteria=[
                Criterion("check", "the nine digits give the published value", points=2, hint="check"),
                Criterion("others", "messages of 1, of 4 and of many bytes are right, with a pause as well", points=2, hint="others"),
                Criterion("again", "each of three messages has the sum of its own bytes", points=1, hint="again"),
            ],
            hints={
                "check": Hint("Does each byte go in once, after the start value, and is the result read after the last one?",
                              "Draw the ticks: start, each take, the sum. An input of the core is a register: the core sees it one tick after the assignment.",
                              "Assigned in tick 5, seen by the core in tick 6, in its result from tick 7 on."),
                "early": Hint("Which bytes are in the sum that you read?",
                              "All but the last one. The core takes a byte one tick after you assign it and shows the sum one tick later.",
                              "Assign in tick 5, tick() to 6, tick() to 7: in tick 7 the sum is there."),
                "last": Hint("What does the catalogue ask for at the very end?",
                             "The sum is combined with the last value by exclusive or: sum ^ last.",
                             "0x00FF ^ 0xFFFF = 0xFF00."),
                "start": Hint("With which value does the sum begin?",
                              "The core starts at 0 by itself. Give it your start value: seed, and start = 1 for one tick.",
                              "The same digits give 0x31C3 from 0x0000 and 0x29B1 from 0xFFFF."),
                "twice": Hint("For how many ticks is take 1 for each byte?",
                              "For exactly one. Set it back in the next tick, whether a new byte is there or not.",
                              "take = 1, tick(), take = 0: one tick."),
                "others": Hint("Where does a message end?",
                               "Where bit 8 of the word says so, and not after nine bytes. Between two bytes there may be any pause.",
                               "The words 0x041, 0x142: a message of two bytes."),
                "again": Hint("What stands in the core when the second message begins?",
                              "The sum of the first. Load the start value before each message.",
                              "start = 1 for one tick at the beginning of each turn."),
            },
        ),
    ],
)
