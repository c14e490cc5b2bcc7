"""Wrong answers made by machine."""

import json

import pytest
from click.testing import CliRunner

from instructor.author.alike import no_difference_seen, same_circuit, stimuli
from instructor.author.mutants import survey
from instructor.author.mutation import mutations
from simkit import Design, DigitalIn, DigitalOut, HostReg, Reg, bit, clocked, compile_design, unsigned
from simkit.cli import main

CELL = """
from simkit import Design
ticks = 40
log = run(Blinker, 3)

class Blinker(Design):
    lamp = DigitalOut("lamp")
    width = Reg(unsigned(8))

    @sequenced
    def blink(self):
        {body}
"""


def changes(body, kind):
    text = "### BEGIN SOLUTION\n" + body + "\n### END SOLUTION"
    cell = CELL.format(body=text.replace("\n", "\n        "))
    return [m.change for m in mutations(cell) if m.kind == kind]


@pytest.mark.parametrize(
    ("body", "kind", "wanted"),
    [
        ("wait(3)", "off by one", ["3 -> 4", "3 -> 2"]),
        ("wait(ticks - 1)", "off by one", ["wait(ticks - 1) -> wait(ticks - 1 + 1)", "1 -> 2", "1 -> 0"]),
        ("tick()", "tick dropped", ["tick() -> None"]),
        ("self.width = 1", "register dropped", ["self.width = 1 -> pass"]),
        ("x = 1", "register dropped", []),
        ("if self.width < 3: tick()", "boundary", ["self.width < 3 -> self.width <= 3"]),
        ("until(self.lamp)", "wrong edge or level", ["until(self.lamp) -> until(not self.lamp)"]),
        ("x = 1 if self.lamp else 2", "branches swapped", ["1 if self.lamp else 2 -> 2 if self.lamp else 1"]),
        ("x = a + b", "wrong operation", ["a + b -> a - b"]),
        ("x = a and not b", "wrong edge or level", ["not b -> b", "a and (not b) -> not a and b"]),
        ("x = a or b", "condition forgotten", ["a or b -> b", "a or b -> a"]),
        ("x = self.probe.read()", "stale read", ["self.probe.read() -> self.probe.value"]),
        ("x = resize(y, unsigned(8))", "wrong width", ["unsigned(8) -> unsigned(8 - 1)"]),
    ],
)
def test_each_kind_of_change(body, kind, wanted):
    assert sorted(changes(body, kind)) == sorted(wanted)


def test_only_the_solution_region_is_changed_and_nothing_is_run():
    cell = CELL.format(body="### BEGIN SOLUTION\n        wait(3)\n        ### END SOLUTION\n        wait(7)")
    found = mutations(cell)
    assert {m.change for m in found} == {"3 -> 4", "3 -> 2", "wait(3) -> None"}
    assert all("wait(7)" in m.code and "run(Blinker" not in m.code for m in found)
    assert mutations("%matplotlib inline") == []


class Follower(Design):
    key, lamp = DigitalIn("switch"), DigitalOut("lamp")
    limit = HostReg(unsigned(8), reset=9)
    count = Reg(unsigned(8))

    @clocked
    def follow(self):
        self.count = self.count + 1 if self.key and self.count < self.limit else 0
        self.lamp = self.count == 9


class Twin(Follower):
    @clocked
    def follow(self):
        if not self.key or self.count >= self.limit:
            self.count = 0
        else:
            self.count = self.count + 1
        self.lamp = self.count == 9


class Late(Follower):
    @clocked
    def follow(self):
        self.count = self.count + 1 if self.key and self.count <= self.limit else 0
        self.lamp = self.count == 9


class Other(Follower):
    more = DigitalOut("lamp 2")
    state = Reg(bit)


def test_designs_that_do_the_same_and_that_do_not():
    right, twin, late, other = map(compile_design, (Follower, Twin, Late, Other))
    assert same_circuit(right, compile_design(Follower))
    assert not same_circuit(right, twin)
    assert no_difference_seen(right, twin)
    assert not no_difference_seen(right, late)
    assert not no_difference_seen(right, other)  # other faces


def test_stimuli_are_the_same_every_time_and_fit():
    net = compile_design(Follower)
    one, two = stimuli(net, 3, 5000), stimuli(net, 3, 5000)
    assert (one.tick == two.tick).all() and (one.value == two.value).all()
    assert len(one.tick) > 20


def test_mutants_of_a_lab(source):
    found = survey(source)
    assert found.of("escaped") == []
    assert {m.mutation.change for m in found.of("caught")} >= {"1 -> 0", "wait(ticks - 1) -> wait(ticks - 1 + 1)"}
    assert {m.exercise for m in found.mutants} == {"90-c"}


def test_a_weak_check_lets_mutants_through_and_the_author_may_allow_them(source, tmp_path):
    path = source / "exercises.py"
    text = path.read_text()
    assert "gap == mine.ticks, gap" in text
    path.write_text(text.replace("gap == mine.ticks, gap", "abs(gap - mine.ticks) < 2, gap"))
    lost = survey(source).of("escaped")
    assert lost, "a tick more or less is forgiven now"
    wrong = source / "wrong_answers.py"
    entry = f"\nallowed = [Allowed('90-c', {lost[0].mutation.change!r}, 'for the test')]\n"
    wrong.write_text(wrong.read_text().replace("import WrongAnswer", "import Allowed, WrongAnswer") + entry)
    assert len(survey(source).of("allowed")) >= 1


def test_the_command(source, tmp_path):
    where = ["--solutions", str(source.parent), "--labs", str(tmp_path / "labs")]
    CliRunner().invoke(main, ["author", "build", *where])
    done = CliRunner().invoke(main, ["author", "verify", "--mutants", "--json", *where])
    row = json.loads(done.stdout)["labs"][0]
    assert done.exit_code == 0
    assert row["mutants"] == row["mutants_caught"] > 3
