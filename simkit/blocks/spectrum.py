"""A windowed fast Fourier transform."""

from __future__ import annotations

import math

from ..dsp import window
from ..lang import Design, Ram, Reg, Rom, operation, resize, scalb, sfixed, tick
from ..netlist import Type, make
from .average import log2_of, signed_kind


class WindowedFft(Design):
    """The discrete Fourier transform of blocks of ``n`` samples, divided by n, after a window.

    ``load(x)`` takes a sample (1 tick) and returns 1 with the last one of a block; ``transform()`` then works in place;
    ``line(k)`` (1 tick) reads line ``k``: the operation returns the real part, and ``imag`` holds the other from the
    next tick on. A tone of amplitude A in line k gives |X| = A/2 times the window's coherent gain.

    Latency of ``transform``: 4 ticks for each of n/2 log2(n) butterflies.  Each stage halves its result and rounds half
    to even; ``guard_bits`` fraction bits keep the rounding noise below a count.

    Source: radix-2 decimation in time, J. W. Cooley, J. W. Tukey, Math. Comp. 19, 1965.

    Parameters
    ----------
    n : a power of two, 4 to 4096
    kind : signed(w), up to 24 bits
    window_name : see :func:`simkit.dsp.window`
    """

    def __init__(self, n: int, kind: Type, window_name: str = "hann", guard_bits: int = 4) -> None:
        signed_kind(kind, "WindowedFft", 24)
        self.stages = log2_of(n, "WindowedFft", 4096)
        if n < 4:
            raise ValueError(f"WindowedFft: n is {n}; a power of two from 4 to 4096 is possible")
        self.pairs = n // 2
        self.whole = make("sfixed", kind.left, 0)
        self.part = make("sfixed", kind.left, -guard_bits)
        self.index = make("unsigned", self.stages)
        self.turn = make("unsigned", self.stages - 1)
        factor = sfixed(1, -16)
        angles = [2 * math.pi * k / n for k in range(n // 2)]
        self.weights = Rom(factor, [_rounded(w) for w in window(window_name, n).samples])
        self.cosines = Rom(factor, [_rounded(math.cos(a)) for a in angles])
        self.sines = Rom(factor, [_rounded(math.sin(a)) for a in angles])
        self.re = Ram(self.part, n)
        self.im = Ram(self.part, n)
        self.at = Reg(self.index)
        self.imag = Reg(self.part)

    @operation
    def load(self, x):
        w = self.weights.read(self.at)
        place = self.index(0)
        for b in range(self.stages):
            place = (place << 1) | self.index(self.at[b])
        self.re[place] = resize(self.whole(x) * w, self.part)
        self.im[place] = 0
        last = self.at == 2 * self.pairs - 1
        self.at = self.at + 1
        return last

    @operation
    def transform(self):
        for s in range(self.stages):
            for m in range(self.pairs):
                pair = resize(m, self.index)
                half = self.index(1) << s
                low = pair & (half - 1)
                i = (((pair >> s) << s) << 1) | low
                j = i | half
                k = resize(low << (self.stages - 1 - s), self.turn)
                self.im.request(i)
                self.cosines.request(k)
                self.sines.request(k)
                a_re = self.re.read(i)
                a_im, cosine, sine = self.im.word, self.cosines.word, self.sines.word
                self.im.request(j)
                b_re = self.re.read(j)
                b_im = self.im.word
                t_re = cosine * b_re + sine * b_im
                t_im = cosine * b_im - sine * b_re
                self.re[i] = resize(scalb(a_re + t_re, -1), self.part)
                self.im[i] = resize(scalb(a_im + t_im, -1), self.part)
                c_re = resize(scalb(a_re - t_re, -1), self.part)
                c_im = resize(scalb(a_im - t_im, -1), self.part)
                tick()
                self.re[j] = c_re
                self.im[j] = c_im
                tick()

    @operation
    def line(self, k):
        self.im.request(k)
        real = self.re.read(k)
        self.imag = self.im.word
        return real


def _rounded(x: float) -> float:
    """To 16 fraction bits."""
    return round(x * 2**16) / 2**16
