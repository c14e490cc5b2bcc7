"""The one table of operators: every meaning in the kit is stated here, once, and read from here.

**The rule.**  An operator computes with the exact integers its arguments hold, and the result is
wrapped into the node's own type.  So ``add`` into a wider type cannot overflow and ``add`` into a
narrow one wraps; the language decides which type it asks for (:mod:`simkit.lang.arithmetic`).

Each row also says how hardware gets the same result from bit patterns:

``prepare``
    ``"result"``  every data argument is first converted to the result's type (sign- or zero-extended
    by its *own* sign, or cut); right for operators that work modulo a power of two.
    ``"common"``  every argument is first converted to the smallest type that holds them all exactly.
    ``"own"``     arguments come as they are.
``llvm``
    ``f(b, args, common_type, node, arg_types) -> value``; ``b`` is an IR builder
    (:class:`simkit.engines.native.irtext.Builder`, with the names of llvmlite's ``IRBuilder``) and ``args`` are
    integers already prepared.
``verilog``
    A format string over the prepared arguments, already sized (``{0}``, ``{1}`` …; ``{attr}``, ``{high}``), or a
    function with the arguments of ``llvm`` less the builder.

Division by zero gives 0 for quotient, remainder and modulus (IEEE 1076 reports an error there; hardware
has to give something).  ``div`` cuts towards zero, ``rem`` takes the dividend's sign, ``mod`` the divisor's,
as in ``numeric_std``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from .types import Type, make

LEAVES = ("const", "reg", "input", "rdata", "expired")
"""Nodes without arguments; ``attr`` holds the constant or the index of what they read."""


@dataclass(frozen=True, slots=True)
class Op:
    """One row of the table; the module's text explains the columns."""

    name: str
    arity: int | None  # None: one or more
    prepare: str
    python: Callable[[Sequence[int], Any, Sequence[Type]], int]
    llvm: Callable[..., Any]
    verilog: str | Callable[..., str]
    doc: str


def common_type(types: Sequence[Type], spare: int = 0) -> Type:
    """The smallest integer type that holds every value of every given type, plus ``spare`` bits."""
    signed = any(t.signed for t in types)
    width = max(t.width + (signed and not t.signed) for t in types) + spare
    return make("signed" if signed else "unsigned", width)


# --- what takes more than a line -------------------------------------------------------------------


