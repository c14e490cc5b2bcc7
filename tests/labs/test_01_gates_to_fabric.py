"""Lab 01: right answers of another structure pass too, and what the notebook shows is what is judged."""

from __future__ import annotations

import ast
import functools
import re

import pytest

from simkit.build import build
from tests.labs.replay import ROOT, Replay, replay

LAB = "01_gates_to_fabric"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


FULL_FROM_GATES = """
class FullAdder(Design):
    a = HostReg(bit)
    b = HostReg(bit)
    carry_in = HostReg(bit)
    total = HostReg(bit, access="ro")
    carry_out = HostReg(bit, access="ro")

    @clocked
    def add(self):
        half = self.a ^ self.b
        self.total = half ^ self.carry_in
        self.carry_out = (self.a & self.b) | (half & self.carry_in)
"""
FULL_IN_TWO_STEPS = """
class FullAdder(Design):
    a = HostReg(bit)
    b = HostReg(bit)
    carry_in = HostReg(bit)
    total = HostReg(bit, access="ro")
    carry_out = HostReg(bit, access="ro")
    half = Reg(bit)
    both = Reg(bit)

    @clocked
    def add(self):
        self.half = table(0x6, self.a, self.b)
        self.both = table(0x8, self.a, self.b)
        self.total = table(0x6, self.half, self.carry_in)
        self.carry_out = table(0xEA, self.both, self.half, self.carry_in)
"""
RIPPLE_IN_TIME = """
class RippleAdder(Design):
    a = HostReg(unsigned(n))
    b = HostReg(unsigned(n))
    total = HostReg(unsigned(n + 1), access="ro")
    rest = Reg(unsigned(n))
    other = Reg(unsigned(n))
    word = Reg(unsigned(n + 1))
    carry = Reg(bit)

    @sequenced
    def add(self):
        self.rest = self.a
        self.other = self.b
        self.carry = 0
        tick()
        for _ in range(n):
            self.word = cat(table(0x96, self.rest[0], self.other[0], self.carry), bits(self.word, n, 1))
            self.carry = table(0xE8, self.rest[0], self.other[0], self.carry)
            self.rest = self.rest >> 1
            self.other = self.other >> 1
            tick()
        self.total = cat(self.carry, bits(self.word, n, 1))
"""
RIPPLE_FROM_PLACES = """
@combinational
def place(a, b, c):
    return table(0x6, table(0x6, a, b), c), table(0xE8, a, b, c)

class RippleAdder(Design):
    a = HostReg(unsigned(n))
    b = HostReg(unsigned(n))
    total = HostReg(unsigned(n + 1), access="ro")

    @clocked
    def add(self):
        word, carry = place(self.a[0], self.b[0], 0)
        for i in range(1, n):
            here, carry = place(self.a[i], self.b[i], carry)
            word = cat(here, word)
        self.total = cat(carry, word)
"""
SWAP_AS_PAIR = """
class Handover(Design):
    switch = DigitalIn("switch")
    duty = HostReg(unsigned(8), access="ro", reset=mine_d.duty)
    standby = HostReg(unsigned(8), access="ro", reset=mine_d.standby)

    @clocked
    def swap(self):
        if self.switch:
            self.duty, self.standby = self.standby, self.duty
"""
SWAP_IN_TWO_LOOPS = """
class Handover(Design):
    switch = DigitalIn("switch")
    duty = HostReg(unsigned(8), access="ro", reset=mine_d.duty)
    standby = HostReg(unsigned(8), access="ro", reset=mine_d.standby)

    @clocked
    def one(self):
        self.duty = self.standby if self.switch else self.duty

    @sequenced
    def other(self):
        if self.switch:
            self.standby = self.duty
"""
SWAP_BY_A_FLAG = """
class Handover(Design):
    switch = DigitalIn("switch")
    duty = HostReg(unsigned(8), access="ro", reset=mine_d.duty)
    standby = HostReg(unsigned(8), access="ro", reset=mine_d.standby)
    turned = Reg(bit)

    @clocked
    def swap(self):
        self.turned = self.turned ^ self.switch
        self.duty = mine_d.standby if self.turned else mine_d.duty
        self.standby = mine_d.duty if self.turned else mine_d.standby
"""
SECOND_WAYS = [
    ("01-a", "in decimal, as numpy", "tables = {name: np.int64(init) for name, init in tables.items()}"),
    ("01-b", "from gates", FULL_FROM_GATES),
    ("01-b", "in two steps", FULL_IN_TWO_STEPS),
    ("01-c", "in time", "from simkit import bits\n" + RIPPLE_IN_TIME),
    ("01-c", "from places", RIPPLE_FROM_PLACES),
    ("01-d", "as a pair", SWAP_AS_PAIR),
    ("01-d", "in two loops", SWAP_IN_TWO_LOOPS),
    ("01-d", "by a flag", SWAP_BY_A_FLAG),
    ("01-e", "as floats", "loops = {name: float(number) for name, number in loops.items()}"),
    ("01-f", "rounded", 'work = {**work, "one": round(work["one"], 2), "choice": " " + work["choice"].upper()}'),
    (
        "01-g",
        "rounded",
        'reaction = {**reaction, "late_percent": round(reaction["late_percent"]), '
        '"worst_us": round(reaction["worst_us"], 1)}',
    ),
    ("01-h", "in capitals", "crashed = {job: state.upper() for job, state in crashed.items()}"),
    ("01-i", "one piece more", 'costs = {**costs, "break_even": mine_i.masks // (mine_i.fpga - mine_i.chip) + 1}'),
]


