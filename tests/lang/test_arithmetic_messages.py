"""What the learner reads when an operator, a size or a constant is refused: each message, in full."""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from arithmetic_bench import Bench

from simkit.lang import arithmetic as ar
from simkit.lang import build, steps
from simkit.lang.build import Refused, Value
from simkit.lang.constants import constant, need_signal, typed
from simkit.netlist import BIT, Type, make, parse

MODULES = ("arithmetic", "comparison", "constants", "division", "operands", "resize")
U8, S8, UF, SF = (parse(t) for t in ("unsigned(8)", "signed(8)", "ufixed(3, -4)", "sfixed(3, -4)"))


class Draw:
    """Signals of the types that the rows use, and the operations as the learner writes them."""

    def __init__(self) -> None:
        self.bench = Bench()
        self.b = self.bench.b
        self.u8, self.u4, self.s8, self.s9 = map(self.bench.signal, (U8, make("unsigned", 4), S8, make("signed", 9)))
        self.uf, self.sf, self.flag, self.other = map(self.bench.signal, (UF, SF, BIT, BIT))

    def binary(self, x: Any, op: str, y: Any) -> Value:
        return ar.binary(self.b, op, x, y)


Row = tuple[Callable[[Draw], Any], str]

ROWS: list[Row] = [
    # operators that hardware does not have
    (
        lambda d: d.binary(d.u8, "//", 2),
        "// rounds down in Python; a hardware divider cuts towards zero, so the two differ below 0. "
        "Write x / y (cut towards zero), or x >> n to divide by 2**n and round down.",
    ),
    (
        lambda d: d.binary(d.u8, "**", 3),
        "** is no operator of hardware: a power is a chain of multipliers. "
        "Write the multiplications, x * x * x; for a power of two, unsigned(16)(1) << n.",
    ),
    (
        lambda d: d.binary(d.u8, "@", d.u8),
        "@ multiplies matrices; hardware here multiplies numbers. Write x * y and a for loop over the elements.",
    ),
    (
        lambda d: d.binary(d.u8, "<>", d.u8),
        "<> is not an operator of hardware here. There are + - * / % & | ^ == != < <= > >= << >>.",
    ),
    (lambda d: ar.unary(d.b, "!", d.u8), "! is not an operator of hardware here. There are -x, ~x, abs(x) and not x."),
    # signed meets unsigned, bit meets number
    (
        lambda d: d.binary(d.u8, "+", d.s8),
        "unsigned(8) + signed(8): the top bit of one is a sign and of the other a number. "
        "Write signed(9)(x) around the left side; the extra bit keeps its value.",
    ),
    (
        lambda d: d.binary(d.s8, "<", d.u8),
        "signed(8) < unsigned(8): the top bit of one is a sign and of the other a number. "
        "Write signed(9)(x) around the right side; the extra bit keeps its value.",
    ),
    (
        lambda d: d.binary(d.sf, "*", d.uf),
        "sfixed(3, -4) * ufixed(3, -4): the top bit of one is a sign and of the other a number. "
        "Write sfixed(4, -4)(x) around the right side; the extra bit keeps its value.",
    ),
    (
        lambda d: d.binary(d.flag, "+", d.u8),
        "bit + unsigned(8): a bit is true or false, not a number. "
        "Write unsigned(8)(flag) to make the bit a number, or x if flag else 0.",
    ),
    (
        lambda d: d.binary(d.bench.signal("sfixed(0, -15)"), "*", d.flag),
        "sfixed(0, -15) * bit: a bit is true or false, not a number. Write x if flag else 0.",
    ),
    (
        lambda d: d.binary(d.flag, "+", d.other),
        "bit + bit: a bit is true or false, not a number. "
        "Write x and y, x or y, x ^ y; or unsigned(2)(x) + unsigned(2)(y) to count how many are 1.",
    ),
    (
        lambda d: d.binary(d.flag, "<", d.other),
        "bit < bit: true and false have no order. Write x and not y, or compare with == and !=.",
    ),
    (lambda d: ar.minimum(d.b, d.flag, d.other), "min of bits: true and false have no order. Write x and y."),
    (lambda d: ar.maximum(d.b, d.flag, d.other), "max of bits: true and false have no order. Write x or y."),
    (
        lambda d: ar.unary(d.b, "-", d.flag),
        "- of a bit: a bit is true or false, not a number. Write not x to invert it, "
        "or signed(2)(x) to calculate with it.",
    ),
    (
        lambda d: ar.unary(d.b, "not", d.u8),
        "not needs a bit and got unsigned(8). Write a comparison, for example x != 0.",
    ),
    (
        lambda d: ar.unary(d.b, "-", d.u8),
        "-x of unsigned(8): an unsigned type has no negative numbers. "
        "Write -signed(9)(x) for the negative number, or 0 - x to wrap round.",
    ),
    (
        lambda d: ar.unary(d.b, "-", d.uf),
        "-x of ufixed(3, -4): an unsigned type has no negative numbers. Write -sfixed(4, -4)(x) for the negative number.",
    ),
    (lambda d: ar.unary(d.b, "abs", d.u8), "abs of unsigned(8): it is never negative. Write x alone."),
    (
        lambda d: d.binary(d.u8, "&", d.u4),
        "unsigned(8) & unsigned(4): bit meets bit in the same place, so both sides need one type. "
        "Write resize(x, unsigned(8)) around the other side.",
    ),
    (
        lambda d: ar.reciprocal(d.b, d.s8),
        "reciprocal of signed(8): 1/x is a fraction and the result would have to be fixed point. "
        "Write reciprocal(sfixed(7, 0)(x)).",
    ),
    # plain numbers beside signals
    (
        lambda d: d.binary(d.u8, "+", 300),
        "+ with unsigned(8): 300 does not fit unsigned(8), which holds 0 to 255. "
        "Write unsigned(9)(300) or choose a wider type.",
    ),
    (
        lambda d: d.binary(d.u8, "+", -1),
        "+ with unsigned(8): -1 does not fit unsigned(8), which holds 0 to 255. "
        "An unsigned type has no negative numbers; use signed(9), or subtract 1.",
    ),
    (
        lambda d: d.binary(d.s8, "&", 0xFF),
        "& with signed(8): 255 does not fit signed(8), which holds -128 to 127. "
        "Write signed(9)(255) or choose a wider type.",
    ),
    (
        lambda d: d.binary(d.sf, "+", 0.3),
        "+ with sfixed(3, -4): 0.3 is not a value of sfixed(3, -4): its steps are 0.0625 (nearest: 0.25, 0.3125). "
        "Write const(0.3, sfixed(3, -4)) for the nearest value, or take more fraction bits.",
    ),
    (
        lambda d: d.binary(d.bench.signal("sfixed(0, -15)"), "+", 1),
        "+ with sfixed(0, -15): 1 does not fit sfixed(0, 0), which holds -1 to 0 "
        "(a whole number beside sfixed(0, -15) is taken as sfixed(0, 0)). Write sfixed(1, 0)(1) or choose a wider type.",
    ),
    (
        lambda d: d.binary(d.u8, "*", 0.5),
        "* with unsigned(8): 0.5 is not a value of unsigned(8): its steps are 1 (nearest: 0, 1). "
        "Write const(0.5, unsigned(8)) for the nearest value, or take more fraction bits.",
    ),
    (lambda d: d.binary(d.u8, "+", True), "+ with unsigned(8): True is a bit and unsigned(8) is a number. Write 1."),
    (
        lambda d: d.binary(d.u8, "==", True),
        "unsigned(8) == True: True is a bit and the other side a number. Write 1, or x != 0.",
    ),
    (lambda d: d.binary(d.flag, "&", 2), "& with bit: a bit is 0 or 1, not 2. Use unsigned(2) if you need the number."),
    (
        lambda d: d.binary(d.sf, "==", 0.3),
        "sfixed(3, -4) == 0.3: 0.3 is no value of sfixed(3, -4), whose steps are 0.0625. "
        "Compare with const(0.3, sfixed(3, -4)), or use < and >.",
    ),
    (
        lambda d: d.binary(3, "+", 4),
        "3 + 4: 3 is a plain number and has no width. Give it a type, for example unsigned(2)(3).",
    ),
    (
        lambda d: d.binary(1, "<<", d.u8),
        "<<: 1 is a plain number and has no width. Give it a type, for example unsigned(1)(1).",
    ),
    (
        lambda d: need_signal(0.5, "bits"),
        "bits: 0.5 is a plain number and has no width. Give it a type, for example const(0.5, sfixed(3, -12)).",
    ),
    (
        lambda d: ar.minimum(d.b, 3, 4),
        "min compares two or more operands, at least one of them a signal. Write min(x, y).",
    ),
    # shifts
    (
        lambda d: d.binary(d.flag, "<<", 1),
        "bit << n: a bit has no neighbour to move to. Write unsigned(8)(x) first, or cat(...).",
    ),
    (
        lambda d: d.binary(d.u8, "<<", d.s8),
        "unsigned(8) << signed(8): the count of a shift is an unsigned signal of at most 64 bits. "
        "Write unsigned(8)(n) if it is never negative.",
    ),
    (
        lambda d: d.binary(d.u8, ">>", d.flag),
        "unsigned(8) >> bit: the count of a shift is an unsigned signal of at most 64 bits. Write unsigned(1)(n).",
    ),
    (
        lambda d: d.binary(d.u8, "<<", -2),
        "unsigned(8) << -2: a shift moves by a whole number of places, 0 or more. Write x >> 2.",
    ),
    (
        lambda d: d.binary(d.u8, "<<", 1.5),
        "unsigned(8) << 1.5: a shift moves by a whole number of places, 0 or more. Write a whole number.",
    ),
    # choosing
    (
        lambda d: ar.select(d.b, d.flag, d.u8, d.u4),
        "one side of if ... else is unsigned(8) and the other unsigned(4): a multiplexer has one type. "
        "Write unsigned(8)(...) around the second side.",
    ),
    (
        lambda d: ar.select(d.b, d.flag, d.u8, d.uf),
        "one side of if ... else is unsigned(8) and the other ufixed(3, -4): a multiplexer has one type. "
        "Write resize(..., unsigned(8)) around the second side, or the other way round.",
    ),
    (
        lambda d: ar.select(d.b, d.flag, d.u8, d.s8),
        "one side of if ... else is unsigned(8) and the other signed(8): a multiplexer has one type. "
        "Write signed(9)(...) around the unsigned(8) side, then resize both to one size.",
    ),
    (
        lambda d: ar.select(d.b, d.flag, d.other, d.u8),
        "one side of if ... else is bit and the other unsigned(8): a multiplexer has one type. "
        "Write unsigned(8)(...) around the bit.",
    ),
    (
        lambda d: ar.select(d.b, d.flag, 300, d.u8),
        "if ... else with unsigned(8): 300 does not fit unsigned(8), which holds 0 to 255. "
        "Write unsigned(9)(300) or choose a wider type.",
    ),
    # resize
    (
        lambda d: ar.resize(d.b, 300, U8),
        "300 is a plain number and has no size to change. Write const(300, unsigned(8)).",
    ),
    (
        lambda d: ar.resize(d.b, d.flag, U8),
        "resize from bit to unsigned(8): a bit has one size only. Write unsigned(8)(x) to make a number of a bit.",
    ),
    (
        lambda d: ar.resize(d.b, d.u8, BIT),
        "resize from unsigned(8) to bit: a bit has one size only. Write x != 0 to get a bit.",
    ),
    (
        lambda d: ar.resize(d.b, d.u8, make("signed", 4)),
        "resize from unsigned(8) to signed(4) would change what the top bit means. "
        "Convert first, with one bit more for the sign: resize(signed(9)(x), signed(4)).",
    ),
    (
        lambda d: ar.resize(d.b, d.s8, make("unsigned", 4)),
        "resize from signed(8) to unsigned(4) would change what the top bit means. "
        "Decide what negative numbers become: resize(unsigned(8)(max(x, 0)), unsigned(4)) makes them 0.",
    ),
    (
        lambda d: ar.resize(d.b, d.s8, S8, overflow="clip"),
        'resize: overflow is \'clip\'. Write overflow="saturate" or overflow="wrap".',
    ),
    (
        lambda d: ar.resize(d.b, d.sf, SF, round="up"),
        'resize: round is \'up\'. Write round="nearest" or round="truncate".',
    ),
    # conversion
    (
        lambda d: ar.convert(d.b, BIT, d.u8),
        "unsigned(8) does not become a bit by itself. Write x != 0 (is it not zero?) or x[0] (its lowest bit).",
    ),
    (
        lambda d: ar.convert(d.b, make("unsigned", 4), d.u8),
        "unsigned(4)(x) keeps the number, and numbers outside 0 to 15 would be lost. "
        'Write resize(x, unsigned(4)), which drops the top bits, or resize(x, unsigned(4), overflow="saturate"), '
        "which stays at the end of the range.",
    ),
    (
        lambda d: ar.convert(d.b, make("unsigned", 4), d.s8),
        "unsigned(4)(x) of signed(8): unsigned(4) has no negative numbers, and only equal sizes keep the bits. "
        "Write resize(unsigned(8)(x), unsigned(4)) to keep the bits, or resize(unsigned(8)(max(x, 0)), unsigned(4)) "
        "to make negative numbers 0.",
    ),
    (
        lambda d: ar.convert(d.b, make("signed", 4), d.u8),
        "signed(4)(x) keeps the number, and numbers outside -8 to 7 would be lost. "
        "Convert first, with one bit more for the sign: resize(signed(9)(x), signed(4)).",
    ),
    (
        lambda d: ar.convert(d.b, U8, 300),
        "300 does not fit unsigned(8), which holds 0 to 255. Take a type that reaches further, such as unsigned(9).",
    ),
    # storing
    (
        lambda d: ar.store(d.b, 300, U8, "count"),
        "count is unsigned(8): 300 does not fit unsigned(8), which holds 0 to 255. "
        "Take a type that reaches further, such as unsigned(9).",
    ),
    (
        lambda d: ar.store(d.b, d.u8, BIT, "lamp"),
        "lamp is a bit and the value is unsigned(8). Write x != 0, a comparison, or x[0] for its lowest bit.",
    ),
    (
        lambda d: ar.store(d.b, d.flag, U8, "count"),
        "count is unsigned(8) and the value is a bit. Write unsigned(8)(x), or 1 if x else 0.",
    ),
    (
        lambda d: ar.store(d.b, d.u8, S8, "level"),
        "level is signed(8) and the value is unsigned(8): the top bit of only one of them is a sign. "
        "Write signed(8)(x) (the bits are kept, the number may change).",
    ),
    (
        lambda d: ar.store(d.b, d.u8, make("signed", 9), "level"),
        "level is signed(9) and the value is unsigned(8): the top bit of only one of them is a sign. "
        "Write signed(9)(x) (the number is kept).",
    ),
    (
        lambda d: ar.store(d.b, d.s8, make("unsigned", 6), "level"),
        "level is unsigned(6) and the value is signed(8): the top bit of only one of them is a sign. "
        "Decide what negative numbers become: resize(unsigned(8)(max(x, 0)), unsigned(6)) makes them 0.",
    ),
    (
        lambda d: ar.store(d.b, d.s9, S8, "level"),
        "level is signed(8) and the value is signed(9): numbers outside -128 to 127 would be lost. "
        "Write resize(x, signed(8)), which keeps the sign bit and the lowest bits, or "
        'resize(x, signed(8), overflow="saturate"), which stays at the end of the range.',
    ),
    (
        lambda d: ar.store(d.b, d.sf, make("sfixed", 2, -3), "gain"),
        "gain is sfixed(2, -3) and the value is sfixed(3, -4): 1 fraction bit would be lost "
        "(steps of 0.0625 become steps of 0.125) and numbers outside -4 to 3.875 would be lost. "
        'Write resize(x, sfixed(2, -3)), which rounds and saturates, or add overflow="wrap" or round="truncate" '
        "for the cheaper way.",
    ),
    # bits, cat, scalb
    (
        lambda d: ar.scalb(d.b, d.flag, 1),
        "scalb moves the binary point of a number and a bit has none. Write unsigned(1)(x) first.",
    ),
    (
        lambda d: ar.scalb(d.b, d.u8, d.u4),
        "scalb: the binary point moves by a constant whole number of bits, not by a signal. "
        "Write a constant such as scalb(x, -4), or shift by a signal: x >> n.",
    ),
    (
        lambda d: ar.bits(d.b, d.u8, d.u4, 0),
        "bits: a position is a constant whole number, not a signal. To pick a bit by a signal, shift first: (x >> n)[0].",
    ),
    (
        lambda d: ar.bits(d.b, d.u8, 8, 1),
        "bits: unsigned(8) has bits 7 down to 0, not 8. Bit i weighs 2**i; the lowest here is 0.",
    ),
    (lambda d: ar.bits(d.b, d.u8, 1, 3), "bits(1, 3) is empty: the higher position comes first. Write bits(x, 3, 1)."),
    (lambda d: ar.cat(d.b), "cat() puts signals side by side and got none. Write cat(high, low)."),
    # constants
    (
        lambda d: constant(U8, "A"),
        "'A' is a text; hardware here carries numbers of a fixed width only. "
        "Write a number, for example ord('A') for the code of a letter.",
    ),
    (
        lambda d: constant(U8, None),
        "None (NoneType) is not a number; a wire carries a number of a fixed width. Write a whole number, "
        "a float or a signal.",
    ),
    (lambda d: constant(U8, float("nan")), "nan is not a number that bits can hold. Give a finite number."),
    (lambda d: constant(BIT, 2), "a bit is 0 or 1, not 2. Use unsigned(2) if you need the number."),
    (
        lambda d: constant(UF, 16.5),
        "16.5 does not fit ufixed(3, -4), which holds 0 to 15.9375 in steps of 0.0625. "
        "Take a type that reaches further, such as ufixed(4, -4).",
    ),
    (lambda d: ar.const_rounded(0.5, 8), "const(): 8 is no type. Write for example const(0.1, sfixed(0, -15))."),
    (lambda d: ar.const_rounded(0.5, BIT), "const() makes a number and a bit is no number. Write 0 or 1."),
    (
        lambda d: ar.const_rounded(1.0, make("sfixed", 0, -15)),
        "1.0 does not fit sfixed(0, -15), which holds -1 to 0.999969482421875 in steps of 2**-15. "
        "Write const(1.0, sfixed(1, -15)).",
    ),
    (
        lambda d: ar.const_rounded(-0.5, UF),
        "-0.5 does not fit ufixed(3, -4), which holds 0 to 15.9375 in steps of 0.0625. Write const(-0.5, sfixed(4, -4)).",
    ),
    (
        lambda d: d.binary(d.bench.signal("unsigned(4096)"), "*", d.u8),
        "unsigned(4104) has 4104 bits; a value has 1 to 4096.",
    ),
]


