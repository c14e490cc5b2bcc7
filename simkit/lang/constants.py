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


class Choice(Value):
    """``1 if flag else 0``: a signal made of plain numbers only.  It takes the type of what it meets, as they do.

    ``type`` is what it has until then.  Choices of choices share their parts, so each remembers what it is as which type.
    """

    condition: int
    sides: tuple[Literal | Choice, Literal | Choice]
    numbers: tuple[Literal, ...]
    as_kind: dict[Type, Value]

    @classmethod
    def make(cls, b: Builder, condition: int, sides: tuple[Any, Any], kind: Type) -> Choice:
        """The choice, for the time being as ``kind``."""
        parts = [side.as_type(b, kind) if isinstance(side, Choice) else typed(b, kind, side) for side in sides]
        node = b.choose(condition, parts[0].node, parts[1].node, kind)
        made = cls(node, kind)
        made.condition, made.sides = condition, sides
        made.numbers = numbers_of(*sides)
        made.as_kind = {kind: Value(node, kind)}
        return made

    def as_type(self, b: Builder, kind: Type, beside: bool = False) -> Value:
        """The choice as a signal of ``kind``; refused unless every number is exact in it."""
        waiting = [self]
        while waiting:
            last = waiting[-1]
            inner = [side for side in last.sides if isinstance(side, Choice) and kind not in side.as_kind]
            if inner:
                waiting.extend(inner)
                continue
            waiting.pop()
            if kind not in last.as_kind:
                last.as_kind[kind] = last._between(b, kind, beside)
        return self.as_kind[kind]

    def _between(self, b: Builder, kind: Type, beside: bool) -> Value:
        yes, no = (
            side.as_kind[kind] if isinstance(side, Choice) else typed(b, kind, side, beside) for side in self.sides
        )
        return Value(b.choose(self.condition, yes.node, no.node, kind), kind)


def numbers_of(*sides: Any) -> tuple[Literal, ...]:
    """Every number that the sides of a choice can be, each once."""
    found = {}
    for side in sides:
        for number in side.numbers if isinstance(side, Choice) else (side,):
            found[type(number), number] = number
    return tuple(found.values())


class Constant(Fraction):
    """A number that was given a type before any hardware existed: what ``const(0.1, sfixed(0, -15))`` is in Python.

    It calculates as a fraction; beside a signal it is a constant of its ``kind``.
    """

    kind: Type

    @classmethod
    def make(cls, raw: int, kind: Type) -> Constant:
        """The constant of ``kind`` with the raw value ``raw``."""
        made = cls(raw * kind.step)
        made.kind = kind
        return made


def plain(x: Any) -> bool:
    """True for what has no type of its own: a number, or a choice among numbers."""
    return not isinstance(x, Value) or isinstance(x, Choice)


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
    if exact.numerator.bit_length() > 256:
        return f"a number of {exact.numerator.bit_length() - exact.denominator.bit_length() + 1} bits"
    if exact.denominator == 1:
        return str(exact.numerator)
    near = float(exact)
    return repr(near) if Fraction(near) == exact else f"about {near:.10g}"


def step_of(kind: Type) -> str:
    """What one count of a type is worth: ``0.0625``, ``2**-15``."""
    return show(kind.step) if -8 <= kind.right <= 16 else f"2**{kind.right}"


def extent(kind: Type) -> str:
    """The range of a type in words: ``0 to 255``, ``-8 to 7.9375 in steps of 0.0625``."""
    low, high = show(kind.low * kind.step), show(kind.high * kind.step)
    return f"{low} to {high} in steps of {step_of(kind)}" if kind.right else f"{low} to {high}"


def exact(number: Any) -> Fraction:
    """The exact value of a Python or NumPy number; :class:`Refused` for anything else, infinities and NaN included."""
    if isinstance(number, bool):
        return Fraction(int(number))
    if isinstance(number, numbers.Rational):
        return Fraction(int(number.numerator), int(number.denominator))
    if isinstance(number, numbers.Real) or (hasattr(number, "dtype") and getattr(number, "shape", None) == ()):
        value = float(number)
        if math.isfinite(value):
            return Fraction(value)
        raise Refused(f"{value} is not a number that bits can hold.", "Give a finite number.")
    if isinstance(number, str):
        raise Refused(
            f"{number!r} is a text; hardware here carries numbers of a fixed width only.",
            "Write a number, for example ord('A') for the code of a letter.",
        )
    raise Refused(
        f"{number!r} ({type(number).__name__}) is not a number; a wire carries a number of a fixed width.",
        "Write a whole number, a float or a signal.",
    )