def _quotient(a: int, b: int) -> int:
    return 0 if b == 0 else (abs(a) // abs(b)) * (1 if (a < 0) == (b < 0) else -1)


def _remainder(a: int, b: int) -> int:
    return 0 if b == 0 else a - b * _quotient(a, b)


def _modulus(a: int, b: int) -> int:
    return 0 if b == 0 else a % b


def _shift_left(args: Sequence[int], node: Any, types: Sequence[Type]) -> int:
    value, count = args
    return 0 if count >= node.type.width else value << count


def _shift_right(args: Sequence[int], node: Any, types: Sequence[Type]) -> int:
    value, count = args
    return value >> min(count, types[0].width)


def _concatenate(args: Sequence[int], node: Any, types: Sequence[Type]) -> int:
    word = 0
    for value, kind in zip(args, types, strict=True):
        word = (word << kind.width) | (value & ((1 << kind.width) - 1))
    return word


def _llvm_division(kind: str) -> Callable[..., Any]:
    def emit(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
        dividend, divisor = args
        zero = divisor.type(0)
        none = b.icmp_unsigned("==", divisor, zero)
        safe = b.select(none, divisor.type(1), divisor)
        if kind == "div":
            result = (b.sdiv if common.signed else b.udiv)(dividend, safe)
        else:
            result = (b.srem if common.signed else b.urem)(dividend, safe)
        if kind == "mod" and common.signed:
            differ = b.icmp_signed("<", b.xor(result, safe), zero)
            inexact = b.icmp_unsigned("!=", result, zero)
            result = b.select(b.and_(differ, inexact), b.add(result, safe), result)
        return b.select(none, zero, result)

    return emit


def _llvm_shift(name: str) -> Callable[..., Any]:
    def emit(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
        # LLVM leaves a shift by the width or more undefined, so the count is clamped first and the
        # work is done in a type wide enough for both the value and the count.
        value, count = args
        kind = types[0] if name == "shr" else node.type
        work = b.integer(max(value.type.width, count.type.width, kind.width))
        wide = _extend(b, value, work, types[0].signed)
        shifts = _extend(b, count, work, False)
        over = b.icmp_unsigned(">=", shifts, work(kind.width))
        if name == "shl":
            shifted = b.shl(wide, b.select(over, work(0), shifts))
            return b.select(over, work(0), shifted)
        last = work(kind.width - 1)
        if kind.signed:
            return b.ashr(wide, b.select(over, last, shifts))
        return b.select(over, work(0), b.lshr(wide, b.select(over, last, shifts)))

    return emit


def _extend(b: Any, value: Any, kind: Any, signed: bool) -> Any:
    if value.type.width == kind.width:
        return value
    return (b.sext if signed else b.zext)(value, kind)


def _llvm_concatenate(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
    kind = b.integer(node.type.width)
    word = kind(0)
    for value, part in zip(args, types, strict=True):
        piece = value if part.width == kind.width else b.zext(value, kind)
        word = piece if part.width == kind.width else b.or_(b.shl(word, kind(part.width)), piece)
    return word


def _llvm_bits(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
    value = args[0]
    return b.lshr(value, value.type(node.attr)) if node.attr else value


def _llvm_parity(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
    return b.trunc(b.ctpop(args[0]), b.integer(1)) if args[0].type.width > 1 else args[0]


def _llvm_compare(sign: str) -> Callable[..., Any]:
    def emit(b: Any, args: Sequence[Any], common: Type, node: Any, types: Sequence[Type]) -> Any:
        return (b.icmp_signed if common.signed else b.icmp_unsigned)(sign, *args)

    return emit


# --- the table -------------------------------------------------------------------------------------

_ROWS = (
    Op("add", 2, "result", lambda a, n, t: a[0] + a[1], lambda b, a, *_: b.add(*a), "{0} + {1}", "sum"),
    Op("sub", 2, "result", lambda a, n, t: a[0] - a[1], lambda b, a, *_: b.sub(*a), "{0} - {1}", "difference"),
    Op("mul", 2, "result", lambda a, n, t: a[0] * a[1], lambda b, a, *_: b.mul(*a), "{0} * {1}", "product"),
    Op("neg", 1, "result", lambda a, n, t: -a[0], lambda b, a, *_: b.neg(a[0]), "-{0}", "negated value"),
    Op(
        "div",
        2,
        "common",
        lambda a, n, t: _quotient(*a),
        _llvm_division("div"),
        "({1} == 0) ? 0 : {0} / {1}",
        "quotient cut towards zero; 0 where the divisor is 0",
    ),
    Op(
        "rem",
        2,
        "common",
        lambda a, n, t: _remainder(*a),
        _llvm_division("rem"),
        "({1} == 0) ? 0 : {0} % {1}",
        "remainder with the dividend's sign; 0 where the divisor is 0",
    ),
    Op(
        "mod",
        2,
        "common",
        lambda a, n, t: _modulus(*a),
        _llvm_division("mod"),
        "({1} == 0) ? 0 : ((({0} % {1}) != 0) && (({0} < 0) != ({1} < 0))) ? ({0} % {1}) + {1} : {0} % {1}",
        "modulus with the divisor's sign; 0 where the divisor is 0",
    ),
    Op("and", 2, "result", lambda a, n, t: a[0] & a[1], lambda b, a, *_: b.and_(*a), "{0} & {1}", "bitwise and"),
    Op("or", 2, "result", lambda a, n, t: a[0] | a[1], lambda b, a, *_: b.or_(*a), "{0} | {1}", "bitwise or"),
    Op(
        "xor", 2, "result", lambda a, n, t: a[0] ^ a[1], lambda b, a, *_: b.xor(*a), "{0} ^ {1}", "bitwise exclusive or"
    ),
    Op("not", 1, "result", lambda a, n, t: ~a[0], lambda b, a, *_: b.not_(a[0]), "~{0}", "every bit inverted"),
    Op(
        "shl",
        2,
        "own",
        _shift_left,
        _llvm_shift("shl"),
        "{0} << {1}",
        "first argument times 2**second (the second is unsigned)",
    ),
    Op(
        "shr",
        2,
        "own",
        _shift_right,
        _llvm_shift("shr"),
        "{0} >>> {1}",
        "first argument over 2**second, rounded down (the second is unsigned)",
    ),
    Op("eq", 2, "common", lambda a, n, t: a[0] == a[1], _llvm_compare("=="), "{0} == {1}", "equal"),
    Op("ne", 2, "common", lambda a, n, t: a[0] != a[1], _llvm_compare("!="), "{0} != {1}", "not equal"),
    Op("lt", 2, "common", lambda a, n, t: a[0] < a[1], _llvm_compare("<"), "{0} < {1}", "less than"),
    Op("le", 2, "common", lambda a, n, t: a[0] <= a[1], _llvm_compare("<="), "{0} <= {1}", "less than or equal"),
    Op(
        "mux",
        3,
        "result",
        lambda a, n, t: a[1] if a[0] else a[2],
        lambda b, a, *_: b.select(*a),
        "{0} ? {1} : {2}",
        "second argument where the first (a bit) is 1, else the third",
    ),
    Op(
        "cat",
        None,
        "own",
        _concatenate,
        _llvm_concatenate,
        lambda args, *_: "{" + ", ".join(args) + "}",
        "the arguments' bits side by side, the first one highest",
    ),
    Op(
        "bits",
        1,
        "own",
        lambda a, n, t: a[0] >> n.attr,
        _llvm_bits,
        "{0}[{high}:{attr}]",
        "bits attr to attr + width - 1 of the argument",
    ),
    Op(
        "wrap",
        1,
        "result",
        lambda a, n, t: a[0],
        lambda b, a, *_: a[0],
        "{0}",
        "the same value wrapped into another type",
    ),
    Op(
        "parity",
        1,
        "own",
        lambda a, n, t: (a[0] & ((1 << t[0].width) - 1)).bit_count() & 1,
        _llvm_parity,
        "^{0}",
        "1 where an odd number of bits is 1",
    ),
)

OPS: dict[str, Op] = {row.name: row for row in _ROWS}
"""Operator rows by name."""


def evaluate(node: Any, args: Sequence[int], types: Sequence[Type]) -> int:
    """Value of an operator node: the exact result, wrapped into the node's type."""
    return node.type.wrap(int(OPS[node.op].python(args, node, types)))


# --- metastability ---------------------------------------------------------------------------------

_MASK = (1 << 64) - 1


def settle(seed: int, reg: int, edge: int) -> int:
    """64 random bits for one metastable event: a pure function, so that every engine draws the same.

    The mixer is splitmix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators",
    OOPSLA 2014; constants from memory).  Bit *i* decides bit *i* of the register (bits 64 and up reuse bit *i* mod 64):
    1 takes the new value, 0 keeps the old.
    """
    z = (seed + reg * 0xD1B54A32D192ED03 + edge * 0x9E3779B97F4A7C15) & _MASK
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
    return z ^ (z >> 31)
