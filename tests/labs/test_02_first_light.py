"""Lab 02: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools
import importlib.util
import re

import pytest

from simkit.build import build
from simkit.check.draw import Draw
from tests.labs.replay import ROOT, Replay, replay

LAB = "02_first_light"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


BLINK_IN_STEPS = """
class Blink(Design):
    lamp = DigitalOut("lamp")

    @sequenced(every=2 * mine_b.half)
    def blink(self):
        self.lamp = 1
        wait(mine_b.half)
        self.lamp = 0
"""
BLINK_DOWN = """
class Blink(Design):
    lamp = DigitalOut("lamp")
    left = Reg(unsigned(12), reset=mine_b.half - 1)

    @clocked
    def blink(self):
        self.left = self.left - 1
        if self.left == 0:
            self.left = mine_b.half - 1
            self.lamp = not self.lamp
"""
BLINK_COMPARED = """
class Blink(Design):
    lamp = DigitalOut("lamp")
    count = Reg(unsigned(16))

    @clocked
    def blink(self):
        self.count = 0 if self.count == 2 * mine_b.half - 1 else self.count + 1
        self.lamp = self.count < mine_b.half
"""
BLINK_TOP_BIT = """
class Blink(Design):
    lamp = DigitalOut("lamp")
    count = Reg(unsigned(mine_b.half.bit_length()))

    @clocked
    def blink(self):
        self.count = self.count + 1
        self.lamp = self.count[mine_b.half.bit_length() - 1]
"""
PRESSES_AT_ONCE = """
class Presses(Design):
    switch = DigitalIn("switch")
    before = Reg(bit, reset=1)
    away = Reg(unsigned(16))
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        down = not self.switch
        if down:
            self.away = 0
            if not self.before:
                self.presses = self.presses + 1
            self.before = 1
        elif self.away > mine_d.bounce:
            self.before = 0
        else:
            self.away = self.away + 1
"""
PRESSES_IN_STEPS = """
class Presses(Design):
    switch = DigitalIn("switch")
    presses = HostReg(unsigned(16), access="ro")

    @sequenced
    def count(self):
        wait(mine_d.bounce + 8)
        until(self.switch)
        wait(mine_d.bounce + 8)
        until(not self.switch)
        self.presses = self.presses + 1
"""
METER_IN_TWO_LOOPS = """
class Meter(Design):
    step = HostReg(unsigned(8), reset=mine_f.step)
    go = HostReg(bit)
    clear = HostReg(bit)
    total = HostReg(unsigned(32), access="ro")
    add = Reg(unsigned(8))

    @clocked
    def choose(self):
        self.add = self.step if self.go else 0

    @clocked
    def count(self):
        self.total = 0 if self.clear else self.total + self.add
"""
METER_IN_STEPS = """
class Meter(Design):
    step = HostReg(unsigned(8), reset=mine_f.step)
    go = HostReg(bit)
    clear = HostReg(bit)
    total = HostReg(unsigned(40), access="ro")

    @sequenced
    def count(self):
        if self.go:
            self.total = self.total + self.step
        if self.clear:
            self.total = 0
"""
TRIGGER_IN_STEPS = """
class Trigger(Design):
    a = DigitalIn("switch")
    b = DigitalIn("switch 2")
    c = DigitalIn("fan A pulse")
    lamp = DigitalOut("lamp 2")

    @sequenced
    def look(self):
        until(self.a and self.b and self.c)
        self.lamp = 1
        until(False)
"""
TRIGGER_BY_CODE = """
class Trigger(Design):
    x = DigitalIn("fan A pulse")
    y = DigitalIn("switch 2")
    z = DigitalIn("switch")
    lamp = DigitalOut("lamp 2")
    all = Reg(bit)

    @clocked
    def look(self):
        self.all = cat(self.x, self.y, self.z) == 7
        self.lamp = self.lamp or self.all
