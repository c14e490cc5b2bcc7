"""Constants that the tool finds as well: same values, fewer tables."""

from __future__ import annotations

import pytest

from simkit import (
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Reg,
    clocked,
    compile_design,
    sequenced,
    signed,
    unsigned,
    wait,
)
from simkit.build import estimate
from simkit.build.still import chosen_late, folded
from simkit.engines import Recording, make_engine
from simkit.netlist import check
from tests.build.corpus import CORPUS
from tests.netlist.random_netlists import random_events


class Unwritten(Design):
    """Registers that nothing writes: all of it is constant."""

    a = Reg(signed(16), reset=3)
    b = Reg(signed(16), reset=5)
    y = HostReg(signed(16), access="ro")

    @clocked
    def run(self):
        self.y = self.a + self.b if self.a < self.b else signed(16)(0)


class Paced(Design):
    """Waits for one of two constant times."""

    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    y = HostReg(unsigned(9), access="ro")

    @sequenced
    def run(self):
        long = unsigned(9)(300) if self.switch else unsigned(9)(100)
        self.lamp = not self.lamp
        self.y = long + 1
        wait(long)


@pytest.mark.parametrize("make", [Unwritten, Paced, CORPUS["start up"], CORPUS["queue 16"]])
def test_the_same_values(make):
    net = compile_design(make())
    made = check(chosen_late(folded(net)))
    events = random_events(net, 3, 300)
    assert traces(net, events) == traces(made, events)


def traces(net, events):
    engine = make_engine(net, 1, "native")
    recording = Recording([port.name for port in net.outputs])
    engine.record(recording)
    engine.run(300, events)
    return {n: (recording.trace(n).ticks.tolist(), recording.trace(n).values.tolist()) for n in recording.names}


def test_what_never_changes_takes_no_tables():
    assert estimate(Unwritten).usage["LUTs"] <= 1  # yosys: 0


def test_arithmetic_on_a_choice_of_constants_takes_no_chain():
    nodes = chosen_late(folded(compile_design(Paced))).nodes
    assert not [n for n in nodes if n.op in ("add", "sub") and nodes[n.args[0]].op == "mux"]
