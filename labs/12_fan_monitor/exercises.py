"""Exercises of lab 12, "The fan monitor".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given on a bench or on samples that it knows, and
compares what came out with closed forms.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from simkit import compile_design
from simkit.bench import ControllerBench, FanHouse
from simkit.bench.fan import Fan
from simkit.bench.mount import Mount, Weight
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, seen
from simkit.dsp import permitted_unbalance
from simkit.engines import Events, Recording, Trace, make_engine
from simkit.netlist import Netlist
from simkit.netlist.passes import expose

RATE = 3200
FULL = 2**23
APART = 80
RADIUS = 150.0
SPEED = 1480


def fed(netlist, codes, *names, terminal="fan B bearing", apart=APART, extra=()):
    """What the names hold just before the next sample; a sample arrives each ``apart`` ticks."""
    rows = [(apart * (k + 1), terminal, int(code)) for k, code in enumerate(codes)]
    run = drive(netlist, apart * (len(rows) + 1), sorted([*rows, *extra], key=lambda row: row[0]))
    at = apart * (np.arange(len(rows)) + 2) - 1
    return [_held(run.trace(name), at) for name in names]


def _held(trace, at):
    return trace.values[np.searchsorted(trace.ticks, at, side="right") - 1]


# --- 12-a: scale ---


def draw_scale(rng):
    zeros = [rng.choice((-1, 1)) * rng.integer(1500, 4000) for _ in range(2)]
    gains = [0.058 + rng.integer(1, 9) / 10_000, 0.059 + rng.integer(1, 9) / 10_000]
    return {"zero_a": zeros[0], "zero_b": zeros[1], "gain_a": gains[0], "gain_b": gains[1]}


def judge_scale(netlist, mine, seed):
    rng = Draw("scale", seed)
    for fan, zero, gain in (("a", mine.zero_a, mine.gain_a), ("b", mine.zero_b, mine.gain_b)):
        codes = [rng.integer(-300_000, 300_000) for _ in range(20)]
        (found,) = fed(netlist, codes, fan, terminal=f"fan {fan.upper()} bearing")
        wanted = (np.array(codes) - zero) * gain
        worst = int(np.argmax(np.abs(found - wanted)))
        yield Result(fan, abs(found[worst] - wanted[worst]) <= 2, int(found[worst]), round(wanted[worst]), "mm/s²",
                     look=_scaled_look(fan, codes, found, wanted, worst))
    ends, rows = [], {}
    for fan, zero, gain in (("a", mine.zero_a, mine.gain_a), ("b", mine.zero_b, mine.gain_b)):
        (found,) = fed(netlist, [FULL - 1, -FULL], fan, terminal=f"fan {fan.upper()} bearing")
        rows[fan] = found, (np.array([FULL - 1, -FULL]) - zero) * gain
        ends += list(found - rows[fan][1])
    worst = int(np.argmax(np.abs(ends)))
    fan = "ab"[worst // 2]
    yield Result("ends", abs(ends[worst]) <= 5, f"off by {abs(ends[worst]):.0f}", "off by at most 5", "mm/s²",
                 look=_scaled_look(fan, [FULL - 1, -FULL], *rows[fan], worst % 2))


def _scaled_look(fan, codes, found, wanted, at):
    """A look at a sample and at what it is scaled to."""
    steps = range(max(at - 1, 0), min(at + 2, len(codes)))
    here = [APART * (k + 1) for k in steps]
    scaled = tuple([(tick, round(float(values[k]))) for tick, k in zip(here, steps, strict=True)] for values in (found, wanted))
    rows = {f"fan {fan.upper()} bearing": [(tick, codes[k]) for tick, k in zip(here, steps, strict=True)], fan: scaled}
    return lambda: seen(rows, at=APART * (at + 1), around=(here[0], here[-1] + APART), note="each value below its sample; mm/s²")


# --- 12-b: broadband velocity ---

BLOCK = 1024


def draw_velocity(rng):
    return {"offset": rng.integer(150, 400)}


def judge_velocity(netlist, mine, seed):
    rng = Draw("velocity", seed)
    level, cycles = rng.integer(2000, 4000), rng.integer(9, 11)
    hz = cycles * RATE / BLOCK
    wanted = level / (2 * math.pi * hz) * 1000 / math.sqrt(2)
    own = velocity_of(netlist, level, hz)
    hint = "peak" if abs(own / wanted - math.sqrt(2)) < 0.06 else ""
    yield Result("tone", abs(own - wanted) < 0.05 * wanted, own, round(wanted), "µm/s", hint)
    high = velocity_of(netlist, level, 4 * hz)
    yield Result("fall", own > 0 and abs(high / own - 0.25) < 0.02, round(high / max(own, 1), 3), 0.25, "of the first")
    shifted = velocity_of(netlist, level, hz, mine.offset)
    right = own > 0 and abs(shifted - own) <= 0.03 * own
    yield Result("offset", right, shifted, own, "µm/s")


def velocity_of(netlist, level, hz, offset=0):
    """The reading after six blocks of a tone."""
    codes = np.round(level * np.cos(2 * np.pi * hz / RATE * np.arange(7 * BLOCK)) + offset)
    return int(fed(netlist, codes, "velocity")[0][-1])


# --- 12-c: once per turn ---


def draw_turn(rng):
    return {"per_turn": rng.integer(120, 160)}


def judge_turn(netlist, mine, seed):
    rng = Draw("turn", seed)
    level, phase = 1000 * rng.integer(20, 40), rng.integer(30, 150) * rng.choice((-1, 1))
    own = turned(netlist, mine.per_turn, level, phase)
    hint = "half" if abs(abs(own) - level / 2) < 0.03 * level else ""
    yield Result("amplitude", abs(abs(own) - level) < 0.03 * level, round(abs(own)), level, "codes", hint)
    found = math.degrees(np.angle(own))
    error, mirrored = (abs((found - p + 180) % 360 - 180) for p in (phase, -phase))
    yield Result("phase", own != 0 and error < 5, round(found, 1), phase, "degrees", "mirrored" if mirrored < 5 else "")
    disturbed = turned(netlist, mine.per_turn, level, phase, rest=25 * level)
    share = abs(disturbed - own) / max(abs(own), 1)
    yield Result("others", own != 0 and share < 0.025, round(100 * share, 1), "less than 2.5", "% of 1x")
    faster = turned(netlist, mine.per_turn - 20 - rng.integer(0, 20), level, phase)
    share = abs(faster - own) / max(abs(own), 1)
    yield Result("speed", own != 0 and share < 0.05, round(100 * share, 1), "less than 5", "% of 1x")


def turned(netlist, per_turn, level, phase_deg, rest=0.0):
    """The phasor that the host works out of ``real``, ``imag`` and ``count`` after 17 turns."""
    turn, turns = per_turn * APART, 17
    marks = 100 + turn * np.arange(turns + 1)
    ticks = APART * np.arange(1, turn * turns // APART)
    angle = 2 * np.pi * (ticks - marks[0]) / turn
    wave = level * np.cos(angle + math.radians(phase_deg)) + rest + rest / 10 * np.cos(2 * angle + 1)
    rows = [(int(t), "fan B bearing", int(c)) for t, c in zip(ticks, np.round(wave), strict=True)]
    rows += [(int(at) + d, "fan B pulse", v) for at in marks for d, v in ((0, 1), (400, 0))]
    run = drive(netlist, int(ticks[-1]), sorted(rows))
    real, imag, count = (run.at(f"one.{name}", int(ticks[-1]) - 1) for name in ("real", "imag", "count"))
    return 2 * complex(real, imag) / (max(count, 1) * 2**14)


# --- 12-d: alarm and trip ---


def draw_guard(rng):
    alarm = 100 * rng.integer(28, 40)
    return {"alarm": alarm, "limit": alarm + 100 * rng.integer(25, 40), "hold": rng.integer(4, 9)}


def judge_guard(netlist, mine, seed):
    low, mid, high, n = mine.alarm - 100, mine.alarm + 50, mine.limit + 300, mine.hold
    (lamp,) = fed(netlist, [low] * 4 + [mid] * 4 + [low] * 4 + [mine.alarm] * 4, "lamp")
    yield Result("alarm", lamp.tolist() == [0] * 4 + [1] * 4 + [0] * 8, "".join(map(str, lamp)), "only above alarm")
    trips = lambda codes, extra=(): fed(netlist, codes, "fan B trip", extra=extra)[0]  # noqa: E731
    first = trips([low] * 5 + [high] * (n + 5))
    short = trips(([high] * (n - 1) + [low]) * 3 + [mine.limit] * (2 * n))
    at = int(np.argmax(first)) - 4 if first.any() else 0
    shown = f"level {at}" if at else "never"
    bursts = [high] * (n - 1) + [low]
    look = (_trip_look(bursts * 3 + [mine.limit] * (2 * n), short, [0] * len(short)) if short.any() else
            _trip_look([low] * 5 + [high] * (n + 5), first, [0] * (4 + n) + [1] * 6))
    yield Result("hold", at == n and not short.any(), "tripped by short bursts" if short.any() else shown, f"level {n}", "",
                 "bursts" if short.any() else "one_sample" if abs(at - n) == 1 else "", look)
    quiet = trips([high] * (n + 2) + [low] * 40)
    yield Result("latch", bool(quiet.any()) and bool(quiet[-1]), "tripped" if quiet[-1] else "not tripped", "tripped")
    pulse = lambda k: [(APART * k + 20, "clear", 1), (APART * (k + 2) + 20, "clear", 0)]  # noqa: E731
    shaking = trips([high] * (2 * n + 20), pulse(n + 5))
    calm = trips([high] * (n + 2) + [low] * 20, pulse(n + 10))
    alarmed = trips([high] * (n + 2) + [mid] * 20, pulse(n + 10))
    right = bool(shaking[-1]) and bool(alarmed[-1]) and bool(calm[n + 5]) and not calm[-1]
    shown = f"shaking: {shaking[-1]}, above alarm: {alarmed[-1]}, calm: {calm[-1]}"
    until = [0] * (n - 1) + [1] * 11
    looks = (_trip_look([high] * (2 * n + 20), shaking, until + [1] * (n + 10), pulse(n + 5)),
             _trip_look([high] * (n + 2) + [mid] * 20, alarmed, until + [1] * 12, pulse(n + 10)),
             _trip_look([high] * (n + 2) + [low] * 20, calm, until + [0] * 12, pulse(n + 10)))
    yield Result("clear", right, shown, "shaking: 1, above alarm: 1, calm: 0", look=lambda: next(filter(None, (look() for look in looks)), None))
    dead = trips([low] * 5 + [high] * (n + 5) + [low] * 40, [(40, "clear", 1)])
    yield Result("dead", bool(dead.any()) and bool(dead[-1]), "tripped" if dead[-1] else "not tripped", "tripped")


def _trip_look(levels, found, wanted, clear=()):
    """A look at the levels, one by one, and at the trip after each."""
    spread = lambda values: [(APART * (k + 1), int(value)) for k, value in enumerate(values)]  # noqa: E731
    rows = {"level": spread(levels)} | ({"clear": [(0, 0), *((tick, value) for tick, _, value in clear)]} if clear else {})
    rows["fan B trip"] = spread(found), spread(wanted[: len(found)])
    return lambda: seen(rows, types={"clear": "bit", "fan B trip": "bit"})


# --- 12-e: the log ---

PER_WORD = 16
TICKS = 40_000_000
SAMPLE_TICKS = TICKS // RATE
BURST_TICKS = TICKS // 200
BURST_WORDS = 8


def draw_log(rng):
    return {"stall_ms": 20 * rng.integer(15, 24)}


def needed(mine):
    """Words that come during the stall."""
    return mine.stall_ms * RATE / PER_WORD / 1000


def judge_log(netlist, mine, seed):
    played = ten_minutes(netlist, mine.stall_ms, seed=seed, level=False)
    values, common = played.words & (2**24 - 1), min(60, len(played.words))
    right = common == 60 and np.array_equal(values[:common], played.peaks[:common])
    yield Result("words", right, ", ".join(map(str, values[:3])) or "none", ", ".join(map(str, played.peaks[:3])), "codes",
                 look=lambda: _logged(values[:60], played.peaks[:60]))
    whole = len(played.words) >= len(played.peaks) - 4 and bool(np.all(gaps(played) == 0))
    yield Result("stall", whole, len(played.words), len(played.peaks), "words in ten minutes", look=lambda: _stall_look(netlist, mine, seed))
    long = ten_minutes(netlist, 3 * mine.stall_ms, seed=seed, seconds=10, level=False)
    missing = int(np.sum(gaps(long)))
    right = len(long.words) > 40 and missing % 256 == long.overflow % 256 and long.overflow > 0
    yield Result("number", right, missing, long.overflow, "missing numbers", look=lambda: _number_look(long))
    depth = next(int(end.options["depth"]) for end in netlist.endpoints if end.kind == "host_stream")
    most = 2 * math.ceil(needed(mine))
    yield Result("size", len(played.words) > 40 and depth <= most, depth, f"at most {most}", "words")


def _logged(found, wanted):
    """A look at the first words, and what they should be."""
    words = tuple([(PER_WORD * SAMPLE_TICKS * (k + 1), int(v)) for k, v in enumerate(row)] for row in (found, wanted))
    bad = next((k for k, v in enumerate(wanted) if k >= len(found) or found[k] != v), 0)
    at = PER_WORD * SAMPLE_TICKS * (bad + 1)
    return seen({"words": words}, at=at, around=(at - 2 * PER_WORD * SAMPLE_TICKS, at + 4 * PER_WORD * SAMPLE_TICKS),
                note="the words that the host read, each where its 16 samples end; codes")


def _stall_look(netlist, mine, seed):
    """A look at the queue in the stall in which the first word is lost, and at one in which none would be."""
    played = ten_minutes(netlist, mine.stall_ms, seed=seed)               # once more, for the queue's level
    lost = np.flatnonzero(gaps(played))
    if not len(lost):
        return None
    at = PER_WORD * SAMPLE_TICKS * (int(lost[0]) + 2)
    start, stop = at - 2 * mine.stall_ms * TICKS // 1000, at + 2 * mine.stall_ms * TICKS // 1000
    strobes, _ = fetching(np.random.default_rng([int(seed), 12]), mine.stall_ms, played.seconds)
    taken = strobes[(strobes >= start) & (strobes < stop)]
    came = PER_WORD * SAMPLE_TICKS * np.arange(start // (PER_WORD * SAMPLE_TICKS) + 1, stop // (PER_WORD * SAMPLE_TICKS))
    level, endless = int(held(played.level, [start])[0]), []
    for tick, step in sorted([(int(t), 1) for t in came] + [(int(t), -1) for t in taken]):
        level = max(level + step, 0)
        endless.append((tick, level))
    full = int(played.level.values.max())
    at = next((tick for tick, words in endless if words > full), at)
    over = next((tick for tick, words in endless if tick > at and words == 0), stop)
    own = list(zip(played.level.ticks.tolist(), played.level.values.tolist(), strict=True))
    deeper = [row for row in endless if at <= row[0] <= over]
    expected = [*(row for row in own if row[0] < at), *deeper, *(row for row in own if row[0] > over)]
    return seen({"words in the queue": (played.level, expected)}, at=at, around=(start, stop), curves=["words in the queue"],
                note="the host stalls; expected: a queue that is deep enough")


def _number_look(played):
    """A look at the words around the first that were lost, and the numbers that they should have."""
    values, due, place = (played.words & (2**24 - 1)).tolist(), [], 0
    for value in values:
        there = np.flatnonzero(played.peaks[place:] == value)
        if not len(there):
            break
        place += int(there[0]) + 1
        due.append(place - 1)
    jump = next((i for i, (a, b) in enumerate(itertools.pairwise(due)) if b > a + 1), None)
    if jump is None:
        return None
    ticks = [PER_WORD * SAMPLE_TICKS * (k + 1) for k in range(len(due))]
    origin, first = int(played.words[0]) >> 24, max(jump - 3, 0)
    found = [(tick, int(word) >> 24) for tick, word in zip(ticks, played.words, strict=False)]
    right = [(tick, (origin + k - due[0]) % 256) for tick, k in zip(ticks, due, strict=True)]
    return seen({"number": (found, right)}, at=ticks[jump + 1], around=(ticks[first], ticks[min(jump + 4, len(ticks) - 1)]),
                types={"number": "unsigned(8)"}, note="the number in each word that was read; words are lost before the one marked")


def gaps(played):
    """Numbers that are missing before each word."""
    return (np.diff(played.words >> 24) - 1) % 256


@dataclass
class TenMinutes:
    """What a log did: ``words`` that reached the host, ``peaks`` that should have, words lost, stalls, the queue's level (None if not wanted)."""

    words: np.ndarray
    peaks: np.ndarray
    overflow: int
    stalls: int
    seconds: int
    level: Trace | None


