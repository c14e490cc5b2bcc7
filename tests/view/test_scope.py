"""The kernel's half of the scope: exact windows, search, cursors."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.engines.api import Trace
from simkit.netlist.types import make
from simkit.view import Bus, Curve, Level, Scope, States, Turns
from simkit.view.export import ExportFault
from simkit.view.pyramid import Pyramid
from simkit.view.search import SearchFault, find


def trace(name, *changes):
    return Trace(name, np.array([t for t, _ in changes], np.int64), np.array([v for _, v in changes], np.int64))


def noise(seed, count, dense=3):
    rng = np.random.default_rng(seed)
    return Trace("noise", np.cumsum(rng.integers(1, dense, count)), rng.integers(-999, 999, count))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 99), st.integers(100, 40_000), st.floats(0, 0.9), st.floats(0.01, 1), st.integers(1, 60))
def test_a_window_shows_every_extreme(seed, count, at, part, columns):
    signal = noise(seed, count)
    length = int(signal.ticks[-1])
    start, stop = at * length, at * length + part * length + 4
    x, y = Pyramid(signal).points(start, stop, columns)
    inside = (signal.ticks >= start) & (signal.ticks < stop)
    if inside.any():
        before = signal.values[np.flatnonzero(inside)[0] - 1 :][:1] if not inside[0] else signal.values[:0]
        assert max(y) == max([*signal.values[inside], *before]) and min(y) == min([*signal.values[inside], *before])
        assert y[-1] == signal.values[inside][-1]
    assert len(x) <= max(4 * columns + 1, 16 * columns + 2)
    assert (np.diff(x) >= 0).all()


def test_extremes_column_by_column_of_a_million_changes():
    signal = noise(5, 1_000_000)
    length = float(signal.ticks[-1]) + 1
    x, y = Pyramid(signal).points(0, length, 500)
    column, drawn = (signal.ticks * 500 / length).astype(int), (x * 500 / length).astype(int)
    for k in range(0, 500, 37):
        assert max(y[drawn == k]) == signal.values[column == k].max()
        assert min(y[drawn == k]) == signal.values[column == k].min()


@pytest.mark.parametrize("span", [1.0, 0.3, 1e-4])
def test_ten_million_changes_answer_at_once(span):
    signal = noise(2, 10_000_000)
    pyramid = Pyramid(signal)
    length = float(signal.ticks[-1])
    pyramid.points(0, length, 3000)
    ticks, values = pyramid.points(0, length * span, 3000)[:2]
    assert 0 < len(ticks) <= 4 * 3000 + 2 and len(ticks) == len(values)  # four corners a pixel column


def test_slabs_find_the_calm_between_two_storms():
    storm = np.arange(0, 50_000)
    signal = Trace("s", np.concatenate([storm, storm + 100_000]), np.arange(100_000) % 7)
    found = Pyramid(signal).slabs(0, 150_000, 300)
    assert found.busy.tolist() == [True, False, True, False]
    assert found.begin.tolist() == [0, 49_999, 100_000, 149_999]
    assert found.value[1] == 49_999 % 7


def test_slabs_begin_with_the_held_value():
    signal = Trace("s", np.concatenate([[0], np.arange(100_000, 150_000)]), np.arange(50_001) + 5)
    found = Pyramid(signal).slabs(50_000, 150_000, 300)
    assert (found.begin[0], found.value[0], found.busy[0]) == (50_000, 5, False)


LEVEL = Bus(trace("level", (0, 0), (10, 40), (20, -8), (30, 40), (40, 41)), type=make("sfixed", 5, -4))
STATE = States(trace("state", (0, 0), (15, 2), (35, 0)), names=["idle", "scale", "store"])


@pytest.mark.parametrize(
    ("row", "kind", "value", "after", "back", "tick"),
    [
        (LEVEL, "change", "", -1, False, 10),
        (LEVEL, "change", "", 10, False, 20),
        (LEVEL, "change", "", 30, True, 20),
        (LEVEL, "change", "", 10, True, None),
        (LEVEL, "rise", "", 10, False, 30),
        (LEVEL, "fall", "", 0, False, 20),
        (LEVEL, "equals", "2.5", 10, False, 30),
        (LEVEL, "equals", "0.03", 0, False, None),
        (LEVEL, "reaches", "2.55", 0, False, 40),
        (LEVEL, "drops below", "-0,4", 0, False, 20),
        (STATE, "equals", "store", 0, False, 15),
        (STATE, "equals", "0", 20, False, 35),
        (Curve(LEVEL.trace, scale=0.5), "equals", "20.5", 0, False, 40),
        (Bus(LEVEL.trace), "equals", "0x29", 0, False, 40),
        (Level(trace("slow", (0, 0), (5, 1)), per_tick=4), "rise", "", 0, False, 20),
    ],
)
def test_search(row, kind, value, after, back, tick):
    assert find(row, kind, value, after, back=back) == tick


def test_search_goes_past_many_chunks():
    long = Trace("x", np.arange(1_000_000), np.zeros(1_000_000, np.int64))
    long.values[700_000] = 1
    assert find(Bus(long), "rise") == 700_000
    assert find(Bus(long), "fall", after=999_999, back=True) == 700_001


def test_search_refuses_what_it_cannot_find():
    with pytest.raises(SearchFault, match="'wobble' cannot be looked for; choose change"):
        find(LEVEL, "wobble")
    with pytest.raises(
        SearchFault, match="'stor' is no number; write a number such as .* or one of idle, scale, store"
    ):
        find(STATE, "equals", "stor")


@pytest.fixture
def scope():
    made = Scope([LEVEL, STATE, Curve(LEVEL.trace, label="curve", unit="V")], tick_s=25e-9)
    made.sent = []
    made.send = lambda content, buffers=None: made.sent.append((content, buffers))
    return made


def test_cursors_read_values_and_the_difference(scope):
    scope.cursor_a, scope.cursor_b = 20, 40
    assert scope.values == [["-0.5", "2.5625"], ["store", "idle"], ["-8 V", "41 V"]]
    assert "A: tick 20 = 500 ns" in scope.readout and "B − A: 20 ticks = 500 ns" in scope.readout


def test_a_window_is_answered_with_what_the_rows_hold(scope):
    scope._asked(None, {"ask": "window", "start": 0, "stop": 50, "columns": 100, "number": 3}, None)
    content, buffers = scope.sent[-1]
    level, state, curve = (row["parts"][0] for row in content["rows"])
    assert level["texts"] == {0: "0", 1: "2.5", 2: "-0.5", 3: "2.5", 4: "2.5625"}
    assert list(state["texts"].values()) == ["idle", "store", "idle"]
    assert np.frombuffer(buffers[0]).tolist() == [0, 10, 20, 30, 40]
    assert np.frombuffer(buffers[11]).tolist() == [0, 40, -8, 40, 41] and curve["points"] == 5


def test_a_search_from_the_page(scope):
    ask = {"ask": "search", "row": 1, "kind": "equals", "value": "store", "after": 0, "back": False}
    scope._asked(None, ask, None)
    assert scope.sent[-1][0]["tick"] == 15
    scope._asked(None, {**ask, "value": "?"}, None)
    assert scope.sent[-1][0]["tick"] is None and "is no number" in scope.sent[-1][0]["text"]
    scope._asked(None, {**ask, "after": 20}, None)
    assert "not found after tick 20" in scope.sent[-1][0]["text"]


def test_a_static_picture_of_the_same(scope):
    scope.shown, scope.cursor_a = [5.0, 35.0], 20
    assert "ticks 5 to 35" in scope.picture().alt and "A: 20" in scope.picture().alt


def test_export_of_what_is_shown(scope, tmp_path):
    text = scope.vcd(tmp_path / "scope.vcd").read_text()
    assert "level" in text and "sfixed(5, -4)" in text
    scope.shown = [5.0, 35.0]
    whole = json.loads(scope.wavejson(tmp_path / "scope.json", title="now").read_text())
    assert whole["head"] == {"tick": 5, "text": "now"} and {len(one["wave"]) for one in whole["signal"]} == {30}
    assert "store" in next(one for one in whole["signal"] if one["name"] == "state")["data"]
    scope.shown = [0.0, 5000.0]
    with pytest.raises(ExportFault, match="WaveJSON holds 1 to 2000"):
        scope.wavejson(tmp_path / "long.json")


def test_a_rig_that_runs_on_is_followed():
    class Rig:
        netlist, ticks, recorded = None, 100, ("x",)

        def trace(self, name):
            return trace(name, (0, 0), (self.ticks - 10, 1))

    from simkit.netlist.model import Netlist

    rig = Rig()
    rig.netlist = Netlist("n")
    scope = Scope(rig, start=50)
    assert scope.span == [0.0, 100.0]
    rig.ticks, scope.follow = 300, True
    scope.refresh()
    assert scope.span == [0.0, 300.0] and scope.shown == [250.0, 300.0]


def test_refusals():
    with pytest.raises(TypeError, match="belongs into a timing diagram"):
        Scope([Turns(np.array([0]), np.array([5]))])
    with pytest.raises(ValueError, match="at least one recorded signal"):
        Scope([])
    with pytest.raises(SearchFault, match="there is no row 'x'; rows: level"):
        Scope([LEVEL]).find("x")


def test_a_rig_that_has_not_run_yet_shows_nothing_and_does_not_fail():
    nothing = [Trace(name, np.empty(0, np.int64), np.empty(0, np.int64)) for name in ("a", "b", "c")]
    scope = Scope([Level(nothing[0]), Bus(nothing[1]), Curve(nothing[2])])
    sent = []
    scope.send = lambda content, buffers=None: sent.append(content)
    scope._asked(None, {"ask": "window", "start": 0, "stop": 50, "columns": 100}, None)
    assert [row["parts"][0]["points"] for row in sent[0]["rows"]] == [0, 0, 0]
    assert find(Bus(nothing[1]), "change") is None
    assert scope.picture().alt


def test_recorded_and_expected_together():
    wrong, right = trace("relay", (0, 0), (219, 1), (300, 0)), trace("relay", (0, 0), (230, 1), (300, 0))
    scope = Scope([Level(wrong, expected=right), Bus(wrong, expected=right, label="bus")])
    sent = []
    scope.send = lambda content, buffers=None: sent.append((content, buffers))
    scope._asked(None, {"ask": "window", "start": 0, "stop": 400, "columns": 100}, None)
    content, buffers = sent[-1]
    level, bus = content["rows"]
    assert len(level["parts"]) == len(bus["parts"]) == 2 and level["differ"] == bus["differ"] == 1
    assert np.frombuffer(buffers[4]).tolist() == [219] and np.frombuffer(buffers[5]).tolist() == [230]
    scope.cursor_a = 225
    assert scope.values[0] == ["1 (expected 0)", ""]
    assert scope.find("relay", "differs") == 219 and scope.find("relay", "differs", after=219) is None
    with pytest.raises(SearchFault, match="nothing to differ from"):
        find(LEVEL, "differs")


def test_differences_closer_than_a_pixel_are_drawn_as_one():
    from simkit.view.lane import Lane

    ticks = np.arange(0, 10_000, 2)
    one, other = Trace("x", ticks, np.arange(5000) % 2), Trace("x", ticks[:1], np.array([0]))
    row, arrays = Lane(Level(one, expected=other)).window(0, 10_000, 100)
    assert row["differ"] == 1 and (arrays[-2][0], arrays[-1][0]) == (2, 10_000)


def test_a_page_without_a_kernel_gets_a_still_picture(scope):
    data, _ = scope._repr_mimebundle_()
    assert (
        "image/png" in data
        and "<img alt=" in data["text/html"]
        and data["text/plain"].startswith("Scope of level, state, curve")
    )
    assert "application/vnd.jupyter.widget-view+json" in data
