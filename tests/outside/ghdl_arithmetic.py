"""Compares the language's arithmetic with the VHDL packages themselves, run by GHDL.

Source: IEEE 1076-2008 packages ``numeric_std`` and ``fixed_pkg`` as shipped with GHDL (``--std=08``).  Each pair is
a random format, random operands (ends of the range more often than chance), one operation; size and bits must be equal.

Command line: ``python tests/outside/ghdl_arithmetic.py --pairs 200000 --seed 7``
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from simkit.lang import arithmetic as ar
from simkit.lang.build import Builder, Value
from simkit.netlist import Clock, Input, Netlist, Node, Type, evaluate, make

BENCH = Path(__file__).with_suffix(".vhdl")

SYMBOLS = {
    "add": "+",
    "sub": "-",
    "mul": "*",
    "div": "/",
    "mod": "%",
    "and": "&",
    "or": "|",
    "xor": "^",
    "eq": "==",
    "ne": "!=",
    "lt": "<",
    "le": "<=",
    "gt": ">",
    "ge": ">=",
}
TWO = ("add", "sub", "mul", "div", "rem", "mod", "min", "max", "eq", "ne", "lt", "le", "gt", "ge")
SAME = ("and", "or", "xor")
RESIZES = ("resize", "to_integers", "from_integers")
INTEGER_OPS = (
    *TWO,
    *SAME,
    "not",
    "shl",
    "shr",
    "shlv",
    "shrv",
    "resize",
    "cast",
    "cat",
    *(f"{op}i" for op in (*TWO,)),
    *(f"i{op}" for op in ("add", "sub", "mul", "div", "rem", "mod")),
)
FIXED_OPS = (
    *TWO,
    *SAME,
    "not",
    "shl",
    "shr",
    "shlv",
    "shrv",
    "scalb",
    "reciprocal",
    *RESIZES * 6,
    "addr",
    "rsub",
    "mulr",
    "divr",
    "modr",
    "minr",
    "eqr",
    "ltr",
    "ger",
    "addi",
    "isub",
    "muli",
    "divi",
    "idiv",
    "remi",
)
SIGNED_OPS = ("neg", "abs")


@dataclass(frozen=True)
class Case:
    """One operation on one pair of operands.  Types as the language has them; ``target`` only for resizes."""

    op: str
    x: Type
    y: Type
    a: int
    b: int
    literal: int
    target: Type
    saturate: bool
    nearest: bool

    def line(self) -> str:
        """The case as a line for the test bench."""
        kind = {"unsigned": "u", "signed": "s", "ufixed": "uf", "sfixed": "sf"}[self.x.kind]
        numbers = (
            self.x.left,
            self.x.right,
            self.y.left,
            self.y.right,
            self.target.left,
            self.target.right,
            int(self.saturate),
            int(self.nearest),
            self.literal,
        )
        return f"{kind} {self.op} {' '.join(map(str, numbers))} {_bits(self.x, self.a)} {_bits(self.y, self.b)}"


def _bits(kind: Type, raw: int) -> str:
    return format(raw & ((1 << kind.width) - 1), f"0{kind.width}b")


# --- what the kit makes of a case --------------------------------------------------------------------


def _input(b: Builder, kind: Type) -> Value:
    index = len(b.netlist.inputs)
    b.netlist.inputs.append(Input(f"in{index}", kind, 0))
    b.netlist.nodes.append(Node("input", (), kind, index))
    return Value(len(b.netlist.nodes) - 1, kind)


def value_of(b: Builder, node: int, inputs: list[int]) -> int:
    """Value of a node, every node computed with :func:`simkit.netlist.evaluate`."""
    nodes, values = b.netlist.nodes, []
    for item in nodes:
        if item.op == "const":
            values.append(item.attr)
        elif item.op == "input":
            values.append(inputs[item.attr])
        else:
            values.append(evaluate(item, [values[a] for a in item.args], [nodes[a].type for a in item.args]))
    return values[node]


def ours(case: Case) -> tuple[int, int, str]:
    """Left end, right end and bits of the kit's result."""
    b = Builder(Netlist("pair", [Clock("clk", 40_000_000)]))
    count = case.op in ("shlv", "shrv")
    y_kind = make("unsigned", case.y.width) if count else case.y
    x, y = _input(b, case.x), _input(b, y_kind)
    result = lowered(b, case, x, y)
    assert b.netlist.nodes[result.node].type == result.type
    raw = value_of(b, result.node, [case.a, y_kind.wrap(case.b)])
    return result.type.left, result.type.right, _bits(result.type, raw)


