"""How often a synchroniser fails."""

from __future__ import annotations

import math
from collections.abc import Iterable


def synchronizer_mtbf(settling_s: float, tau_s: float, window_s: float, clock_hz: float, changes_per_s: float) -> float:
    """Mean time between failures in s of a flip-flop that samples an unrelated signal: exp(tr / tau) / (T0 f a).

    Source: J. F. Wakerly, *Digital Design*, chapter on metastability; R. Ginosar, "Metastability and synchronizers: a
    tutorial", IEEE Design & Test 28(5), 2011 (from memory).  It assumes unrelated clocks.

    Parameters
    ----------
    settling_s : time tr that is left for the output to settle; times of further stages add up
    tau_s, window_s : constants tau and T0 of the flip-flop
    clock_hz : sampling clock f
    changes_per_s : changes a of the sampled signal per second
    """
    if min(tau_s, window_s, clock_hz, changes_per_s) <= 0:
        raise ValueError("tau, window, clock and changes must be positive")
    return math.exp(settling_s / tau_s) / (window_s * clock_hz * changes_per_s)


def system_mtbf(each: Iterable[float]) -> float:
    """Mean time between failures of several synchronisers together: the rates add."""
    return 1 / sum(1 / one for one in each)
