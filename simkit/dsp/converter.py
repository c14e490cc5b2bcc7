"""How good a converter is: sine fit, SINAD, effective bits, ideal figures, aliases.

Sources: W. R. Bennett, "Spectra of quantized signals", BSTJ 27 (1948); IEEE Std 1057 and 1241 (sine fit, SINAD, ENOB;
cited from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar


@dataclass(frozen=True)
class Sine:
    """A sine a cos(2 pi f t) + b sin(2 pi f t) + offset fitted to samples, and what it leaves over."""

    hz: float
    a: float
    b: float
    offset: float
    residual_rms: float

    @property
    def amplitude(self) -> float:
        """Peak amplitude."""
        return math.hypot(self.a, self.b)

    @property
    def phase_deg(self) -> float:
        """Phase of amplitude * cos(2 pi f t + phase), degrees."""
        return math.degrees(math.atan2(-self.b, self.a))


def sine_fit(x: ArrayLike, rate_hz: float, hz: float | None = None) -> Sine:
    """Least-squares sine of known frequency (three parameters), or of the frequency that fits best (four).

    Parameters
    ----------
    x : samples, shape (N,)
    rate_hz : samples per second
    hz : the frequency; None to look for it near the highest line of the spectrum
    """
    x = np.asarray(x, float)
    if hz is not None:
        return _fit(x, rate_hz, hz)
    lines = np.abs(np.fft.rfft((x - x.mean()) * np.hanning(len(x))))
    bin_hz = rate_hz / len(x)
    guess = float(np.argmax(lines[1:]) + 1) * bin_hz
    best = minimize_scalar(
        lambda f: _fit(x, rate_hz, f).residual_rms,
        bounds=(guess - bin_hz, guess + bin_hz),
        method="bounded",
        options={"xatol": bin_hz * 1e-9},
    )
    return _fit(x, rate_hz, float(best.x))


def _fit(x: np.ndarray, rate_hz: float, hz: float) -> Sine:
    angle = 2 * np.pi * hz / rate_hz * np.arange(len(x))
    table = np.column_stack([np.cos(angle), np.sin(angle), np.ones(len(x))])
    (a, b, offset), *_ = np.linalg.lstsq(table, x, rcond=None)
    rest = x - table @ (a, b, offset)
    return Sine(hz, float(a), float(b), float(offset), float(np.sqrt(np.mean(rest**2))))


def sinad(x: ArrayLike, rate_hz: float, hz: float | None = None) -> float:
    """Signal over noise and distortion in dB: the fitted sine's r.m.s. over that of all the rest."""
    fit = sine_fit(x, rate_hz, hz)
    return 20 * math.log10(fit.amplitude / math.sqrt(2) / fit.residual_rms)


def ideal_snr(bits: float) -> float:
    """SNR in dB of an ideal converter for a full-scale sine: 20 log10(2**bits sqrt(1.5)) = 6.02 bits + 1.76."""
    return 20 * math.log10(2**bits * math.sqrt(1.5))


def enob(sinad_db: float) -> float:
    """Effective bits: (SINAD - 1.76 dB) / 6.02 dB, the inverse of :func:`ideal_snr`."""
    return math.log2(10 ** (sinad_db / 20) / math.sqrt(1.5))


def jitter_snr(hz: float, jitter_s: float) -> float:
    """Best SNR in dB for a sine of ``hz`` sampled at instants that scatter by ``jitter_s`` r.m.s.: -20 log10(2 pi f
    t).
    """
    return -20 * math.log10(2 * math.pi * hz * jitter_s)


def alias_hz(hz: ArrayLike, rate_hz: float) -> np.ndarray:
    """Where a tone of ``hz`` appears after sampling: |f - fs round(f / fs)|."""
    f = np.asarray(hz, float)
    return np.abs(f - rate_hz * np.rint(f / rate_hz))
