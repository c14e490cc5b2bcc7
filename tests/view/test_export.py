"""Exports are read back by general libraries that know nothing of this project."""

import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vcd.reader import TokenKind, tokenize
from vcdvcd import VCDVCD

from simkit.engines.api import Trace
from simkit.netlist.model import Clock
from simkit.netlist.types import BIT, make
from simkit.view.export import ExportFault, Wire, narrowest, to_vcd, to_wavejson, wires_of, write_vcd

SLOW = Clock("slow", 3)


def trace(name, *changes):
    return Trace(name, np.array([t for t, _ in changes], np.int64), np.array([v for _, v in changes], object))


def read_back(text):
    """Changes by full name as (time, bits), read by vcdvcd."""
    found = VCDVCD(vcd_string=text)
    return found, {name: found[name].tv for name in found.signals}


def test_times_and_values_come_back():
    relay, level = trace("relay", (0, 0), (5, 1), (9, 0)), trace("guard.level", (0, -2), (5, 7), (6, -8))
    found, changes = read_back(to_vcd([Wire(relay, BIT), Wire(level, make("signed", 4))], design="FanGuard"))
    # 40 MHz: tick 5 begins at 125 ns.  IEEE Std 1364-2005, 18.2.1: b-values are right-justified, padded with 0.
    assert found.timescale["timescale"] * 10**9 == 1
    assert changes["FanGuard.relay"] == [(0, "0"), (125, "1"), (225, "0")]
    assert [(t, int(v, 2)) for t, v in changes["FanGuard.guard.level[3:0]"]] == [(0, 14), (125, 7), (150, 8)]


def test_a_signal_that_begins_late_is_unknown_before():
    _, changes = read_back(to_vcd([Wire(trace("x", (4, 1)), BIT)]))
    assert changes["design.x"] == [(0, "x"), (100, "1")]


def test_a_second_clock_keeps_its_own_edges():
    _, changes = read_back(to_vcd([Wire(trace("a", (0, 0), (1, 1)), BIT), Wire(trace("b", (0, 0), (1, 1)), BIT, SLOW)]))
    # A third of a second is no whole number of any unit, so the file counts picoseconds and rounds down.
    assert changes["design.a"][1][0] == 25_000
    assert changes["design.b"][1][0] == 333_333_333_333


def test_pyvcd_reads_the_same_file(tmp_path):
    path = tmp_path / "größe run.vcd"
    write_vcd(
        path, [Wire(trace("α ß", (0, 1), (3, 200)), make("ufixed", 3, -4))], design="fan house", comment="invented $end"
    )
    tokens = list(tokenize(io.BytesIO(path.read_bytes())))
    kinds = [token.kind for token in tokens]
    assert kinds.count(TokenKind.VAR) == 1 and kinds.count(TokenKind.SCOPE) == kinds.count(TokenKind.UPSCOPE) == 1
    var = next(token.var for token in tokens if token.kind is TokenKind.VAR)
    assert (var.size, var.reference) == (8, "___")
    vectors = [token.vector_change.value for token in tokens if token.kind is TokenKind.CHANGE_VECTOR]
    assert vectors == [1, 200]
    assert "ufixed(3, -4)" in path.read_text()


def test_names_that_become_equal_stay_apart():
    wires = [Wire(trace("fan B trip", (0, 0), (2, 1)), BIT), Wire(trace("fan_B_trip", (0, 0), (3, 1)), BIT)]
    _, changes = read_back(to_vcd(wires))
    assert changes["design.fan_B_trip"][-1] == (50, "1") and changes["design.fan_B_trip_2"][-1] == (75, "1")


values = st.integers(-(1 << 69), (1 << 69) - 1)
steps = st.lists(st.tuples(st.integers(1, 10**6), values), min_size=1, max_size=20)


@settings(max_examples=40, deadline=None)
@given(st.lists(steps, min_size=1, max_size=100))
def test_any_recording_comes_back(recording):
    wires = []
    for index, changes in enumerate(recording):
        ticks = np.cumsum([step for step, _ in changes]) - changes[0][0]
        wires.append(
            Wire(
                Trace(f"part{index % 3}.s{index}", ticks, np.array([v for _, v in changes], object)), make("signed", 70)
            )
        )
    _, changes = read_back(to_vcd(wires))
    for wire in wires:
        got = [(t, make("signed", 70).wrap(int(v, 2))) for t, v in changes[f"design.{wire.trace.name}[69:0]"]]
        assert got == [(int(t) * 25, v) for t, v in zip(wire.trace.ticks, wire.trace.values, strict=True)]


def test_refusals():
    with pytest.raises(ExportFault, match="these signals are there twice: x"):
        to_vcd([Wire(trace("x", (0, 0)), BIT)] * 2)
    with pytest.raises(ExportFault, match=r"9 does not fit unsigned\(3\)"):
        to_vcd([Wire(trace("x", (0, 9)), make("unsigned", 3))])
    with pytest.raises(ExportFault, match="2001 steps"):
        to_wavejson([Wire(trace("x", (0, 0)), BIT)], 0, 2001)
    with pytest.raises(ExportFault, match="one time step"):
        to_wavejson([Wire(trace("x", (0, 0)), BIT), Wire(trace("y", (0, 0)), BIT, SLOW)])


def played(entry):
    """Values tick by tick from the notation: ``.`` holds, ``=`` takes the next text of ``data``."""
    data, now, found = iter(entry.get("data", ())), None, []
    for sign in entry["wave"]:
        now = now if sign == "." else next(data) if sign == "=" else sign
        found.append(now)
    return found


def test_wavejson_plays_back():
    wires = [
        Wire(trace("relay", (2, 0), (4, 1)), BIT),
        Wire(trace("x", (0, -40), (3, 24)), make("sfixed", 3, -4)),
        Wire(trace("state", (0, 1), (5, 0)), make("unsigned", 2)),
    ]
    whole = json.loads(to_wavejson(wires, 0, 6, title="Guard", states={"state": ["idle", "scale"]}))
    relay, x, state = whole["signal"]
    assert played(relay) == ["x", "x", "0", "0", "1", "1"]
    assert played(x) == ["-2.5"] * 3 + ["1.5"] * 3
    assert played(state) == ["scale"] * 5 + ["idle"]
    assert whole["head"] == {"tick": 0, "text": "Guard"}


def test_wavejson_of_a_stretch_begins_with_the_held_value():
    (entry,) = json.loads(to_wavejson([Wire(trace("x", (0, 1), (100, 0)), BIT)], 50, 102))["signal"]
    assert entry["wave"] == "1" + "." * 49 + "0."


@pytest.mark.parametrize(
    ("raws", "kind"),
    [
        ((0, 1), "bit"),
        ((0, 2), "unsigned(2)"),
        ((-1, 0), "signed(1)"),
        ((-1, 1), "signed(2)"),
        ((-128, 127), "signed(8)"),
        ((), "bit"),
    ],
)
def test_narrowest_type(raws, kind):
    found = narrowest(trace("x", *enumerate(raws)))
    assert str(found) == kind and all(found.holds(raw) for raw in raws)


def test_wires_take_given_types():
    wires = wires_of([trace("a", (0, 3)), trace("b", (0, 3))], {"a": make("unsigned", 8)})
    assert [str(wire.type) for wire in wires] == ["unsigned(8)", "unsigned(2)"]
