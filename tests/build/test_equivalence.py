"""The synthesised netlist, written back and simulated, against the engines; memories and multipliers are where the language promises."""

from __future__ import annotations

import pytest

from simkit import compile_design
from simkit.netlist import Node
from tests.build.corpus import CORPUS
from tests.build.lab_designs import SOLUTIONS, lab_designs
from tests.build.postsynth import compare

PROMISES = {
    "moving average 256": {"DP16KD": 1},
    "small ram": {"TRELLIS_DPR16X4": 2},
    "squares 4": {"MULT18X18D": 4},
    "wide product": {"MULT18X18D": 4},
    "queue 512": {"DP16KD": 1},
    "ramp": {},
    "paced": {},
}


@pytest.mark.parametrize("name", PROMISES)
def test_the_chip_does_what_the_engine_says(name):
    found = compare(compile_design(CORPUS[name]()), ticks=300)
    assert found.difference == ""
    for cell, count in PROMISES[name].items():
        assert found.cells.get(cell, 0) == count, found.cells


def test_designs_of_a_lab_as_its_notebook_defines_them():
    """A slice; the benchmark compares every design of every lab."""
    found = lab_designs(SOLUTIONS / "05_keeping_time")
    assert {"05 PulseTimer", "05 Tacho", "05 Pwm"} <= set(found)
    for name in ("05 PulseTimer", "05 Tacho", "05 Pwm"):
        assert compare(found[name], ticks=300).difference == "", name


def test_a_circuit_with_one_constant_changed_is_noticed(monkeypatch):
    """The comparison can fail: the chip gets a step of 2 where the engine counts by 1."""
    import tests.build.postsynth as postsynth

    net = compile_design(CORPUS["tacho"]())
    right = postsynth.suited

    def wrong(netlist):
        made = right(netlist)
        at = next(i for i, n in enumerate(made.nodes) if n.op == "const" and n.attr == 1 and n.type.width > 8)
        made.nodes[at] = Node("const", (), made.nodes[at].type, 2)
        return made

    monkeypatch.setattr(postsynth, "suited", wrong)
    assert "in the engine" in compare(net, ticks=100).difference
