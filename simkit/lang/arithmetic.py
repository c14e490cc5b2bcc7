"""The operators of the design language: which types may meet, what comes out, and the nodes that compute it.

Results are those of IEEE 1076-2008: ``numeric_std`` for integers (``+ -`` keep the wider width and wrap, ``*`` adds
the widths, ``/`` keeps the dividend's width and cuts towards zero) and ``fixed_pkg`` for fixed point (results grow so
that nothing is lost; division rounds half to even).  An integer that meets a fixed-point number counts as fixed
point without fraction bits, as ``to_ufixed`` and ``to_sfixed`` make it.

A plain Python number takes the type of the signal it meets, as in the packages (an ``int`` beside fixed point takes
its bits from 0 up), and is refused if it does not fit exactly.  In comparisons it keeps its mathematical value.

At least one operand must be a signal: arithmetic among plain numbers is Python's own, done before hardware exists.
"""

from __future__ import annotations

from ..netlist import BIT, Type
from . import division
from .build import Builder, Refused, Value
from .comparison import COMPARE, compare, maximum, minimum, select
from .constants import Literal, Operand, a_type, const_rounded, constant, exact, need_signal, show, sized
from .operands import as_fixed, literal_type, pair, same_as, truth
from .resize import bits, cat, const, convert, keep, resize, scalb, store

_BITWISE = {"&": "and", "|": "or", "^": "xor"}
_FAST = {"+": "add", "-": "sub", "*": "mul", "/": "div", "%": "mod", "rem": "rem"}