"""
SECOND_WAYS = [
    ("02-a", "rounded", 'choice = {**choice, "card": choice["card"].lower(), "code_uv": round(choice["code_uv"], 4)}'),
    ("02-b", "in steps", BLINK_IN_STEPS),
    ("02-b", "counting down", BLINK_DOWN),
    ("02-b", "compared", BLINK_COMPARED),
    ("02-b", "the top bit", BLINK_TOP_BIT),
    ("02-c", "floats", "counts = {name: float(value) for name, value in counts.items()}"),
    ("02-d", "at once", PRESSES_AT_ONCE),
    ("02-d", "in steps", PRESSES_IN_STEPS),
    ("02-e", "to the tick", 'totals = {**totals, "stopped": 1 + mine_e.step * (mine_e.first - 1)}'),
    ("02-f", "in two loops", METER_IN_TWO_LOOPS),
    ("02-f", "in steps", METER_IN_STEPS),
    ("02-g", "by logarithm", "import math\nsize = 1 + math.ceil(math.log2(mine_g.half))"),
    (
        "02-h",
        "rounded",
        'reading = {**reading, "slack_ns": round(reading["slack_ns"], 2), "gone": "self." + reading["gone"]}',
    ),
    ("02-i", "in steps", TRIGGER_IN_STEPS),
    ("02-i", "by code", TRIGGER_BY_CODE),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise: str, name: str, code: str):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


@pytest.mark.parametrize("name", ["Both", "Runs", "Changed", "Divider"])
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


def exercises():
    spec = importlib.util.spec_from_file_location("lab_02", solved().source.folder / "exercises.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_each_card_is_right_for_some_learner():
    """And in each need one kind of card takes the fewest, so that there is one answer."""
    lab, right = exercises(), set()
    for number in range(200):
        mine = type("Mine", (), lab.draw_need(Draw("card", number)))
        suited = {card.name: lab.cards_for(card, mine) for card in lab.CARDS.values() if not lab.lacks(card, mine)}
        best = [name for name, count in suited.items() if count == min(suited.values())]
        assert len(best) == 1, (vars(mine), suited)
        right.update(best)
    assert right == set(lab.CARDS)


STATION = '''
from simkit import Design, DigitalOut, HostReg, Reg, clocked, resize, signed, unsigned


class Smooth(Design):
    """A reading smoothed: a share of the difference is added in each tick."""

    raw = HostReg(signed(16))
    share = HostReg(signed(16))
    smooth = HostReg(signed(16), access="ro")
    largest = Reg(signed(16))

    @clocked
    def run(self):
        moved = (self.raw - self.smooth) * self.share
        self.smooth = self.smooth + resize(moved >> 8, signed(16))
        self.largest = self.raw if self.raw > self.largest else self.largest


class Hours(Design):
    """Counts seconds, and blinks once a second."""

    lamp = DigitalOut("lamp")
    ticks = Reg(unsigned(26))
    seconds = HostReg(unsigned(32), access="ro")
    spare = Reg(unsigned(8))

    @clocked
    def run(self):
        self.spare = self.spare + 1
        self.lamp = self.ticks < 20_000_000
        if self.ticks == 39_999_999:
            self.ticks = 0
            self.seconds = self.seconds + 1
        else:
            self.ticks = self.ticks + 1


class Peak(Design):
    """The sum of a reading, and its largest value."""

    raw = HostReg(signed(16))
    total = HostReg(signed(16), access="ro")
    largest = HostReg(signed(16), access="ro")
    before = Reg(signed(16))

    @clocked
    def run(self):
        self.before = self.raw
        self.total = self.total + self.raw
        self.largest = self.raw if self.raw > self.largest else self.largest
'''


@pytest.mark.parametrize("name", ["Smooth", "Hours", "Peak"])
def test_the_reports_of_02_h_are_builds(name, tmp_path):
    """The designs are not shown to learners: what they need is in the report."""
    (tmp_path / "station.py").write_text(STATION.lstrip(), encoding="utf-8")
    spec = importlib.util.spec_from_file_location("station", tmp_path / "station.py")
    station = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(station)
    report = build(getattr(station, name))
    lab = exercises()
    shown = next(text for text in lab.REPORTS if text.startswith(name))
    built, kept = lab.rows(report.text()), lab.rows(shown)
    assert {k: v for k, v in built.items() if k != "LUTs"} == {k: v for k, v in kept.items() if k != "LUTs"}
    assert built["LUTs"][0] == pytest.approx(kept["LUTs"][0], rel=0.2)  # tools of another day map a little otherwise
    reached = float(re.search(r"([0-9.]+) MHz reached", shown)[1])
    assert report.rates[0].reached == pytest.approx(reached, rel=0.3)
    assert report.warnings[0].split(": ")[1] in shown


def test_the_text_shows_the_numbers_of_a_build():
    """As near as tools of another day come to them."""
    text = (ROOT / "solutions" / LAB / "lab.md").read_text(encoding="utf-8")
    report = build(solved().names["02-h"]["First"])
    used = {use.resource: use.design for use in report.usage}
    assert f"`LUTs {used['LUTs']} of 24288`" in text and f"`flip-flops {used['flip-flops']} of 24288`" in text
    reached, slack = re.search(r"`40 MHz asked, ([0-9.]+) MHz reached: met by ([0-9.]+) ns`", text).groups()
    assert float(reached) == pytest.approx(report.rates[0].reached, rel=0.2)
    assert float(slack) == pytest.approx(25 - 1000 / float(reached), abs=0.01)


def test_each_report_is_short_of_something_else():
    lab = exercises()
    scarce = {max(lab.rows(text).items(), key=lambda row: row[1][0] / row[1][1])[0] for text in lab.REPORTS}
    assert scarce == {"LUTs", "flip-flops", "multipliers"}
