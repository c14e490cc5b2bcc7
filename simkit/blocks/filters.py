"""Recursive filters: second-order sections in fixed point."""

from __future__ import annotations

from collections.abc import Sequence

from ..lang import Design, Reg, const, operation, resize, sfixed
from ..netlist import Type, make
from .average import signed_kind


class Biquad(Design):
    """y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2 (direct form I), one second-order section.

    ``step(x)`` takes and returns sfixed values of ``state``, the type in which samples are kept.  Products and sums are
    exact; the result is rounded once (half to even) and saturates.

    Latency 0 ticks; five multiplications in one tick (see :class:`BiquadChain` for whole-number samples).

    Parameters
    ----------
    b, a : coefficients (b0, b1, b2) and (1, a1, a2), each smaller than 4; rounded to ``coefficient_bits`` fraction bits
    state : sfixed type of input, output and memory
    """

    def __init__(self, b: Sequence[float], a: Sequence[float], state: Type, coefficient_bits: int = 24) -> None:
        if len(b) != 3 or len(a) != 3 or a[0] != 1 or max(abs(c) for c in (*b, *a)) >= 4:
            raise ValueError("Biquad: three b, three a with a0 = 1, all smaller than 4 are possible")
        kind = sfixed(2, -coefficient_bits)
        self.b0, self.b1, self.b2 = (const(float(c), kind) for c in b)
        self.a1, self.a2 = (const(float(c), kind) for c in a[1:])
        self.state = state
        self.x1, self.x2, self.y1, self.y2 = Reg(state), Reg(state), Reg(state), Reg(state)

    @operation
    def step(self, x):
        ahead = self.b0 * x + self.b1 * self.x1 + self.b2 * self.x2
        y = resize(ahead - self.a1 * self.y1 - self.a2 * self.y2, self.state)
        self.x2 = self.x1
        self.x1 = x
        self.y2 = self.y1
        self.y1 = y
        return y


class BiquadChain(Design):
    """Second-order sections one after the other, for whole-number samples.

    ``step(x)`` takes and returns ``kind``.  Between and inside the sections samples carry ``fraction_bits`` more bits
    and one bit of headroom; the result is rounded half to even and saturates.

    Latency 0 ticks; one section after the other in one tick, so the clock rate falls with their number.  The rounding
    noise of a section is amplified by its poles: keep ``fraction_bits`` at 8 or more for corners below a hundredth of
    the sample rate.

    Parameters
    ----------
    sections : rows (b0, b1, b2, 1, a1, a2), as scipy designs them (``output="sos"``), 1 to 8
    kind : signed(w), up to 32 bits
    """

    def __init__(
        self, sections: Sequence[Sequence[float]], kind: Type, fraction_bits: int = 10, coefficient_bits: int = 24
    ) -> None:
        signed_kind(kind, "BiquadChain")
        if not 1 <= len(sections) <= 8 or any(len(row) != 6 for row in sections):
            raise ValueError("BiquadChain: 1 to 8 rows of (b0, b1, b2, 1, a1, a2) are possible")
        self.kind = kind
        self.whole = make("sfixed", kind.left, 0)
        self.inner = make("sfixed", kind.left + 1, -fraction_bits)
        self.parts = [Biquad(row[:3], row[3:], self.inner, coefficient_bits) for row in sections]

    @operation
    def step(self, x):
        v = resize(self.whole(x), self.inner)
        for part in self.parts:
            v = part.step(v)
        return self.kind(resize(v, self.whole))
