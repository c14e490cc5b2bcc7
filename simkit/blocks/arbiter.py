"""Who goes first: a round-robin arbiter."""

from __future__ import annotations

from ..lang import Design, Reg, operation, unsigned


class RoundRobin(Design):
    """Grants one of several requests at a time, each in turn.

    ``step(requests)`` takes unsigned(n), one bit for each requester (bit 0 is the first), and returns unsigned(n) with
    at most one bit set: the first requester after the one that was granted last.  A requester that keeps asking waits
    for at most n - 1 grants to others.

    Latency 0 ticks; two ripple subtractions of n bits deep.

    Parameters
    ----------
    n : number of requesters, 2 to 64
    """

    def __init__(self, n: int) -> None:
        if not 2 <= n <= 64:
            raise ValueError(f"RoundRobin: n is {n}; 2 to 64 requesters are possible")
        self.n = n
        self.done = Reg(unsigned(n))

    @operation
    def step(self, requests):
        # Bits of those who come after the last one granted: all above its bit.
        after = ~(self.done | (self.done - 1)) if self.done != 0 else ~self.done
        later = requests & after
        chosen = later if later != 0 else requests
        grant = chosen & (~chosen + 1)
        if grant != 0:
            self.done = grant
        return grant
