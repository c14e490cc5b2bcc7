"""Rows and schedules straight from a netlist and what an engine recorded."""

import numpy as np

from simkit.engines.api import Recording, Trace
from simkit.netlist.model import Clock, Netlist, Node, Reg
from simkit.netlist.types import BIT, make
from simkit.view import parts_of, rows_of
from simkit.view.rows import Bus, Level, States


def plan():
    regs = [
        Reg("relay", BIT, 0, 0, 0),
        Reg("level", make("sfixed", 3, -4), 0, 0, 1),
        Reg("loop.state", make("unsigned", 2), 0, 1, 2, states=("idle", "scale")),
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
