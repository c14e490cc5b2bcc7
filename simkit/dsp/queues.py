"""How deep a queue must be."""

from __future__ import annotations

import math


def md1_length(utilisation: float) -> float:
    """Mean number waiting where arrivals are random and service takes a fixed time: rho**2 / (2 (1 - rho)).

    Source: Pollaczek-Khinchine formula (from memory).
    """
    if not 0 <= utilisation < 1:
        raise ValueError(
            "a queue that is served no faster than it fills has no mean length: utilisation is 0 to below 1"
        )
    return utilisation**2 / (2 * (1 - utilisation))


def stall_depth(rate_hz: float, channels: int, stall_s: float) -> int:
    """Words that pile up while the reader pauses for ``stall_s`` seconds."""
    return math.ceil(round(rate_hz * channels * stall_s, 9))


def burst_depth(burst: int, write_hz: float, read_hz: float) -> int:
    """Words a queue must hold for a burst written at ``write_hz`` and read at ``read_hz`` all the while.

    Counted event by event: a word stays until its read edge, and on a tie the write comes first.  The last of n writes
    falls n - 1 periods after the first, so the popular n (1 - fr / fw) is one word short.
    """
    if read_hz >= write_hz:
        return 1
    gone = max(math.ceil((burst - 1) * read_hz / write_hz - 1e-9) - 1, 0)
    return burst - gone
