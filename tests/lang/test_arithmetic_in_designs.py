"""Arithmetic as it is written in a loop: expressions go in as text, numbers come out of both engines.

The expected numbers were worked out by hand from the rules of IEEE 1076-2008 ``numeric_std`` and ``fixed_pkg``.
"""

from __future__ import annotations

import linecache
from pathlib import Path

import pytest
from running import Run

from simkit.netlist import parse

HEAD = """\
from simkit.lang import *

GAIN = const(0.1, sfixed(0, -15))
STEP = 3


class Subject(Design):
    a = Reg(unsigned(8), reset=200)
    b = Reg(unsigned(8), reset=100)
    c = Reg(unsigned(4), reset=5)
    s = Reg(signed(8), reset=-100)
    t = Reg(signed(8), reset=7)
    u = Reg(ufixed(3, -4), reset=2.5)
    f = Reg(sfixed(3, -4), reset=-2.75)
    yes = Reg(bit, reset=1)
    no = Reg(bit)
"""

ROWS = [
    ("a + b", "unsigned(8)", 44),
    ("b - a", "unsigned(8)", 156),
    ("a * b", "unsigned(16)", 20000),
    ("a / 3", "unsigned(8)", 66),
    ("a % c", "unsigned(4)", 0),
    ("s / t", "signed(8)", -14),
    ("s % t", "signed(8)", 5),
    ("rem(s, t)", "signed(8)", -2),
    ("-s", "signed(8)", 100),
    ("abs(s)", "signed(8)", 100),
    ("a + c", "unsigned(8)", 205),
    ("a - STEP", "unsigned(8)", 197),
    ("10 - a", "unsigned(8)", 66),
    ("signed(9)(a) + s", "signed(9)", 100),
    ("unsigned(8)(s)", "unsigned(8)", 156),
    ("signed(8)(a)", "signed(8)", -56),
    ("resize(a, unsigned(4))", "unsigned(4)", 8),
    ("resize(s, signed(4))", "signed(4)", -4),
    ("resize(s, signed(4), overflow='saturate')", "signed(4)", -8),
    ("resize(s, signed(4), overflow='wrap')", "signed(4)", -4),
    ("unsigned(8)(max(s, 0))", "unsigned(8)", 0),
    ("min(a, b)", "unsigned(8)", 100),
    ("max(s, t, 50)", "signed(8)", 50),
    ("a & 0x0F", "unsigned(8)", 8),
    ("~c", "unsigned(4)", 10),
    ("a << 1", "unsigned(8)", 144),
    ("s >> 3", "signed(8)", -13),
    ("unsigned(8)(1) << c", "unsigned(8)", 32),
    ("bits(a, 7, 4)", "unsigned(4)", 12),
    ("cat(c, bits(a, 3, 0))", "unsigned(8)", 88),
    ("a[3]", "bit", 1),
    ("a > b", "bit", 1),
    ("a < 300", "bit", 1),
    ("-128 <= s < 0", "bit", 1),
    ("u + 1", "ufixed(4, -4)", 3.5),
    ("f + u", None, "the top bit of one is a sign"),
    ("f * 2", "sfixed(7, -4)", -5.5),
    ("f * 0.5", "sfixed(7, -8)", -1.375),
    ("f + t", "sfixed(8, -4)", 4.25),
    ("f / f", "sfixed(8, -7)", 1.0),
    ("resize(f, sfixed(3, 0))", "sfixed(3, 0)", -3),
    ("resize(f, signed(4), round='truncate')", "signed(4)", -3),
    ("resize(f * GAIN, sfixed(3, -12))", "sfixed(3, -12)", -0.274_902_343_75),
    ("const(0.3, sfixed(3, -4)) + f", "sfixed(4, -4)", -2.4375),
    ("f * const(0.3, sfixed(0, -3))", "sfixed(4, -7)", -0.6875),
    ("scalb(a, -8)", "ufixed(-1, -8)", 0.78125),
    ("u < 2.6", "bit", 1),
    ("1 if yes else 0", "unsigned(8)", 1),
    ("100 if no else -5", "signed(16)", -5),
    ("a + (1 if yes else 0)", "unsigned(8)", 201),
    ("a if no else 7", "unsigned(8)", 7),
    ("yes and not no", "bit", 1),
    ("yes ^ no", "bit", 1),
    ("unsigned(2)(yes) + unsigned(2)(no)", "unsigned(2)", 1),
    ("sum([a, b, c])", "unsigned(8)", 49),
]


def source(rows: list[tuple[str, str]]) -> str:
    """A design with a register for each row's expression."""
    names = {name: f"self.{name}" for name in ("a", "b", "c", "s", "t", "u", "f", "yes", "no")}
    declared, lines = [], []
    for number, (text, kind) in enumerate(rows):
        for name, full in names.items():
            text = _replaced(text, name, full)
        declared.append(f"    r{number} = Reg({kind})\n")
        lines.append(f"        self.r{number} = {text}\n")
    return f"{HEAD}{''.join(declared)}\n    @clocked\n    def go(self):\n{''.join(lines)}"


def _replaced(text: str, name: str, full: str) -> str:
    import re

    return re.sub(rf"(?<![\w.'\"]){name}(?![\w'\"(])", full, text)


def subject(path: Path, rows: list[tuple[str, str]]) -> type:
    """The design's class, defined in a file of its own."""
    path.write_text(source(rows), encoding="utf-8")
    names: dict[str, object] = {"__name__": "subject"}
    exec(compile(path.read_text(encoding="utf-8"), str(path), "exec"), names)  # noqa: S102 - our own text
    linecache.checkcache(str(path))
    return names["Subject"]  # type: ignore[return-value]


def test_expressions_in_a_loop(tmp_path: Path) -> None:
    rows = [(text, kind, number) for text, kind, number in ROWS if kind is not None]
    run = Run(subject(tmp_path / "rows.py", [(text, kind) for text, kind, _ in rows]), 3)
    found = {text: run.at(f"r{i}", 1) * parse(kind).step for i, (text, kind, _) in enumerate(rows)}
    assert found == {text: number for text, _, number in rows}


@pytest.mark.parametrize(("text", "message"), [(text, message) for text, kind, message in ROWS if kind is None])
def test_refused_expressions(text: str, message: str, tmp_path: Path) -> None:
    from simkit.lang import HardwareError, compile_design

    with pytest.raises(HardwareError, match=message):
        compile_design(subject(tmp_path / "row.py", [(text, "bit")]))
