"""Two kinds of host computer, and one that costs no time.

All figures are common practice (no source): a desktop operating system answers in milliseconds, now and then in tens of
them, with no upper bound that anybody promises; a real-time system in microseconds, with a bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class HostModel:
    """How long the host and its link take.

    Parameters
    ----------
    name : what it is called
    least_s : shortest time of one access or reaction, s
    typical_s : median of what comes on top, s
    spread : width of its log-normal distribution (standard deviation of the logarithm); 0 for an even distribution from
        0 to twice ``typical_s``
    most_s : longest time; a desktop's is only where the model ends
    burst_s : how often the link moves stream words, s
    words_per_s : how many stream words it can move, per second
    """

    name: str
    least_s: float
    typical_s: float
    spread: float
    most_s: float
    burst_s: float
    words_per_s: float

    def delay(self, random: np.random.Generator) -> float:
        """A random access or reaction time in s."""
        if not self.typical_s:
            return self.least_s
        if self.spread:
            extra = self.typical_s * math.exp(self.spread * float(random.standard_normal()))
        else:
            extra = 2 * self.typical_s * float(random.random())
        return min(self.least_s + extra, self.most_s)


IDEAL = HostModel("ideal", 0.0, 0.0, 0.0, 0.0, 1e-3, 20e6)
"""No time at all: for exercises about something else."""

DESKTOP = HostModel("desktop", 0.2e-3, 1.0e-3, 0.9, 80e-3, 5e-3, 5e6)
"""A desktop: about a millisecond, heavy-tailed up to tens of milliseconds."""

REAL_TIME = HostModel("real-time", 5e-6, 6e-6, 0.0, 20e-6, 0.5e-3, 5e6)
"""A real-time system: 5 to 17 microseconds, never more than 20."""

MODELS = {model.name: model for model in (IDEAL, DESKTOP, REAL_TIME)}
