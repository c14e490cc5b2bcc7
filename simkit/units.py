"""Durations without rounding: ``s(1.5)``, ``ms(3)``, ``us(20)``, ``ns(25)``.

A duration is an exact number of picoseconds, so that a number of ticks worked out from it is exact too.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from numbers import Rational, Real
from typing import overload

PS_PER_S = 10**12


class UnitFault(ValueError):
    """A duration that cannot be meant: not a number, or not a whole number of ticks where one is needed."""


def exact(value: int | float | Fraction | Decimal) -> Fraction:
    """The number a person wrote: 0.1 is one tenth, not the nearest binary fraction.

    Raises :class:`UnitFault` for what is no finite number.
    """
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        raise UnitFault(f"{value!r} is not a number")
    try:
        return Fraction(value) if isinstance(value, Rational | Decimal) else Fraction(repr(float(value)))
    except (ValueError, OverflowError):
        raise UnitFault(f"{value!r} is not a finite number") from None


@dataclass(frozen=True, order=True)
class Duration:
    """A length of time.  ``ps`` is in picoseconds, exact.

    >>> us(20).ticks(40_000_000)
    Fraction(800, 1)
    >>> (ms(1) + us(500)).seconds
    0.0015
    """

    ps: Fraction

    @property
    def seconds(self) -> float:
        """The nearest float, in seconds."""
        return float(self.ps / PS_PER_S)

    def ticks(self, hz: int | Fraction) -> Fraction:
        """Length in periods of a clock of ``hz`` hertz, exact, perhaps not whole."""
        return self.ps * Fraction(hz) / PS_PER_S

    def __add__(self, other: Duration) -> Duration:
        return Duration(self.ps + other.ps) if isinstance(other, Duration) else NotImplemented

    def __sub__(self, other: Duration) -> Duration:
        return Duration(self.ps - other.ps) if isinstance(other, Duration) else NotImplemented

    def __mul__(self, factor: int | float | Fraction) -> Duration:
        return Duration(self.ps * exact(factor))

    __rmul__ = __mul__

    @overload
    def __truediv__(self, other: Duration) -> Fraction: ...

    @overload
    def __truediv__(self, other: int | float | Fraction) -> Duration: ...

    def __truediv__(self, other: Duration | int | float | Fraction) -> Duration | Fraction:
        return self.ps / other.ps if isinstance(other, Duration) else Duration(self.ps / exact(other))

    def __neg__(self) -> Duration:
        return Duration(-self.ps)

    def __bool__(self) -> bool:
        return self.ps != 0

    def __str__(self) -> str:
        for unit, size in (("s", 10**12), ("ms", 10**9), ("us", 10**6), ("ns", 10**3)):
            if abs(self.ps) >= size:
                return f"{float(self.ps / size):.9g} {unit}"
        return f"{float(self.ps):.9g} ps"

    def __repr__(self) -> str:
        return str(self)


def s(value: int | float | Fraction | Decimal) -> Duration:
    """``value`` seconds."""
    return Duration(exact(value) * 10**12)


def ms(value: int | float | Fraction | Decimal) -> Duration:
    """``value`` milliseconds."""
    return Duration(exact(value) * 10**9)


def us(value: int | float | Fraction | Decimal) -> Duration:
    """``value`` microseconds."""
    return Duration(exact(value) * 10**6)


def ns(value: int | float | Fraction | Decimal) -> Duration:
    """``value`` nanoseconds."""
    return Duration(exact(value) * 10**3)
