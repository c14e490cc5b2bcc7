"""Numbers that become hardware: exact, rounded on request, or refused with words.

Conversions of IEEE 1076-2008 (``to_unsigned``, ``to_sfixed`` …) cut or saturate a number that does not fit and
give a warning; here such a number is refused, because a design that silently holds another number than the one
that was written cannot be debugged.
"""

from __future__ import annotations

import math
import numbers
from fractions import Fraction
from typing import Any

from ..netlist import Type, TypeFault, make
from .build import Builder, Refused, Value

Literal = int | float | Fraction | bool
"""A number without a type, as written in Python."""

Operand = Value | Literal


def a_type(kind: str, *size: int) -> Type:
    """:func:`simkit.netlist.make`, with an impossible type as :class:`Refused`."""
    try:
        return make(kind, *size)
    except TypeFault as fault:
        raise Refused(f"{fault}.") from fault


def sized(signed: bool, left: int, right: int | None = None) -> Type:
    """The type with this sign and these ends; an integer type if ``right`` is None."""
    if right is None:
        return a_type("signed" if signed else "unsigned", left + 1)
    return a_type("sfixed" if signed else "ufixed", left, right)


def show(number: Any) -> str:
    """A number as the learner would write it."""
    if isinstance(number, bool) or not isinstance(number, numbers.Rational):
        return repr(number.item()) if hasattr(number, "item") else repr(number)
    exact = Fraction(number)
    if exact.denominator == 1:
        return str(exact.numerator)
    near = float(exact)
    return repr(near) if Fraction(near) == exact else str(exact)


def extent(kind: Type) -> str:
    """The range of a type in words: ``0 to 255``, ``-8 to 7.9375 in steps of 0.0625``."""
    low, high = show(kind.low * kind.step), show(kind.high * kind.step)
    return f"{low} to {high} in steps of {show(kind.step)}" if kind.right else f"{low} to {high}"


def exact(number: Any) -> Fraction:
    """The exact value of a Python or NumPy number; :class:`Refused` for anything else, infinities and NaN included."""
    if isinstance(number, bool):
        return Fraction(int(number))
    if isinstance(number, numbers.Rational):
        return Fraction(int(number.numerator), int(number.denominator))
    if isinstance(number, numbers.Real) or hasattr(number, "dtype") and getattr(number, "shape", None) == ():
        value = float(number)  # type: ignore[arg-type]
        if math.isfinite(value):
            return Fraction(value)
        raise Refused(f"{value} is not a number that bits can hold.", "Give a finite number.")
    if isinstance(number, str):
        raise Refused(f"{number!r} is a text; hardware here carries numbers of a fixed width only.",
                      "Write a number, for example ord('A') for the code of a letter.")
    raise Refused(f"{number!r} ({type(number).__name__}) is not a number; a wire carries a number of a fixed width.",
                  "Write a whole number, a float or a signal.")


def smallest(number: Fraction) -> Type:
    """The narrowest integer type that holds a whole number."""
    whole = int(number)
    if whole >= 0:
        return a_type("unsigned", max(1, whole.bit_length()))
    return a_type("signed", (-whole - 1).bit_length() + 1)


def constant(kind: Type, number: Any) -> int:
    """Raw value of ``number`` in ``kind``, exactly.

    Raises
    ------
    Refused
        If ``number`` is no number, lies outside the type, or falls between two of its values.
    """
    value = exact(number)
    if kind.kind == "bit":
        if value not in (0, 1):
            raise Refused(f"a bit is 0 or 1, not {show(number)}.", f"Use {_holder(value)} if you need the number.")
        return int(value)
    if isinstance(number, bool):
        raise Refused(f"{number} is a bit and {kind} is a number.", f"Write {int(number)}.")
    raw = value / kind.step
    if not kind.low <= raw <= kind.high:
        raise Refused(f"{show(number)} does not fit {kind}, which holds {extent(kind)}.", _instead_of(kind, value, number))
    if raw.denominator != 1:
        near = ", ".join(show(Fraction(n) * kind.step) for n in (math.floor(raw), math.ceil(raw)) if kind.holds(n))
        raise Refused(f"{show(number)} is not a value of {kind}: its steps are {show(kind.step)} (nearest: {near}).",
                      f"Write const({show(number)}, {kind}) to take the nearest value, or choose a type with more fraction bits.")
    return int(raw)


def _instead_of(kind: Type, value: Fraction, number: Any) -> str:
    if value < 0 and not kind.signed:
        return f"An unsigned type has no negative numbers; use {_holder(value)}, or subtract {show(-value)}."
    return f"Write {_holder(value)}({show(number)}) or choose a wider type."


def _holder(value: Fraction) -> str:
    """A type that would hold ``value``, as text."""
    if value.denominator == 1:
        return str(smallest(value))
    right = -min(24, (value.denominator - 1).bit_length())
    left = max(0, int(abs(value)).bit_length())
    return f"sfixed({left}, {right})" if value < 0 else f"ufixed({left}, {right})"


def const_rounded(number: Any, kind: Type) -> int:
    """Raw value of the number of ``kind`` that lies nearest to ``number``, a tie going to the even one.

    This is the language's ``const(number, kind)``.  It rounds as ``fixed_round`` of IEEE 1076-2008 does, but from the
    exact number: ``to_sfixed(REAL, …)`` looks at three further bits only.  A number that would have to be saturated is
    refused.
    """
    value = exact(number)
    if kind.kind == "bit":
        raise Refused("const() makes a number and a bit is no number.", "Write 0 or 1.")
    raw = round(value / kind.step)
    if not kind.holds(raw):
        raise Refused(f"{show(number)} does not fit {kind}, which holds {extent(kind)}.", _instead_of_rounded(kind, value))
    return raw


def _instead_of_rounded(kind: Type, value: Fraction) -> str:
    if value < 0 and not kind.signed:
        return f"An unsigned type has no negative numbers; use {sized(True, kind.left + 1, kind.right if kind.fixed else None)}."
    bits = int(abs(value)).bit_length() + kind.signed - 1
    wider = sized(kind.signed, max(bits, kind.left + 1), kind.right if kind.fixed else None)
    return f"Use a type that reaches further, such as {wider}."


def typed(b: Builder, kind: Type, number: Any) -> Value:
    """A constant signal of ``kind``; refused unless exact."""
    return Value(b.const(constant(kind, number), kind), kind)


def need_signal(x: Operand, what: str) -> Value:
    """``x`` if it is a signal; a plain number has no width and is refused."""
    if isinstance(x, Value):
        return x
    number = exact(x)
    hint = f"{smallest(number)}({show(x)})" if number.denominator == 1 else f"const({show(x)}, sfixed(3, -12))"
    raise Refused(f"{what}: {show(x)} is a plain number and has no width.", f"Give it a type, for example {hint}.")
