"""Operands of the operators: which may meet, and what type a plain number takes beside a signal."""

from __future__ import annotations

from typing import Any

from ..netlist import BIT, Type
from .build import Builder, Refused, Value
from .constants import Choice, Literal, Operand, exact, numbers_of, plain, sized, typed


def truth(b: Builder, x: Operand, what: str) -> Value:
    """``x`` as a condition: a bit, or the plain numbers 0, 1, False, True.  ``what`` names the place: ``"if"``."""
    if not isinstance(x, Value):
        return typed(b, BIT, x)
    if x.type != BIT:
        raise Refused(f"{what} needs a bit and got {x.type}.", "Write a comparison, for example x != 0.")
    return x


def literal_type(kind: Type, number: Literal | Choice) -> Type:
    """The type of a plain number beside a signal of ``kind``: the same, or whole bits for an int beside fixed point.

    IEEE 1076-2008 ``numeric_std`` takes the vector's length, ``fixed_pkg`` ``to_sfixed(number, l'high, 0)`` for an
    integer and ``to_sfixed(number, l'high, l'low)`` for a real.
    """
    if kind.fixed and all(isinstance(n, int) for n in numbers_of(number)):
        return sized(kind.signed, max(kind.left, 0), 0)
    return kind


def _as_signal(b: Builder, op: str, kind: Type, number: Any) -> Value:
    """A plain number as the other operand of a signal of ``kind``."""
    if not isinstance(number, Choice):
        exact(number)  # no number at all is refused in its own words
    own = literal_type(kind, number)
    try:
        return typed(b, own, number, beside=True)
    except Refused as refused:
        why = refused.why
        if own != kind:
            why = f"{why.removesuffix('.')} (a whole number beside {kind} is taken as {own})."
        raise Refused(f"{op} with {kind}: {why}", refused.instead) from refused


def pair(b: Builder, op: str, x: Operand, y: Operand) -> tuple[Value, Value]:
    """Both operands as signals that may meet."""
    if plain(x) and isinstance(y, Value) and not (isinstance(x, Value) and plain(y)):
        x = _as_signal(b, op, y.type, x)
    assert isinstance(x, Value)
    if not isinstance(y, Value) or plain(y) and not plain(x):
        y = _as_signal(b, op, x.type, y)
    if (x.type == BIT) != (y.type == BIT):
        other = y.type if x.type == BIT else x.type
        advice = f"Write {other}(flag) to make the bit a number, or x if flag else 0."
        raise Refused(
            f"{x.type} {op} {y.type}: a bit is true or false, not a number.",
            advice if other.high * other.step >= 1 >= other.step else "Write x if flag else 0.",
        )
    if x.type.signed != y.type.signed:
        raise _signs_meet(op, x.type, y.type)
    return x, y


def _signs_meet(op: str, x: Type, y: Type) -> Refused:
    plain, name = (x, "the left side") if not x.signed else (y, "the right side")
    wider = sized(True, plain.left + 1, plain.right if plain.fixed else None)
    return Refused(
        f"{x} {op} {y}: the top bit of one is a sign and of the other a number.",
        f"Write {wider}(x) around {name}; the extra bit keeps its value.",
    )


def as_fixed(x: Type) -> Type:
    """An integer type as fixed point without fraction bits."""
    return sized(x.signed, x.left, x.right)


def same_as(b: Builder, op: str, kind: Type, number: Any) -> Value:
    """A plain number in exactly the type of the signal beside it."""
    try:
        return typed(b, kind, number, beside=True)
    except Refused as refused:
        raise Refused(f"{op} with {kind}: {refused.why}", refused.instead) from refused
