"""The operators of the design language: which types may meet, what comes out, and the nodes that compute it.

Results are those of IEEE 1076-2008: ``numeric_std`` for integers (``+ -`` keep the wider width and wrap, ``*`` adds
the widths, ``/`` keeps the dividend's width and cuts towards zero) and ``fixed_pkg`` for fixed point (results grow so that
nothing is lost; division rounds half to even).  An integer that meets a fixed-point number counts as fixed
point without fraction bits, as ``to_ufixed`` and ``to_sfixed`` make it.

A plain Python number takes the type of the signal it meets, as in the packages (an ``int`` beside fixed point takes
its bits from 0 up), and is refused if it does not fit exactly.  In comparisons it keeps its mathematical value.

At least one operand must be a signal: arithmetic among plain numbers is Python's own, done before hardware exists.
"""

from __future__ import annotations

import math
from functools import reduce
from typing import Any

from ..netlist import BIT, Type
from . import division
from .build import Builder, Refused, Value
from .constants import Literal, Operand, a_type, const_rounded, constant, exact, need_signal, show, sized, smallest, typed
from .resize import bits, cat, const, convert, fits, keep, resize, scalb, store

_BITWISE = {"&": "and", "|": "or", "^": "xor"}
_COMPARE = {"==": ("eq", False), "!=": ("ne", False), "<": ("lt", False), "<=": ("le", False), ">": ("lt", True), ">=": ("le", True)}
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
    if op in _COMPARE:
        return _compare(b, op, x, y)
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
        raise Refused(f"{op} of a bit: a bit is true or false, not a number.", "Write not x to invert it, or unsigned(1)(x) to count with it.")
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
    return Refused(f"-x of {kind}: an unsigned type has no negative numbers.", f"Write -{wider}(x) for the negative number"
                   + ("." if kind.fixed else ", or 0 - x to wrap round."))


def _no_operator(op: str, x: Operand, y: Operand) -> Refused:
    if op == "//":
        return Refused("// rounds down in Python; a hardware divider cuts towards zero, so the two differ below 0.",
                       "Write x / y (cut towards zero), or x >> n to divide by 2**n and round down.")
    if op == "**":
        power = y if isinstance(y, int) and not isinstance(y, bool) else 2
        factors = " * ".join(["x"] * power) if 2 <= power <= 4 else "x * x"
        return Refused("** is no operator of hardware: a power is a chain of multipliers.",
                       f"Write the multiplications, {factors}, or 1 << n in a typed form such as unsigned(16)(1) << n for a power of two.")
    return Refused("@ multiplies matrices; hardware here multiplies numbers.", "Write x * y and a for loop over the elements.")


# --- operands --------------------------------------------------------------------------------------


def truth(b: Builder, x: Operand, what: str) -> Value:
    """``x`` as a condition: a bit, or the plain numbers 0, 1, False, True.  ``what`` names the place: ``"if"``."""
    if not isinstance(x, Value):
        return typed(b, BIT, x)
    if x.type != BIT:
        raise Refused(f"{what} needs a bit and got {x.type}.", "Write a comparison, for example x != 0.")
    return x


def literal_type(kind: Type, number: Literal) -> Type:
    """The type a plain number takes beside a signal of ``kind`` (IEEE 1076-2008: ``to_sfixed(number, l'high, 0)`` …)."""
    if kind.fixed and isinstance(number, int):
        return sized(kind.signed, max(kind.left, 0), 0)
    return kind


def _as_signal(b: Builder, op: str, kind: Type, number: Any) -> Value:
    """A plain number as the other operand of a signal of ``kind``."""
    exact(number)
    own = literal_type(kind, number)
    try:
        return typed(b, own, number)
    except Refused as refused:
        taken = "" if own == kind else f" (a whole number beside {kind} is taken as {own})"
        raise Refused(f"{op} with {kind}: {refused.why}{taken}", refused.instead) from refused


def _pair(b: Builder, op: str, x: Operand, y: Operand) -> tuple[Value, Value]:
    """Both operands as signals that may meet."""
    if not isinstance(x, Value):
        assert isinstance(y, Value)
        x = _as_signal(b, op, y.type, x)
    if not isinstance(y, Value):
        y = _as_signal(b, op, x.type, y)
    if (x.type == BIT) != (y.type == BIT):
        other = y.type if x.type == BIT else x.type
        raise Refused(f"{x.type} {op} {y.type}: a bit is true or false, not a number.",
                      f"Write {other}(flag) to make the bit 0 or 1 of that type, or x if flag else 0." if other.high >= 1 else
                      "Compare the number with something to get a bit.")
    if x.type.signed != y.type.signed:
        raise _signs_meet(op, x.type, y.type)
    return x, y


