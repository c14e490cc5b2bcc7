"""Bearing and blade frequencies against published multiples.

Formulas: R. B. Randall, J. Antoni, Mech. Syst. Signal Process. 25 (2011) 485-520 (citation from memory).
"""

import pytest

from simkit.dsp import bearing_orders, blade_pass_hz


@pytest.mark.parametrize(
    "balls, ball, pitch, outer, inner, cage, ball_order",
    [
        (
            9,
            0.3126,
            1.537,
            3.58478,
            5.41522,
            0.39831,
            2.35672,
        ),  # 6205, inches; geometry of a public bearing data set (memory)
        (8, 0.2656, 1.122, 3.05312, 4.94688, 0.38164, 1.99384),  # 6203, same
        (9, 7.94, 38.5, 3.57195, 5.42805, 0.39688, 2.32132),  # 6205 in mm as quoted in web examples
    ],
)
def test_multiples_of_the_turning_frequency(balls, ball, pitch, outer, inner, cage, ball_order):
    got = bearing_orders(balls, ball, pitch)
    assert got == pytest.approx((cage, outer, inner, ball_order), abs=6e-6)
    assert got.outer + got.inner == pytest.approx(balls)


def test_the_published_ball_multiple_counts_both_rings():
    """4.7135 is printed for the 6205 geometry above (from memory): twice the ball's turning, not once."""
    assert 2 * bearing_orders(9, 0.3126, 1.537).ball == pytest.approx(4.7135, abs=1.5e-4)


def test_worked_example_at_1500_rpm():
    """Public worked example (vibromera.eu, bearing frequencies): 9.92, 89.31 and 135.69 Hz, rounded there on the way."""
    got = bearing_orders(9, 7.94, 38.5)
    assert [25 * got.cage, 25 * got.outer, 25 * got.inner] == pytest.approx([9.92, 89.31, 135.69], abs=0.02)


def test_blade_pass():
    assert blade_pass_hz(7, 1480) == pytest.approx(172.6667, abs=5e-5)