@pytest.mark.parametrize(("exercise", "name", "code"), SECOND_WAYS, ids=[f"{e}-{n}" for e, n, _ in SECOND_WAYS])
def test_a_second_way_passes(exercise, name, code):
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


def test_every_exercise_has_a_second_way():
    assert {exercise for exercise, _, _ in SECOND_WAYS} == set(solved().source.lab.exercises)


@pytest.mark.parametrize("name", ["InSpace", "InTime", "Relays", "reactions", "Station"])
def test_what_is_shown_is_what_is_judged(name):
    """exercises.py runs a copy of what the notebook shows."""
    exercises = (solved().source.folder / "exercises.py").read_text(encoding="utf-8")
    cells = [
        c.source for c in solved().source.notebook.cells if f"class {name}(" in c.source or f"def {name}(" in c.source
    ]
    found = [
        next(node for node in ast.parse(text).body if getattr(node, "name", "") == name) for text in (exercises, *cells)
    ]
    assert len(found) == 2
    shown, judged = ([ast.dump(part) for part in one.body[1:]] for one in found)  # docstrings may differ
    assert shown == judged


@pytest.mark.parametrize(
    ("init", "gate"),
    [
        (0x1, lambda a, b, c, d: not (a or b)),
        (0x7, lambda a, b, c, d: not (a and b)),
        (0x9, lambda a, b, c, d: a == b),
        (0xCA, lambda a, b, c, d: b if c else a),
        (0xE8, lambda a, b, c, d: a + b + c >= 2),
        (0x96, lambda a, b, c, d: (a + b + c) % 2),
        (0x8000, lambda a, b, c, d: a and b and c and d),
        (0x6996, lambda a, b, c, d: (a + b + c + d) % 2),
    ],
)
def test_the_table_function_is_a_table(init, gate):
    """Every row of the notebook's table(), and the tables of well-known gates.

    NOR, NAND, XNOR, selector, majority, XOR of 3, AND of 4, XOR of 4: constants that yosys writes for these gates with ``synth -lut 4``
    (first input the lowest bit; noted by hand).
    """
    names = dict(solved().names["01-b"])
    code = f"""
class Whole(Design):
    row = HostReg(unsigned(4))
    output = HostReg(bit, access="ro")

    @clocked
    def always(self):
        self.output = table({init}, self.row[0], self.row[1], self.row[2], self.row[3])
rig = load(Whole)
outputs = []
for row in range({16 if init > 0xFF else 8 if init > 0xF else 4}):
    rig.host.row = row
    rig.run(ticks=3)
    outputs.append(rig.host.output)
"""
    from tests.labs.replay import run_code

    run_code(code, names, f"<table {init}>")
    assert names["outputs"] == [
        int(bool(gate(*((row >> k) & 1 for k in range(4))))) for row in range(len(names["outputs"]))
    ]


def test_each_choice_is_right_for_somebody():
    """A choice that is the same for everyone need not be worked out."""
    lab = solved().source.lab
    mine = [lab["01-f"].own(str(k)) for k in range(40)]
    assert {m.copies * m.clock > m.core for m in mine} == {True, False}
    assert all(abs(m.copies * m.clock / m.core - 1) > 0.2 for m in mine), "no near ties"
    mine = [lab["01-i"].own(str(k)) for k in range(40)]
    gaps = [m.volume * (m.fpga + m.download) / (2 * m.masks + m.volume * (m.chip + m.exchange)) for m in mine]
    assert {gap > 1 for gap in gaps} == {True, False} and all(abs(gap - 1) > 0.02 for gap in gaps)
    assert all(m.volume > m.masks / (m.fpga - m.chip) for m in mine), "without an upgrade the chip is always cheaper"


def test_deadlines_stand_clear_of_the_measured_times():
    """Whatever the seed, nobody's choice hangs on the last microsecond."""
    names = solved().names["01-g"]
    for seed in range(4):
        desktop, fabric = names["reactions"]("desktop", seed)
        real_time, _ = names["reactions"]("real-time", seed)
        assert desktop.max() > 4e-3 and real_time.min() > 5e-6 and real_time.max() < 40e-6
        assert 74.9e-9 <= fabric.min() and fabric.max() <= 100.1e-9


def test_the_text_shows_the_numbers_of_a_build():
    """As near as tools of another day come to them."""
    text = (ROOT / "solutions" / LAB / "lab.md").read_text(encoding="utf-8")
    names = solved().names["01-e"]
    for column, name in ((1, "InSpace"), (2, "InTime")):
        report = build(names[name](12))
        used = {use.resource: use.design for use in report.usage}
        for row, found in (("look-up tables", used["LUTs"]), ("flip-flops", used["flip-flops"])):
            assert int(shown(text, row)[column]) == pytest.approx(found, rel=0.1)
        reached = re.match(r"(\d+) MHz", shown(text, "clock that the tools reached")[column])
        assert int(reached[1]) == pytest.approx(report.rates[0].reached, rel=0.2)


def shown(text: str, row: str) -> list[str]:
    """The cells of a row of a table, by its first."""
    return [cell.strip() for cell in re.search(rf"^\| {row} \|.*$", text, re.M)[0].strip("|").split("|")]
