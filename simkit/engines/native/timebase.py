"""Clock edges as integers.

With one clock and no crossing, time is counted in ticks.  Else it is counted in picoseconds: edge *k* lies at
``floor((k + 1) * num / den)``, kept exactly by adding ``step`` each time and carrying ``remainder`` in ``fraction``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...netlist import Netlist
from ..api import EngineFault
from .layout import NEVER


@dataclass(frozen=True)
class Beat:
    """One clock: its edges are ``num / den`` time units apart."""

    num: int
    den: int

    @property
    def step(self) -> int:
        """Whole time units from edge to edge; a clock that no run reaches is given the longest step."""
        return min(self.num // self.den, NEVER)

    @property
    def remainder(self) -> int:
        return self.num % self.den if self.step < NEVER else 0

    def edge(self, k: int) -> int:
        """Time of edge *k*; ``NEVER`` if no run gets there."""
        return min((k + 1) * self.num // self.den, NEVER)

    def fraction(self, k: int) -> int:
        return (k + 1) * self.num % self.den

    def due(self, ticks: np.ndarray) -> np.ndarray:
        """For each tick, the least time at which its events may be applied: just after the edge before it."""
        ticks = ticks.astype(np.int64)
        if len(ticks) and int(ticks[-1] + 1) * self.num >= 2**63:
            return np.array([self.edge(t - 1) + 1 if t > 0 else 0 for t in ticks.tolist()], np.int64)
        if self.num == self.den == 1:  # a division takes several times longer than all the rest
            return np.where(ticks > 0, ticks + 1, 0)
        return np.where(ticks > 0, ticks * self.num // self.den + 1, 0)


def beats(netlist: Netlist) -> list[Beat]:
    """The clocks in the netlist's time unit."""
    if counts_ticks(netlist):
        return [Beat(1, 1)]
    return [Beat(10**12 * clock.hz_den, clock.hz_num) for clock in netlist.clocks]


def counts_ticks(netlist: Netlist) -> bool:
    return len(netlist.clocks) == 1 and not any(reg.cross for reg in netlist.regs)


def end_of(beat: Beat, last: int) -> int:
    """The first time that lies after edge ``last``; :class:`EngineFault` if the engine cannot count so far."""
    if last >= NEVER or (last + 1) * beat.num // beat.den >= NEVER - 1:
        raise EngineFault(
            "a run may not go beyond 2**62 ticks, or picoseconds where there are several clocks (53 days)"
        )
    return beat.edge(last) + 1