def lowered(b: Builder, case: Case, x: Value, y: Value) -> Value:
    """The kit's nodes for the operation of ``case``."""
    op = case.op
    special: dict[str, Callable[[], Value]] = {
        "not": lambda: ar.unary(b, "~", x),
        "neg": lambda: ar.unary(b, "-", x),
        "abs": lambda: ar.unary(b, "abs", x),
        "shl": lambda: ar.binary(b, "<<", x, case.literal),
        "shr": lambda: ar.binary(b, ">>", x, case.literal),
        "shlv": lambda: ar.binary(b, "<<", x, y),
        "shrv": lambda: ar.binary(b, ">>", x, y),
        "reciprocal": lambda: ar.reciprocal(b, x),
        "scalb": lambda: ar.scalb(b, x, case.literal),
        "cat": lambda: ar.cat(b, x, y),
        "cast": lambda: ar.convert(b, make("unsigned" if x.type.signed else "signed", x.type.width), x),
    }
    if op in special:
        return special[op]()
    if op in RESIZES:
        return _resized(b, case, x)
    if op[-1] == "i" and op[:-1] in TWO:
        return _two(b, op[:-1], x, case.literal)
    if op[0] == "i" and op[1:] in TWO:
        return _two(b, op[1:], case.literal, x)
    number = case.literal * Fraction(2) ** case.x.right
    if op == "rsub":
        return _two(b, "sub", float(number), x)
    if op[-1] == "r" and op[:-1] in TWO:
        return _two(b, op[:-1], x, float(number))
    return _two(b, op, x, y)


def _two(b: Builder, op: str, x: ar.Operand, y: ar.Operand) -> Value:
    named = {"rem": ar.rem, "min": ar.minimum, "max": ar.maximum}
    return named[op](b, x, y) if op in named else ar.binary(b, SYMBOLS[op], x, y)


def _resized(b: Builder, case: Case, x: Value) -> Value:
    if not case.x.fixed:
        return ar.resize(b, x, case.target)
    overflow, rounding = "saturate" if case.saturate else "wrap", "nearest" if case.nearest else "truncate"
    if case.op == "from_integers":
        integer = make("signed" if case.x.signed else "unsigned", case.x.width)
        x = Value(b.add("wrap", (x.node,), integer), integer)
    return ar.resize(b, x, case.target, overflow, rounding)


# --- random cases ------------------------------------------------------------------------------------


def random_cases(pairs: int, seed: int, widest: int = 20) -> Iterator[Case]:
    """``pairs`` random cases that the packages define (no integer division by zero, literals that fit)."""
    rng = random.Random(seed)
    made = 0
    while made < pairs:
        case = _draw(rng, widest)
        if case is not None:
            made += 1
            yield case


def _draw(rng: random.Random, widest: int) -> Case | None:
    kind = rng.choice(("unsigned", "signed", "ufixed", "sfixed"))
    fixed, signed = kind in ("ufixed", "sfixed"), kind in ("signed", "sfixed")
    op = rng.choice((FIXED_OPS if fixed else INTEGER_OPS) + (SIGNED_OPS if signed else ()))
    x, y = _format(rng, kind, widest), _format(rng, kind, widest)
    if op in SAME:
        y = x
    if op in ("shlv", "shrv"):
        y = make(kind, *((4, 0) if fixed else (5,)))
    target = _target(rng, op, x, widest)
    a, b, literal = _raw(rng, x), _raw(rng, y), _literal(rng, op, x)
    if literal is None or _undefined(op, fixed, a, b, literal, x):
        return None
    if op == "cat" and y.kind != x.kind:
        return None
    return Case(op, x, y, a, b, literal, target, rng.random() < 0.5, rng.random() < 0.6)


def _format(rng: random.Random, kind: str, widest: int) -> Type:
    if kind in ("unsigned", "signed"):
        return make(kind, rng.randint(1, widest))
    left = rng.randint(-6, 9)
    return make(kind, left, left - rng.randint(0, widest - 1))


