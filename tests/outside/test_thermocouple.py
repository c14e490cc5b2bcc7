"""Type K against NIST Monograph 175 / SRD 60 values and against an independent package (thermocouple-its90)."""

import numpy as np
import pytest
from thermocouple_its90 import TypeK

from simkit.dsp import emf_mv, sensitivity_mv_per_k, temperature_c

# Table values of NIST SRD 60 (ITS-90), type K, mV, printed to three decimals.
TABLE = {
    -200: -5.891,
    0: 0.0,
    100: 4.096,
    200: 8.138,
    300: 12.209,
    350: 14.293,
    500: 20.644,
    1000: 41.276,
    1372: 54.886,
}
# Unrounded values of the same functions, worked out in 40-digit decimals with the published coefficients.
EXACT = {
    -270: -6.457737953,
    -200: -5.891403592,
    -100: -3.553631337,
    20: 0.798119699,
    22: 0.878855362,
    25: 1.000242355,
    50: 2.023077886,
    100: 4.096230219,
    500: 20.644286390,
    1000: 41.275606456,
    1372: 54.886364025,
}


def test_emf_is_the_printed_table():
    assert np.allclose(emf_mv(list(TABLE)), list(TABLE.values()), atol=0.0005001)


def test_emf_is_exact_to_a_picovolt_scale():
    assert np.allclose(emf_mv(list(EXACT)), list(EXACT.values()), rtol=0, atol=6e-10)


def test_the_join_at_zero_is_tiny_and_known():
    assert emf_mv(0.0) == pytest.approx(1.974e-9, abs=2e-12)


def test_sensitivity_has_its_known_values_and_maximum():
    assert sensitivity_mv_per_k([25.0, 100.0, 500.0]) * 1000 == pytest.approx(
        [40.517723, 41.368573, 42.628331], abs=1e-5
    )
    t = np.arange(0, 1372, 0.1)
    slope = sensitivity_mv_per_k(t)
    assert t[np.argmax(slope)] == pytest.approx(527.3, abs=0.11) and slope.max() * 1000 == pytest.approx(
        42.64871, abs=1e-4
    )


@pytest.mark.parametrize(
    "volts_mv, cold_c, hot_c", [(4.096, 25, 124.3099), (3.0, 22, 94.7502), (10.0, 25, 270.7137), (19.644044, 25, 500.0)]
)
def test_cold_junction_compensation(volts_mv, cold_c, hot_c):
    """First row: worked example in the documentation of thermocouple-its90 (124.3 degrees C)."""
    assert temperature_c(volts_mv, cold_c) == pytest.approx(hot_c, abs=6e-5)
    assert abs(float(temperature_c(volts_mv)) + cold_c - hot_c) > 0.5, "adding temperatures is wrong, and visibly"


def test_both_ways_return_exactly():
    t = np.linspace(-200, 1372, 5000)
    assert np.allclose(temperature_c(emf_mv(t)), t, atol=2e-7)


def test_the_package_agrees_everywhere():
    t = np.linspace(-199.75, 1371.25, 1573)
    assert np.allclose(emf_mv(t), [TypeK.emf(float(x)) for x in t], atol=1e-12)
    mv = np.linspace(-5.8, 54.0, 400)
    assert np.allclose(temperature_c(mv), [TypeK.temperature(float(v)) for v in mv], atol=2e-6)
    assert np.allclose(
        temperature_c(mv[30:350], 22.5), [TypeK.temperature(float(v), reference=22.5) for v in mv[30:350]], atol=2e-6
    )


def test_out_of_range_is_refused():
    with pytest.raises(ValueError, match="-270 to 1372"):
        emf_mv(1373)
    with pytest.raises(ValueError, match="can be inverted"):
        temperature_c(60.0)
