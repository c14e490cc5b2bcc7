"""Answers as data: what goes in comes out, what is wrong is refused in words, nothing hostile passes."""

import base64
import json

import numpy as np
import pytest

from simkit import Design as Source
from simkit import DigitalIn, DigitalOut, bit, clocked, operation
from simkit import Reg as Reg_
from simkit.check import answers
from simkit.check.kinds import NotDone, WrongKind
from simkit.netlist import BIT, Clock, Endpoint, Netlist, Node, Output, Reg


def through(kind, thing):
    """The answer as the judge sees it: over JSON and back."""
    return kind.restore(json.loads(json.dumps(kind.collect(thing))))


@pytest.mark.parametrize("thing", [3, 3.5, np.float32(2.5), np.int16(-4), np.array([1.25]), 10**30])
def test_numbers(thing):
    assert through(answers.Number(), thing) == thing


@pytest.mark.parametrize("thing", ["3", True, [3], float("nan"), float("inf"), 1j, object(), int, 1 << 2000])
def test_what_is_no_number(thing):
    with pytest.raises(WrongKind):
        answers.Number(unit="us").collect(thing)


def test_a_whole_number():
    assert through(answers.Number(whole=True), 4.0) == 4
    with pytest.raises(WrongKind, match="4.5 was given; a whole number is wanted"):
        answers.Number(whole=True).collect(4.5)


@pytest.mark.parametrize(
    "kind", [answers.Number(), answers.Text(), answers.Array(), answers.Design(), answers.Record(a=answers.Number())]
)
@pytest.mark.parametrize("placeholder", [None, ...])
def test_placeholders_are_not_done(kind, placeholder):
    with pytest.raises(NotDone):
        kind.collect(placeholder)


def test_choices():
    kind = answers.Text(("Fan A", "Fan B"))
    assert through(kind, " fan b ") == "Fan B"
    with pytest.raises(WrongKind, match="one of 'Fan A', 'Fan B'"):
        kind.collect("fan c")
    with pytest.raises(WrongKind):
        answers.Text().collect("x" * 200_000)


def test_arrays():
    kind = answers.Array(shape=(2, None), dtype="int32")
    array = through(kind, [[1, 2, 3], [4, 5, 6]])
    assert array.dtype == np.int32
    assert array.tolist() == [[1, 2, 3], [4, 5, 6]]
    assert through(answers.Array(), np.arange(5)[::2]).tolist() == [0, 2, 4]
    for wrong in ([1, 2], [[1], [2], [3]], "text", [["a"], ["b"]], {1: 2}, [[1, 2], [3]]):
        with pytest.raises(WrongKind):
            kind.collect(wrong)
    with pytest.raises(NotDone):
        answers.Array().collect([None, 2])


@pytest.mark.parametrize(
    "data",
    [
        None,
        3,
        {},
        {"bytes": "", "dtype": "O", "shape": [1]},
        {"bytes": "!!", "dtype": "float64", "shape": [1]},
        {"bytes": base64.b64encode(bytes(8)).decode(), "dtype": "float64", "shape": [2]},
        {"bytes": base64.b64encode(bytes(8)).decode(), "dtype": "float64", "shape": [-1]},
        {"bytes": base64.b64encode(bytes(8)).decode(), "dtype": "float64", "shape": [True]},
        {"bytes": base64.b64encode(bytes(8)).decode(), "dtype": "int64", "shape": [1]},
    ],
)
def test_hostile_array_data_is_refused(data):
    with pytest.raises(WrongKind):
        answers.Array().restore(data)


def test_records():
    kind = answers.Record(choice=answers.Text(("A", "B")), ticks=answers.Number(whole=True))
    assert through(kind, {"choice": "a", "ticks": 3, "more": 1}) == {"choice": "A", "ticks": 3}
    with pytest.raises(WrongKind, match="'ticks' is missing"):
        kind.collect({"choice": "A"})
    with pytest.raises(WrongKind, match="'ticks': 3.5 was given"):
        kind.collect({"choice": "A", "ticks": 3.5})
    with pytest.raises(NotDone):
        kind.collect({"choice": "A", "ticks": None})


def toggler(terminal="lamp"):
    """A register that turns over every tick, on an output."""
    return Netlist(
        "toggler",
        [Clock("fabric", 40_000_000)],
        regs=[Reg("on", BIT, 0, 0, 1)],
        nodes=[Node("reg", (), BIT, 0), Node("not", (0,), BIT)],
        outputs=[Output("lamp", BIT, 0, 0)],
        endpoints=[Endpoint("lamp", "digital_out", terminal, BIT, {"value": "lamp"})],
    )


def test_a_netlist_is_an_answer():
    kind = answers.Design([answers.Port("digital_out", terminal="lamp", type="bit")])
    assert through(kind, toggler()) == toggler()


class Part(Source):
    seen = Reg_(bit)

    @operation
    def step(self, x):
        pass


class Filled(Part):
    @operation
    def step(self, x):
        self.seen = x


class Whole(Source):
    switch, lamp = DigitalIn("switch"), DigitalOut("lamp")

    def __init__(self, part=Part):
        self.parts = [part()]

    @clocked
    def run(self):
        self.parts[0].step(self.switch)
        self.lamp = self.parts[0].seen


def test_an_empty_operation_of_a_part_is_not_done():
    for thing in (Whole, Whole()):
        with pytest.raises(NotDone):
            answers.Design().collect(thing)
    assert through(answers.Design(), Whole(Filled)).outputs


class Asking(Source):
    lamp = DigitalOut("lamp")

    def __init__(self):
        self.part = Part()

    @clocked
    def run(self):
        self.lamp = self.part.step(1)


def test_an_empty_operation_whose_value_is_used_is_not_done():
    with pytest.raises(NotDone):
        answers.Design().collect(Asking)


def test_missing_ports_are_named():
    with pytest.raises(WrongKind, match="needs a digital out at the terminal 'lamp'; its endpoints are: lamp"):
        answers.Design([answers.Port("digital_out", terminal="lamp")]).collect(toggler("horn"))
    with pytest.raises(WrongKind, match="must be unsigned"):
        answers.Design([answers.Port("digital_out", terminal="lamp", type="unsigned(8)")]).collect(toggler())


@pytest.mark.parametrize("data", [None, "", "{}", "[1]", "[" * 100_000, {"a": 1}, '{"format": "tickbench netlist 1"}'])
def test_hostile_netlists_are_refused(data):
    with pytest.raises(WrongKind):
        answers.Design().restore(data)


@pytest.mark.parametrize("thing", [3, "x", int, print, object()])
def test_what_is_no_design(thing):
    with pytest.raises(WrongKind, match="a design .* is wanted"):
        answers.Design().collect(thing)