def _target(rng: random.Random, op: str, x: Type, widest: int) -> Type:
    if op == "to_integers":
        return make("signed" if x.signed else "unsigned", rng.randint(1, widest))
    if op == "resize" and x.fixed and rng.random() < 0.6:  # near the source, where rounding and overflow happen
        right = x.right + rng.randint(-2, 5)
        return make(x.kind, max(right, x.left + rng.randint(-4, 2)), right)
    return _format(rng, x.kind, widest)


def _raw(rng: random.Random, kind: Type) -> int:
    if rng.random() < 0.25:
        return rng.choice([v for v in (kind.low, kind.low + 1, -1, 0, 1, kind.high - 1, kind.high) if kind.holds(v)])
    return rng.randint(kind.low, kind.high)


def _literal(rng: random.Random, op: str, x: Type) -> int | None:
    """A whole number for the operation; None where no number fits."""
    if op in ("shl", "shr"):
        return rng.randint(0, x.width + 2)
    if op == "scalb":
        return rng.randint(-9, 9)
    comparison = op[:-1] in ("eq", "ne", "lt", "le", "gt", "ge") and op[-1] == "i"
    if comparison and not x.fixed:
        return rng.randint(-40, 40) if x.signed else rng.randint(0, 300)
    if x.fixed and (op[-1] == "i" or op[0] == "i"):
        if x.left < 0:
            return None
        return _raw(rng, make(x.kind, x.left, 0))
    return _raw(rng, x)


def _undefined(op: str, fixed: bool, a: int, b: int, literal: int, x: Type) -> bool:
    """Integer division by zero: the package reports an error and its result means nothing."""
    if op in ("idiv", "irem", "imod"):
        return a == 0 and not fixed
    if op in ("divi", "remi", "modi"):
        return literal == 0 and not fixed
    return op in ("div", "rem", "mod") and b == 0 and not fixed


# --- GHDL --------------------------------------------------------------------------------------------


def have_ghdl() -> bool:
    """True if GHDL can be run here."""
    return shutil.which("ghdl") is not None


def referee(cases: list[Case]) -> list[tuple[int, int, str]]:
    """What the packages return for each case, computed in one run of GHDL."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "cases.txt").write_text("".join(case.line() + "\n" for case in cases), encoding="ascii")
        for step in (["-a", str(BENCH.resolve())], ["-e", BENCH.stem], ["-r", BENCH.stem]):
            command = ["ghdl", step[0], "--std=08", *step[1:]]
            done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
            if done.returncode:
                raise RuntimeError(f"{' '.join(command)}: {(done.stderr or done.stdout)[-2000:]}")
        lines = Path(folder, "results.txt").read_text(encoding="ascii").splitlines()
    if len(lines) != len(cases):
        raise RuntimeError(f"GHDL gave {len(lines)} results for {len(cases)} cases")
    return [(int(left), int(right), bits) for left, right, bits in (line.split() for line in lines)]


def differences(cases: list[Case]) -> list[str]:
    """A line for each case in which the kit and the packages differ in size or bits."""
    found = []
    for case, wanted in zip(cases, referee(cases), strict=True):
        got = ours(case)
        if got != wanted:
            found.append(
                f"{case.op} {case.x} {_bits(case.x, case.a)}, {case.y} {_bits(case.y, case.b)}, "
                f"literal {case.literal}, target {case.target}, saturate {case.saturate}, "
                f"nearest {case.nearest}: kit {got}, GHDL {wanted}"
            )
    return found


def main() -> int:
    """Run many pairs and print the differences."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pairs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--widest", type=int, default=20, help="widest operand, in bits")
    options = parser.parse_args()
    started = time.perf_counter()
    cases = list(random_cases(options.pairs, options.seed, options.widest))
    found = differences(cases)
    for line in found[:40]:
        print(line)
    print(
        f"{len(cases)} pairs, {len({case.op for case in cases})} operations, {len(found)} differences, "
        f"{time.perf_counter() - started:.1f} s"
    )
    if found:
        print(Counter(line.split()[0] + " " + line.split()[1].split("(")[0] for line in found))
    return int(bool(found))


if __name__ == "__main__":
    raise SystemExit(main())
