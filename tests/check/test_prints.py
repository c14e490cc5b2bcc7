"""Digests of answers: equal for the same circuit under other names, and nothing for what cannot be read."""

import json

import pytest

from simkit import Design, DigitalIn, DigitalOut, Reg, bit, clocked, compile_design
from simkit.check import Answer, Criterion, Exercise, answers
from simkit.check.prints import KEPT, print_of
from simkit.netlist import to_json


class First(Design):
    lamp, switch = DigitalOut("lamp"), DigitalIn("switch")
    held = Reg(bit)

    @clocked
    def run(self):
        self.held = self.switch
        self.lamp = self.held


class Second(Design):
    out, line = DigitalOut("lamp"), DigitalIn("switch")
    before = Reg(bit)

    @clocked
    def turn(self):
        self.before = self.line

        self.out = self.before


class Inverted(Design):
    lamp, switch = DigitalOut("lamp"), DigitalIn("switch")
    held = Reg(bit)

    @clocked
    def run(self):
        self.held = not self.switch
        self.lamp = self.held


def digest(data, kind=None):
    exercise = Exercise(
        "90-a",
        "t",
        points=1,
        objective="t",
        kind=kind or answers.Design(),
        judge=lambda *_: (),
        criteria=[Criterion("c", "c", points=1)],
    )
    return print_of(exercise, Answer("90-a", "given", data))


def text(design):
    return to_json(compile_design(design))


def test_names_and_places_do_not_count_and_logic_does():
    assert len(digest(text(First))) == 24
    assert digest(text(First)) == digest(text(Second))
    assert digest(text(First)) != digest(text(Inverted))


def test_a_design_in_a_record_counts_the_same():
    kind = answers.Record(design=answers.Design(), n=answers.Number())
    one, other, third = ({"design": text(d), "n": n} for d, n in ((First, 1), (Second, 1), (First, 2)))
    assert digest(one, kind) == digest(other, kind) != digest(third, kind)


@pytest.mark.parametrize(
    "data",
    [
        "{}",
        "[1]",
        "nothing",
        None,
        5,
        "[" * 100_000,
        json.dumps({"clocks": [[1]]}),
        json.dumps({p: [{}] for p in KEPT}),
    ],
)
def test_what_is_no_netlist_has_no_digest(data):
    assert digest(data) == ""
