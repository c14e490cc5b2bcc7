"""CIC, moving average, exponential average: published widths and closed forms.

E. B. Hogenauer, IEEE Trans. ASSP-29(2), 1981, 155-162 (formulas and the example of 35 bits from memory); R. G. Lyons,
*Understanding Digital Signal Processing* (example of 21 bits from memory).
"""

import numpy as np
import pytest
from scipy import signal

from simkit.dsp import boxcar_gain, cic_gain, cic_growth_bits, one_pole_alpha, one_pole_corner


@pytest.mark.parametrize(
    "stages, rate, delay, bits_in, width",
    [(4, 25, 1, 16, 35), (3, 8, 1, 12, 21), (3, 16, 1, 16, 28), (5, 64, 1, 16, 46), (3, 16, 2, 16, 31)],
)
def test_register_widths(stages, rate, delay, bits_in, width):
    assert bits_in + cic_growth_bits(stages, rate, delay) == width


@pytest.mark.parametrize(
    "stages, rate, delay, droops",
    [
        (4, 25, 1, (-0.8962, -3.6427, -15.6667)),
        (3, 16, 1, (-0.6706, -2.7258, -11.7253)),
        (3, 8, 1, (-0.6627, -2.6944, -11.5995)),
        (5, 64, 1, (-1.1217, -4.5594, -19.6076)),
    ],
)
def test_droop(stages, rate, delay, droops):
    f = np.array([1 / 8, 1 / 4, 1 / 2]) / rate
    assert 20 * np.log10(cic_gain(f, stages, rate, delay)) == pytest.approx(droops, abs=6e-5)


def test_gain_is_that_of_the_cascaded_boxcars():
    taps = np.ones(1)
    for _ in range(3):
        taps = np.convolve(taps, np.ones(16) / 16)
    f = np.linspace(0, 0.49, 50)
    _, response = signal.freqz(taps, worN=2 * np.pi * f)
    assert np.allclose(cic_gain(f, 3, 16), np.abs(response), atol=1e-12)
    assert cic_gain(np.array([1, 2, 3]) / 16, 3, 16) == pytest.approx([0, 0, 0], abs=1e-30)


@pytest.mark.parametrize("length, corner", [(2, 0.25), (4, 0.11384811), (8, 0.05574542), (16, 0.02773094)])
def test_boxcar_corner(length, corner):
    assert boxcar_gain(corner, length) == pytest.approx(np.sqrt(0.5), abs=1e-6)


@pytest.mark.parametrize("tau, alpha", [(0.1, 0.0099501663), (0.01, 0.0951625820)])
def test_one_pole(tau, alpha):
    assert one_pole_alpha(tau, 1000) == pytest.approx(alpha, abs=6e-11)
    zoh = signal.cont2discrete(([1.0], [tau, 1.0]), 1e-3, method="zoh")
    assert zoh[0].ravel()[1] == pytest.approx(one_pole_alpha(tau, 1000), abs=1e-12)


@pytest.mark.parametrize("k, corner", [(1, 0.11502673), (2, 0.04610512), (3, 0.02128383), (4, 0.01027519)])
def test_one_pole_corner(k, corner):
    alpha = 2.0**-k
    assert one_pole_corner(alpha) == pytest.approx(corner, abs=6e-9)
    _, response = signal.freqz([alpha], [1, alpha - 1], worN=[2 * np.pi * corner])
    assert abs(response[0]) == pytest.approx(np.sqrt(0.5), abs=1e-6)


def test_a_light_average_never_gets_3_db_down():
    assert np.isnan(one_pole_corner(0.9)) and np.isnan(one_pole_corner(1.0))
