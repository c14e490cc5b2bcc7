"""Properties over random formats: the nodes against plain Python fractions, which know nothing of bits."""

from __future__ import annotations

import math
import operator
from fractions import Fraction

from arithmetic_bench import Bench
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simkit.lang import arithmetic as ar
from simkit.lang.build import Refused
from simkit.lang.constants import const_rounded, constant
from simkit.netlist import BIT, Type, make

COMPARISONS = {
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}
quick = settings(max_examples=150, deadline=None)


@st.composite
def formats(draw: st.DrawFn, kinds: tuple[str, ...] = ("unsigned", "signed", "ufixed", "sfixed")) -> Type:
    kind = draw(st.sampled_from(kinds))
    if kind in ("unsigned", "signed"):
        return make(kind, draw(st.integers(1, 40)))
    left = draw(st.integers(-8, 20))
    return make(kind, left, left - draw(st.integers(0, 30)))


@st.composite
def values(draw: st.DrawFn, kind: Type | None = None) -> tuple[Type, Fraction]:
    kind = kind or draw(formats())
    return kind, draw(st.integers(kind.low, kind.high)) * kind.step


def wrapped(number: Fraction, kind: Type) -> Fraction:
    return kind.wrap(int(number / kind.step)) * kind.step


@quick
@given(values(), st.data())
def test_sums_and_products_are_exact_or_wrap(x: tuple[Type, Fraction], data: st.DataObject) -> None:
    y = data.draw(values(data.draw(formats((x[0].kind,)))))
    bench = Bench()
    a, b = bench.signal(*x), bench.signal(*y)
    for op, exact in (("+", x[1] + y[1]), ("-", x[1] - y[1]), ("*", x[1] * y[1])):
        made = ar.binary(bench.b, op, a, b)
        assert bench.number(made) == wrapped(exact, made.type)
        if x[0].fixed and not (op == "-" and not x[0].signed):
            assert bench.number(made) == exact


@quick
@given(values(), st.data())
def test_comparisons_are_mathematical(x: tuple[Type, Fraction], data: st.DataObject) -> None:
    y = data.draw(values(data.draw(formats((x[0].kind,)))))
    bench = Bench()
    a, b = bench.signal(*x), bench.signal(*y)
    for op, compare in COMPARISONS.items():
        made = ar.binary(bench.b, op, a, b)
        assert (made.type, bench.raw(made)) == (BIT, compare(x[1], y[1]))


@quick
@given(values(), st.one_of(st.integers(-(2**21), 2**21), st.floats(-2e6, 2e6, width=32)))
def test_comparisons_with_numbers_are_mathematical(x: tuple[Type, Fraction], number: float) -> None:
    bench = Bench()
    a = bench.signal(*x)
    exact = Fraction(number)
    truths = {"<": x[1] < exact, "<=": x[1] <= exact, ">": x[1] > exact, ">=": x[1] >= exact}
    if (exact / x[0].step).denominator == 1:
        truths |= {"==": x[1] == exact, "!=": x[1] != exact}
    for op, truth in truths.items():
        assert bench.raw(ar.binary(bench.b, op, a, number)) == truth
    mirrored = bench.raw(ar.binary(bench.b, "<", number, a))
    assert mirrored == (exact < x[1])


@quick
@given(values(), st.data(), st.sampled_from(("saturate", "wrap")), st.sampled_from(("nearest", "truncate")))
def test_resize_is_round_then_saturate_or_wrap(
    x: tuple[Type, Fraction], data: st.DataObject, overflow: str, round_: str
) -> None:
    family = ("unsigned", "ufixed") if not x[0].signed else ("signed", "sfixed")
    kind = data.draw(formats(family))
    assume(not (x[0].signed and kind.right > x[0].left + 1))  # the package's own rule there, see test_ghdl_arithmetic
    bench = Bench()
    made = ar.resize(bench.b, bench.signal(*x), kind, overflow, round_)
    steps = round(x[1] / kind.step) if round_ == "nearest" else math.floor(x[1] / kind.step)
    want = min(max(steps, kind.low), kind.high) if overflow == "saturate" else kind.wrap(steps)
    assert (made.type, bench.raw(made)) == (kind, want)


@quick
@given(values(), formats())
def test_storing_keeps_the_number_or_is_refused(x: tuple[Type, Fraction], kind: Type) -> None:
    bench = Bench()
    try:
        made = ar.store(bench.b, bench.signal(*x), kind, "register r")
    except Refused:
        holds = kind.low * kind.step <= x[0].low * x[0].step and x[0].high * x[0].step <= kind.high * kind.step
        assert x[0].signed != kind.signed or not holds or x[0].right < kind.right
    else:
        assert (made.type, bench.number(made)) == (kind, x[1])


@quick
@given(values(), formats())
def test_conversion_keeps_the_number_or_the_bits(x: tuple[Type, Fraction], kind: Type) -> None:
    bench = Bench()
    signal = bench.signal(*x)
    try:
        made = ar.convert(bench.b, kind, signal)
    except Refused:
        return
    same_bits = kind.wrap(bench.raw(signal)) == bench.raw(made) and kind.width == x[0].width
    assert made.type == kind and (bench.number(made) == x[1] or same_bits)


@quick
@given(values(), formats())
def test_constants_are_exact_or_refused(x: tuple[Type, Fraction], kind: Type) -> None:
    raw = x[1] / kind.step
    try:
        assert constant(kind, x[1]) == raw
    except Refused:
        assert raw.denominator != 1 or not kind.holds(int(raw))


@quick
@given(st.floats(-1e4, 1e4), formats())
def test_const_takes_the_nearest_value(number: float, kind: Type) -> None:
    try:
        raw = const_rounded(number, kind)
    except Refused:
        assert not kind.holds(round(Fraction(number) / kind.step))
    else:
        assert abs(raw * kind.step - Fraction(number)) <= kind.step / 2


@quick
@given(values(), st.integers(0, 70))
def test_shifts_keep_the_size(x: tuple[Type, Fraction], places: int) -> None:
    bench = Bench()
    signal, raw = bench.signal(*x), int(x[1] / x[0].step)
    count = bench.signal("unsigned(7)", places)
    for by in (places, count):
        left, right = ar.binary(bench.b, "<<", signal, by), ar.binary(bench.b, ">>", signal, by)
        assert left.type == right.type == x[0]
        assert bench.raw(left) == x[0].wrap(raw << places)
        assert bench.raw(right) == raw >> places


@quick
@given(values(), st.integers(-30, 30))
def test_scalb_is_exact_and_costs_nothing(x: tuple[Type, Fraction], n: int) -> None:
    bench = Bench()
    made = ar.scalb(bench.b, bench.signal(*x), n)
    assert bench.number(made) == x[1] * Fraction(2) ** n
    assert {node.op for node in bench.b.netlist.nodes} <= {"input", "wrap"}


@quick
@given(values(), st.data())
def test_bits_and_cat_undo_each_other(x: tuple[Type, Fraction], data: st.DataObject) -> None:
    assume(x[0].width > 1)
    cut = data.draw(st.integers(x[0].right + 1, x[0].left))
    bench = Bench()
    signal = bench.signal(*x)
    whole = ar.cat(bench.b, ar.bits(bench.b, signal, x[0].left, cut), ar.bits(bench.b, signal, cut - 1, x[0].right))
    assert bench.raw(whole) == bench.raw(signal) & ((1 << x[0].width) - 1)
    assert whole.type == make("unsigned", x[0].width)
