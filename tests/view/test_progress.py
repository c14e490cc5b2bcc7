"""The progress bar of long runs."""

import time

import pytest

from simkit.view import progress


@pytest.fixture
def shown(monkeypatch):
    words = []
    monkeypatch.setattr(progress.Bar, "__init__", lambda self: None)
    monkeypatch.setattr(progress.Bar, "_put", lambda self, page, plain: words.append(plain))
    return words


def test_pieces_end_on_the_tick_and_quick_runs_show_nothing(shown):
    ticks = list(progress.pieces(5, 10_000_007, 40e6))
    assert ticks[-1] == 10_000_007 and ticks == sorted(set(ticks)) and shown == []


def test_a_long_run_tells_what_is_left(shown, monkeypatch):
    monkeypatch.setattr(progress, "PATIENCE_S", 0.05)
    for tick in progress.pieces(0, 40_000_000, 40e6):
        time.sleep(0.11 + tick / 4e9)
        if len(shown) > 2:
            break
    assert shown[0].endswith("left") and "%" in shown[0]
    assert "stopped before 1 s" in shown[-1]


def test_a_whole_long_run_ends_with_a_line(shown, monkeypatch):
    monkeypatch.setattr(progress, "PATIENCE_S", 0.05)
    monkeypatch.setattr(progress, "PIECE_S", 0.02)
    for _ in progress.pieces(0, 4_000_000, 40e6):
        time.sleep(0.03)
    assert shown[-1].startswith("0.1 s of the bench took ") and "stopped" not in shown[-1]


def test_pieces_grow_and_shrink_with_the_speed(shown):
    sizes, last = [], 0
    for tick in progress.pieces(0, 400_000_000, 40e6):
        sizes.append(tick - last)
        last = tick
    assert max(sizes) > 10 * sizes[0]