def ten_minutes(design, stall_ms, seed=1, seconds=600, level=True):
    """Play random samples into ``fan B bearing``, and a host that takes words from ``log``, tick by tick.

    Every 5 ms the host takes what it finds, up to 8 words.  Every 4 to 8 s it stalls, for a third of ``stall_ms`` up to all of it;
    each third stall is the full one.
    """
    netlist = expose(design if isinstance(design, Netlist) else compile_design(design))
    accel = next(end.ports for end in netlist.endpoints if end.terminal == "fan B bearing")
    log = next(end.ports for end in netlist.endpoints if end.kind == "host_stream")
    index = {port.name: number for number, port in enumerate(netlist.inputs)}
    count = next((reg.name for reg in netlist.regs if reg.name == "log.count"), log["valid"])
    recording = Recording([log["valid"], log["data"], *([count] if level else [])])
    engine = make_engine(netlist, 0)
    engine.record(recording)
    rng = np.random.default_rng([int(seed), 12])
    strobes, stalls = fetching(rng, stall_ms, seconds)
    codes = rng.integers(-300_000, 300_000, RATE * min(seconds, 10))
    if seconds > 10:                                          # later one code for each word: half the work
        codes = np.concatenate([codes, np.repeat(rng.integers(-300_000, 300_000, RATE * (seconds - 10) // PER_WORD), PER_WORD)])
    ports = [index[port] for port in (accel["value"], accel["valid"], log["ready"])]
    end = seconds * TICKS + 2 * BURST_TICKS                   # the host still fetches what came last
    for start in range(0, end, 10 * TICKS):                   # in pieces, for the sake of memory
        stop = min(start + 10 * TICKS, end)
        engine.run(stop - start, piece(codes, strobes, start, stop, ports))
    valid, data = (recording.trace(log[role]) for role in ("valid", "data"))
    taken = strobes[held(valid, strobes) == 1]
    peaks = np.abs(codes).reshape(-1, PER_WORD).max(axis=1)
    lost = engine.peek(log["overflow"]) if "overflow" in log else 0
    return TenMinutes(held(data, taken), peaks, lost, stalls, seconds, recording.trace(count) if level else None)


def held(trace, ticks):
    """What a trace holds in the given ticks."""
    if not len(trace.ticks):
        return np.zeros(len(ticks), np.int64)
    return trace.values[np.maximum(np.searchsorted(trace.ticks, ticks, side="right") - 1, 0)]


def fetching(rng, stall_ms, seconds):
    """Ticks in which the host is ready for a word, and the number of its stalls.

    A host stops at the first answer "empty".  So it asks once more than words would wait in a queue without an end, 8 times at most.
    """
    bursts = BURST_TICKS // 2 + BURST_TICKS * np.arange(200 * seconds + 2, dtype=np.int64)
    awake, at, stalls = np.ones(len(bursts), bool), 2 * TICKS, 0
    while at + 5 * TICKS < seconds * TICKS:
        share = 1.0 if stalls % 3 == 0 else rng.uniform(0.3, 1.0)
        awake[slice(*np.searchsorted(bursts, [at, at + share * stall_ms * TICKS / 1000]))] = False
        at, stalls = at + int(rng.uniform(4, 8) * TICKS), stalls + 1
    bursts = bursts[awake]
    came, most = bursts // (PER_WORD * SAMPLE_TICKS), BURST_WORDS * np.arange(1, len(bursts) + 1)
    taken = most + np.minimum(np.minimum.accumulate(came - most), 0)      # of all that came, 8 in each turn at most
    asked = np.minimum(np.diff(taken, prepend=0) + 1, BURST_WORDS)
    first = np.repeat(np.cumsum(asked) - asked, asked)
    return np.repeat(bursts, asked) + np.arange(len(first)) - first, stalls


def piece(codes, strobes, start, stop, ports):
    """Everything that happens from tick ``start`` to ``stop``, in order."""
    numbers = np.arange(-(-start // SAMPLE_TICKS), min(-(-stop // SAMPLE_TICKS), len(codes)), dtype=np.int64)
    ready = strobes[np.searchsorted(strobes, start) : np.searchsorted(strobes, stop)]
    new = numbers[(numbers == 0) | (codes[numbers] != codes[numbers - 1])]
    ticks = np.concatenate([new * SAMPLE_TICKS, numbers * SAMPLE_TICKS, ready])
    values = np.concatenate([codes[new], np.ones(len(numbers) + len(ready), np.int64)])
    order = np.argsort(ticks, kind="stable")
    port = np.repeat(np.array(ports, np.int32), [len(new), len(numbers), len(ready)])
    return Events(ticks[order], port[order], values[order])


# --- 12-f: balancing ---


def draw_rotor(rng):
    return {"mass_kg": rng.integer(9, 14), "rotor": rng.integer(1000, 9999), "trial_deg": 30 * rng.integer(0, 11)}


def rotor_bench(rotor, *weights):
    """The fan house with your rotor as fan B at 1480 r/min, and further weights ``(grams, degrees)`` at 150 mm."""
    rng = Draw("rotor", int(rotor))
    heavy = Weight(rng.real(11, 18), RADIUS, rng.real(0, 360))
    fan = Fan("B", [heavy], mount=Mount(mass_kg=60, resonance_hz=15, damping=0.06))
    for grams, degrees in weights:
        fan.add_weight(float(grams), RADIUS, float(degrees))
    bench = FanHouse(seed=int(rotor), fans=[Fan("A"), fan], rates={"bearings": RATE})
    fan.hold_speed(SPEED)
    return bench


def judge_balance(answer, mine, seed):
    wanted = permitted_unbalance(6.3, SPEED, mine.mass_kg)
    found = answer["permitted_gmm"]
    yield Result("permitted", abs(found - wanted) < 0.01 * wanted, found, None, "g mm",
                 "rpm" if abs(found * 2 * math.pi / 60 / wanted - 1) < 0.02 or abs(found / wanted / (2 * math.pi / 60) - 1) < 0.02 else "")
    start = abs(rotor_bench(mine.rotor).fan("B").unbalance) * 1e6
    left = abs(rotor_bench(mine.rotor, (answer["mass_g"], answer["angle_deg"])).fan("B").unbalance) * 1e6
    hint = "twice" if abs(left / start - 2) < 0.1 else ""
    yield Result("better", left < 0.5 * start, round(left), f"below {start / 2:.0f}", "g mm", hint)
    yield Result("residual", left < wanted, round(left), f"below {wanted:.0f}", "g mm")


# --- 12-g: diagnosis ---

CASES = ("bearing", "loose", "unbalance", "resonance")


def draw_cases(rng):
    return {"key": rng.integer(100, 9999)}


def order(key):
    return list(itertools.permutations(CASES))[int(key) * 7 % 24]


def case_bench(key, number):
    """The fan house with fault number 1 to 4 of yours in fan B, which turns at 1480 r/min."""
    kind = order(key)[number - 1]
    heavy = Weight(30.0 if kind == "unbalance" else 3.0, RADIUS, 40.0)
    near = SPEED / 60 * 1.03
    fan = Fan("B", [heavy], mount=Mount(20.0, near if kind == "resonance" else 12.0, 0.02 if kind == "resonance" else 0.06))
    if kind == "bearing":
        fan.damage_bearing("outer", 30.0)
    bench = FanHouse(seed=int(key) + number, fans=[Fan("A"), fan])
    if kind == "loose":
        bench.fault("fan B bearing", "loose")
    return bench


def judge_cases(answer, mine, seed):
    for number, kind in enumerate(order(mine.key), 1):
        given = answer[f"case_{number}"]
        yield Result(f"case_{number}", given == kind, given, None, "", given if given != kind else "")


# --- 12-h: a fan on the fabric ---


def draw_model(rng):
    return {"k": rng.integer(11, 12), "shake": 100 * rng.integer(20, 30)}


def speeds(netlist, k, trip_at=None, shake=0):
    """Ticks of the model's pulses after a command of 16 384 codes, and the run; 1 for the end of it."""
    length = 40_000_000 * 2**k // 10_000
    extra = [(trip_at * length, "trip", 1)] if trip_at else []
    run = drive(netlist, 9 * length, sorted([(10, "command", 16384), (20, "shake", shake), *extra]))
    return run.changes("pulse", 1), length, run


def judge_model(netlist, mine, seed):
    edges, length, run = speeds(netlist, mine.k, shake=mine.shake)
    rpm = 60 * 40e6 / np.diff(edges) if len(edges) > 8 else np.zeros(8)
    middle = (edges[1:] + edges[:-1]) / 2 if len(edges) > 8 else np.zeros(8)
    final = float(np.mean(rpm[-3:]))
    yield Result("speed", abs(final - 1500) < 12, round(final), 1500, "r/min")
    at = 1.5 * length
    share = float(np.interp(at, middle, rpm)) / max(final, 1)
    wanted = 1 - math.exp(-1.5)
    yield Result("time", abs(share - wanted) < 0.05, round(share, 3), round(wanted, 3), "of the final speed")
    trace = run.trace("vibration")
    late = trace.ticks > 6 * length
    ends = sorted(set(trace.values[late].tolist()))
    turns = len(edges[edges > 6 * length])
    quarters = [int(one + (other - one) // 4) for one, other in list(zip(edges[:-1], edges[1:], strict=True))[-3:]]
    first_half = [run.at("vibration", tick) for tick in quarters]
    right = ends == [-mine.shake, mine.shake] and abs(int(np.sum(late)) - 2 * turns) <= 3
    right = right and first_half == [mine.shake] * 3
    yield Result("shake", right, f"{ends[:3]}", f"{-mine.shake} and {mine.shake}, once per turn", "codes")
    edges, length, run = speeds(netlist, mine.k, trip_at=5)
    before, after = (int(np.sum((edges > a * length) & (edges < b * length))) for a, b in ((4, 5), (8, 9)))
    yield Result("trip", before > 0 and after < 0.25 * before, f"{before}, then {after}", "far fewer after the trip", "turns",
                 look=lambda: run.look("pulse", at=5 * length, around=(4 * length, 9 * length), note="pulses must become rare after the trip"))


# --- 12-i: a controller under test ---

UNITS = ("deaf", "late", "forgetful", "blind")


def draw_unit(rng):
    return {"unit": rng.integer(100, 999)}


def unit_bench(unit):
    """The bench with your controller on it: it promises to trip above 0.5 V r.m.s. for 50 ms, and 0.5 s without a pulse."""
    return ControllerBench(int(unit), fault=UNITS[int(unit) * 7 % 4])


def judge_unit(answer, mine, seed):
    kind = UNITS[mine.unit * 7 % 4]
    yield Result("fault", answer["fault"] == kind, answer["fault"], None, "", answer["fault"] if answer["fault"] != kind else "")
    shaken = {"deaf": 0, "late": 0, "forgetful": 1, "blind": 1}[kind]
    yield Result("early", answer["tripped_after_200_ms"] == shaken, answer["tripped_after_200_ms"], None)


# --- what the learners are asked, and the hints ---


def analog(*names):
    return [answers.Port("analog_in", terminal=name) for name in names]


def shown(*names):
    return [answers.Port("host_reg", name=name, access="ro") for name in names]


DIAGNOSES = {
    "bearing": Hint(
        "Do regular blows stand behind what you called a bearing?",
        "A defect rings the housing high up, near 3200 Hz, in blows 3.6 times per turn.",
        "Rough all over, with single knocks at no fixed distance, is no bearing: look at the kurtosis and the 1x.",
    ),
    "loose": Hint(
        "Is the 1x smaller than it was, with knocks at random?",
        "A loose sensor passes on a third of the motion and adds knocks over the whole spectrum.",
        "A clean high 1x is no loose sensor; nor is one narrow hump near 3200 Hz.",
    ),
    "unbalance": Hint(
        "How does the 1x grow when the speed grows a little?",
        "Force goes with the square of the speed. Far above the resonance, ten per cent more speed gives about 21 % more.",
        "1.0 to 1.2 is unbalance; 1.0 to 0.4 is the far side of a resonance.",
    ),
    "resonance": Hint(
        "What happens to the 1x ten per cent above and below?",
        "Near a resonance a small change of speed changes the 1x by a large factor.",
        "1.0 at one speed, 0.3 at 10 % less: resonance. 1.0 and 0.8: unbalance.",
    ),
}

lab = Lab(
    "12_fan_monitor",
    "The fan monitor",
    [
        Exercise(
            "12-a", "Both channels in mm/s²", points=3, objective="scale two channels with their own constants",
            kind=answers.Design(ports=analog("fan A bearing", "fan B bearing") + shown("a", "b")),
            parameters=draw_scale, judge=judge_scale, answer="Scale",
            criteria=[
                Criterion("a", "fan A is scaled", points=1, hint="zero"),
                Criterion("b", "fan B is scaled with its own constants", points=1, hint="own"),
                Criterion("ends", "both are right at the ends of the range", points=1, hint="wide"),
            ],
            hints={
                "zero": Hint("Which code means 0 V?", "Take the zero code off first, then multiply.", "Code 1100, zero 100, gain 0.05: 50."),
                "own": Hint("Whose constants did channel b get?", "Each channel has a zero and a gain of its own.",
                            "Zero 100 for one and -80 for the other: code 0 means -100 and +80 codes."),
                "wide": Hint("How large is a reading at full scale?", "Code 8 388 607 times the gain is almost half a million. 20 bits hold it.",
                             "16 bits end at 32 767; a reading of 40 000 comes out as -25 536."),
            },
        ),
        Exercise(
            "12-b", "Broadband velocity", points=4, objective="integrate acceleration to velocity on the fabric",
            kind=answers.Design(ports=analog("fan B bearing") + shown("velocity")),
            parameters=draw_velocity, judge=judge_velocity, answer="Broadband",
            criteria=[
                Criterion("tone", "a tone reads its r.m.s. velocity", points=2, hint="integral"),
                Criterion("fall", "four times the frequency gives a quarter", points=1, hint="sum"),
                Criterion("offset", "a constant changes nothing", points=1, hint="constant"),
            ],
            hints={
                "integral": Hint("What is added to the velocity in each sample?",
                                 "Acceleration times the sample time: in µm/s that is 1000/3200 of it, so 5 in sixteenths.",
                                 "A hundred samples of 32 mm/s²: 100 times 5 times 32 sixteenths are 1000 µm/s."),
                "peak": Hint("Peak or r.m.s.?", "The r.m.s. value is the root of the mean of the squares.", "A sine of peak 100 has 70.7."),
                "sum": Hint("Do you sum up, or scale?", "Only a sum falls with 1/f. The velocity keeps what it had, less a little.",
                            "At 25 Hz and 100 Hz, equal acceleration: 4 to 1 in velocity."),
                "constant": Hint("What does a sum make of a constant?", "A ramp, or with a leak an offset. Take the slow mean off before you sum.",
                                 "0.02 m/s² for 10 s makes 200 mm/s."),
            },
        ),
        Exercise(
            "12-c", "Once per turn, on the fabric", points=5, objective="detect the once-per-turn part on the fabric",
            kind=answers.Design(ports=[*analog("fan B bearing"), answers.Port("digital_in", terminal="fan B pulse"),
                                       *shown("one.real", "one.imag", "one.count")]),
            parameters=draw_turn, judge=judge_turn, answer="Watch",
            criteria=[
                Criterion("amplitude", "the amplitude is right", points=2, hint="angle"),
                Criterion("phase", "the phase is right, sign included", points=1, hint="sum"),
                Criterion("others", "a constant and a tone twice per turn do not count", points=1, hint="whole"),
                Criterion("speed", "at another speed it reads the same", points=1, hint="count"),
            ],
            hints={
                "sum": Hint("What are real, imag and count for a signal that is the cosine itself?",
                            "Add x c to one sum and take x q from the other, in every sample; the count goes with the sums.",
                            "x = 10 cos(angle) over 4 samples: x c sums to 20, count 4, amplitude 2 × 20 / 4 = 10."),
                "angle": Hint("What is index for the first, second and third quarter of a turn?",
                              "64, 128, 192. Eight bits, the highest first; shift index up before each new bit.",
                              "Sample 75 of 100: 150 gives 1, 50 is left; 100 gives 1, 0 is left; then zeros: 1100 0000 is 192."),
                "half": Hint("Your amplitude is half of the right one. What is counted twice, or added only half as often?",
                             "The count has one step for each sample whose products are in the sums.", "8 turns of 130 samples: count is 1040."),
                "mirrored": Hint("Which sign has the sine's sum?", "x = A cos(angle + phase) contains -A sin(phase) sin(angle): imag is minus the sum of x q.",
                                 "Phase 90 degrees: x = -A sin(angle). Minus the sum of x q is positive."),
                "whole": Hint("Which samples are in your sum: exactly those of eight turns?",
                              "The sample that comes with done belongs to the new block, as its first. None may be lost, none counted twice.",
                              "A constant of 100 over 130 samples cancels. Over 129 it leaves 100, the weight of one sample."),
                "count": Hint("Which of your results changes when a turn has fewer samples?",
                              "The angle follows per_turn, and the count is the number of samples that really are in the sums.",
                              "8 turns of 130 samples: count 1040. 8 turns of 110: 880."),
            },
        ),
        Exercise(
            "12-d", "Alarm and trip", points=5, objective="build a trip that needs no host",
            kind=answers.Design(ports=[*analog("fan B bearing"), answers.Port("digital_out", terminal="lamp"),
                                       answers.Port("digital_out", terminal="fan B trip"),
                                       answers.Port("host_reg", name="clear", access="rw")]),
            parameters=draw_guard, judge=judge_guard, answer="Protect",
            criteria=[
                Criterion("alarm", "the lamp shows the alarm", points=1, hint="alarm"),
                Criterion("hold", "it trips at the right level of a long excess", points=1, hint="hold"),
                Criterion("latch", "it stays tripped when the fan is calm again", points=1, hint="latch"),
                Criterion("clear", "clear resets it, but not while the fan shakes", points=1, hint="clear"),
                Criterion("dead", "it trips with a host that died with clear at 1", points=1, hint="dead"),
            ],
            hints={
                "alarm": Hint("When does the lamp go on, and off?", "It follows level > alarm, level by level; equal is no alarm.",
                              "alarm 3000: 3001 on, 3000 off."),
                "hold": Hint("Which count do you compare?", "Count the levels in a row above the limit.", "hold 3: levels 1, 2, 3 above; trip with the third."),
                "one_sample": Hint("What does your count hold in the tick of the comparison?", "A register has its old value until the next tick: hold - 1 at the last level.",
                                   "hold 3: at the third level the register still says 2."),
                "bursts": Hint("What happens to your count when the level falls?", "The excess must be without a gap: back to 0 at once. Equal to the limit is no excess.",
                               "hold 3: above, above, below, above: the count is 1."),
                "latch": Hint("What turns the relay off?", "Only clear may. A level that has fallen is no reason.", "A tripped fan stops, and is calm: it must not start again."),
                "clear": Hint("Under which two conditions may the trip go?", "clear has risen, and the level is not above the alarm.", "Clear while it shakes: nothing. Clear when calm: off."),
                "dead": Hint("What does clear hold after the host has died?", "Whatever it wrote last, for ever. Act on the change from 0 to 1, not on the value.",
                             "clear at 1 since yesterday is no press of a button."),
            },
        ),
        Exercise(
            "12-e", "A log without a gap", points=4, objective="size a log for the worst stall and number its words",
            kind=answers.Design(ports=[*analog("fan B bearing"), answers.Port("host_stream", name="log")]),
            parameters=draw_log, judge=judge_log, answer="Log",
            criteria=[
                Criterion("words", "each word is the largest of 16 samples", points=1, hint="largest"),
                Criterion("stall", "nothing is lost in ten minutes with your worst stall", points=1, hint="depth"),
                Criterion("number", "in a longer stall the numbers tell the loss", points=1, hint="count"),
                Criterion("size", "the queue is not larger than twice the need", points=1, hint="size"),
            ],
            hints={
                "largest": Hint("Over which samples do you take the largest?", "Begin with 0, take the larger one 16 times, then put.", "3, -9, 5: the largest size is 9."),
                "depth": Hint("How many words come while the host sleeps?", "200 words a second times the stall, and some that come before the host is back.", "A stall of 0.25 s: 50 words, and a few."),
                "count": Hint("Does the number go on when a word is lost?", "Number each word that is due, whether it found room or not. try_put never waits.", "5, 6, (7 lost), 8."),
                "size": Hint("How much memory is needed?", "Between the need and twice the need.", "50 words are needed: 64 will do, 4096 are waste."),
            },
        ),
        Exercise(
            "12-f", "Balance fan B", points=4, objective="balance a rotor with one trial weight to its permitted residual",
            kind=answers.Record(permitted_gmm=answers.Number(unit="g mm"), mass_g=answers.Number(unit="g"), angle_deg=answers.Number(unit="degrees")),
            parameters=draw_rotor, judge=judge_balance, answer="balance",
            criteria=[
                Criterion("permitted", "the permitted residual is right", points=1, hint="grade"),
                Criterion("better", "the weight halves the unbalance at least", points=1, hint="sign"),
                Criterion("residual", "the residual is under the permitted one", points=2, hint="exact"),
            ],
            hints={
                "grade": Hint("What is the grade a speed of?", "e = G / omega, U = e times the rotor's mass; mind g and mm.", "G 6.3, 3000 r/min, 10 kg: 20.05 µm, 200.5 g mm."),
                "rpm": Hint("r/min or rad/s?", "omega = 2 pi n / 60.", "3000 r/min are 314.16 rad/s."),
                "sign": Hint("Which way does the correction point?", "Opposite to the heavy spot: -before / alpha, with the trial weight taken off.", "Heavy at 72 degrees: correct at 252."),
                "twice": Hint("Is the unbalance twice what it was?", "Then the weight sits on the heavy spot. The minus sign is missing.", "Heavy at 72: the weight belongs at 252, not at 72."),
                "exact": Hint("Are all three runs complex numbers at one speed?", "alpha = (after - before) / trial, trial with its angle.", "20 g at 30 degrees is 17.3 + 10j."),
            },
        ),
        Exercise(
            "12-g", "Four faults", points=4, objective="diagnose four faults from their signals",
            kind=answers.Record(**{f"case_{n}": answers.Text(CASES) for n in (1, 2, 3, 4)}),
            parameters=draw_cases, judge=judge_cases, answer="diagnoses",
            criteria=[Criterion(f"case_{n}", f"case {n} is named", points=1, hint="bearing") for n in (1, 2, 3, 4)],
            hints=DIAGNOSES,
        ),
        Exercise(
            "12-h", "A fan on the fabric", points=4, objective="build a fan model in fixed point on the fabric",
            kind=answers.Design(ports=[answers.Port("digital_out", terminal="pulse"), answers.Port("analog_out", terminal="vibration"),
                                       answers.Port("analog_in", terminal="command"), answers.Port("digital_in", terminal="trip"),
                                       answers.Port("host_reg", name="shake", access="rw")]),
            parameters=draw_model, judge=judge_model, answer="FanModel",
            criteria=[
                Criterion("speed", "it reaches the commanded speed", points=1, hint="speed"),
                Criterion("time", "it takes its time constant", points=1, hint="time"),
                Criterion("shake", "it shakes once per turn", points=1, hint="shake"),
                Criterion("trip", "it runs down after a trip", points=1, hint="trip"),
            ],
            hints={
                "speed": Hint("Which rule brings the speed to the command?", "Add a part of (target - speed); at rest they are equal.", "Part 1/4: 0, 25, 44, 58 of 100."),
                "time": Hint("Which part of the difference in one turn of the loop?", "1 / 2**k gives a time constant of 2**k loops.", "k = 3: 63 % after 8 loops."),
                "shake": Hint("What tells the half of the turn?", "The top bit of the angle: + in one half, - in the other.", "angle[31] is 0 in the first half."),
                "trip": Hint("What is the target after a trip?", "0: the fan coasts, with the same time constant.", "Power off: the target is 0, not the speed."),
            },
        ),
        Exercise(
            "12-i", "A controller under test", points=3, objective="find what is wrong with a controller by testing it",
            kind=answers.Record(tripped_after_200_ms=answers.Number(whole=True), fault=answers.Text(UNITS)),
            parameters=draw_unit, judge=judge_unit, answer="finding",
            criteria=[
                Criterion("early", "its reaction to 200 ms of shaking is reported", points=1, hint="early"),
                Criterion("fault", "the broken promise is named", points=2, hint="deaf"),
            ],
            hints={
                "early": Hint("What does the trip line say after 200 ms of shaking?", "Read rig.host.tripped: 1 or 0.", "A promise of 50 ms: 1 is right at 200 ms."),
                "deaf": Hint("Does it never trip on vibration?", "Shake it for two seconds before you call it deaf.", "No trip after 0.2 s and a trip after 1 s is late, not deaf."),
                "late": Hint("Did it trip at all?", "Late means: not after 200 ms, but after two seconds.", "Promise 50 ms, trip after 500 ms: late."),
                "forgetful": Hint("What became of the trip when the shaking stopped?", "Forgetful means: tripped while shaken, no longer after.", "1, then 0."),
                "blind": Hint("Which test has to do with pulses?", "Blind means: trips on vibration and keeps the trip, but not when pulses stop.", "All vibration tests right: then it is the pulses."),
            },
        ),
    ],
)
