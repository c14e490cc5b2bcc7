"""Every class of Python's syntax is either part of the language or refused at its own line: none is skipped or crashes."""

from __future__ import annotations

import ast
import itertools
import random
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

from simkit.lang import HardwareError, compile_design
from simkit.netlist import Netlist

HEAD = """\
from simkit.lang import *


@combinational
def least(a, b):
    return a if a < b else b


class Part(Design):
    held = Reg(unsigned(8))

    @operation
    def step(self, x):
        self.held = x
        return self.held

    @operation
    def slow(self, x):
        tick()
        return x


class Subject(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    f = Reg(sfixed(3, -4))
    flag = Reg(bit)
    taps = Regs(unsigned(8), 4)
    store = Ram(unsigned(8), 16)
    queue = Fifo(unsigned(8), 4)
    accel = AnalogIn("fan A bearing")
    limit = HostReg(unsigned(8))
    table = [1, 2, 3]

    def __init__(self):
        self.part = Part()

"""

STATEMENTS = {
    "FunctionDef": "def g(x):\n    return x",
    "AsyncFunctionDef": "async def g(x):\n    return x",
    "ClassDef": "class C:\n    pass",
    "Return": "return",
    "Delete": "del self.n",
    "Assign": "self.n = 1",
    "TypeAlias": "type X = int",
    "AugAssign": "self.n += 1",
    "AnnAssign": "x: unsigned(8) = 1",
    "For": "for i in range(3):\n    self.n = i",
    "AsyncFor": "async for i in range(3):\n    pass",
    "While": "while self.flag:\n    pass",
    "If": "if self.flag:\n    self.n = 1\nelse:\n    self.n = 2",
    "With": "with self.n as x:\n    pass",
    "AsyncWith": "async with self.n as x:\n    pass",
    "Match": "match self.n:\n    case 1:\n        pass",
    "Raise": "raise ValueError",
    "Try": "try:\n    self.n = 1\nfinally:\n    pass",
    "TryStar": "try:\n    self.n = 1\nexcept* ValueError:\n    pass",
    "Assert": "assert self.flag",
    "Import": "import math",
    "ImportFrom": "from math import sqrt",
    "Global": "global x",
    "Nonlocal": "nonlocal x",
    "Expr": "self.part.step(1)",
    "Pass": "pass",
    "Break": "for i in range(3):\n    break",
    "Continue": "for i in range(3):\n    continue",
}
EXPRESSIONS = {
    "BoolOp": "self.flag and self.flag",
    "NamedExpr": "(x := self.n)",
    "BinOp": "self.n + 1",
    "UnaryOp": "not self.flag",
    "Lambda": "lambda x: x",
    "IfExp": "self.n if self.flag else self.m",
    "Dict": "{1: self.n}",
    "Set": "{self.n}",
    "ListComp": "[t for t in self.taps]",
    "SetComp": "{t for t in self.taps}",
    "DictComp": "{i: i for i in range(3)}",
    "GeneratorExp": "any(t == 1 for t in self.taps)",
    "Await": "await self.n",
    "Yield": "(yield self.n)",
    "YieldFrom": "(yield from self.n)",
    "Compare": "self.n < self.m",
    "Call": "least(self.n, self.m)",
    "JoinedStr": "f'{self.n}'",
    "FormattedValue": "f'{self.n!r:>4}'",
    "TemplateStr": "t'{self.n}'",
    "Interpolation": "t'{self.n}'",
    "Constant": "1",
    "Attribute": "self.n",
    "Subscript": "self.taps[0]",
    "Starred": "[*self.table]",
    "Name": "self",
    "List": "[self.n]",
    "Tuple": "(self.n, self.m)",
    "Slice": "self.taps[0:2]",
}
PLACES = (
    "self.n = {}",
    "x = {}",
    "self.n = self.n + {}",
    "if {}:\n    self.n = 1",
    "self.n = self.taps[{}]",
    "self.flag = {}",
    "self.part.step({})",
    "for i in {}:\n    self.n = 1",
    "{}",
    "self.n += {}",
    "x: {} = 1",
    "{} = 1",
    "x = [{}]",
    "self.n = self.n if {} else 0",
    "self.store[{}] = 1",
    "self.queue.try_put({})",
    "x = not {}",
    "x = -{}",
    "x = {} < 3",
)
WAITING_PLACES = (
    "until({})",
    "wait({})",
    "while {}:\n    tick()",
    "x = self.part.slow({})",
    "self.queue.put({})",
    "x = self.store.read({})",
    "for i in {}:\n    tick()",
)


