"""Numbers as a person reads them: times, intervals, values in their own format."""

from __future__ import annotations

from fractions import Fraction

from ..netlist.types import Type

UNITS = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "ps": 10**12}
"""How many of each unit make a second."""

PRINTED = {"us": "µs"}


def printed(unit: str) -> str:
    """The unit as it is printed: ``us`` becomes ``µs``."""
    return PRINTED.get(unit, unit)


def plain(number: float, digits: int = 6) -> str:
    """Up to ``digits`` significant digits (whole numbers in full), no exponent, thin spaces between thousands."""
    sign, size = "-" if number < 0 else "", abs(number)
    text = str(int(size)) if float(size).is_integer() else f"{size:.{digits}g}"
    if "e" in text:
        return sign + text
    whole, dot, part = text.partition(".")
    return sign + f"{int(whole):,}".replace(",", "\u2009") + dot + part


def best_unit(seconds: float) -> str:
    """The largest unit in which the time is at least 1; ``ps`` for none."""
    return next((unit for unit, per in UNITS.items() if abs(seconds) * per >= 0.9999999), "ps")


def time_text(seconds: float, unit: str = "") -> str:
    """``1.95e-5`` → ``19.5 µs``; six significant digits."""
    unit = unit or best_unit(seconds)
    return f"{plain(float(Fraction(repr(float(seconds))) * UNITS[unit]))} {printed(unit)}" if seconds else "0 s"


def ticks_text(ticks: int, tick_s: float | None) -> str:
    """``781 ticks = 19.525 µs``; only the ticks if their length is not known."""
    count = f"{plain(ticks)} tick" + ("" if abs(ticks) == 1 else "s")
    return count if tick_s is None else f"{count} = {time_text(float(ticks * Fraction(repr(float(tick_s)))))}"


def value_text(raw: int, kind: Type | None, base: str = "number") -> str:
    """A raw value in the learner's number format.

    ``base`` is ``number`` (fixed point as the number it means), ``hex`` or ``bin`` (the bits, two's complement).
    """
    if base == "number":
        number = kind.number(int(raw)) if kind else int(raw)
        return f"{number:.10g}" if isinstance(number, float) else str(number)
    width = kind.width if kind else max(int(raw).bit_length() + (raw < 0), 1)
    bits = int(raw) & ((1 << width) - 1)
    return f"0x{bits:0{-(-width // 4)}X}" if base == "hex" else f"0b{bits:0{width}b}"
