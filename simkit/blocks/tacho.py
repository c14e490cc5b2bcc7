"""Turning speed from a pulse."""

from __future__ import annotations

from ..lang import Design, Reg, bit, operation, unsigned


class Tachometer(Design):
    """Ticks from one rising edge of a pulse to the next (reciprocal counting).

    ``step(x)``, called in every tick, returns 1 in the tick in which a period has just been measured; ``period`` then
    holds it from the next tick on.  ``stalled`` is 1 while no edge has come for ``longest`` ticks, and until a whole
    period has been seen.

    Latency 1 tick.  Range 1 to ``longest`` ticks.  Resolution 1 tick: the period of an even pulse is read as the whole
    number below or above it, so speed = 60 f / period r/min is off by at most one count.

    Parameters
    ----------
    longest : longest period in ticks; 1 s at 40 MHz unless told otherwise
    """

    stalled = Reg(bit, reset=1)
    before = Reg(bit)
    running = Reg(bit)

    def __init__(self, longest: int = 40_000_000) -> None:
        if not 2 <= longest < 2**48:
            raise ValueError(f"Tachometer: longest is {longest}; 2 to 2**48 - 1 ticks are possible")
        kind = unsigned(longest.bit_length())
        self.longest = longest
        self.count = Reg(kind, reset=1)
        self.period = Reg(kind)

    @operation
    def step(self, x):
        count, rises = self.count, x and not self.before
        measured = rises and self.running
        self.before = x
        if measured:
            self.period = count
        if rises:
            self.count = 1
            self.stalled = not measured
            self.running = 1
        elif count == self.longest:
            self.running = 0
            self.stalled = 1
        else:
            self.count = count + 1
        return measured
