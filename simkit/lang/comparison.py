"""Comparison and choice: ``== != < <= > >=``, smallest and largest, ``x if condition else y``.

Values are compared by what they mean, whatever their sizes.  A plain number beside a signal keeps its mathematical
value: ``unsigned(8) < 300`` is always true, and the netlist's warnings say so.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import reduce
from typing import Any

from ..netlist import BIT, Type
from .build import Builder, Refused, Value
from .constants import Choice, Operand, exact, numbers_of, plain, show, sized, smallest, step_of, typed
from .operands import pair, same_as
from .resize import fits, keep

COMPARE = {
    "==": ("eq", False),
    "!=": ("ne", False),
    "<": ("lt", False),
    "<=": ("le", False),
    ">": ("lt", True),
    ">=": ("le", True),
}
"""Operator of the netlist, and whether its arguments change places."""


def compare(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    if not isinstance(y, Value):
        assert isinstance(x, Value)
        return _compare_number(b, op, x, y)
    if not isinstance(x, Value):
        mirrored = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}.get(op, op)
        return _compare_number(b, mirrored, y, x)
    x, y = pair(b, op, x, y)
    if x.type == BIT:
        return _compare_bits(b, op, x, y)
    name, swap = COMPARE[op]
    if x.type.right != y.type.right:
        kind = sized(x.type.signed, max(x.type.left, y.type.left), min(x.type.right, y.type.right))
        x, y = keep(b, x, kind), keep(b, y, kind)
    args = (y.node, x.node) if swap else (x.node, y.node)
    return Value(b.add(name, args, BIT), BIT)


def _compare_bits(b: Builder, op: str, x: Value, y: Value) -> Value:
    if op not in ("==", "!="):
        raise Refused(f"bit {op} bit: true and false have no order.", "Write x and not y, or compare with == and !=.")
    if y.type == BIT and b.known(y.node) is not None:
        same = (b.known(y.node) == 1) == (op == "==")
        return x if same else Value(b.inverse(x.node), BIT)
    return Value(b.add(COMPARE[op][0], (x.node, y.node), BIT), BIT)


def _compare_number(b: Builder, op: str, x: Value, number: Any) -> Value:
    """A comparison with a plain number: exact, whether or not ``x``'s type holds it."""
    value = exact(number)
    if x.type == BIT:
        return _compare_bits(b, op, x, typed(b, BIT, number))
    if isinstance(number, bool):
        raise Refused(
            f"{x.type} {op} {number}: {number} is a bit and the other side a number.",
            f"Write {int(number)}, or x != 0.",
        )
    raw = value / x.type.step
    if op in ("==", "!=") and raw.denominator != 1:
        raise Refused(
            f"{x.type} {op} {show(number)}: {show(number)} is no value of {x.type}, whose steps are {step_of(x.type)}.",
            f"Compare with const({show(number)}, {x.type}), or use < and >.",
        )
    threshold = math.ceil(raw) if op in ("<", ">=") else math.floor(raw)
    constant_result = _settled(op, x.type, threshold)
    if constant_result is not None:
        _tell(
            b,
            f"{x.type} {op} {show(number)} is always {bool(constant_result)}: the type holds "
            f"{show(x.type.low * x.type.step)} to {show(x.type.high * x.type.step)}",
        )
        return Value(b.const(constant_result, BIT), BIT)
    name, swap = COMPARE[op]
    other = b.const(threshold, x.type)
    return Value(b.add(name, (other, x.node) if swap else (x.node, other), BIT), BIT)


def _settled(op: str, kind: Type, threshold: int) -> int | None:
    """The result of ``x op threshold`` if it is the same for every ``x`` of ``kind``."""
    low, high = kind.low, kind.high
    if op in ("==", "!="):
        return None if low <= threshold <= high else int(op == "!=")
    least, most = {
        "<": (low < threshold, high < threshold),
        "<=": (low <= threshold, high <= threshold),
        ">": (low > threshold, high > threshold),
        ">=": (low >= threshold, high >= threshold),
    }[op]
    return int(least) if least == most else None


