"""Hardware number types: how many bits, signed or not, and where the binary point is.

One class serves the whole kit.  A value of any type is carried around as its *raw* integer: the
number that the bits spell, read as two's complement when the type is signed.  The number a person
means is ``raw * 2**right``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

MAX_WIDTH = 4096
"""Widest value a design may hold, in bits (keeps a hostile netlist from asking for gigabytes)."""

INTEGER_KINDS = ("bit", "unsigned", "signed")
FIXED_KINDS = ("ufixed", "sfixed")


class TypeFault(ValueError):
    """A type that cannot exist, such as ``unsigned(0)``."""


@dataclass(frozen=True, slots=True)
class Type:
    """A number format in the terms of IEEE 1076-2008 ``numeric_std`` and ``fixed_pkg``.

    Parameters
    ----------
    kind : ``"bit"``, ``"unsigned"``, ``"signed"``, ``"ufixed"`` or ``"sfixed"``
    left, right : int
        Index of the most and least significant bit; bit *i* weighs 2**i.  Integers end at 0.
    """

    kind: str
    left: int
    right: int = 0
    width: int = field(init=False, repr=False, compare=False)
    """Number of bits."""
    signed: bool = field(init=False, repr=False, compare=False)
    """True if the most significant bit weighs negative."""
    fixed: bool = field(init=False, repr=False, compare=False)
    """True for ``ufixed`` and ``sfixed``."""
    low: int = field(init=False, repr=False, compare=False)
    """Smallest raw value."""
    high: int = field(init=False, repr=False, compare=False)
    """Largest raw value."""

    def __post_init__(self) -> None:
        """What follows from kind and size is asked for all the time, so it is worked out once."""
        put, width, signed = object.__setattr__, self.left - self.right + 1, self.kind in ("signed", "sfixed")
        put(self, "width", width)
        put(self, "signed", signed)
        put(self, "fixed", self.kind in FIXED_KINDS)
        put(self, "low", -(1 << (width - 1)) if signed else 0)
        put(self, "high", (1 << (width - signed)) - 1)

    @property
    def step(self) -> Fraction:
        """What one raw count is worth."""
        return Fraction(2) ** self.right

    def holds(self, raw: int) -> bool:
        """True if ``raw`` is one of this type's values."""
        return self.low <= raw <= self.high

    def wrap(self, raw: int) -> int:
        """The value that the lowest ``width`` bits of ``raw`` spell in this type."""
        raw &= (1 << self.width) - 1
        return raw - (1 << self.width) if self.signed and raw >> (self.width - 1) else raw

    def number(self, raw: int) -> int | float:
        """The number a person means by ``raw``: an int for integers, a float for fixed point."""
        return raw * 2.0**self.right if self.fixed else raw

    def __str__(self) -> str:
        if self.kind == "bit":
            return "bit"
        return f"{self.kind}({self.left}, {self.right})" if self.fixed else f"{self.kind}({self.width})"


BIT = Type("bit", 0, 0)


@lru_cache(maxsize=4096, typed=True)  # typed: 8.0 and True are no sizes, though they equal 8 and 1
def make(kind: str, *size: int) -> Type:
    """Build a type and refuse impossible ones.

    ``make("unsigned", 8)``, ``make("sfixed", 3, -4)``, ``make("bit")``.

    Raises
    ------
    TypeFault
        If the kind is unknown or the size is out of range (1 to 4096 bits).
    """
    for number in size:
        if isinstance(number, bool) or not isinstance(number, int):
            raise TypeFault(f"{kind}: a size is a whole number of bits, not {number!r}")
    written = f"{kind}({', '.join(map(str, size))})"
    if kind == "bit" and not size:
        return BIT
    if kind in ("unsigned", "signed") and len(size) == 1:
        left, right = size[0] - 1, 0
    elif kind in FIXED_KINDS and len(size) == 2:
        left, right = size
    else:
        raise TypeFault(f"{written}: write bit, unsigned(n), signed(n), ufixed(left, right) or sfixed(left, right)")
    if kind in FIXED_KINDS and left < right:
        raise TypeFault(f"{written}: the left end is the higher one; write {kind}({right}, {left})")
    if not 1 <= left - right + 1 <= MAX_WIDTH:
        raise TypeFault(f"{written} has {left - right + 1} bits; a value has 1 to {MAX_WIDTH}")
    if abs(right) > MAX_WIDTH:
        raise TypeFault(f"{written}: the binary point lies more than {MAX_WIDTH} bits away")
    return Type(kind, left, right)


_TEXT = re.compile(r"(bit|unsigned|signed|ufixed|sfixed)(?:\((-?\d{1,5})(?:, ?(-?\d{1,5}))?\))?")


def parse(text: str) -> Type:
    """Read back what ``str(type)`` printed; raises :class:`TypeFault` for anything else."""
    match = _TEXT.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise TypeFault(f"{text!r} is not a type")
    return make(match[1], *(int(size) for size in match.groups()[1:] if size is not None))