def _signs_meet(op: str, x: Type, y: Type) -> Refused:
    plain, name = (x, "the left side") if not x.signed else (y, "the right side")
    wider = sized(True, plain.left + 1, plain.right if plain.fixed else None)
    return Refused(f"{x} {op} {y}: the top bit of one is a sign and of the other a number.",
                   f"Write {wider}(x) around {name}; the extra bit keeps its value.")


def _fix(x: Type) -> Type:
    """An integer type as fixed point without fraction bits."""
    return sized(x.signed, x.left, x.right)


# --- arithmetic ------------------------------------------------------------------------------------


def _arithmetic(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    x, y = _pair(b, op, x, y)
    if x.type == BIT:
        raise Refused(f"bit {op} bit: a bit is true or false, not a number.",
                      "Write x and y, x or y, x ^ y; or unsigned(2)(x) + unsigned(2)(y) to count how many are 1.")
    if not x.type.fixed and not y.type.fixed:
        kind = _integer_result(op, x.type, y.type)
        return Value(b.add(_FAST[op], (x.node, y.node), kind), kind)
    x, y = keep(b, x, _fix(x.type)), keep(b, y, _fix(y.type))
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
        raise Refused(f"reciprocal of {x.type} would be 0 almost always.", f"Write reciprocal({_fix_text(x.type)}(x)).")
    return division.reciprocal(b, x)


def _fix_text(kind: Type) -> str:
    return str(_fix(kind)) if kind != BIT else "ufixed(0, 0)"


# --- bits and shifts -------------------------------------------------------------------------------


def _bitwise(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    if isinstance(x, Value) and not isinstance(y, Value):
        y = _same_as(b, op, x.type, y)
    elif isinstance(y, Value) and not isinstance(x, Value):
        x = _same_as(b, op, y.type, x)
    x, y = _pair(b, op, x, y)
    if x.type == BIT:
        node = {"&": b.both, "|": b.either}.get(op, lambda p, q: b.add("xor", (p, q), BIT))(x.node, y.node)
        return Value(node, BIT)
    if x.type != y.type:
        wide = x.type if x.type.width >= y.type.width else y.type
        raise Refused(f"{x.type} {op} {y.type}: each bit of one side meets the bit of the other in the same place, so both need one type.",
                      f"Write resize(x, {wide}) around the other side.")
    return Value(b.add(_BITWISE[op], (x.node, y.node), x.type), x.type)


def _same_as(b: Builder, op: str, kind: Type, number: Any) -> Value:
    try:
        return typed(b, kind, number)
    except Refused as refused:
        raise Refused(f"{op} with {kind}: {refused.why}", refused.instead) from refused


def _shift(b: Builder, op: str, x: Operand, n: Operand) -> Value:
    """``shift_left`` and ``shift_right``: the size stays; bits pushed out are lost; signed keeps its sign to the right."""
    x = need_signal(x, op)
    if x.type == BIT:
        raise Refused(f"bit {op} n: a bit has no neighbour to move to.", "Write unsigned(8)(x) first, or cat(...).")
    count = _shift_count(b, op, x.type, n)
    return Value(b.add("shl" if op == "<<" else "shr", (x.node, count), x.type), x.type)


def _shift_count(b: Builder, op: str, kind: Type, n: Operand) -> int:
    if isinstance(n, Value):
        if n.type.kind != "unsigned" or n.type.width > 64:
            advice = "unsigned(7)(x)" if n.type.kind == "bit" else "resize it to a few unsigned bits"
            raise Refused(f"{kind} {op} {n.type}: the count of a shift is an unsigned signal of at most 64 bits.",
                          f"Write {advice}, or use a constant.")
        return n.node
    if isinstance(n, bool) or exact(n).denominator != 1 or n < 0:
        other = ">>" if op == "<<" else "<<"
        raise Refused(f"{kind} {op} {show(n)}: a shift moves by a whole number of places, 0 or more.",
                      f"Write x {other} {show(-n)}." if not isinstance(n, bool) and n < 0 else "Write a whole number.")
    places = min(int(n), kind.width)
    return b.const(places, a_type("unsigned", max(1, places.bit_length())))


# --- comparison ------------------------------------------------------------------------------------


def _compare(b: Builder, op: str, x: Operand, y: Operand) -> Value:
    if not isinstance(y, Value):
        assert isinstance(x, Value)
        return _compare_number(b, op, x, y)
    if not isinstance(x, Value):
        mirrored = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}.get(op, op)
        return _compare_number(b, mirrored, y, x)
    x, y = _pair(b, op, x, y)
    if x.type == BIT:
        return _compare_bits(b, op, x, y)
    name, swap = _COMPARE[op]
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
    return Value(b.add(_COMPARE[op][0], (x.node, y.node), BIT), BIT)


def _compare_number(b: Builder, op: str, x: Value, number: Any) -> Value:
    """A comparison with a plain number: exact, whether or not ``x``'s type holds it."""
    value = exact(number)
    if x.type == BIT:
        return _compare_bits(b, op, x, typed(b, BIT, number))
    if isinstance(number, bool):
        raise Refused(f"{x.type} {op} {number}: {number} is a bit and the other side a number.", f"Write {int(number)}, or x != 0.")
    raw = value / x.type.step
    if op in ("==", "!=") and raw.denominator != 1:
        raise Refused(f"{x.type} {op} {show(number)}: no value of {x.type} is {show(number)} (its steps are {show(x.type.step)}).",
                      f"Compare with const({show(number)}, {x.type}), or use < and >.")
    threshold = math.ceil(raw) if op in ("<", ">=") else math.floor(raw)
    constant_result = _settled(op, x.type, threshold)
    if constant_result is not None:
        _tell(b, f"{x.type} {op} {show(number)} is always {bool(constant_result)}: the type holds "
                 f"{show(x.type.low * x.type.step)} to {show(x.type.high * x.type.step)}")
        return Value(b.const(constant_result, BIT), BIT)
    name, swap = _COMPARE[op]
    other = b.const(threshold, x.type)
    return Value(b.add(name, (other, x.node) if swap else (x.node, other), BIT), BIT)


def _settled(op: str, kind: Type, threshold: int) -> int | None:
    """The result of ``x op threshold`` if it is the same for every ``x`` of ``kind``."""
    low, high = kind.low, kind.high
    if op in ("==", "!="):
        return None if low <= threshold <= high else int(op == "!=")
    least, most = {"<": (low < threshold, high < threshold), "<=": (low <= threshold, high <= threshold),
                   ">": (low > threshold, high > threshold), ">=": (low >= threshold, high >= threshold)}[op]
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
    signals = [x for x in xs if isinstance(x, Value)]
    if not signals or len(xs) < 2:
        raise Refused(f"{name} compares two or more operands, at least one of them a signal.", f"Write {name}(x, y).")
    typed_xs = [x if isinstance(x, Value) else _same_as(b, name, signals[0].type, x) for x in xs]
    return reduce(lambda x, y: _one_of(b, name, x, y), typed_xs)


def _one_of(b: Builder, name: str, x: Value, y: Value) -> Value:
    x, y = _pair(b, name, x, y)
    if x.type == BIT:
        raise Refused(f"{name} of bits: true and false have no order.", f"Write {'x and y' if name == 'min' else 'x or y'}.")
    smaller = _compare(b, "<", x, y)
    fixed = x.type.fixed or y.type.fixed
    kind = sized(x.type.signed, max(x.type.left, y.type.left), min(x.type.right, y.type.right) if fixed else None)
    x, y = keep(b, x, kind), keep(b, y, kind)
    yes, no = (x, y) if name == "min" else (y, x)
    return Value(b.choose(smaller.node, yes.node, no.node, kind), kind)


def select(b: Builder, condition: Operand, x: Operand, y: Operand, kind: Type | None = None) -> Value:
    """``x if condition else y``: both sides of one type, or one of them a plain number that fits the other's type.

    ``kind`` is the type that is wanted if both are plain numbers; without it 0 and 1 make a bit, and other numbers the
    smallest integer type.
    """
    choice = truth(b, condition, "if ... else")
    x, y = _sides(b, x, y, kind)
    if x.type != y.type:
        raise Refused(f"one side of if ... else is {x.type} and the other {y.type}: a multiplexer has one type.",
                      _unify(x.type, y.type))
    return Value(b.choose(choice.node, x.node, y.node, x.type), x.type)


def _sides(b: Builder, x: Operand, y: Operand, kind: Type | None) -> tuple[Value, Value]:
    if isinstance(x, Value):
        return x, y if isinstance(y, Value) else _same_as(b, "if ... else", x.type, y)
    if isinstance(y, Value):
        return _same_as(b, "if ... else", y.type, x), y
    kind = kind or _for_both(x, y)
    return typed(b, kind, x), typed(b, kind, y)


def _for_both(x: Literal, y: Literal) -> Type:
    both = (exact(x), exact(y))
    if all(value in (0, 1) for value in both):
        return BIT
    if any(value.denominator != 1 for value in both):
        raise Refused(f"{show(x)} if ... else {show(y)}: two plain numbers with a fraction have no width.",
                      f"Write const({show(x)}, sfixed(3, -12)) with the type you want.")
    kinds = [smallest(value) for value in both]
    if any(kind.signed for kind in kinds):
        return a_type("signed", max(kind.width + (not kind.signed) for kind in kinds))
    return a_type("unsigned", max(kind.width for kind in kinds))


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


__all__ = ["Literal", "Operand", "binary", "bits", "cat", "const", "const_rounded", "constant", "convert", "literal_type",
           "maximum", "minimum", "reciprocal", "rem", "resize", "scalb", "select", "store", "truth", "unary"]
