"""Reduction to pixels must not lose a peak, an edge or a difference."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.engines.api import Trace
from simkit.view import first_difference, reduce


def trace(*changes, name="s"):
    return Trace(name, np.array([t for t, _ in changes], np.int64), np.array([v for _, v in changes], np.int64))


def held(signal, tick):
    return signal.values[np.searchsorted(signal.ticks, tick, side="right") - 1]


changes = st.lists(st.tuples(st.integers(1, 30), st.integers(-3, 3)), min_size=1, max_size=60).map(
    lambda steps: trace((0, 0), *zip(np.cumsum([s for s, _ in steps]).tolist(), [v for _, v in steps], strict=True))
)


def test_window_puts_the_held_value_first():
    ticks, values = reduce.window(trace((0, 5), (10, 6), (20, 7)), 12, 20)
    assert ticks.tolist() == [12] and values.tolist() == [6]


def test_window_leaves_the_recording_alone():
    signal = trace((0, 5), (10, 6))
    reduce.window(signal, 3, 20)
    assert signal.ticks.tolist() == [0, 10]


def test_window_before_a_late_recording_is_empty():
    ticks, _ = reduce.window(trace((50, 1)), 0, 50)
    assert len(ticks) == 0


def test_columns_keeps_the_extremes_of_every_column_of_ten_million():
    rng = np.random.default_rng(1)
    x, y = np.arange(10_000_000), rng.integers(-1000, 1000, 10_000_000)
    y[6_543_210] = 99_999
    xs, ys = reduce.columns(x, y, 0, 10_000_000, 1000)
    assert len(xs) == 4000
    blocks, drawn = y.reshape(1000, -1), ys.reshape(1000, 4)
    assert (drawn.max(axis=1) == blocks.max(axis=1)).all()
    assert (drawn.min(axis=1) == blocks.min(axis=1)).all()
    assert (drawn[:, 0] == blocks[:, 0]).all() and (drawn[:, -1] == blocks[:, -1]).all()


def test_columns_leaves_a_short_trace_alone():
    x, y = np.arange(8), np.arange(8)
    assert reduce.columns(x, y, 0, 8, 2)[0] is x


def test_columns_takes_values_wider_than_a_machine_word():
    y = np.array([1 << 90, 3, -(1 << 80), 7] * 10, object)
    _, ys = reduce.columns(np.arange(40), y, 0, 40, 2)
    assert max(ys) == 1 << 90 and min(ys) == -(1 << 80)


def test_slabs_merge_only_short_neighbours():
    found = reduce.slabs(trace((0, 1), (100, 2), (101, 3), (102, 4), (103, 5)), 0, 203, narrow=5)
    assert found.begin.tolist() == [0, 100, 103]
    assert found.end.tolist() == [100, 103, 203]
    assert found.busy.tolist() == [False, True, False]
    assert found.value.tolist()[0] == 1 and found.value.tolist()[2] == 5


@settings(max_examples=60, deadline=None)
@given(changes)
def test_slabs_cover_the_view_without_gap(signal):
    stop = int(signal.ticks[-1]) + 10
    found = reduce.slabs(signal, 0, stop, narrow=4)
    assert found.begin[0] == 0 and found.end[-1] == stop
    assert (found.begin[1:] == found.end[:-1]).all()
    for begin, value, busy in zip(found.begin, found.value, found.busy, strict=True):
        assert busy or held(signal, begin) == value


@settings(max_examples=60, deadline=None)
@given(changes, changes)
def test_differences_are_those_of_a_tick_by_tick_comparison(one, other):
    stop = 200
    differ = np.array([held(one, t) != held(other, t) for t in range(stop)])
    found = np.zeros(stop, bool)
    for begin, end in zip(*reduce.differences(one, other, 0, stop), strict=True):
        found[int(begin) : int(end)] = True
    assert (found == differ).all()


def test_first_difference():
    assert first_difference(trace((0, 0), (7, 1)), trace((0, 0), (9, 1))) == 7
    assert first_difference(trace((0, 0), (7, 1)), trace((0, 0), (7, 1))) is None


def test_ticks_before_a_recording_begins_do_not_differ():
    begins, ends = reduce.differences(trace((0, 1)), trace((50, 1)), 0, 100)
    assert len(begins) == len(ends) == 0


@pytest.mark.parametrize("empty_first", [True, False])
def test_an_empty_recording_differs_nowhere(empty_first):
    pair = [trace((0, 1)), Trace("none", np.empty(0, np.int64), np.empty(0, np.int64))]
    begins, _ = reduce.differences(*(pair[::-1] if empty_first else pair), 0, 100)
    assert len(begins) == 0


def test_an_empty_recording_has_no_slabs_and_no_points():
    nothing = Trace("none", np.empty(0, np.int64), np.empty(0, np.int64))
    assert len(reduce.slabs(nothing, 0, 100, narrow=2).begin) == 0
    assert len(reduce.columns(*reduce.window(nothing, 0, 100), 0, 100, 50)[0]) == 0
