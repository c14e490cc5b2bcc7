"""Lab 03: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools

import numpy as np
import pytest

from simkit.check import collect, judge
from tests.labs.replay import Replay, replay

LAB = "03_numbers_in_wires"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


WIDTHS_BY_TYPES = """
import math
def narrowest(kind, *values):
    return min(n for n in range(2, 60) if all(kind(n).holds(v) for v in values))
low, high = signed(mine_a.bits).low, signed(mine_a.other).low
widths = {"count": math.ceil(math.log2(mine_a.count + 1)), "total": np.int64(mine_a.bits + math.ceil(math.log2(mine_a.samples))),
          "product": narrowest(signed, low * high), "span": float(narrowest(signed, mine_a.low, mine_a.high))}
"""
COMMAND_BY_HAND = """
class Command(Design):
    base = HostReg(signed(mine_b.bits))
    trim = HostReg(signed(mine_b.bits))
    command = HostReg(signed(mine_b.bits), access="ro")
    wide = Reg(signed(mine_b.bits + 3))

    @clocked
    def add(self):
        self.wide = resize(self.base, signed(mine_b.bits + 3)) + resize(self.trim, signed(mine_b.bits + 3))
        top, bottom = signed(mine_b.bits).high, signed(mine_b.bits).low
        held = top if self.wide > top else bottom if self.wide < bottom else self.wide
        self.command = resize(held, signed(mine_b.bits))
"""
COMMAND_BY_SIGNS = """
class Command(Design):
    base = HostReg(signed(mine_b.bits))
    trim = HostReg(signed(mine_b.bits))
    command = HostReg(signed(mine_b.bits), access="ro")

    @sequenced
    def add(self):
        wrapped = self.base + self.trim
        if self.base >= 0 and self.trim >= 0 and wrapped < 0:
            self.command = signed(mine_b.bits).high
        elif self.base < 0 and self.trim < 0 and wrapped >= 0:
            self.command = signed(mine_b.bits).low
        else:
            self.command = wrapped
"""
CORRECTED_FIXED = """
class Corrected(Design):
    raw = HostReg(unsigned(mine_c.bits))
    offset = HostReg(signed(8))
    value = HostReg(sfixed(mine_c.bits + 1, 0), access="ro")

    @clocked
    def correct(self):
        self.value = scalb(signed(mine_c.bits + 1)(self.raw), 0) - scalb(self.offset, 0)
"""
CORRECTED_IN_STEPS = """
class Corrected(Design):
    raw = HostReg(unsigned(mine_c.bits))
    offset = HostReg(signed(8))
    value = HostReg(signed(24), access="ro")
    wide = Reg(signed(24))

    @clocked
    def correct(self):
        self.wide = signed(24)(self.raw)
        self.value = -(resize(self.offset, signed(24)) - self.wide)
"""
SCALED_BY_SHIFT = """
class Scaled(Design):
    sample = HostReg(signed(16))
    gain = HostReg(signed(16))
    result = HostReg(signed(16), access="ro")
    product = Reg(signed(32))

    @clocked
    def scale(self):
        self.product = self.sample * self.gain
        self.result = resize(self.product >> mine_d.fraction, signed(16), overflow="saturate")
"""
SCALED_FIXED = """
class Scaled(Design):
    sample = HostReg(signed(16))
    gain = HostReg(sfixed(15 - mine_d.fraction, -mine_d.fraction))
    result = HostReg(signed(16), access="ro")

    @clocked
    def scale(self):
        self.result = resize(scalb(self.sample, 0) * self.gain, signed(16), round="truncate")
"""
ROUNDER_BY_TIES = """
class Rounder(Design):
    x = HostReg(signed(16))
    y = HostReg(signed(16 - mine_e.drop), access="ro")

    @clocked
    def round(self):
        down = self.x >> mine_e.drop
        rest = bits(self.x, mine_e.drop - 1, 0)
        half = 2 ** (mine_e.drop - 1)
        up = rest > half or (rest == half and down[0] != 0)
        top = 2 ** (15 - mine_e.drop) - 1
        self.y = resize(down if not up or down == top else down + 1, signed(16 - mine_e.drop))
