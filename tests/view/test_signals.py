"""Rows and schedules straight from a netlist and what an engine recorded."""

import numpy as np
import pytest

from simkit import AnalogIn, Design, DigitalOut, Reg, clocked, ms, sequenced, signed, tick, us, wait
from simkit.bench import FanHouse, load
from simkit.engines.api import Recording, Trace
from simkit.netlist import model
from simkit.netlist.model import Clock, Netlist, Node
from simkit.netlist.types import BIT, make
from simkit.view import parts_of, rows_of, schedule_of, turns_in
from simkit.view.rows import Bus, Level, States


def plan():
    regs = [
        model.Reg("relay", BIT, 0, 0, 0),
        model.Reg("level", make("sfixed", 3, -4), 0, 0, 1),
        model.Reg("loop.state", make("unsigned", 2), 0, 1, 2, states=("idle", "scale")),
    ]
    nodes = [Node("reg", (), reg.type, i) for i, reg in enumerate(regs)]
    return Netlist("demo", clocks=[Clock("fabric", 40_000_000), Clock("slow", 10_000_000)], regs=regs, nodes=nodes)


def test_rows_know_type_states_and_clock():
    recording = Recording(["relay", "level", "loop.state"])
    for name in recording.names:
        recording.add(name, np.array([0, 5]), np.array([0, 1]))
    relay, level, state = rows_of(recording, netlist=plan())
    assert isinstance(relay, Level) and isinstance(level, Bus) and isinstance(state, States)
    assert level.words(-40) == "-2.5"
    assert state.words(1) == "scale" and state.per_tick == 4 and relay.per_tick == 1


def test_only_the_rows_asked_for():
    recording = Recording(["relay", "level"])
    assert [row.name for row in rows_of(recording, "level", netlist=plan())] == ["level"]


def test_parts_of_a_recorded_turn():
    state = Trace("s", np.array([0, 100, 140, 160, 300]), np.array([0, 1, 2, 0, 1]))
    parts = parts_of(state, ["read", "scale", "store"], 90, 170, waits=["read"])
    assert [(p.name, p.first, p.ticks, p.waits) for p in parts] == [
        ("read", 0, 10, True),
        ("scale", 10, 40, False),
        ("store", 50, 20, False),
        ("read", 70, 10, True),
    ]


class Paced(Design):
    """Every 30 us: five steps, a wait, a sample."""

    accel = AnalogIn("fan B bearing")
    lamp = DigitalOut("lamp")
    last = Reg(signed(24))

    @sequenced(every=us(30))
    def drive(self):
        self.lamp = 1
        for _ in range(5):
            tick()
        self.lamp = 0
        wait(100)
        self.last = self.accel.read()

    @clocked
    def idle(self):
        pass


@pytest.fixture(scope="module")
def rig():
    return load(Paced, FanHouse(seed=1), record="all").run(ms(1))


def test_turns_from_a_recorded_state(rig):
    turns = turns_in(rig, "drive")
    assert (turns.begin % 1200 == 0).all() and turns.period == 1200
    # The register is counted by the design itself: each due time that a turn runs over is one late turn.
    missed = sum((int(e) - 1) // 1200 - int(b) // 1200 for b, e in zip(turns.begin, turns.end, strict=True))
    assert missed > 0 and abs(missed - rig.late["drive"]) <= 1


def test_schedule_of_a_recorded_turn(rig):
    figure = schedule_of(rig, "drive", 3)
    assert "Schedule of a turn of" in figure.alt and "(waits)" in figure.alt
    assert "for 5" in figure.alt and "for 100 (waits)" in figure.alt


def test_schedule_refusals(rig):
    with pytest.raises(ValueError, match="'idle' is no loop that takes steps; loops with steps: drive"):
        schedule_of(rig, "idle")
    with pytest.raises(ValueError, match="turn 999 of drive is not in the recording"):
        schedule_of(rig, "drive", 999)
