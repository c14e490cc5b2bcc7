"""Balancing and balance grades against published worked examples."""

import cmath
import math

import pytest

from simkit.dsp import Influence, permitted_unbalance, phasor, trial_weight, two_plane


def polar(z):
    return abs(z), math.degrees(cmath.phase(z))


def test_single_plane_example():
    """Application note 17-227, "Static and dynamic balancing" (J. Vaughan), example 2: printed result 2.01 g at -30.8 degrees."""
    case = Influence(phasor(3.4, 116), phasor(1.8, 42), phasor(2.0, 0))
    assert polar(case.coefficient) == pytest.approx((1.690133, -33.2112), abs=5e-5)
    assert polar(case.correction) == pytest.approx((2.011676, -30.7888), abs=5e-5)


def test_two_plane_example():
    """The same note, two planes: printed 2.95 g at 50.2 and 2.84 g at -81.9 degrees."""
    first, second = two_plane(
        (phasor(7.2, 238), phasor(13.5, 296)),
        ((phasor(4.9, 114), phasor(9.2, 347)), (phasor(4.0, 79), phasor(12.0, 292))),
        (phasor(2.5, 0), phasor(2.5, 0)),
    )
    assert polar(first) == pytest.approx((2.951381, 50.1889), abs=5e-5)
    assert polar(second) == pytest.approx((2.844138, -81.8841), abs=5e-5)


@pytest.mark.parametrize(
    "grade, rpm, mass_kg, wanted",
    [
        (6.3, 3000, 10, 200.535228),
        (6.3, 1500, 40, 1604.281826),
        (6.3, 1480, 3, 121.947098),
        (2.5, 3000, 200, 1591.549431),
        (16, 1500, 2, 203.718327),
        (2.5, 3000, 3600, 28647.88975),  # turbine example of ISO 1940-1, printed as 28.6e3 g mm (from memory)
    ],
)
def test_permitted_unbalance(grade, rpm, mass_kg, wanted):
    """ISO 21940-11:2016: e = 9549.2966 G / n in g mm per kg (formula from secondary texts)."""
    assert permitted_unbalance(grade, rpm, mass_kg) == pytest.approx(wanted, rel=1e-7)
    assert permitted_unbalance(grade, rpm, mass_kg) == pytest.approx(9549.2966 * grade / rpm * mass_kg, rel=1e-7)


def test_the_imperial_form_agrees():
    """U[oz in] = 6.015 G W[lb] / N[rpm] (trade articles); exact factor 6.015305 from the definitions of inch and pound."""
    ounce_inch = 28.349523125 * 25.4
    assert permitted_unbalance(6.3, 1000, 0.45359237 * 10) / ounce_inch == pytest.approx(
        6.0153050 * 6.3 * 10 / 1000, rel=1e-7
    )


@pytest.mark.parametrize(
    "mass_kg, rpm, radius_mm, grams", [(10, 1500, 150, 2.649657), (2, 1480, 100, 0.816526), (0.5, 3000, 60, 0.082802)]
)
def test_trial_weight(mass_kg, rpm, radius_mm, grams):
    """Ten per cent of the rotor's weight as centrifugal force: common practice, no source."""
    assert trial_weight(mass_kg, rpm, radius_mm) == pytest.approx(grams, abs=6e-7)


def test_a_trial_weight_that_changes_nothing_is_refused():
    with pytest.raises(ValueError, match="changed nothing"):
        _ = Influence(1j, 1j, 1.0).correction
