"""Changing a signal's type: ``resize``, conversion, storing, cutting bits out, putting bits together.

Sizes, rounding and saturation are those of ``resize`` in IEEE 1076-2008 ``numeric_std`` and ``fixed_pkg``.
"""

from __future__ import annotations

from ..netlist import BIT, Type
from .build import Builder, Refused, Value
from .constants import Operand, a_type, const_rounded, need_signal, plain, show, sized, step_of, typed

OVERFLOWS = ("saturate", "wrap")
ROUNDS = ("nearest", "truncate")


def fits(inner: Type, outer: Type) -> bool:
    """True if every value of ``inner`` is a value of ``outer`` (a bit counts as 0 and 1)."""
    return (
        inner.right >= outer.right
        and outer.low * outer.step <= inner.low * inner.step
        and inner.high * inner.step <= outer.high * outer.step
    )


def keep(b: Builder, x: Value, kind: Type) -> Value:
    """The same number in a type that :func:`fits` it."""
    if x.type == kind:
        return x
    node = b.add("wrap", (x.node,), a_type("signed" if kind.signed else "unsigned", kind.width))
    up = x.type.right - kind.right
    if up:
        count = b.const(up, a_type("unsigned", up.bit_length()))
        node = b.add("shl", (node, count), a_type("signed" if kind.signed else "unsigned", kind.width))
    return Value(b.add("wrap", (node,), kind), kind)


def rounded(b: Builder, x: Value, right: int, nearest: bool) -> Value:
    """``x`` with its lowest bit at ``right``, higher than now: rounded half to even, or cut (towards minus infinity).

    The result has one bit more than is left of ``x``, so that rounding up cannot overflow.
    """
    drop = right - x.type.right
    left = max(x.type.left, right) + 1
    kind = sized(x.type.signed, left, right)
    raw = a_type("signed" if kind.signed else "unsigned", max(x.type.width, drop) + 2)
    count = b.const(drop, a_type("unsigned", drop.bit_length()))
    node = b.add("wrap", (x.node,), raw)
    down = b.add("shr", (node, count), raw)
    # fixed_pkg looks at the cut-off bits only if they reach up to the bit below `right`; where the whole number
    # lies further down it gives the sign bits, -1 step for a small negative number.
    if nearest and right <= x.type.left + 1:
        odd = b.add("bits", (down,), a_type("unsigned", 1), 0)
        almost = b.const((1 << (drop - 1)) - 1, raw)
        down = b.add("shr", (b.add("add", (b.add("add", (node, almost), raw), odd), raw), count), raw)
    return Value(b.add("wrap", (down,), kind), kind)


def clamped(b: Builder, x: Value, kind: Type) -> Value:
    """``x`` in ``kind`` (same sign, same right end), held at the ends of its range."""
    if fits(x.type, kind):
        return keep(b, x, kind)
    bounds = a_type("signed" if x.type.signed else "unsigned", x.type.width)
    raw = b.add("wrap", (x.node,), bounds)
    node = b.add("wrap", (raw,), kind)
    over = b.add("lt", (b.const(kind.high, bounds), raw), BIT)
    node = b.choose(over, b.const(kind.high, kind), node, kind)
    if kind.signed:
        under = b.add("lt", (raw, b.const(kind.low, bounds)), BIT)
        node = b.choose(under, b.const(kind.low, kind), node, kind)
    return Value(node, kind)


def fixed_resize(b: Builder, x: Value, kind: Type, saturate: bool = True, nearest: bool = True) -> Value:
    """``resize`` of ``fixed_pkg``; integers count as fixed point without fraction bits."""
    if kind.right > x.type.right:
        x = rounded(b, x, kind.right, nearest)
    elif kind.right < x.type.right:
        x = keep(b, x, sized(x.type.signed, max(x.type.left, kind.right), kind.right))
    if saturate:
        return clamped(b, x, kind)
    return Value(b.add("wrap", (x.node,), kind), kind)


def integer_resize(b: Builder, x: Value, kind: Type) -> Value:
    """``resize`` of ``numeric_std``: signed narrowing keeps the sign bit and the lowest bits."""
    if not kind.signed or kind.width >= x.type.width:
        return Value(b.add("wrap", (x.node,), kind), kind)
    sign = b.add("bits", (x.node,), a_type("unsigned", 1), x.type.width - 1)
    if kind.width == 1:
        return Value(b.add("wrap", (sign,), kind), kind)
    low = b.add("bits", (x.node,), a_type("unsigned", kind.width - 1), 0)
    return Value(b.add("wrap", (b.add("cat", (sign, low), a_type("unsigned", kind.width)),), kind), kind)