@pytest.mark.parametrize(("action", "message"), ROWS, ids=[message[:60] for _, message in ROWS])
def test_message(action: Callable[[Draw], Any], message: str) -> None:
    with pytest.raises(Refused) as caught:
        action(Draw())
    assert str(caught.value) == message


def test_every_place_that_refuses_has_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each ``Refused(...)`` in the modules of arithmetic is reached by one of the rows above."""
    reached: set[tuple[str, int]] = set()
    plain_init = build.Refused.__init__

    def noting(self: Refused, *args: str) -> None:
        caller = sys._getframe(1)
        reached.add((caller.f_code.co_filename, caller.f_lineno))
        plain_init(self, *args)

    monkeypatch.setattr(build.Refused, "__init__", noting)
    for action, _ in ROWS:
        with pytest.raises(Refused):
            action(Draw())
    missed = []
    for name in MODULES:
        path = str(import_module(f"simkit.lang.{name}").__file__)
        for call in ast.walk(ast.parse(Path(path).read_text(encoding="utf-8"))):
            if (
                isinstance(call, ast.Call)
                and getattr(call.func, "id", "") == "Refused"
                and not any(file == path and call.lineno <= line <= call.end_lineno for file, line in reached)
            ):
                missed.append(f"{Path(path).name}:{call.lineno}")
    assert missed == []


# --- the advice is right -----------------------------------------------------------------------------


def value(d: Draw, kind: str, x: Any) -> Value:
    return ar.convert(d.b, parse(kind), x)


def cut(d: Draw, x: Any, kind: str, **styles: str) -> Value:
    return ar.resize(d.b, x, parse(kind), **styles)


ADVICE: list[Callable[[Draw], Any]] = [
    lambda d: d.binary(value(d, "signed(9)", d.u8), "+", d.s8),
    lambda d: d.binary(d.sf, "*", value(d, "sfixed(4, -4)", d.uf)),
    lambda d: d.binary(value(d, "unsigned(8)", d.flag), "+", d.u8),
    lambda d: ar.select(d.b, d.flag, d.bench.signal("sfixed(0, -15)"), 0),
    lambda d: ar.unary(d.b, "-", value(d, "signed(2)", d.flag)),
    lambda d: ar.unary(d.b, "-", value(d, "signed(9)", d.u8)),
    lambda d: d.binary(0, "-", d.u8),
    lambda d: d.binary(d.u8, "&", cut(d, d.u4, "unsigned(8)")),
    lambda d: ar.reciprocal(d.b, value(d, "sfixed(7, 0)", d.s8)),
    lambda d: d.binary(d.u8, "+", value(d, "unsigned(9)", 300)),
    lambda d: d.binary(d.sf, "+", ar.const(d.b, 0.3, SF)),
    lambda d: d.binary(d.bench.signal("sfixed(0, -15)"), "+", value(d, "sfixed(1, 0)", 1)),
    lambda d: ar.select(d.b, d.flag, d.u8, value(d, "unsigned(8)", d.u4)),
    lambda d: cut(d, value(d, "signed(9)", d.u8), "signed(4)"),
    lambda d: cut(d, value(d, "unsigned(8)", ar.maximum(d.b, d.s8, 0)), "unsigned(4)"),
    lambda d: ar.store(d.b, cut(d, d.s9, "signed(8)", overflow="saturate"), S8, "level"),
    lambda d: ar.store(
        d.b, cut(d, d.sf, "sfixed(2, -3)", overflow="wrap", round="truncate"), make("sfixed", 2, -3), "gain"
    ),
    lambda d: ar.store(d.b, value(d, "signed(9)", d.u8), make("signed", 9), "level"),
    lambda d: ar.bits(d.b, d.binary(d.u8, ">>", d.u4), 0),
    lambda d: ar.const(d.b, 1.0, make("sfixed", 1, -15)),
    lambda d: ar.scalb(d.b, value(d, "unsigned(1)", d.flag), 3),
    lambda d: d.binary(value(d, "unsigned(16)", 1), "<<", d.u4),
]


@pytest.mark.parametrize("follow", ADVICE)
def test_the_advice_is_accepted(follow: Callable[[Draw], Any]) -> None:
    assert follow(Draw()) is not None


# --- plain numbers ------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [np.int16(7), np.uint8(7), np.float32(7.0), np.float64(7), 7, 7.0, np.array(7)])
def test_numbers_of_numpy_are_numbers(number: Any) -> None:
    assert constant(U8, number) == 7


def test_a_comparison_that_cannot_fail_is_noted_once() -> None:
    d = Draw()
    for _ in range(2):
        assert d.b.known(d.binary(d.u8, "<", 300).node) == 1
    assert d.b.known(d.binary(d.u8, "==", 256).node) == 0
    texts = [text for _, text in d.b.netlist.warnings]
    assert texts == [
        "unsigned(8) < 300 is always True: the type holds 0 to 255",
        "unsigned(8) == 256 is always False: the type holds 0 to 255",
    ]


@pytest.mark.parametrize(
    ("kind", "sides"),
    [
        ("bit", (1, 0)),
        ("unsigned(16)", (100, 0)),
        ("signed(16)", (100, -5)),
        ("sfixed(3, -4)", (0.5, -2)),
        ("unsigned(8)", (1, 0)),
    ],
)
def test_a_choice_of_plain_numbers_takes_the_type_it_meets(kind: str, sides: tuple[float, float]) -> None:
    for flag in (0, 1):
        bench = Bench()
        choice = ar.select(bench.b, bench.signal(BIT, flag), *sides)
        stored = ar.store(bench.b, choice, parse(kind), "r")
        assert (stored.type, bench.number(stored)) == (parse(kind), sides[0] if flag else sides[1])


def test_a_choice_beside_a_signal_counts_as_a_number() -> None:
    bench = Bench()
    count, flag = bench.signal(U8, 9), bench.signal(BIT, 1)
    step = ar.select(bench.b, flag, 1, 0)
    up, down = ar.binary(bench.b, "+", count, step), ar.binary(bench.b, "-", step, count)
    assert (up.type, bench.number(up), down.type, bench.number(down)) == (U8, 10, U8, 248)
    nested = ar.select(bench.b, bench.signal(BIT, 0), 3, step)
    assert bench.number(ar.store(bench.b, nested, U8, "r")) == 1
    assert bench.raw(ar.binary(bench.b, "==", count, nested)) == 0
    with pytest.raises(Refused, match="300 does not fit"):
        ar.binary(bench.b, "+", count, ar.select(bench.b, flag, 300, 0))


def test_a_choice_alone_has_the_smallest_type() -> None:
    bench = Bench()
    flag = bench.signal(BIT, 1)
    kinds: list[tuple[tuple[float, float], Type]] = [
        ((1, 0), BIT),
        ((5, 0), make("unsigned", 3)),
        ((3, -8), make("signed", 4)),
        ((0.5, 2), make("ufixed", 1, -1)),
    ]
    for sides, kind in kinds:
        choice = ar.select(bench.b, flag, *sides)
        assert (choice.type, bench.number(choice)) == (kind, sides[0])


def test_a_constant_of_python_has_a_type() -> None:
    gain = steps.const(0.1, make("sfixed", 0, -15))
    assert (gain, gain.kind) == (Fraction(3277, 32768), make("sfixed", 0, -15))
    assert steps.const(gain, make("sfixed", 0, -3)) == Fraction(1, 8)


def test_a_value_that_cannot_be_a_constant_is_refused_beside_a_signal() -> None:
    d = Draw()
    with pytest.raises(Refused, match="'A' is a text"):
        d.binary(d.u8, "+", "A")
    with pytest.raises(Refused, match="'A' is a text"):
        typed(d.b, U8, "A")