def smallest(number: Fraction) -> Type:
    """The narrowest integer type that holds a whole number."""
    whole = int(number)
    if whole >= 0:
        return a_type("unsigned", max(1, whole.bit_length()))
    return a_type("signed", (-whole - 1).bit_length() + 1)


def constant(kind: Type, number: Any, beside: bool = False) -> int:
    """Raw value of ``number`` in ``kind``, exactly.  ``beside``: it stands next to a signal of ``kind`` (for the advice).

    Raises
    ------
    Refused
        If ``number`` is no number, lies outside the type, or falls between two of its values.
    """
    value = exact(number)
    if kind.kind == "bit":
        if value not in (0, 1):
            raise Refused(
                f"a bit is 0 or 1, not {show(number)}.",
                f"Use {smallest(Fraction(math.ceil(value)))} if you need the number.",
            )
        return int(value)
    if isinstance(number, bool):
        raise Refused(f"{number} is a bit and {kind} is a number.", f"Write {int(number)}.")
    raw = value / kind.step
    if not kind.low <= raw <= kind.high:
        raise Refused(
            f"{show(number)} does not fit {kind}, which holds {extent(kind)}.", _instead_of(kind, value, number, beside)
        )
    if raw.denominator != 1:
        near = ", ".join(show(Fraction(n) * kind.step) for n in (math.floor(raw), math.ceil(raw)) if kind.holds(n))
        raise Refused(
            f"{show(number)} is not a value of {kind}: its steps are {step_of(kind)} (nearest: {near}).",
            f"Write const({show(number)}, {kind}) for the nearest value, or take more fraction bits.",
        )
    return int(raw)


def _instead_of(kind: Type, value: Fraction, number: Any, beside: bool) -> str:
    wider = _wider(kind, value)
    if value < 0 and not kind.signed:
        subtract = f", or subtract {show(-value)}" if beside else ""
        return f"An unsigned type has no negative numbers; use {wider}{subtract}."
    if not beside:
        return f"Take a type that reaches further, such as {wider}."
    text = f"{wider}({show(number)})" if value.denominator == 1 else f"const({show(number)}, {wider})"
    return f"Write {text} or choose a wider type."


def _wider(kind: Type, value: Fraction) -> Type:
    """A type like ``kind`` that reaches as far as ``value``."""
    signed = kind.signed or value < 0
    bits = (-math.floor(value) - 1 if value < 0 else math.floor(value)).bit_length() + signed
    return sized(signed, max(bits - 1, kind.left + (signed and not kind.signed)), kind.right if kind.fixed else None)


def const_rounded(number: Any, kind: Type) -> int:
    """Raw value of the number of ``kind`` that lies nearest to ``number``, a tie going to the even one.

    This is the language's ``const(number, kind)``.  It rounds as ``fixed_round`` of IEEE 1076-2008 does, but from the
    exact number: ``to_sfixed(REAL, …)`` looks at three further bits only.  A number that would have to be saturated is
    refused.
    """
    if not isinstance(kind, Type):
        raise Refused(f"const(): {kind!r} is no type.", "Write for example const(0.1, sfixed(0, -15)).")
    value = exact(number)
    if kind.kind == "bit":
        raise Refused("const() makes a number and a bit is no number.", "Write 0 or 1.")
    raw = round(value / kind.step)
    if not kind.holds(raw):
        wider = _wider(kind, value)
        raise Refused(
            f"{show(number)} does not fit {kind}, which holds {extent(kind)}.", f"Write const({show(number)}, {wider})."
        )
    return raw


def typed(b: Builder, kind: Type, number: Any, beside: bool = False) -> Value:
    """A plain number (or a choice among such) as a signal of ``kind``; refused unless exact."""
    if isinstance(number, Choice):
        return number.as_type(b, kind, beside)
    return Value(b.const(constant(kind, number, beside), kind), kind)


def need_signal(x: Operand, what: str) -> Value:
    """``x`` if it is a signal; a plain number has no width and is refused."""
    if isinstance(x, Value):
        return x
    number = exact(x)
    hint = f"{smallest(number)}({show(x)})" if number.denominator == 1 else f"const({show(x)}, sfixed(3, -12))"
    raise Refused(f"{what}: {show(x)} is a plain number and has no width.", f"Give it a type, for example {hint}.")
