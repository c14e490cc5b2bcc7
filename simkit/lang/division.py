"""Division of fixed-point numbers as ``fixed_pkg`` of IEEE 1076-2008 defines it.

``/`` computes three bits more than the result has (``fixed_guard_bits``), cuts there towards zero, and rounds those
three bits half to even.  ``rem`` and ``mod`` are exact.  A divisor of 0, which the package reports as an error, gives
what the package then returns: the largest number for a quotient, all ones in the remainder's magnitude.
"""

from __future__ import annotations

from ..netlist import BIT, Type
from .build import Builder, Value
from .constants import sized
from .resize import fixed_resize, keep

GUARD_BITS = 3


def quotient_type(x: Type, y: Type) -> Type:
    """Size of ``x / y``: ufixed (a-d downto b-c-1), sfixed (a-d+1 downto b-c)."""
    if x.signed:
        return sized(True, x.left - y.right + 1, x.right - y.left)
    return sized(False, x.left - y.right, x.right - y.left - 1)


def divide(b: Builder, x: Value, y: Value) -> Value:
    """``x / y``, both of one signedness."""
    kind = quotient_type(x.type, y.type)
    fine = sized(kind.signed, kind.left, kind.right - GUARD_BITS)
    # raw(x) * 2**up / raw(y) has its lowest bit at fine.right
    up = x.type.right - y.type.right - fine.right
    wide = sized(kind.signed, x.type.left + kind.signed, x.type.right - up)
    dividend = keep(b, x, wide)
    quotient = b.add("div", (dividend.node, y.node), fine)
    result = fixed_resize(b, Value(quotient, fine), kind, saturate=False)
    return Value(b.choose(_is_zero(b, y), b.const(kind.high, kind), result.node, kind), kind)


def reciprocal(b: Builder, x: Value) -> Value:
    """``1 / x``: ufixed (-b downto -a-1), sfixed (-b+1 downto -a)."""
    one = sized(x.type.signed, int(x.type.signed), 0)
    whole = divide(b, Value(b.const(1, one), one), x)
    if not x.type.signed:
        return whole
    kind = sized(True, whole.type.left - 1, whole.type.right)
    return Value(b.add("wrap", (whole.node,), kind), kind)


def remainder(b: Builder, x: Value, y: Value) -> Value:
    """``x rem y``: (min(a,c) downto min(b,d)), with the sign of ``x``."""
    kind = sized(x.type.signed, min(x.type.left, y.type.left), min(x.type.right, y.type.right))
    exact = _on_one_step(b, "rem", x, y, kind)
    if kind.signed:
        ones = b.choose(_is_negative(b, x), b.const(kind.wrap(1), kind), b.const(-1, kind), kind)
    else:
        ones = b.const(kind.high, kind)
    return Value(b.choose(_is_zero(b, y), ones, exact, kind), kind)


def modulus(b: Builder, x: Value, y: Value) -> Value:
    """``x mod y`` with the sign of ``y``: ufixed (min(a,c) downto min(b,d)), sfixed (**c** downto min(b,d))."""
    if not x.type.signed:
        return remainder(b, x, y)
    kind = sized(True, y.type.left, min(x.type.right, y.type.right))
    exact = _on_one_step(b, "mod", x, y, kind)
    ones = (1 << (min(x.type.left, y.type.left) - kind.right + 1)) - 1
    under, over = b.const(max(-ones, kind.low), kind), b.const(min(ones, kind.high), kind)
    by_zero = b.choose(_is_negative(b, x), under, over, kind)
    return Value(b.choose(_is_zero(b, y), by_zero, exact, kind), kind)


def _on_one_step(b: Builder, op: str, x: Value, y: Value, kind: Type) -> int:
    """Both operands brought to the finer step of the two, then ``op``."""
    right = kind.right
    fine_x = keep(b, x, sized(kind.signed, x.type.left, right) if x.type.left >= right else x.type)
    fine_y = keep(b, y, sized(kind.signed, y.type.left, right) if y.type.left >= right else y.type)
    return b.add(op, (fine_x.node, fine_y.node), kind)


def _is_zero(b: Builder, x: Value) -> int:
    return b.add("eq", (x.node, b.const(0, x.type)), BIT)


def _is_negative(b: Builder, x: Value) -> int:
    return b.add("bits", (x.node,), BIT, x.type.width - 1)


__all__ = ["GUARD_BITS", "divide", "modulus", "quotient_type", "reciprocal", "remainder"]
