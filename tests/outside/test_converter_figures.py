"""Converters: quantisation noise, sine fit, jitter, aliases.

W. R. Bennett, BSTJ 27 (1948); IEEE Std 1057-2017 and 1241-2010 (from memory); jitter figures as printed by several
vendors' and calculator pages (84, 64, 50, 44 dB).
"""

import math

import numpy as np
import pytest

from simkit.bench import Converter
from simkit.dsp import alias_hz, enob, ideal_snr, jitter_snr, sinad, sine_fit


@pytest.mark.parametrize("bits, db", [(12, 74.008112), (16, 98.090511), (24, 146.255311)])
def test_ideal_snr(bits, db):
    assert ideal_snr(bits) == pytest.approx(db, abs=1e-6)
    assert ideal_snr(bits) == pytest.approx(6.0205999 * bits + 1.7609126, abs=1e-5)
    assert enob(db) == pytest.approx(bits, abs=1e-6)


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_a_quantised_sine_has_the_ideal_sinad(bits):
    n, cycles = 65536, 3067
    full = 2 ** (bits - 1)
    x = np.rint((full - 0.6) * np.sin(2 * np.pi * cycles * np.arange(n) / n + 0.1))
    assert sinad(x, n, cycles) == pytest.approx(ideal_snr(bits), abs=0.1)
    assert np.var(x - (full - 0.6) * np.sin(2 * np.pi * cycles * np.arange(n) / n + 0.1)) * 12 == pytest.approx(
        1, abs=0.03
    )


def test_three_parameter_fit():
    n = np.arange(200)
    fit = sine_fit(1.2 * np.cos(2 * np.pi * 0.05 * n) + 0.5 * np.sin(2 * np.pi * 0.05 * n) + 0.1, 1000, 50)
    assert (fit.a, fit.b, fit.offset, fit.amplitude) == pytest.approx((1.2, 0.5, 0.1, 1.3))
    assert fit.phase_deg == pytest.approx(-22.619865, abs=1e-6)


def test_four_parameter_fit_finds_the_frequency():
    n = np.arange(4096)
    fit = sine_fit(2 * np.cos(2 * np.pi * 123.456 / 5120 * n + 1), 5120)
    assert fit.hz == pytest.approx(123.456, abs=1e-5) and fit.amplitude == pytest.approx(2, abs=1e-6)


@pytest.mark.parametrize(
    "hz, jitter_s, db",
    [
        (100e6, 100e-15, 84.0364),
        (1e9, 100e-15, 64.0364),
        (5e9, 100e-15, 50.0570),
        (10e9, 100e-15, 44.0364),
        (1e3, 25e-9, 76.0776),
    ],
)
def test_jitter(hz, jitter_s, db):
    assert jitter_snr(hz, jitter_s) == pytest.approx(db, abs=5e-5)


def test_one_tick_of_jitter_at_1_khz_leaves_12_bits():
    assert enob(jitter_snr(1e3, 25e-9)) == pytest.approx((76.0776 - 1.76) / 6.02, abs=2e-3)


def test_jitter_measured():
    """The same by simulation: a sine sampled at scattered instants."""
    rng = np.random.default_rng(1)
    n, hz = 65536, 1000.0 * 3067 / 3072
    t = np.arange(n) / 51200
    x = np.sin(2 * np.pi * hz * (t + 1e-6 * rng.standard_normal(n)))
    assert sinad(x, 51200, hz) == pytest.approx(jitter_snr(hz, 1e-6), abs=0.1)


@pytest.mark.parametrize(
    "f, fs, alias",
    [
        (60, 100, 40),
        (70, 100, 30),
        (105, 100, 5),
        (950, 1000, 50),
        (1300, 1000, 300),
        (7000, 5120, 1880),
        (28600, 25600, 3000),
    ],
)
def test_aliases(f, fs, alias):
    assert alias_hz(f, fs) == alias
    t = np.arange(fs) / fs
    lines = np.abs(np.fft.rfft(np.cos(2 * np.pi * f * t)))
    assert np.argmax(lines) == alias


def test_size_of_one_code():
    assert Converter(bits=24, range_v=5.0).volts_per_code == pytest.approx(0.596046448e-6, rel=1e-9)
    assert Converter(bits=16, range_v=10.0).volts_per_code == pytest.approx(305.175781e-6, rel=1e-8)
    assert 305.175781 / math.sqrt(12) == pytest.approx(88.096660, abs=1e-5)
