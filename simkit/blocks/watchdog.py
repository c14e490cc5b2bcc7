"""A watchdog: something must show life, or the outputs go to their safe state."""

from __future__ import annotations

from ..lang import Design, Reg, bit, operation, unsigned


class Watchdog(Design):
    """Expires when nothing has shown life for ``steps`` steps.

    ``step(alive)`` returns 1 once ``steps`` steps on end have passed without ``alive``; it stays 1 until ``alive``, or,
    with ``latch``, for ever.

    Latency 0 ticks: the ``steps``-th step without life returns 1.  A watchdog in logic supervises the host; it is no
    safety function: stopping a real fan or burner safely needs hard-wired means.

    Parameters
    ----------
    steps : 1 to 2**40
    latch : once expired, stay so
    """

    expired = Reg(bit)

    def __init__(self, steps: int, latch: bool = False) -> None:
        if not 1 <= steps <= 2**40:
            raise ValueError(f"Watchdog: steps is {steps}; 1 to 2**40 are possible")
        self.last = steps - 1
        self.latch = bool(latch)
        self.silent = Reg(unsigned(steps.bit_length()))

    @operation
    def step(self, alive):
        over = self.silent == self.last
        expired = (over and not alive) or (self.latch and self.expired)
        if alive:
            self.silent = 0
        elif not over:
            self.silent = self.silent + 1
        self.expired = expired
        return expired
