"""Which cells a grader must run to collect the answers: a backward slice over names, as compilers make them.

A lab shows a good deal for the learner's eyes (runs, plots) on which no answer depends.  Leaving those cells out makes
grading several times faster.  The engine runs a notebook in full where a check gives no answer, and where an
answer earns less than the learner saw.
"""

from __future__ import annotations

import ast
import symtable
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from simkit.check.run import Cell

# Whoever uses one of these may reach any name without writing it down.
OPAQUE = {
    "exec",
    "eval",
    "compile",
    "globals",
    "locals",
    "vars",
    "get_ipython",
    "__import__",
    "setattr",
    "delattr",
    "sys",
    "os",
    "importlib",
    "builtins",
    "gc",
    "inspect",
    "ctypes",
    "threading",
    "environ",
}

# Modules with a state of their own, which any of their functions may change.  A plain ``import`` of one can be followed like
# any other thing that changes; under another name, or inside something else, it cannot.
STATEFUL = {"random"}


COMPOUND = ast.If | ast.For | ast.While | ast.With
DEFERRED = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Lambda
FIXED = ast.Import | ast.ImportFrom | ast.FunctionDef | ast.ClassDef

# Functions that give a number, a text, a type, a clock, or a lab's parameters, as long as no cell gives their names another meaning.
PLAIN_CALLS = {"abs", "bool", "float", "int", "len", "max", "min", "parameters", "round", "str"}
PLAIN_CALLS |= {"Clock", "sfixed", "signed", "ufixed", "unsigned"}


@dataclass
class Names:
    """What one cell does with the notebook's names.

    ``sets`` are bound afresh whatever happens, ``binds`` perhaps; ``fixed`` are those of them that an import, ``def`` or
    ``class`` binds; the objects of ``changes`` may be changed; ``uses`` are read before the cell has set them itself; ``calls`` are read anywhere in it; ``later`` maps a function or class to the
    names that it reads, and may change, when it is used, ``made_of`` a name to those in what is assigned to it; ``values`` are the expressions assigned to
    a name on its own.  ``drawn`` are functions that only draw; ``shows`` maps a function whose result is thrown away to what the call
    may change.  ``opaque``: it may do anything.
    """

    sets: set[str] = field(default_factory=set)
    binds: set[str] = field(default_factory=set)
    fixed: set[str] = field(default_factory=set)
    changes: set[str] = field(default_factory=set)
    uses: set[str] = field(default_factory=set)
    calls: set[str] = field(default_factory=set)
    later: dict[str, set[str]] = field(default_factory=dict)
    made_of: dict[str, set[str]] = field(default_factory=dict)
    values: dict[str, list[ast.expr]] = field(default_factory=dict)
    drawn: set[str] = field(default_factory=set)
    shows: dict[str, set[str]] = field(default_factory=dict)
    opaque: bool = False


DRAWN = "drawn"  # simkit.view's mark of a function that only draws


def needed_cells(cells: Sequence[Cell], read: Collection[int] = ()) -> list[Cell]:
    """The cells on which a check may depend, in order; all of them if one cannot be seen through.

    ``read`` are indices of cells whose output a person will read: they are needed as checks are.
    """
    names = {cell.index: names_of(cell.source) for cell in cells}
    if any(found.opaque for found in names.values()):
        return list(cells)
    drawn = {name for found in names.values() for name in found.drawn}
    code = _joined(found.later for found in names.values())
    made_of = _joined(found.made_of for found in names.values())
    loose = {name for found in names.values() for name in found.binds} - _fixed(list(names.values()))
    wanted: set[str] = set()
    kept = []
    for cell in reversed(cells):
        found = names[cell.index]
        later = _read_later(found.uses, code, made_of)
        given = {name for function, changed in found.shows.items() if function not in drawn for name in changed}
        changed = _everything_behind(found.changes | given | (found.uses & set(code)) - drawn, code, made_of)
        if cell.exercise or cell.index in read or (found.binds | (changed & loose)) & wanted:
            wanted = (wanted - found.sets) | found.uses | (later - found.sets)
            kept.append(cell)
    return kept[::-1]


def _joined(maps: Iterable[dict[str, set[str]]]) -> dict[str, set[str]]:
    joined: dict[str, set[str]] = {}
    for names in maps:
        for name, others in names.items():
            joined[name] = joined.get(name, set()) | others
    return joined


def _read_later(names: set[str], code: dict[str, set[str]], made_of: dict[str, set[str]]) -> set[str]:
    """The names that the functions and classes behind these names read when they are used."""
    read: set[str] = set()
    seen: set[str] = set()
    more = set(names)
    while more:
        seen |= more
        inside = {other for name in more for other in code.get(name, ())}
        read |= inside
        more = (inside | {other for name in more for other in made_of.get(name, set()) & set(code)}) - seen
    return read


def _everything_behind(names: set[str], code: dict[str, set[str]], made_of: dict[str, set[str]]) -> set[str]:
    """These names, and all whose objects may be the same or part of theirs."""
    seen: set[str] = set()
    more = set(names)
    while more:
        seen |= more
        more = {other for name in more for other in code.get(name, set()) | made_of.get(name, set())} - seen
    return seen