def _tell(b: Builder, text: str) -> None:
    if (b.loc, text) not in b.netlist.warnings:
        b.netlist.warnings.append((b.loc, text))


# --- choosing --------------------------------------------------------------------------------------


def minimum(b: Builder, *xs: Operand) -> Value:
    """The smallest operand; the result's size holds every operand."""
    return _extreme(b, "min", xs)


def maximum(b: Builder, *xs: Operand) -> Value:
    """The largest operand; the result's size holds every operand."""
    return _extreme(b, "max", xs)


def _extreme(b: Builder, name: str, xs: tuple[Operand, ...]) -> Value:
    signals = [x for x in xs if isinstance(x, Value) and not plain(x)]
    if not signals or len(xs) < 2:
        raise Refused(f"{name} compares two or more operands, at least one of them a signal.", f"Write {name}(x, y).")
    typed_xs = [x if isinstance(x, Value) and not plain(x) else same_as(b, name, signals[0].type, x) for x in xs]
    return reduce(lambda x, y: _one_of(b, name, x, y), typed_xs)


def _one_of(b: Builder, name: str, x: Value, y: Value) -> Value:
    x, y = pair(b, name, x, y)
    if x.type == BIT:
        raise Refused(
            f"{name} of bits: true and false have no order.", f"Write {'x and y' if name == 'min' else 'x or y'}."
        )
    smaller = compare(b, "<", x, y)
    fixed = x.type.fixed or y.type.fixed
    kind = sized(x.type.signed, max(x.type.left, y.type.left), min(x.type.right, y.type.right) if fixed else None)
    x, y = keep(b, x, kind), keep(b, y, kind)
    yes, no = (x, y) if name == "min" else (y, x)
    return Value(b.choose(smaller.node, yes.node, no.node, kind), kind)


def select(b: Builder, condition: Value | int, x: Operand, y: Operand) -> Value:
    """``x if condition else y``: both sides of one type, or one of them a plain number that fits the other's type.

    ``condition`` is a bit, or the node of one.  Two plain numbers stay without a type until they meet one: stored into
    ``signed(16)`` they are ``signed(16)``.
    """
    choice = condition.node if isinstance(condition, Value) else condition
    if plain(x) and plain(y):
        return Choice.make(b, choice, (x, y), _for_all(x, y))
    if plain(x):
        assert isinstance(y, Value)
        x = same_as(b, "if ... else", y.type, x)
    assert isinstance(x, Value)
    if plain(y):
        y = same_as(b, "if ... else", x.type, y)
    assert isinstance(y, Value)
    if x.type != y.type:
        raise Refused(
            f"one side of if ... else is {x.type} and the other {y.type}: a multiplexer has one type.",
            _unify(x.type, y.type),
        )
    return Value(b.choose(choice, x.node, y.node, x.type), x.type)


def _for_all(*sides: Operand) -> Type:
    """A type for numbers that have met none: bit for 0 and 1, else the smallest that holds them all."""
    values = [exact(n) for n in numbers_of(*sides)]
    if all(value in (0, 1) for value in values):
        return BIT
    right = -max(value.denominator.bit_length() - 1 for value in values)
    kinds = [smallest(value / (Fraction(2) ** right)) for value in values]
    signed = any(kind.signed for kind in kinds)
    width = max(kind.width + (signed and not kind.signed) for kind in kinds)
    return sized(signed, width - 1 + right, right if right else None)


def _unify(x: Type, y: Type) -> str:
    if x.signed == y.signed and BIT not in (x, y):
        if fits(x, y) or fits(y, x):
            return f"Write {y if fits(x, y) else x}(...) around the {'first' if fits(x, y) else 'second'} side."
        return f"Write resize(..., {x}) around the second side, or the other way round."
    if BIT in (x, y):
        return f"Write {y if x == BIT else x}(...) around the bit."
    plain = x if not x.signed else y
    wider = sized(True, plain.left + 1, plain.right if plain.fixed else None)
    return f"Write {wider}(...) around the {plain} side, then resize both to one size."
