"""Pulse-width modulation."""

from __future__ import annotations

from ..lang import Design, Reg, operation, unsigned


class Pwm(Design):
    """A line that is 1 for ``duty`` steps out of every ``period``.

    ``step(duty)``, called in every tick, returns the line's bit.  ``duty`` is an unsigned value of at least the
    period's width, 0 (never) to ``period`` (always); more counts as always.  It is taken over at the beginning of a
    period, so a change never makes a short pulse.

    Latency 0 ticks for the line; a new duty acts from the next period on.  Resolution log2(period) bits.

    Parameters
    ----------
    period : steps in a period, 2 to 2**32; at 40 MHz 1600 gives 25 kHz
    """

    def __init__(self, period: int) -> None:
        if not 2 <= period <= 2**32:
            raise ValueError(f"Pwm: period is {period}; 2 to 2**32 steps are possible")
        kind = unsigned(period.bit_length())
        self.last = period - 1
        self.at = Reg(kind)
        self.taken = Reg(kind)

    @operation
    def step(self, duty):
        begins = self.at == 0
        width = duty if begins else self.taken
        line = self.at < width
        self.taken = width
        self.at = 0 if self.at == self.last else self.at + 1
        return line