"""
ROUNDER_ODD = """
class Rounder(Design):
    x = HostReg(signed(16))
    y = HostReg(signed(16 - mine_e.drop), access="ro")

    @clocked
    def round(self):
        wide = resize(self.x, signed(18))
        odd = (wide >> mine_e.drop)[0]
        nearest = (wide + (2 ** (mine_e.drop - 1)) - (1 if odd else 0)) >> mine_e.drop      # ties to the odd neighbour
        self.y = resize(nearest, signed(16 - mine_e.drop), overflow="saturate")
"""
LEVEL_RUNNING = """
class Level(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(unsigned(24), access="ro")
    taps = Regs(unsigned(24), mine_g.taps)
    total = Reg(unsigned(28))

    @clocked
    def measure(self):
        code = self.accel.value
        if self.accel.valid:
            size = unsigned(24)(code if code >= 0 else ~code if code == -2**23 else -code)
            self.total = self.total + size - self.taps[mine_g.taps - 1]
            for i in range(mine_g.taps - 1, 0, -1):
                self.taps[i] = self.taps[i - 1]
            self.taps[0] = size
        self.level = resize(self.total / mine_g.taps, unsigned(24))
"""
LEVEL_IN_TURN = """
class Level(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(30), access="ro")
    taps = Regs(signed(24), mine_g.taps)
    place = Reg(unsigned(4))
    total = Reg(signed(30))

    @sequenced
    def measure(self):
        code = self.accel.read()
        self.taps[self.place] = max(code, -2**23 + 1)
        self.place = 0 if self.place == mine_g.taps - 1 else self.place + 1
        self.total = 0
        tick()
        for i in range(mine_g.taps):
            self.total = self.total + abs(self.taps[i])
            tick()
        self.level = (self.total + mine_g.taps // 2) >> (mine_g.taps.bit_length() - 1)
"""
WATCH_IN_STEPS = """
class Watch(Design):
    level = HostReg(unsigned(24))
    restart = HostReg(bit)
    state = HostReg(unsigned(3), access="ro")
    relay = DigitalOut("fan B trip")
    lamp = DigitalOut("lamp")
    left = Reg(unsigned(9))
    count = Reg(unsigned(7))

    @sequenced
    def decide(self):
        self.relay = 0
        self.state = 0
        until(self.level > mine_h.limit)
        self.state = 1
        self.left = mine_h.hold - 2
        tick()
        while self.level > mine_h.limit and self.left > 0:
            self.left = self.left - 1
            tick()
        if self.level > mine_h.limit:
            self.state = 2
            self.relay = 1
            until(self.restart and self.level <= mine_h.limit)

    @clocked
    def alive(self):
        self.count = 0 if self.count == mine_h.blink - 1 else self.count + 1
        if self.count == 3:
            self.lamp = not self.lamp
"""
WATCH_ONE_LOOP = """
class Watch(Design):
    level = HostReg(unsigned(24))
    restart = HostReg(bit)
    state = HostReg(unsigned(2), access="ro")
    relay = DigitalOut("fan B trip")
    lamp = DigitalOut("lamp")
    loud = Reg(unsigned(10))
    beat = Reg(unsigned(7))
    tripped = Reg(bit)

    @clocked
    def all(self):
        above = self.level > mine_h.limit
        self.loud = 0 if not above else self.loud if self.loud == mine_h.hold else self.loud + 1
        self.tripped = self.loud == mine_h.hold or (self.tripped and not (self.restart and not above))
        self.relay = self.tripped
        self.state = 2 if self.tripped else 1 if above else 0
        self.beat = mine_h.blink - 1 if self.beat == 0 else self.beat - 1
        self.lamp = self.lamp != (self.beat == 0)
"""
MODEL_BY_LOOP = """
def cut(value, width):
    value &= 2**width - 1
    return value - 2**width if value >> (width - 1) else value

total, rows = 0, []
for code in codes:
    total = cut(total + int(code) ** 2, 32)
    rows.append(total)
office = {"square": int((np.array([mine_i.peak], dtype=np.int16) ** 2)[0]), "model": rows}
"""
MODEL_IN_INT32 = """
office = {"square": cut(mine_i.peak**2, 16) if "cut" in globals() else float(np.int64(mine_i.peak**2).astype(np.int16)),
          "model": np.cumsum(codes.astype(np.int32) ** 2, dtype=np.int32)}
"""

SECOND_WAYS = [
    ("03-a", "by types", WIDTHS_BY_TYPES),
    ("03-b", "by hand", COMMAND_BY_HAND),
    ("03-b", "by the signs", COMMAND_BY_SIGNS),
    ("03-c", "fixed point", CORRECTED_FIXED),
    ("03-c", "in two steps", CORRECTED_IN_STEPS),
    ("03-d", "by a shift", SCALED_BY_SHIFT),
    ("03-d", "fixed point", SCALED_FIXED),
    (
        "03-e",
        "by a list",
        "e = np.arange(2**mine_e.drop)\n"
        "price = {'cut': -e.mean() / 2**mine_e.drop, 'half': round(2.0 ** -(mine_e.drop + 1), 4)}",
    ),
    ("03-f", "by ties", ROUNDER_BY_TIES),
    ("03-f", "ties to odd", ROUNDER_ODD),
    ("03-g", "a running sum", LEVEL_RUNNING),
    ("03-g", "written in turn, added in time", LEVEL_IN_TURN),
    ("03-h", "in steps", WATCH_IN_STEPS),
    ("03-h", "one loop", WATCH_ONE_LOOP),
    ("03-i", "by a loop", MODEL_BY_LOOP),
    ("03-i", "in int32", MODEL_IN_INT32),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


@pytest.mark.parametrize("name", ["Million", "Power"])
def test_the_design_shown_is_the_design_judged(name):
    """exercises.py runs a copy of what the notebook shows."""
    exercises = (solved().source.folder / "exercises.py").read_text(encoding="utf-8")
    cells = "\n\n".join(c.source for c in solved().source.notebook.cells if f"class {name}(" in c.source)
    found = [
        next(node for node in ast.parse(text).body if isinstance(node, ast.ClassDef) and node.name == name)
        for text in (exercises, cells)
    ]
    shown, judged = ([ast.dump(part) for part in one.body[1:]] for one in found)  # docstrings may differ
    assert shown == judged


def test_an_early_check_can_be_run_again_at_the_end():
    """Each exercise keeps its numbers under a name of its own, so that going back to one needs no other cell."""
    last = solved().names["03-i"]
    for exercise in solved().source.lab.exercises.values():
        assert solved().judged(exercise.id, last[exercise.answer]).passed, exercise.id


def test_the_private_seed_moves_the_stimuli():
    """Two seeds, two sets of stimuli: nobody can answer with a stored reading."""
    for name, answer in (("03-b", "Command"), ("03-d", "Scaled"), ("03-g", "Level")):
        exercise = solved().source.lab[name]
        given = collect(exercise, solved().names[name][answer])
        assert len({judge(exercise, given, "second", seed).lines[0].measured for seed in range(4)}) == 4


def test_the_noise_visits_every_number_once():
    """What the text says of the shift register of 20 bits: all numbers but 0, then again from the start."""
    state, seen = 1, np.zeros(2**20, bool)
    for _ in range(2**20 - 1):
        assert not seen[state]
        seen[state] = True
        state = (state << 1 & 0xFFFFF) | (state >> 19 ^ state >> 16) & 1
    assert state == 1 and int(seen.sum()) == 2**20 - 1 and not seen[0]


@pytest.mark.parametrize("drop", [2, 3, 4, 5])
def test_the_measured_means_are_those_of_the_theory(drop):
    """Mean of a uniform error: -(1 - 2^-k)/2 for cutting, +2^-k/2 with half a step added (all ties up)."""
    cut, half = solved().source.lab["03-e"].judge.__globals__["mean_errors"](drop)
    assert abs(cut + (1 - 2.0**-drop) / 2) < 1e-5
    assert abs(half - 2.0**-drop / 2) < 1e-5


def test_the_panel_wraps_only_where_the_fan_is_loudest():
    """The run-up of the question: positive before and after, below -25 000 in between."""
    from simkit import s
    from simkit.bench import FanHouse, load

    rig = load(solved().names["03-a"]["Panel"], FanHouse(seed=3), record=["level"])
    rig.run(s(1.7))
    trace = rig.trace("level")
    seconds = trace.ticks[trace.values < 0] / 40e6
    assert trace.values.min() < -25_000 and trace.values.max() > 32_000
    assert 1.0 < seconds.min() and seconds.max() < 1.4