def resize(b: Builder, x: Operand, kind: Type, overflow: str | None = None, round: str | None = None) -> Value:
    """``resize(x, kind)``: another size, and what to do with what does not fit.

    Between integers without styles this is ``numeric_std.resize``: unsigned keeps the lowest bits; signed keeps the
    *sign bit* and the lowest ``n - 1`` bits (so ``resize(signed(8)(-100), signed(4))`` is -4, and 100 gives 4).
    Otherwise it is ``fixed_pkg``'s ``resize`` with ``overflow="saturate"`` (default) or ``"wrap"`` and
    ``round="nearest"`` (default; a tie goes to the even value) or ``"truncate"`` (towards minus infinity).

    Raises
    ------
    Refused
        If the sign of the types differs, a bit or a plain number is given, or a style is unknown.
    """
    _check_style("overflow", overflow, OVERFLOWS)
    _check_style("round", round, ROUNDS)
    if not isinstance(x, Value):
        raise Refused(f"{show(x)} is a plain number and has no size to change.", f"Write const({show(x)}, {kind}).")
    if BIT in (x.type, kind):
        raise Refused(
            f"resize from {x.type} to {kind}: a bit has one size only.",
            "Write x != 0 to get a bit." if kind == BIT else f"Write {kind}(x) to make a number of a bit.",
        )
    if x.type.signed != kind.signed:
        raise Refused(f"resize from {x.type} to {kind} would change what the top bit means.", _across(x.type, kind))
    if overflow is None and round is None and not x.type.fixed and not kind.fixed:
        return integer_resize(b, x, kind)
    return fixed_resize(b, x, kind, overflow != "wrap", round != "truncate")


def _check_style(name: str, style: str | None, known: tuple[str, str]) -> None:
    if style is not None and style not in known:
        raise Refused(f"resize: {name} is {style!r}.", f'Write {name}="{known[0]}" or {name}="{known[1]}".')


def _across(have: Type, want: Type) -> str:
    """Advice for changing both sign and size."""
    if want.signed:
        step = sized(True, have.left + 1, have.right if have.fixed else None)
        return f"Convert first, with one bit more for the sign: resize({step}(x), {want})."
    step = sized(False, have.left, have.right if have.fixed else None)
    return f"Decide what negative numbers become: resize({step}(max(x, 0)), {want}) makes them 0."


def convert(b: Builder, kind: Type, x: Operand) -> Value:
    """``kind(x)``, for example ``signed(9)(x)``: the same number, or the same bits, in another type.

    * a plain number must fit exactly;
    * if ``kind`` holds every value of ``x``'s type, the number is kept (so ``signed(9)(x)`` of an ``unsigned(8)``, or
      ``unsigned(8)(flag)`` of a bit);
    * between signed and unsigned of the same size the *bits* are kept and the number may change, as in the type
      conversions of VHDL: ``signed(8)(x)`` of ``unsigned(8)`` 255 is -1;
    * anything else would lose something and is refused.
    """
    if plain(x):
        return typed(b, kind, x)
    assert isinstance(x, Value)
    if fits(x.type, kind):
        return keep(b, x, kind)
    if (x.type.width, x.type.right) == (kind.width, kind.right) and (x.type.fixed == kind.fixed):
        return Value(b.add("wrap", (x.node,), kind), kind)
    if kind == BIT:
        raise Refused(
            f"{x.type} does not become a bit by itself.",
            f"Write x != 0 (is it not zero?) or x[{x.type.right}] (its lowest bit).",
        )
    if x.type.signed == kind.signed:
        raise Refused(f"{kind}(x) keeps the number, and {_loss(x.type, kind)}.", _how_to_resize(x.type, kind))
    if x.type.signed:
        same = sized(False, x.type.left, x.type.right if x.type.fixed else None)
        raise Refused(
            f"{kind}(x) of {x.type}: {kind} has no negative numbers, and only equal sizes keep the bits.",
            f"Write resize({same}(x), {kind}) to keep the bits, or resize({same}(max(x, 0)), {kind}) to make "
            "negative numbers 0.",
        )
    raise Refused(f"{kind}(x) keeps the number, and {_loss(x.type, kind)}.", _across(x.type, kind))


def store(b: Builder, x: Operand, kind: Type, what: str) -> Value:
    """The value as it enters ``what``, something that holds ``kind``: nothing may get lost on the way.

    The same type, or one of the same signedness whose every value ``kind`` holds, is taken; a plain number must fit
    exactly.  ``what`` is for the message: ``"register over"``.
    """
    if plain(x):
        try:
            return typed(b, kind, x)
        except Refused as refused:
            raise Refused(f"{what} is {kind}: {refused.why}", refused.instead) from refused
    assert isinstance(x, Value)
    if x.type == kind:
        return x
    if kind == BIT:
        raise Refused(
            f"{what} is a bit and the value is {x.type}.",
            f"Write x != 0, a comparison, or x[{x.type.right}] for its lowest bit.",
        )
    if x.type == BIT:
        raise Refused(f"{what} is {kind} and the value is a bit.", f"Write {kind}(x), or 1 if x else 0.")
    if x.type.signed != kind.signed:
        raise Refused(
            f"{what} is {kind} and the value is {x.type}: the top bit of only one of them is a sign.",
            _cross_store(x.type, kind),
        )
    if not fits(x.type, kind):
        raise Refused(
            f"{what} is {kind} and the value is {x.type}: {_loss(x.type, kind)}.", _how_to_resize(x.type, kind)
        )
    return keep(b, x, kind)