def concrete(base: type[ast.AST]) -> set[str]:
    """Names of the classes of syntax below ``base`` that a parser makes."""
    old = {
        "Num",
        "Str",
        "Bytes",
        "NameConstant",
        "Ellipsis",
        "Index",
        "ExtSlice",
        "Suite",
        "AugLoad",
        "AugStore",
        "Param",
    }
    return {cls.__name__ for cls in base.__subclasses__()} - old


NUMBERS = itertools.count()  # of the files written, so that no text is read from a cache


def build(folder: Path, body: str, kind: str) -> Netlist | HardwareError | None:
    """What a body becomes: a netlist, an error that is at one of its lines, or None where Python itself refuses the text."""
    first = HEAD.count("\n") + 3
    loop = "@operation\n    def work(self):" if kind == "operation" else f"@{kind}\n    def go(self):"
    source = f"{HEAD}    {loop}\n{textwrap.indent(body, '        ')}\n"
    if kind == "operation":
        source += "\n    @sequenced\n    def go(self):\n        self.work()\n"
    path = folder / f"subject{next(NUMBERS)}.py"
    path.write_text(source, encoding="utf-8")
    try:
        code = compile(source, str(path), "exec")
    except SyntaxError:
        return None
    names: dict[str, object] = {"__name__": "subject"}
    try:
        exec(code, names)  # noqa: S102 - our own text
        return compile_design(names["Subject"])  # type: ignore[arg-type]
    except HardwareError as error:
        last = source.count("\n")
        assert error.lineno is not None, (body, error)
        assert first - 2 <= error.lineno <= last or "Called: " in error.instead, (body, error)
        assert error.filename == str(path), (body, error)
        assert error.why.endswith((".", "?")), (body, error)
        return error


@pytest.mark.parametrize("kind", ["clocked", "sequenced", "operation"])
@pytest.mark.parametrize("name", sorted(concrete(ast.stmt)))
def test_every_statement(name: str, kind: str, tmp_path: Path) -> None:
    body = STATEMENTS[name]
    assert any(type(node).__name__ == name for node in ast.walk(ast.parse(body)))
    result = build(tmp_path, body, kind)
    if result is None:
        assert name in ("AsyncFor", "AsyncWith", "Nonlocal")  # Python knows them only inside async def, or nested


@pytest.mark.parametrize("name", sorted(concrete(ast.expr) | {"Slice"}))
def test_every_expression_in_every_place(name: str, tmp_path: Path) -> None:
    text = EXPRESSIONS[name]
    assert any(type(node).__name__ == name for node in ast.walk(ast.parse(text)))
    seen = 0
    for place in PLACES:
        seen += build(tmp_path, place.format(text), "clocked") is not None
    for place in PLACES + WAITING_PLACES:
        seen += build(tmp_path, place.format(text), "sequenced") is not None
    assert seen > 0 or name == "Await"


def test_what_the_language_has_is_accepted(tmp_path: Path) -> None:
    for name in ("Assign", "AugAssign", "AnnAssign", "For", "If", "Expr", "Pass", "Break", "Continue", "Return"):
        assert isinstance(build(tmp_path, STATEMENTS[name], "sequenced"), Netlist), name
    for name in ("BinOp", "IfExp", "Call", "Constant", "Attribute", "Subscript"):
        assert isinstance(build(tmp_path, f"self.n = {EXPRESSIONS[name]}", "clocked"), Netlist), name


pytestmark = pytest.mark.filterwarnings("ignore::SyntaxWarning")  # Python finds some of the texts odd, as we do

# --- random bodies -----------------------------------------------------------------------------------

