"""One line of a spectrum: the Goertzel algorithm."""

from __future__ import annotations

import math

from ..lang import Design, Reg, const, operation, resize, sfixed, unsigned
from ..netlist import Type, make
from .average import signed_kind


class Goertzel(Design):
    """The discrete Fourier transform of blocks of ``n`` samples at one frequency.

    ``step(x)`` returns 1 with the last sample of a block; ``real`` and ``imag`` then hold, from the next tick on, the
    sum of x[k] exp(2 pi i f (n - k) / rate), k from 0.  If the block holds whole periods this is the transform X
    itself, else X turned by a constant angle.  A tone's amplitude is 2 |X| / n.

    Latency 1 tick after the last sample; two multiplications in the last tick, one in the others.  State rounds half to
    even with ``fraction_bits`` bits.

    Source: G. Goertzel, "An algorithm for the evaluation of finite trigonometric series", Amer. Math. Monthly 65, 1958
    (citation from memory).

    Parameters
    ----------
    hz, rate_hz : the frequency, above 0 and below half the rate
    n : samples in a block, 2 to 65536
    kind : signed(w), up to 32 bits
    """

    def __init__(
        self, hz: float, rate_hz: float, n: int, kind: Type, fraction_bits: int = 8, coefficient_bits: int = 24
    ) -> None:
        signed_kind(kind, "Goertzel")
        if not 0 < hz < rate_hz / 2 or not 2 <= n <= 65536:
            raise ValueError(
                f"Goertzel: {hz} Hz at {rate_hz} samples/s, {n} samples: the frequency is above 0 and below half "
                "the rate, and a block has 2 to 65536 samples"
            )
        w = 2 * math.pi * hz / rate_hz
        coefficient = sfixed(1, -coefficient_bits)
        self.twice = const(2 * math.cos(w), sfixed(2, -coefficient_bits))
        self.cosine, self.sine = const(math.cos(w), coefficient), const(math.sin(w), coefficient)
        growth = math.ceil(math.log2(n / math.sin(w))) + 1
        self.state = make("sfixed", kind.left + growth, -fraction_bits)
        self.result = make("sfixed", kind.left + n.bit_length() + 1, -fraction_bits)
        self.whole = make("sfixed", kind.left, 0)
        self.last = n - 1
        self.at = Reg(unsigned(n.bit_length()))
        self.s1, self.s2 = Reg(self.state), Reg(self.state)
        self.real, self.imag = Reg(self.result), Reg(self.result)

    @operation
    def step(self, x):
        s1, s2 = self.s1, self.s2
        s = resize(self.whole(x) + self.twice * s1 - s2, self.state)
        full = self.at == self.last
        self.at = 0 if full else self.at + 1
        self.s1 = 0 if full else s
        self.s2 = 0 if full else s1
        if full:
            self.real = resize(self.cosine * s - s1, self.result)
            self.imag = resize(self.sine * s, self.result)
        return full
