"""Asynchronous serial lines: dividers and how far two clocks may differ."""

from __future__ import annotations


def uart_divider(clock_hz: float, baud: float, oversampling: int = 1) -> tuple[int, float]:
    """Nearest divider of the clock and the rate's relative error with it."""
    divider = max(round(clock_hz / (oversampling * baud)), 1)
    return divider, clock_hz / (oversampling * divider) / baud - 1


def uart_tolerance(frame_bits: int = 10, start_uncertainty: float = 0.0) -> float:
    """Relative difference of two clocks at which the last bit is sampled at its edge.

    Bits are sampled in their middle, counted from the start edge; the last bit's middle is ``frame_bits - 0.5`` bits
    later.

    Parameters
    ----------
    frame_bits : start, data, parity and stop bits together (10 for 8N1)
    start_uncertainty : how late the start edge may be noticed, in bits (1/16 with 16-fold oversampling)
    """
    return (0.5 - start_uncertainty) / (frame_bits - 0.5)
