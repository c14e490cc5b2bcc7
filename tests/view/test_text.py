"""Numbers as they are written into pictures."""

import pytest

from simkit.netlist.types import make
from simkit.view.text import plain, ticks_text, time_text, value_text


@pytest.mark.parametrize(
    ("ticks", "tick_s", "text"),
    [
        (781, 25e-9, "781 ticks = 19.525 µs"),
        (1, 25e-9, "1 tick = 25 ns"),
        (40_000_000, 25e-9, "40\u2009000\u2009000 ticks = 1 s"),
        (2_000_000, 25e-9, "2\u2009000\u2009000 ticks = 50 ms"),
        (3, 1 / 3e9, "3 ticks = 1 ns"),
        (0, 25e-9, "0 ticks = 0 s"),
        (12, None, "12 ticks"),
    ],
)
def test_an_interval_in_ticks_and_time(ticks, tick_s, text):
    assert ticks_text(ticks, tick_s) == text


def test_time_in_a_chosen_unit():
    assert time_text(19.525e-6, "ns") == "19\u2009525 ns"
    assert time_text(0.00005, "us") == "50 µs"


@pytest.mark.parametrize(
    ("number", "text"),
    [(-1234567, "-1\u2009234\u2009567"), (0.5, "0.5"), (-0.25, "-0.25"), (1e-9, "1e-09"), (1200.0, "1\u2009200")],
)
def test_plain(number, text):
    assert plain(number) == text


@pytest.mark.parametrize(
    ("raw", "kind", "base", "text"),
    [
        (-40, make("sfixed", 3, -4), "number", "-2.5"),
        (7, make("ufixed", 3, 0), "number", "7"),
        (-1, make("signed", 8), "hex", "0xFF"),
        (5, make("unsigned", 6), "bin", "0b000101"),
        (5, make("unsigned", 6), "number", "5"),
        ((1 << 80) + 1, make("unsigned", 96), "number", "1208925819614629174706177"),
        (12, None, "number", "12"),
    ],
)
def test_a_value_in_its_own_format(raw, kind, base, text):
    assert value_text(raw, kind, base) == text
