"""Calibrated spectra: what an amplitude in the picture means is said in its unit.

A window w scales a tone by its coherent gain sum(w)/N and widens it to its equivalent noise bandwidth
N sum(w**2)/sum(w)**2 bins.  Source: F. J. Harris, "On the use of windows for harmonic analysis with the discrete
Fourier transform", Proc. IEEE 66(1), 1978.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import signal

ALIASES = {"rectangular": "boxcar", "flat top": "flattop", "blackman-harris": "blackmanharris"}


@dataclass(frozen=True)
class Window:
    """A window of N samples and its figures.

    ``coherent_gain`` is the part of a tone's amplitude that is left; ``noise_bandwidth`` is in bins.
    """

    name: str
    samples: np.ndarray

    @property
    def coherent_gain(self) -> float:
        return float(np.mean(self.samples))

    @property
    def noise_bandwidth(self) -> float:
        return float(len(self.samples) * np.sum(self.samples**2) / np.sum(self.samples) ** 2)

    @property
    def scallop_db(self) -> float:
        """How much lower a tone half-way between two bins reads, dB."""
        n = np.arange(len(self.samples))
        half = abs(np.sum(self.samples * np.exp(-1j * np.pi * n / len(n))))
        return float(20 * np.log10(np.sum(self.samples) / half))


def window(name: str, length: int) -> Window:
    """A window by its usual name ("hann", "rectangular", "flat top" …), in the form that repeats with period
    ``length``.

    Raises
    ------
    ValueError
        For a name that scipy does not know.
    """
    return Window(name, signal.get_window(ALIASES.get(name, name), length, fftbins=True))


@dataclass(frozen=True)
class Spectrum:
    """One-sided spectrum; ``complex_peak`` are peak amplitudes with phase (cosine reference at the first sample)."""

    hz: np.ndarray
    complex_peak: np.ndarray
    window: Window

    @property
    def peak(self) -> np.ndarray:
        """Peak amplitude of a tone in each bin, in the signal's unit."""
        return np.abs(self.complex_peak)

    @property
    def rms(self) -> np.ndarray:
        """R.m.s. amplitude of a tone in each bin, in the signal's unit."""
        inner = np.ones(len(self.hz), bool)
        inner[0] = False
        if self._even:
            inner[-1] = False
        return np.where(inner, self.peak / np.sqrt(2), self.peak)

    @property
    def _even(self) -> bool:
        return len(self.window.samples) % 2 == 0

    def rms_between(self, low_hz: float, high_hz: float) -> float:
        """R.m.s. value of everything from ``low_hz`` to ``high_hz``, the window's noise bandwidth taken out."""
        band = (self.hz >= low_hz) & (self.hz <= high_hz)
        return float(np.sqrt(np.sum(self.rms[band] ** 2) / self.window.noise_bandwidth))

    def highest(self, low_hz: float = 0.0, high_hz: float = np.inf) -> tuple[float, float]:
        """Frequency (Hz) and peak amplitude of the highest bin of a band."""
        band = np.flatnonzero((self.hz >= low_hz) & (self.hz <= high_hz))
        if not len(band):
            raise ValueError(f"no bin lies between {low_hz} and {high_hz} Hz; bins are {self.hz[1]:.6g} Hz apart")
        best = band[np.argmax(self.peak[band])]
        return float(self.hz[best]), float(self.peak[best])


def spectrum(x: ArrayLike, rate_hz: float, window_name: str = "hann") -> Spectrum:
    """Spectrum of a real signal, corrected for the window, so that a tone of amplitude A in a bin reads A there.

    Parameters
    ----------
    x : real, shape (N,), N of 2 or more
    rate_hz : samples per second
    window_name : see :func:`window`

    Examples
    --------
    >>> t = np.arange(1000) / 1000
    >>> spectrum(3 * np.cos(2 * np.pi * 50 * t), 1000).highest()
    (50.0, 3.0)
    """
    x = np.asarray(x, float)
    if x.ndim != 1 or len(x) < 2:
        raise ValueError(f"a spectrum needs a row of 2 samples or more, not an array of shape {x.shape}")
    w = window(window_name, len(x))
    lines = np.fft.rfft(x * w.samples) / np.sum(w.samples)
    lines[1 : len(lines) - (len(x) % 2 == 0)] *= 2
    return Spectrum(np.fft.rfftfreq(len(x), 1 / rate_hz), lines, w)


def acceleration_to_velocity(
    acceleration: ArrayLike, rate_hz: float, low_hz: float = 10.0, high_hz: float | None = None
) -> np.ndarray:
    """Velocity (m/s) from acceleration (m/s2), integrated in the frequency domain: V = A / (2 pi i f).

    Parameters
    ----------
    acceleration : m/s2, shape (N,)
    rate_hz : samples per second
    low_hz, high_hz : band that is kept; vibration severity is usually stated from 10 to 1000 Hz (ISO 20816-1)
    """
    a = np.asarray(acceleration, float)
    hz = np.fft.rfftfreq(len(a), 1 / rate_hz)
    keep = (hz >= low_hz) & (hz <= (high_hz or np.inf)) & (hz > 0)
    lines = np.zeros(len(hz), complex)
    lines[keep] = np.fft.rfft(a)[keep] / (2j * np.pi * hz[keep])
    return np.fft.irfft(lines, len(a))
