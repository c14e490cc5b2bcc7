"""Small changes to a right design, each of a kind that learners make by mistake.

:func:`mutations` takes the text of an answer cell and gives changed texts.  Only what stands in a solution region is
changed, one place at a time: that is the part which a learner writes.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

from .source import BEGIN, END

TYPES = ("unsigned", "signed", "ufixed", "sfixed")
WAITS = ("tick", "wait")
NEIGHBOUR: dict[type, type] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
}
OPPOSITE: dict[type, type] = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.LShift: ast.RShift, ast.RShift: ast.LShift}


@dataclass(frozen=True)
class Mutation:
    """One change.  ``change`` reads "before -> after"; ``code`` is the whole text to run in place of the answer."""

    kind: str
    line: int
    change: str
    code: str


def mutations(cell: str) -> list[Mutation]:
    """Every change that this module knows of an answer cell's designs; empty if the cell defines no class."""
    try:
        tree = ast.parse(cell)
    except SyntaxError:
        return []  # a cell with a line magic
    if not any(isinstance(step, ast.ClassDef) for step in tree.body):
        return []
    tree.body = _definitions(tree)
    lines = _solution_lines(cell)
    found, seen = [], {ast.unparse(tree)}
    for kind, line, change, changed in _each(tree, lines):
        code = ast.unparse(ast.fix_missing_locations(changed))
        if code not in seen:
            seen.add(code)
            found.append(Mutation(kind, line, change, code))
    return found


def _solution_lines(cell: str) -> set[int]:
    inside, lines = False, set()
    for number, line in enumerate(cell.splitlines(), 1):
        if BEGIN in line:
            inside = True
        elif END in line:
            inside = False
        elif inside:
            lines.add(number)
    return lines


def _definitions(tree: ast.Module) -> list[ast.stmt]:
    """What defines the designs: classes, functions, imports, and the plain values that they use.  No runs, no plots."""
    kept: list[ast.stmt] = [
        step for step in tree.body if isinstance(step, (ast.ClassDef, ast.FunctionDef, ast.Import, ast.ImportFrom))
    ]
    used = {node.id for step in kept for node in ast.walk(step) if isinstance(node, ast.Name)}
    changed = True
    while changed:
        more = [
            s for s in tree.body if isinstance(s, (ast.Assign, ast.AnnAssign)) and s not in kept and _names(s) & used
        ]
        kept += more
        used |= {node.id for step in more for node in ast.walk(step) if isinstance(node, ast.Name)}
        changed = bool(more)
    return [step for step in tree.body if step in kept]


def _names(step: ast.Assign | ast.AnnAssign) -> set[str]:
    targets = step.targets if isinstance(step, ast.Assign) else [step.target]
    return {node.id for target in targets for node in ast.walk(target) if isinstance(node, ast.Name)}


def _each(tree: ast.Module, lines: set[int]) -> Iterator[tuple[str, int, str, ast.Module]]:
    """``(kind, line, change, changed tree)`` for every place and every change of it."""
    places = [
        (parent, name, index, node)
        for parent in ast.walk(tree)
        for name, value in ast.iter_fields(parent)
        for index, node in (enumerate(value) if isinstance(value, list) else [(None, value)])
        if isinstance(node, ast.AST) and getattr(node, "lineno", 0) in lines
    ]
    for parent, name, index, node in places:
        for kind, new in _changes(parent, name, node):
            shown = f"{_short(node)} -> {_short(new)}"
            yield kind, getattr(node, "lineno", 0), shown, _replaced(tree, (parent, name, index), new)


def _replaced(tree: ast.Module, place: tuple[ast.AST, str, int | None], new: ast.AST) -> ast.Module:
    """A copy of the tree with ``new`` at the place."""
    parent, name, index = place
    memo: dict[int, object] = {}
    changed = copy.deepcopy(tree, memo)
    mirror = memo[id(parent)]
    if index is None:
        setattr(mirror, name, new)
    else:
        getattr(mirror, name)[index] = new
    return changed


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 70 else text[:67] + "..."


# --- the changes ---


def _changes(parent: ast.AST, field: str, node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(node, ast.Constant):
        yield from _off_by_one(parent, node)
    elif isinstance(node, ast.Call):
        yield from _call(parent, node)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in NEIGHBOUR:
        yield "boundary", ast.Compare(node.left, [NEIGHBOUR[type(node.ops[0])]()], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in OPPOSITE:
        yield "wrong operation", ast.BinOp(node.left, OPPOSITE[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield from _condition(node)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "wrong edge or level", node.operand
    elif isinstance(node, ast.IfExp):
        yield "branches swapped", ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.If):
        yield "branches swapped", ast.If(_negated(node.test), node.body, node.orelse)
    elif isinstance(node, (ast.Assign, ast.AugAssign)) and field == "body" and _is_register(node):
        yield "register dropped", ast.Pass()


def _off_by_one(parent: ast.AST, node: ast.Constant) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(node.value, bool):
        yield "wrong level", ast.Constant(not node.value)
    elif isinstance(node.value, int) and not (isinstance(parent, ast.Call) and _called(parent) in TYPES):
        yield "off by one", ast.Constant(node.value + 1)
        if node.value > 0:
            yield "off by one", ast.Constant(node.value - 1)


def _call(parent: ast.AST, node: ast.Call) -> Iterator[tuple[str, ast.AST]]:
    name = _called(node)
    if name in TYPES and node.args:
        for index, width in enumerate(node.args):
            less = ast.BinOp(width, ast.Sub() if index == 0 else ast.Add(), ast.Constant(1))
            yield "wrong width", ast.Call(node.func, [*node.args[:index], less, *node.args[index + 1 :]], node.keywords)
    elif name in WAITS and isinstance(parent, ast.Expr):
        yield "tick dropped", ast.Constant(None)
        if name == "wait" and node.args and not isinstance(node.args[0], ast.Constant):
            yield "off by one", ast.Call(node.func, [ast.BinOp(node.args[0], ast.Add(), ast.Constant(1))], [])
    elif name == "until" and node.args:
        yield "wrong edge or level", ast.Call(node.func, [_negated(node.args[0])], node.keywords)
    elif name == "read" and isinstance(node.func, ast.Attribute) and not node.args:
        yield "stale read", ast.Attribute(node.func.value, "value", ast.Load())


def _condition(node: ast.BoolOp) -> Iterator[tuple[str, ast.AST]]:
    yield "wrong condition", ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    for index in range(len(node.values)):
        rest = node.values[:index] + node.values[index + 1 :]
        yield "condition forgotten", rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
    if len(node.values) == 2 and sum(isinstance(value, ast.UnaryOp) for value in node.values) == 1:
        yield "wrong edge or level", ast.BoolOp(node.op, [_negated(value) for value in node.values])


def _negated(node: ast.expr) -> ast.expr:
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        return node.operand
    return ast.UnaryOp(ast.Not(), node)


def _called(node: ast.Call) -> str:
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def _is_register(node: ast.Assign | ast.AugAssign) -> bool:
    target = node.targets[0] if isinstance(node, ast.Assign) else node.target
    while isinstance(target, ast.Subscript):
        target = target.value
    return isinstance(target, ast.Attribute)