def binary(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    """``x op y`` for ``+ - * / % & | ^ == != < <= > >= << >>``.

    Raises
    ------
    Refused
        If the operator has no meaning in hardware or not for these types.
    """
    if op in ("<<", ">>"):
        return _shift(b, op, x, y)
    if op in ("//", "**", "@"):
        raise _no_operator(op, x, y)
    if not isinstance(x, Value) and not isinstance(y, Value):
        need_signal(x, f"{show(x)} {op} {show(y)}")
    if op in COMPARE:
        return compare(b, op, x, y)
    if op in _BITWISE:
        return _bitwise(b, op, x, y)
    if op in _FAST:
        return _arithmetic(b, op, x, y)
    raise Refused(f"{op} is not an operator of hardware here.", "There are + - * / % & | ^ == != < <= > >= << >>.")


def unary(b: Builder, op: str, x: Operand) -> Value:
    """``-x``, ``~x``, ``abs(x)`` (op ``"abs"``), ``not x`` (op ``"not"``), ``+x``."""
    x = need_signal(x, op)
    if op == "not":
        return Value(b.inverse(truth(b, x, "not").node), BIT)
    if op == "~":
        return Value(b.inverse(x.node) if x.type == BIT else b.add("not", (x.node,), x.type), x.type)
    if x.type == BIT:
        raise Refused(
            f"{op} of a bit: a bit is true or false, not a number.",
            "Write not x to invert it, or signed(2)(x) to calculate with it.",
        )
    if op == "+":
        return x
    if op not in ("-", "abs"):
        raise Refused(f"{op} is not an operator of hardware here.", "There are -x, ~x, abs(x) and not x.")
    if not x.type.signed:
        raise _unsigned_sign(op, x.type)
    kind = sized(True, x.type.left + 1, x.type.right) if x.type.fixed else x.type
    negative = b.add("neg", (x.node,), kind)
    if op == "abs":
        below = b.add("bits", (x.node,), BIT, x.type.width - 1)
        return Value(b.choose(below, negative, keep(b, x, kind).node, kind), kind)
    return Value(negative, kind)


def _unsigned_sign(op: str, kind: Type) -> Refused:
    if op == "abs":
        return Refused(f"abs of {kind}: it is never negative.", "Write x alone.")
    wider = sized(True, kind.left + 1, kind.right if kind.fixed else None)
    wrap = "." if kind.fixed else ", or 0 - x to wrap round."
    return Refused(
        f"-x of {kind}: an unsigned type has no negative numbers.", f"Write -{wider}(x) for the negative number{wrap}"
    )


def _no_operator(op: str, x: Operand, y: Operand) -> Refused:
    if op == "//":
        return Refused(
            "// rounds down in Python; a hardware divider cuts towards zero, so the two differ below 0.",
            "Write x / y (cut towards zero), or x >> n to divide by 2**n and round down.",
        )
    if op == "**":
        power = y if isinstance(y, int) and not isinstance(y, bool) else 2
        factors = " * ".join(["x"] * power) if 2 <= power <= 4 else "x * x"
        return Refused(
            "** is no operator of hardware: a power is a chain of multipliers.",
            f"Write the multiplications, {factors}; for a power of two, unsigned(16)(1) << n.",
        )
    return Refused(
        "@ multiplies matrices; hardware here multiplies numbers.", "Write x * y and a for loop over the elements."
    )


# --- arithmetic ------------------------------------------------------------------------------------


def _arithmetic(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    x, y = pair(b, op, x, y)
    if x.type == BIT:
        raise Refused(
            f"bit {op} bit: a bit is true or false, not a number.",
            "Write x and y, x or y, x ^ y; or unsigned(2)(x) + unsigned(2)(y) to count how many are 1.",
        )
    if not x.type.fixed and not y.type.fixed:
        kind = _integer_result(op, x.type, y.type)
        return Value(b.add(_FAST[op], (x.node, y.node), kind), kind)
    x, y = keep(b, x, as_fixed(x.type)), keep(b, y, as_fixed(y.type))
    if op == "/":
        return division.divide(b, x, y)
    if op == "%":
        return division.modulus(b, x, y)
    if op == "rem":
        return division.remainder(b, x, y)
    return _grow(b, op, x, y)


def _integer_result(op: str, x: Type, y: Type) -> Type:
    """Sizes of ``numeric_std``."""
    if op == "*":
        width = x.width + y.width
    elif op == "/":
        width = x.width
    elif op in ("%", "rem"):
        width = y.width
    else:
        width = max(x.width, y.width)
    return a_type("signed" if x.signed else "unsigned", width)


def _grow(b: Builder, op: str, x: Value, y: Value) -> Value:
    """``+ - *`` of ``fixed_pkg``: the result has room for every value (``ufixed`` differences below 0 wrap)."""
    signed = x.type.signed
    if op == "*":
        kind = sized(signed, x.type.left + y.type.left + 1, x.type.right + y.type.right)
    else:
        kind = sized(signed, max(x.type.left, y.type.left) + 1, min(x.type.right, y.type.right))
        x, y = keep(b, x, kind), keep(b, y, kind)
    return Value(b.add(_FAST[op], (x.node, y.node), kind), kind)


def rem(b: Builder, x: Operand, y: Operand) -> Value:
    """Remainder with the sign of ``x`` (``%`` is ``mod``: it has the sign of ``y``)."""
    if not isinstance(x, Value) and not isinstance(y, Value):
        need_signal(x, f"rem({show(x)}, {show(y)})")
    return _arithmetic(b, "rem", x, y)


def reciprocal(b: Builder, x: Operand) -> Value:
    """``1 / x`` of a fixed-point signal."""
    x = need_signal(x, "reciprocal")
    if not x.type.fixed:
        raise Refused(
            f"reciprocal of {x.type}: 1/x is a fraction and the result would have to be fixed point.",
            f"Write reciprocal({sized(x.type.signed, x.type.left, 0)}(x)).",
        )
    return division.reciprocal(b, x)


# --- bits and shifts -------------------------------------------------------------------------------


def _bitwise(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    if isinstance(x, Value) and not isinstance(y, Value):
        y = same_as(b, op, x.type, y)
    elif isinstance(y, Value) and not isinstance(x, Value):
        x = same_as(b, op, y.type, x)
    x, y = pair(b, op, x, y)
    if x.type == BIT:
        node = {"&": b.both, "|": b.either}.get(op, lambda p, q: b.add("xor", (p, q), BIT))(x.node, y.node)
        return Value(node, BIT)
    if x.type != y.type:
        wide = x.type if x.type.width >= y.type.width else y.type
        raise Refused(
            f"{x.type} {op} {y.type}: bit meets bit in the same place, so both sides need one type.",
            f"Write resize(x, {wide}) around the other side.",
        )
    return Value(b.add(_BITWISE[op], (x.node, y.node), x.type), x.type)


def _shift(b: Builder, op: str, x: Operand, n: Operand) -> Value:
    """``shift_left``, ``shift_right``: the size stays, bits pushed out are lost, signed is filled with its sign."""
    x = need_signal(x, op)
    if x.type == BIT:
        raise Refused(f"bit {op} n: a bit has no neighbour to move to.", "Write unsigned(8)(x) first, or cat(...).")
    count = _shift_count(b, op, x.type, n)
    return Value(b.add("shl" if op == "<<" else "shr", (x.node, count), x.type), x.type)


def _shift_count(b: Builder, op: str, kind: Type, n: Operand) -> int:
    if isinstance(n, Value):
        if n.type.kind != "unsigned" or n.type.width > 64:
            advice = {"bit": "unsigned(1)(n)", "signed": f"unsigned({n.type.width})(n) if it is never negative"}
            raise Refused(
                f"{kind} {op} {n.type}: the count of a shift is an unsigned signal of at most 64 bits.",
                f"Write {advice.get(n.type.kind, 'resize(n, unsigned(7))')}.",
            )
        return n.node
    if isinstance(n, bool) or exact(n).denominator != 1 or n < 0:
        other = ">>" if op == "<<" else "<<"
        raise Refused(
            f"{kind} {op} {show(n)}: a shift moves by a whole number of places, 0 or more.",
            f"Write x {other} {show(-n)}." if not isinstance(n, bool) and n < 0 else "Write a whole number.",
        )
    places = min(int(n), kind.width)
    return b.const(places, a_type("unsigned", max(1, places.bit_length())))


__all__ = [
    "Literal",
    "Operand",
    "binary",
    "bits",
    "cat",
    "const",
    "const_rounded",
    "constant",
    "convert",
    "literal_type",
    "maximum",
    "minimum",
    "reciprocal",
    "rem",
    "resize",
    "scalb",
    "select",
    "store",
    "truth",
    "unary",
]