def _cross_store(have: Type, want: Type) -> str:
    if fits(have, want) or (have.width, have.right, have.fixed) == (want.width, want.right, want.fixed):
        meaning = "the number is kept" if fits(have, want) else "the bits are kept, the number may change"
        return f"Write {want}(x) ({meaning})."
    return _across(have, want)


def _loss(have: Type, want: Type) -> str:
    """What would get lost from ``have`` to ``want``, in words."""
    lost = []
    if want.right > have.right:
        gone = want.right - have.right
        lost.append(
            f"{gone} fraction bit{'s' * (gone > 1)} would be lost "
            f"(steps of {step_of(have)} become steps of {step_of(want)})"
        )
    if have.high * have.step > want.high * want.step or have.low * have.step < want.low * want.step:
        lost.append(f"numbers outside {show(want.low * want.step)} to {show(want.high * want.step)} would be lost")
    return " and ".join(lost)


def _how_to_resize(have: Type, want: Type) -> str:
    if not have.fixed and not want.fixed:
        cut = "keeps the sign bit and the lowest bits" if want.signed else "drops the top bits"
        return (
            f"Write resize(x, {want}), which {cut}, or resize(x, {want}, "
            'overflow="saturate"), which stays at the end of the range.'
        )
    return (
        f"Write resize(x, {want}), which rounds and saturates, or add "
        'overflow="wrap" or round="truncate" for the cheaper way.'
    )


def scalb(b: Builder, x: Operand, n: int) -> Value:
    """``scalb(x, n)``: ``x`` times 2**n by moving the binary point; no hardware.

    The result is fixed point with both ends moved by ``n``; an integer counts as fixed point without fraction bits,
    so ``scalb(code, -23)`` of a ``signed(24)`` is ``sfixed(0, -23)``.
    """
    x = need_signal(x, "scalb")
    if x.type == BIT:
        raise Refused("scalb moves the binary point of a number and a bit has none.", "Write unsigned(1)(x) first.")
    if isinstance(n, bool) or not isinstance(n, int):
        raise Refused(
            f"scalb: the binary point moves by a constant whole number of bits, not by {_name(n)}.",
            "Write a constant such as scalb(x, -4), or shift by a signal: x >> n.",
        )
    kind = sized(x.type.signed, x.type.left + n, x.type.right + n)
    return Value(b.add("wrap", (x.node,), kind), kind)


def bits(b: Builder, x: Operand, hi: int, lo: int | None = None) -> Value:
    """``bits(x, hi, lo)``: bits ``hi`` down to ``lo`` as they stand, as unsigned; ``bits(x, i)`` is one bit.

    Bit ``i`` weighs ``2**i``, so ``bits(x, -1, -4)`` are the four highest fraction bits of a fixed-point ``x``.
    """
    x = need_signal(x, "bits")
    for index in (hi, hi if lo is None else lo):
        if isinstance(index, bool) or not isinstance(index, int):
            raise Refused(
                f"bits: a position is a constant whole number, not {_name(index)}.",
                f"To pick a bit by a signal, shift first: (x >> n)[{x.type.right}].",
            )
        if not x.type.right <= index <= x.type.left:
            raise Refused(
                f"bits: {x.type} has bits {x.type.left} down to {x.type.right}, not {index}.",
                f"Bit i weighs 2**i; the lowest here is {x.type.right}.",
            )
    if lo is not None and lo > hi:
        raise Refused(f"bits({hi}, {lo}) is empty: the higher position comes first.", f"Write bits(x, {lo}, {hi}).")
    kind = BIT if lo is None else a_type("unsigned", hi - lo + 1)
    return Value(b.add("bits", (x.node,), kind, (hi if lo is None else lo) - x.type.right), kind)


def cat(b: Builder, *xs: Operand) -> Value:
    """``cat(high, ..., low)``: the bits of all operands side by side, as unsigned (``&`` of VHDL)."""
    if not xs:
        raise Refused("cat() puts signals side by side and got none.", "Write cat(high, low).")
    parts = [need_signal(x, "cat") for x in xs]
    kind = a_type("unsigned", sum(part.type.width for part in parts))
    return Value(b.add("cat", tuple(part.node for part in parts), kind), kind)


def const(b: Builder, number: object, kind: Type) -> Value:
    """The language's ``const(number, kind)`` as a signal: the nearest value of ``kind``."""
    return Value(b.const(const_rounded(number, kind), kind), kind)


def _name(thing: object) -> str:
    return "a signal" if isinstance(thing, Value) else repr(thing)


__all__ = [
    "OVERFLOWS",
    "ROUNDS",
    "bits",
    "cat",
    "clamped",
    "const",
    "convert",
    "fits",
    "fixed_resize",
    "integer_resize",
    "keep",
    "resize",
    "rounded",
    "scalb",
    "store",
]
