"""Durations are exact."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from simkit.units import Duration, UnitFault, exact, ms, ns, s, us


def test_units_are_whole_numbers_of_each_other():
    assert s(1) == ms(1000) == us(1_000_000) == ns(10**9) and ns(1) == Duration(Fraction(1000))


def test_a_decimal_number_is_what_was_written():
    assert us(0.1).ps == 100_000 and s(0.1) == ms(100) and exact(1.1) == Fraction(11, 10)
    assert (
        exact(np.float64(0.3)) == Fraction(3, 10)
        and exact(np.int32(7)) == 7
        and exact(Decimal("0.7")) == Fraction(7, 10)
    )


def test_ticks_are_exact_and_may_be_no_whole_number():
    assert us(20).ticks(40_000_000) == 800
    assert us(20).ticks(Fraction(100_000_000, 3)) == Fraction(2000, 3)


def test_arithmetic():
    assert ms(1) + us(500) == ms(1.5) and ms(2) - us(500) == ms(1.5) and 3 * ms(1) == ms(1) * 3 == ms(3)
    assert ms(3) / us(1) == 3000 and ms(3) / 2 == ms(1.5) and -ms(1) < ms(0) and not ms(0)
    assert (ms(1) + us(500)).seconds == 0.0015


@pytest.mark.parametrize(
    "duration, text",
    [(ms(1.5), "1.5 ms"), (s(2), "2 s"), (ns(25), "25 ns"), (Duration(Fraction(1, 2)), "0.5 ps"), (us(-20), "-20 us")],
)
def test_text(duration, text):
    assert str(duration) == repr(duration) == text


@pytest.mark.parametrize("bad", [True, "1", float("nan"), float("inf"), None, 1j])
def test_what_is_no_number_is_refused(bad):
    with pytest.raises(UnitFault, match="is not a"):
        ms(bad)