def _fixed(cells: list[Names]) -> set[str]:
    """Names whose objects nothing changes: modules, functions, classes, and what is plainly a number or a text."""
    values: dict[str, list[ast.expr]] = {}
    for found in cells:
        for name, expressions in found.values.items():
            values.setdefault(name, []).extend(expressions)
    plain = PLAIN_CALLS - set(values) - {name for found in cells for name in found.later}
    frozen = {name for found in cells for name in found.fixed} - set(values)
    while True:
        more = {
            name
            for name, expressions in values.items()
            if name not in frozen and all(_is_frozen(expression, frozen, plain) for expression in expressions)
        }
        if not more:
            return frozen
        frozen |= more


def _is_frozen(value: ast.expr, frozen: set[str], plain: set[str]) -> bool:
    """True for an expression whose value cannot be changed, given names of which that is known, and functions whose results cannot."""
    if isinstance(value, ast.Constant):
        return True
    if isinstance(value, ast.Name):
        return value.id in frozen
    if isinstance(value, ast.Attribute):
        return _is_frozen(value.value, frozen, plain)
    if isinstance(value, ast.Call):
        return isinstance(value.func, ast.Name) and value.func.id in plain
    if isinstance(value, ast.BinOp | ast.UnaryOp | ast.BoolOp | ast.Compare | ast.IfExp):
        return all(
            _is_frozen(part, frozen, plain) for part in ast.iter_child_nodes(value) if isinstance(part, ast.expr)
        )
    return False


@lru_cache(maxsize=4096)
def names_of(source: str) -> Names:
    """Look at one cell; text that Python alone cannot read (a magic) is opaque.  Nobody may change the result: most cells of a
    class are the same."""
    found = Names()
    try:
        for statement in ast.parse(source).body:
            _take(statement, found)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        found.opaque = True
    found.opaque = found.opaque or bool(found.calls & OPAQUE)
    return found


def _take(statement: ast.stmt, found: Names) -> None:
    """Add one statement's doings."""
    uses, binds = _scope(statement, found)
    if isinstance(statement, COMPOUND):
        uses, sets = _exposed(statement)
    else:
        sets = _certain(statement)
    changed = {name for node in ast.walk(statement) for name in _changed(node)} & (uses | binds)
    found.uses |= uses - found.sets
    found.calls |= uses
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        found.later[statement.name] = uses
        if any(isinstance(mark, ast.Name) and mark.id == DRAWN for mark in statement.decorator_list):
            found.drawn.add(statement.name)
    elif isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Call) and _only_names(statement.value):
        function = statement.value.func.id  # type: ignore[attr-defined]
        found.shows[function] = found.shows.get(function, set()) | changed
    else:
        if isinstance(statement, ast.Assign):
            found.made_of.update({name: uses | found.made_of.get(name, set()) for name in binds})
            _take_value(statement, found)
        found.changes |= changed
    if not isinstance(statement, FIXED | ast.Assign):
        for name in binds:  # bound otherwise, too: not plainly a number
            found.values.setdefault(name, []).append(_UNKNOWN)
    found.binds |= binds
    if not _stateful(statement):  # which gives no new module
        found.fixed |= binds if isinstance(statement, FIXED) else set()
        found.sets |= sets


def _exposed(statement: ast.stmt) -> tuple[set[str], set[str]]:
    """Names that a loop, a choice or a ``with`` reads before it has set them itself, and those that it sets whichever way it goes."""
    if isinstance(statement, ast.If):
        yes, in_yes = _in_turn(statement.body, set())
        no, in_no = _in_turn(statement.orelse, set())
        return _reads(statement.test) | yes | no, in_yes & in_no
    if isinstance(statement, ast.For):
        target = {part.id for part in ast.walk(statement.target) if isinstance(part, ast.Name)}
        plain = target if _is_plain(statement.target) else set()
        head = _reads(statement.iter) | (_reads(statement.target) if not plain else set())
        return head | _in_turn(statement.body, plain)[0] | _in_turn(statement.orelse, set())[0], set()
    if isinstance(statement, ast.While):
        parts = _in_turn(statement.body, set())[0] | _in_turn(statement.orelse, set())[0]
        return _reads(statement.test) | parts, set()
    if isinstance(statement, ast.With):
        head = {name for item in statement.items for name in _reads(item.context_expr)}
        return head | _in_turn(statement.body, set())[0], set()  # it may swallow an error, so nothing in it is certain
    uses = _reads(statement)
    deferred = any(isinstance(node, DEFERRED) for node in ast.walk(statement))
    return uses, set() if deferred and not isinstance(statement, FIXED) else _certain(statement)


def _in_turn(body: list[ast.stmt], sets: set[str]) -> tuple[set[str], set[str]]:
    """The same of statements one after the other; ``sets`` are set before them.  What a function inside reads, it reads later."""
    uses: set[str] = set()
    sets = set(sets)
    for statement in body:
        read, certain = _exposed(statement)
        later = any(isinstance(node, DEFERRED) for node in ast.walk(statement))
        uses |= read if later else read - sets
        sets |= certain
    return uses, sets


