"""Every operation of the language gives the size and the bits that the VHDL packages give.

Source: IEEE 1076-2008 ``numeric_std`` and ``fixed_pkg``, run by GHDL.  Without GHDL these tests are skipped, except
where ``CI=true``: there its absence is a failure.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest
from ghdl_arithmetic import FIXED_OPS, INTEGER_OPS, SIGNED_OPS, Case, differences, have_ghdl, random_cases, referee

from simkit.netlist import make

pytestmark = pytest.mark.skipif(not have_ghdl() and os.environ.get("CI") != "true", reason="GHDL is not installed")


def case(op: str, x: str, a: int, y: str = "", b: int = 0, **more: object) -> Case:
    """A single case; types as text, values raw."""
    from simkit.netlist import parse

    kind = parse(x)
    options = {"literal": 0, "target": kind, "saturate": True, "nearest": True, **more}
    return Case(op, kind, parse(y) if y else kind, a, b, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize(("seed", "widest"), [(1, 20), (2, 6), (3, 28)])
def test_random_pairs_agree_with_the_packages(seed: int, widest: int) -> None:
    cases = list(random_cases(12_000, seed, widest))
    assert differences(cases) == []


def test_every_operation_is_drawn_many_times() -> None:
    drawn = Counter((case.op, case.x.kind) for case in random_cases(36_000, 1))
    wanted = {
        (op, kind)
        for kind in ("unsigned", "signed", "ufixed", "sfixed")
        for op in (FIXED_OPS if "fixed" in kind else INTEGER_OPS) + (SIGNED_OPS if kind[0] == "s" else ())
    }
    assert wanted == set(drawn)
    assert min(drawn.values()) >= 30


def test_the_comparison_notices_a_wrong_result(monkeypatch: pytest.MonkeyPatch) -> None:
    from simkit.lang import division

    monkeypatch.setattr(division, "GUARD_BITS", 1)
    assert differences([c for c in random_cases(6_000, 4, 8) if c.op in ("div", "reciprocal") and c.x.fixed])


@pytest.mark.parametrize(("x", "want"), [(1, 0), (3, 2), (5, 2), (7, 4), (-3, -2), (-5, -2)])
def test_ghdl_rounds_half_to_even(x: int, want: int) -> None:
    """0.5, 1.5, 2.5, 3.5, -1.5, -2.5: the referee itself says what the manual of the kit says."""
    rounded = case("resize", "sfixed(3, -1)", x, target=make("sfixed", 3, 0))
    assert referee([rounded]) == [(3, 0, format(want & 15, "04b"))]


def test_far_below_the_last_bit_a_negative_number_stays_one_step_below_zero() -> None:
    """A trait of ``resize(sfixed)``: -0.25 rounded to steps of 8 gives -8, not 0; the kit follows the package."""
    below = case("resize", "sfixed(0, -2)", -1, target=make("sfixed", 5, 3))
    assert referee([below]) == [(5, 3, "111")]
    assert differences([below]) == []


def test_division_by_zero_gives_what_the_package_returns() -> None:
    kinds = ("ufixed(3, -2)", "sfixed(3, -2)")
    cases = [case(op, kind, a, kind, 0) for op in ("div", "rem", "mod") for kind in kinds for a in (0, 5)]
    divisors = ("sfixed(1, 0)", "sfixed(3, 0)", "sfixed(6, 0)")
    cases += [case(op, "sfixed(3, -2)", -5, kind, 0) for op in ("div", "rem", "mod") for kind in divisors]
    assert differences(cases) == []
