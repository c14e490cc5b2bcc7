"""Lab 08: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools

import pytest

from simkit.dsp.queues import burst_depth, stall_depth
from tests.labs.replay import Replay, replay

LAB = "08_passing_data"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


BY_HAND_QUEUE = """
class Station(Design):
    sensor = AnalogIn("fan A bearing")
    newest = HostReg(signed(24), access="ro")
    total = HostReg(signed(40), access="ro")
    store = Ram(signed(24), 16)
    head = Reg(unsigned(5))
    tail = Reg(unsigned(5))

    @clocked
    def take(self):
        if self.sensor.valid:
            self.newest = self.sensor.value
            self.store[bits(self.head, 3, 0)] = self.sensor.value
            self.head = self.head + 1

    @sequenced
    def book(self):
        until(self.head != self.tail)
        value = self.store.read(bits(self.tail, 3, 0))
        self.tail = self.tail + 1
        wait(mine_b.work)
        self.total = self.total + value
"""
FLAG_FIRST = """
class Counted(Design):
    sensor = AnalogIn("fan A bearing")
    hold = HostReg(bit)
    clear = HostReg(bit)
    taken = HostReg(unsigned(16), access="ro")
    lost = HostReg(unsigned(8), access="ro")
    overflow = HostReg(bit, access="ro")
    queue = Fifo(signed(24), mine_d.depth)
    room = Reg(unsigned(8), reset=255)

    @sequenced
    def reader(self):
        until(not self.hold and self.queue.valid)
        value = self.queue.get()
        self.taken = self.taken + 1

    @clocked
    def writer(self):
        lose = self.sensor.valid and not self.queue.ready
        if self.sensor.valid and self.queue.ready:
            self.queue.try_put(self.sensor.value)
        self.overflow = lose or (self.overflow and not self.clear)
        if lose and self.room != 0:
            self.room = self.room - 1
        self.lost = 255 - self.room
"""
FROZEN_COPY = """
class Stamp(Design):
    ask = HostReg(bit)
    low = HostReg(unsigned(16), access="ro")
    high = HostReg(unsigned(16), access="ro")
    now = Reg(unsigned(32), reset=mine_f.first)
    copy = Reg(unsigned(32))

    @clocked
    def count(self):
        self.now = self.now + 1

    @sequenced
    def stamp(self):
        until(self.ask)
        self.copy = self.now
        tick()
        self.low = bits(self.copy, 15, 0)
        tick()
        self.high = bits(self.copy, 31, 16)
        until(not self.ask)
"""
QUARTER_WAVE = """
class Sine(Design):
    angle = HostReg(unsigned(10))
    out = HostReg(signed(12), access="ro")
    quarter = Rom(signed(12), [round(float(x)) for x in mine_g.amplitude * np.sin(2 * np.pi * (np.arange(256) + 0.5) / 1024)])

    @sequenced
    def look(self):
        place = bits(self.angle, 7, 0)
        value = self.quarter.read(~place if self.angle[8] else place)
        self.out = -value if self.angle[9] else value
"""
COMPLETE_BLOCK = """
from simkit.blocks import Recorder
class Snapshot(Design):
    sensor = AnalogIn("fan A bearing")
    index = HostReg(unsigned(6))
    word = HostReg(signed(24), access="ro")
    done = HostReg(bit, access="ro")

    def __init__(self):
        self.kept = Recorder(signed(24), 64, mine_h.before)

    @clocked
    def record(self):
        if self.sensor.valid:
            self.kept.step(self.sensor.value, self.sensor.value >= mine_h.level)
        self.done = self.kept.done

    @sequenced
    def show(self):
        self.word = self.kept.read(self.index)
"""
COUNTING_UP = """
class Snapshot(Design):
    sensor = AnalogIn("fan A bearing")
    index = HostReg(unsigned(6))
    word = HostReg(signed(24), access="ro")
    done = HostReg(bit, access="ro")
    store = Ram(signed(24), 64)
    next = Reg(unsigned(6), reset=17)
    oldest = Reg(unsigned(6))
    stored = Reg(unsigned(7))
    stopped = Reg(unsigned(6))
    state = Reg(unsigned(2))

    @clocked
    def record(self):
        if self.sensor.valid and self.state != 2:
            self.store[self.next] = self.sensor.value
            self.next = self.next + 1
            if self.stored < mine_h.before:
                self.stored = self.stored + 1
            if self.state == 0 and self.stored >= mine_h.before and self.sensor.value >= mine_h.level:
                self.state = 1
                self.oldest = self.next - mine_h.before
            if self.state == 1 and self.next + 1 == self.oldest:
                self.state = 2
                self.done = 1

    @sequenced
    def show(self):
        value = self.store.read(self.oldest + self.index)
        self.word = value
"""
ROUND_ROBIN = """
from simkit.blocks import RoundRobin
class Sharing(Design):
    request = HostReg(unsigned(4))
    grant = HostReg(unsigned(4), access="ro")
    left = Reg(unsigned(8))

    def __init__(self):
        self.next = RoundRobin(4)

    @clocked
    def serve(self):
        if self.left == 0:
            chosen = self.next.step(self.request)
            self.grant = chosen
            self.left = mine_i.hold - 1 if chosen != 0 else 0
        else:
            self.left = self.left - 1
"""


@pytest.mark.parametrize(
    ("exercise", "code"),
    [
        ("08-b", BY_HAND_QUEUE),
        ("08-d", FLAG_FIRST),
        ("08-f", FROZEN_COPY),
        ("08-g", QUARTER_WAVE),
        ("08-h", COMPLETE_BLOCK),
        ("08-h", COUNTING_UP),
        ("08-i", ROUND_ROBIN),
    ],
)
def test_a_second_way_passes(exercise, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


@pytest.mark.parametrize("name", ["Shared", "Pipe", "Torn"])
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


@pytest.mark.parametrize(("words", "write", "read"), [(120, 5, 8), (150, 2, 5), (90, 4, 5)])
def test_depth_by_formula_is_depth_by_simulation(words, write, read):
    """120 words written every 5 and read every 8 (80 and 50 MHz with 400 MHz ticks) need 45 or 46: hand calculation."""
    judged = solved().source.lab["08-c"].judge.__globals__
    mine = type("Mine", (), {"burst": words, "write": write, "read": read})
    needed = next(depth for depth in range(1, words) if judged["_lost_burst"](mine, depth) == 0)
    assert abs(needed - burst_depth(words, 1 / write, 1 / read)) <= 1
    assert (words, needed in (45, 46)) in ((words, True), (150, False), (90, False))


def test_a_stall_needs_the_words_that_come_meanwhile():
    judged = solved().source.lab["08-c"].judge.__globals__
    mine = type("Mine", (), {"every": 800, "stall_ms": 5})
    needed = stall_depth(50_000, 1, 5e-3)  # 50 kHz for 5 ms: 250 words
    assert needed == 250
    assert judged["_lost_stall"](mine, needed + 2) == 0 < judged["_lost_stall"](mine, needed - 2)