ATOMS = (
    "self.n",
    "self.m",
    "self.s",
    "self.f",
    "self.flag",
    "self.taps",
    "self.store",
    "self.queue",
    "self.accel",
    "self.limit",
    "self.part",
    "self.table",
    "self.taps[1]",
    "self.queue.valid",
    "self.queue.value",
    "self.queue.try_get",
    "self.accel.value",
    "self.part.held",
    "self.part.step",
    "x",
    "y",
    "1",
    "0",
    "-1",
    "300",
    "0.5",
    "True",
    "None",
    "'a'",
    "least",
    "self",
    "tick",
    "unsigned(8)",
    "abs",
    "range(3)",
    "1j",
    "b'x'",
    "...",
)
SHAPES = (
    "({} + {})",
    "({} - {})",
    "({} * {})",
    "({} / {})",
    "({} % {})",
    "({} & {})",
    "({} | {})",
    "({} << {})",
    "({} >> {})",
    "({} == {})",
    "({} < {})",
    "({} and {})",
    "(not {})",
    "(-{})",
    "(~{})",
    "abs({})",
    "max({}, {})",
    "({} if {} else {})",
    "resize({}, unsigned(8))",
    "resize({}, {})",
    "unsigned(8)({})",
    "signed(9)({})",
    "bits({}, 3, 0)",
    "bits({}, {}, {})",
    "cat({}, {})",
    "scalb({}, {})",
    "{}[{}]",
    "least({}, {})",
    "self.part.step({})",
    "self.queue.try_put({})",
    "({}, {})",
    "[{} for t in {}]",
    "self.store[{}]",
    "{}({})",
    "sum({})",
    "any({})",
    "rem({}, {})",
    "({} in {})",
    "({} is {})",
    "const({}, {})",
    "({} < {} < {})",
    "self.queue.get()",
    "self.accel.read()",
    "self.store.read({})",
    "self.part.slow({})",
    "len({})",
    "({} @ {})",
    "({} ** {})",
    "({} // {})",
    "{}.value",
    "unsafe_cross({})",
    "int({})",
    "list({})",
    "zip({}, {})",
)
LINES = (
    "self.n = {}",
    "self.m = {}",
    "self.s = {}",
    "self.f = {}",
    "self.flag = {}",
    "x = {}",
    "y = {}",
    "{}",
    "self.taps[{}] = {}",
    "self.store[{}] = {}",
    "self.n += {}",
    "x, y = {}",
    "x: {} = {}",
    "tick()",
    "wait({})",
    "until({})",
    "break",
    "continue",
    "return",
    "return {}",
    "self.queue.put({})",
    "x = self.queue.get()",
    "x = self.part.slow({})",
    "{} = {}",
    "pass",
)
BLOCKS = ("if {}:", "while {}:", "for i in {}:", "for x in range(3):", "while True:", "if self.flag:")


def expression(rng: random.Random, depth: int) -> str:
    if depth == 0 or rng.random() < 0.3:
        return rng.choice(ATOMS)
    shape = rng.choice(SHAPES)
    return shape.format(*(expression(rng, depth - 1) for _ in range(shape.count("{}"))))


def lines(rng: random.Random, depth: int) -> Iterator[str]:
    for _ in range(rng.randint(1, 4)):
        if depth and rng.random() < 0.35:
            yield rng.choice(BLOCKS).replace("{}", expression(rng, 1))
            yield from (f"    {line}" for line in lines(rng, depth - 1))
        else:
            line = rng.choice(LINES)
            yield line.format(*(expression(rng, 2) for _ in range(line.count("{}"))))


@pytest.mark.parametrize("seed", range(12))
def test_random_bodies_never_crash_the_compiler(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    results = [
        build(tmp_path, "\n".join(lines(rng, 2)), rng.choice(("clocked", "sequenced", "operation"))) for _ in range(40)
    ]
    assert any(isinstance(result, HardwareError) for result in results)


@pytest.mark.parametrize(
    "body",
    [
        "".join(f"if self.n == {i}:\n    tick()\n" for i in range(40)),
        "for t in self.table * 10:\n    if self.n == t:\n        break\n    if self.flag:\n        continue\n    tick()\n",
    ],
    ids=["forty places where a tick may end", "thirty ways out of a loop"],
)
def test_a_loop_with_many_ways_through_is_compiled(body: str, tmp_path: Path) -> None:
    """Work grows with the square of the ways; were anything copied for each way, this would never end."""
    result = build(tmp_path, body, "sequenced")
    assert isinstance(result, Netlist) and len(result.nodes) < 6_000
