"""Windows and calibrated spectra.

F. J. Harris, Proc. IEEE 66(1), 1978, Table I (values from memory; two of the printed ones are known to be off and are not
used: Hamming's scalloping, exact Blackman's side lobes).  Bandwidths in Hz: published reference values of the documentation
of an ``enbw`` function for symmetric windows.
"""

import numpy as np
import pytest
from scipy import signal

from simkit.dsp import Window, spectrum, window


@pytest.mark.parametrize(
    "name, gain, bandwidth, scallop",
    [
        ("rectangular", 1.00, 1.00, 3.92),
        ("bartlett", 0.50, 1.33, 1.82),
        ("hann", 0.50, 1.50, 1.42),
        ("blackman", 0.42, 1.73, 1.10),
        ("hamming", 0.54, 1.36, None),
        ("blackman-harris", 0.36, 2.00, 0.83),
    ],
)
def test_figures_of_harris_table(name, gain, bandwidth, scallop):
    got = window(name, 512)
    assert got.coherent_gain == pytest.approx(gain, abs=0.005)
    assert got.noise_bandwidth == pytest.approx(bandwidth, abs=0.005)
    if scallop:
        assert got.scallop_db == pytest.approx(scallop, abs=0.006)


@pytest.mark.parametrize(
    "name, bandwidth, scallop",
    [
        ("rectangular", 1.0, 3.92240),
        ("hann", 1.5, 1.42362),
        ("hamming", 1.362826, 1.7514),
        ("flat top", 3.770246, 0.0098),
    ],
)
def test_closed_forms(name, bandwidth, scallop):
    """(a0**2 + sum a_k**2 / 2) / a0**2; scalloping of the rectangle 20 log10(pi/2), of Hann 20 log10(3 pi/8)."""
    got = window(name, 512)
    assert got.noise_bandwidth == pytest.approx(bandwidth, abs=2e-6)
    assert got.scallop_db == pytest.approx(scallop, abs=1e-4)


@pytest.mark.parametrize(
    "name, length, rate, hz",
    [
        ("hamming", 1000, 1000, 1.3638),
        ("flattop", 10000, 44100, 16.6285),
        ("hann", 128, 1000, 11.8110),
        ("hann", 1000, 10000, 15.0150),
    ],
)
def test_published_bandwidths(name, length, rate, hz):
    got = Window(name, signal.get_window(name, length, fftbins=False))
    assert got.noise_bandwidth * rate / length == pytest.approx(hz, abs=6e-5)


@pytest.mark.parametrize("name", ["rectangular", "hann", "flat top", "blackman-harris"])
@pytest.mark.parametrize("length", [1000, 1001])
def test_a_tone_in_a_bin_reads_its_amplitude_and_phase(name, length):
    x = 3 * np.cos(2 * np.pi * 50 * np.arange(length) / length + 0.7)
    got = spectrum(x, length, name)
    assert got.highest() == pytest.approx((50.0, 3.0))
    assert np.angle(got.complex_peak[50]) == pytest.approx(0.7)
    assert got.rms[50] == pytest.approx(3 / np.sqrt(2))
    assert got.rms_between(30, 70) ** 2 == pytest.approx(4.5)


def test_noise_power_agrees_with_welch_and_parseval():
    x = np.random.default_rng(3).standard_normal(4096)
    got = spectrum(x, 1000, "rectangular")
    assert np.sum(got.rms**2) == pytest.approx(np.mean(x**2))
    hz, density = signal.welch(x, 1000, "hann", nperseg=4096, detrend=False, scaling="spectrum")
    assert np.allclose(spectrum(x, 1000).rms[1:-1] ** 2, density[1:-1])


def test_an_unknown_window_and_a_bad_shape_are_refused():
    with pytest.raises(ValueError):
        window("round", 16)
    with pytest.raises(ValueError, match="a row of 2 samples"):
        spectrum([[1.0, 2.0]], 10)
