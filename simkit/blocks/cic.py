"""Cascaded integrator-comb decimation."""

from __future__ import annotations

from ..dsp import cic_growth_bits
from ..lang import Design, Reg, Regs, operation, resize, unsigned
from ..netlist import Type, make
from .average import signed_kind


class Cic(Design):
    """A CIC decimator: low-pass and fewer samples without a multiplier.

    ``step(x)`` returns 1 once in ``rate`` samples; ``value`` then holds the new output from the next tick on, exact:
    the input times the gain ``rate**stages`` at zero frequency, in a type wide enough for it (``result``).

    Latency 1 tick to ``value``; group delay stages (rate - 1) / 2 input samples.  Integrators wrap and that is right as
    long as the width holds the result (E. B. Hogenauer, IEEE Trans. ASSP 29(2), 1981; from memory).  Gain over
    frequency: :func:`simkit.dsp.cic_gain`.

    Parameters
    ----------
    stages : 1 to 8
    rate : 2 to 4096 input samples for one output sample
    kind : signed(w), up to 32 bits
    """

    def __init__(self, stages: int, rate: int, kind: Type) -> None:
        signed_kind(kind, "Cic")
        if not 1 <= stages <= 8 or not 2 <= rate <= 4096:
            raise ValueError(f"Cic: {stages} stages at rate {rate}; 1 to 8 stages and a rate of 2 to 4096 are possible")
        self.stages = stages
        self.last = rate - 1
        self.result = make("signed", kind.width + cic_growth_bits(stages, rate))
        self.sums = Regs(self.result, stages)
        self.before = Regs(self.result, stages)
        self.at = Reg(unsigned(rate.bit_length()))
        self.value = Reg(self.result)

    @operation
    def step(self, x):
        v = resize(x, self.result)
        for i in range(self.stages):
            v = self.sums[i] + v
            self.sums[i] = v
        full = self.at == self.last
        self.at = 0 if full else self.at + 1
        if full:
            for i in range(self.stages):
                difference = v - self.before[i]
                self.before[i] = v
                v = difference
            self.value = v
        return full