def _reads(node: ast.AST) -> set[str]:
    """All names of the notebook that a piece of syntax reads, functions inside included."""
    statement = ast.Expr(node) if isinstance(node, ast.expr) else node
    return _scope(statement, Names())[0]  # type: ignore[arg-type]


def _only_names(call: ast.Call) -> bool:
    """True for a call of a function by its name whose arguments call nothing."""
    inner = [node for argument in (*call.args, *call.keywords) for node in ast.walk(argument)]
    return isinstance(call.func, ast.Name) and not any(isinstance(node, ast.Call) for node in inner)


_UNKNOWN = ast.List([], ast.Load())  # stands for a value that can be changed


def _take_value(statement: ast.Assign, found: Names) -> None:
    for target in statement.targets:
        for part, value in _pairs(target, statement.value):
            for inner in ast.walk(part):
                if isinstance(inner, ast.Name):
                    found.values.setdefault(inner.id, []).append(value if inner is part else _UNKNOWN)


def _pairs(target: ast.expr, value: ast.expr) -> list[tuple[ast.expr, ast.expr]]:
    """Each target with its own value, where a row of targets gets a row of as many values."""
    if _is_plain(target) and isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple | ast.List):
        if len(target.elts) == len(value.elts) and not any(isinstance(item, ast.Starred) for item in value.elts):
            return list(zip(target.elts, value.elts, strict=True))
    return [(target, value)]


def _scope(statement: ast.stmt, found: Names) -> tuple[set[str], set[str]]:
    """The notebook's names that a statement reads, functions and classes inside included, and those that it binds."""
    table = symtable.symtable(ast.unparse(statement), "cell", "exec")
    uses = {symbol.get_name() for symbol in table.get_symbols() if symbol.is_referenced()}
    binds = {
        symbol.get_name()
        for symbol in table.get_symbols()
        if symbol.is_assigned() or symbol.is_imported() or symbol.is_namespace()
    }
    inner = list(table.get_children())
    while inner:
        table = inner.pop()
        inner += table.get_children()
        for symbol in table.get_symbols():
            if symbol.is_global():
                uses.add(symbol.get_name())
                found.opaque = found.opaque or symbol.is_declared_global()
    inside = (node for node in ast.walk(statement) if not (node is statement and _stateful(statement)))
    found.opaque = found.opaque or any(_hides(node) for node in inside)
    return uses, binds


def _hides(node: ast.AST) -> bool:
    """True for syntax after which names can no longer be followed."""
    if isinstance(node, ast.Import):
        return any(alias.name.split(".")[0] in OPAQUE | STATEFUL for alias in node.names)
    if isinstance(node, ast.ImportFrom):
        return node.names[0].name == "*" or (node.module or "").split(".")[0] in OPAQUE | STATEFUL
    return isinstance(node, ast.Delete)


def _stateful(statement: ast.stmt) -> bool:
    """True for ``import random`` and its like, alone and under its own name."""
    return isinstance(statement, ast.Import) and [
        (alias.name, alias.asname) for alias in statement.names if alias.name in STATEFUL
    ] == [(alias.name, None) for alias in statement.names]


def _certain(statement: ast.stmt) -> set[str]:
    """Names that a statement at the top of a cell binds afresh, whatever happens."""
    if isinstance(statement, ast.Assign):
        return {
            name.id
            for target in statement.targets
            if _is_plain(target)
            for name in ast.walk(target)
            if isinstance(name, ast.Name)
        }
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        return {statement.name}
    if isinstance(statement, ast.Import | ast.ImportFrom):
        return {(alias.asname or alias.name).split(".")[0] for alias in statement.names}
    return set()


def _is_plain(target: ast.expr) -> bool:
    return isinstance(target, ast.Name) or (
        isinstance(target, ast.Tuple) and all(isinstance(item, ast.Name) for item in target.elts)
    )


def _changed(node: ast.AST) -> set[str]:
    """Names whose objects a piece of syntax may change: it hands them to a call, calls their methods, stores into them."""
    if isinstance(node, ast.Call):
        given = {root for argument in (*node.args, *(k.value for k in node.keywords)) for root in _roots(argument)}
        # A method's object; or what a name that is called holds on to, as in ``add = rows.append``.
        return given | _roots(node.func)
    if isinstance(node, ast.Attribute | ast.Subscript) and not isinstance(node.ctx, ast.Load):
        return _roots(node)
    if isinstance(node, ast.For | ast.comprehension):
        return _roots(node.iter)
    return set()


def _roots(node: ast.expr) -> set[str]:
    """Names whose objects an expression may hand on: ``a`` in ``a``, ``a.b``, ``a[0]``, ``[a, b]``, ``*a``."""
    while isinstance(node, ast.Attribute | ast.Subscript | ast.Starred):
        node = node.value
    if isinstance(node, ast.Name):
        return {node.id}
    if isinstance(node, ast.List | ast.Tuple | ast.Set):
        return {root for item in node.elts for root in _roots(item)}
    if isinstance(node, ast.Dict):
        return {root for item in node.values for root in _roots(item)}
    return set()
