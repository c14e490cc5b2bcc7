"""Sizes and values of IEEE 1076-2008, written down from the packages and not from this kit.

Sources: the size table at the head of ``fixed_generic_pkg`` and the bodies of ``fixed_generic_pkg`` and
``numeric_std`` (IEEE 1076-2008, Apache-licensed sources); the values were measured with GHDL 2.0.
``tests/outside/test_ghdl_arithmetic.py`` asks GHDL itself.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from arithmetic_bench import Bench

from simkit.lang import arithmetic as ar
from simkit.netlist import parse


def result(op: str, *operands: tuple[str, float] | float) -> tuple[str, float]:
    """Type and number of an operation on (type, number) signals and plain numbers."""
    bench = Bench()
    xs = [bench.signal(*x) if isinstance(x, tuple) else x for x in operands]
    named = {"rem": ar.rem, "reciprocal": ar.reciprocal, "min": ar.minimum, "max": ar.maximum}
    if op in named:
        made = named[op](bench.b, *xs)
    elif len(xs) == 1:
        made = ar.unary(bench.b, op, xs[0])
    else:
        made = ar.binary(bench.b, op, *xs)
    return str(made.type), float(bench.number(made))


A, B = ("sfixed(3, -4)", -8.0), ("sfixed(5, -2)", 1.25)


@pytest.mark.parametrize(
    ("op", "operands", "kind", "number"),
    [
        ("+", (A, B), "sfixed(6, -4)", -6.75),
        ("-", (A, B), "sfixed(6, -4)", -9.25),
        ("*", (A, B), "sfixed(9, -6)", -10.0),
        ("/", (A, B), "sfixed(6, -9)", -6.400390625),
        ("-", (A,), "sfixed(4, -4)", 8.0),
        ("abs", (A,), "sfixed(4, -4)", 8.0),
        ("rem", (A, B), "sfixed(3, -4)", -0.5),
        ("%", (A, B), "sfixed(5, -4)", 0.75),
        ("reciprocal", (B,), "sfixed(3, -5)", 0.8125),
        ("+", (A, 1), "sfixed(4, -4)", -7.0),
        ("*", (A, 2), "sfixed(7, -4)", -16.0),
    ],
)
def test_the_worked_example(op: str, operands: tuple, kind: str, number: float) -> None:
    assert result(op, *operands) == (kind, number)


@pytest.mark.parametrize(
    ("op", "kind"),
    [
        ("+", "ufixed(8, -5)"),
        ("-", "ufixed(8, -5)"),
        ("*", "ufixed(11, -8)"),
        ("/", "ufixed(8, -11)"),
        ("rem", "ufixed(3, -5)"),
        ("%", "ufixed(3, -5)"),
        ("min", "ufixed(7, -5)"),
        ("max", "ufixed(7, -5)"),
    ],
)
def test_sizes_of_ufixed(op: str, kind: str) -> None:
    """A(a downto b) is (3 downto -3), B(c downto d) is (7 downto -5); A/B is a-d downto b-c-1."""
    assert result(op, ("ufixed(3, -3)", 1.0), ("ufixed(7, -5)", 1.0))[0] == kind


def test_size_of_the_ufixed_reciprocal() -> None:
    assert result("reciprocal", ("ufixed(3, -4)", 2.0)) == ("ufixed(4, -4)", 0.5)


@pytest.mark.parametrize(("number", "want"), [(0.5, 0), (1.5, 2), (2.5, 2), (3.5, 4), (-1.5, -2), (-2.5, -2)])
def test_fixed_round_is_half_to_even(number: float, want: int) -> None:
    bench = Bench()
    assert bench.number(ar.resize(bench.b, bench.signal("sfixed(3, -1)", number), parse("sfixed(3, 0)"))) == want


def test_fixed_truncate_is_floor() -> None:
    bench = Bench()
    cut = ar.resize(bench.b, bench.signal("sfixed(3, -1)", -2.5), parse("sfixed(3, 0)"), round="truncate")
    assert bench.number(cut) == -3


@pytest.mark.parametrize(
    ("number", "overflow", "want"),
    [
        (100, "saturate", 7),
        (-100, "saturate", -8),
        (100, "wrap", 4),
        (7.5, "wrap", -8),
        (7.5, "saturate", 7),
    ],
)
def test_saturation_and_wrap_in_four_bits(number: float, overflow: str, want: int) -> None:
    bench = Bench()
    x = bench.signal("sfixed(8, -1)", number)
    assert bench.number(ar.resize(bench.b, x, parse("sfixed(3, 0)"), overflow=overflow)) == want


@pytest.mark.parametrize(
    ("op", "operands", "want"),
    [
        ("+", (("signed(8)", 127), 1), -128),
        ("-", (("signed(8)", -128),), -128),
        ("abs", (("signed(8)", -128),), -128),
        ("-", (("unsigned(8)", 0), 1), 255),
        ("/", (("signed(8)", -7), 2), -3),
        ("rem", (("signed(8)", -7), ("signed(8)", 3)), -1),
        ("%", (("signed(8)", -7), ("signed(8)", 3)), 2),
        ("/", (("signed(8)", -128), -1), -128),
    ],
)
def test_integers_wrap_in_eight_bits(op: str, operands: tuple, want: int) -> None:
    """``numeric_std``: the width stays; ``/`` cuts towards zero, rem has the dividend's sign, mod the divisor's."""
    kind, number = result(op, *operands)
    assert (kind[-3:], number) == ("(8)", want)


@pytest.mark.parametrize(
    ("op", "x", "y", "kind"),
    [
        ("+", "unsigned(8)", "unsigned(5)", "unsigned(8)"),
        ("*", "unsigned(8)", "unsigned(5)", "unsigned(13)"),
        ("/", "unsigned(8)", "unsigned(5)", "unsigned(8)"),
        ("rem", "unsigned(8)", "unsigned(5)", "unsigned(5)"),
        ("%", "signed(8)", "signed(5)", "signed(5)"),
        ("max", "signed(5)", "signed(8)", "signed(8)"),
    ],
)
def test_sizes_of_integers(op: str, x: str, y: str, kind: str) -> None:
    assert result(op, (x, 1), (y, 1))[0] == kind


@pytest.mark.parametrize(("number", "want"), [(-100, -4), (100, 4), (-1, -1), (7, 7), (8, 0), (-9, -1)])
def test_numeric_std_resize_keeps_the_sign_bit(number: int, want: int) -> None:
    """signed(8) to signed(4): sign bit and lowest three bits, so 8 (0000 1000) gives 0 and -9 (1111 0111) gives -1."""
    bench = Bench()
    assert bench.number(ar.resize(bench.b, bench.signal("signed(8)", number), parse("signed(4)"))) == want


def test_q15() -> None:
    """0x7FFF is 0.999969482421875; the product of -1 and -1 is 1.0 and fits: sfixed(1, -30)."""
    assert Fraction(0x7FFF) * parse("sfixed(0, -15)").step == Fraction(0.999969482421875)
    assert result("*", ("sfixed(0, -15)", -1), ("sfixed(0, -15)", -1)) == ("sfixed(1, -30)", 1.0)


def test_the_limit_cycle_of_the_textbook_dies_with_half_even_rounding() -> None:
    """y = Q(y/2) with 3 fraction bits from 7/8, in eighths: 7 4 2 1 0; half away from zero stays at 1; floor: 7 3 1 0.

    A. V. Oppenheim and R. W. Schafer, *Discrete-Time Signal Processing*, limit-cycle example (from memory); the two
    rows were computed by hand in integers.
    """

    def run(round: str) -> list[int]:
        eighths = [7]
        for _ in range(4):
            bench = Bench()
            y = bench.signal("sfixed(0, -3)", Fraction(eighths[-1], 8))
            half = ar.binary(bench.b, "*", y, ar.const(bench.b, 0.5, parse("sfixed(0, -3)")))
            eighths.append(bench.raw(ar.resize(bench.b, half, parse("sfixed(0, -3)"), round=round)))
        return eighths

    assert run("nearest") == [7, 4, 2, 1, 0]
    assert run("truncate") == [7, 3, 1, 0, 0]
