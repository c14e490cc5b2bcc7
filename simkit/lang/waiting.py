"""Which calls take ticks: asked of the syntax tree, before anything is executed."""

from __future__ import annotations

import ast
from types import FunctionType
from typing import Any

from . import declare, steps
from .design import Bound, Operation
from .source import Code, code_of

WAITING: dict[type, frozenset[str]] = {
    declare.AnalogIn: frozenset({"read"}),
    declare.AnalogOut: frozenset({"write"}),
    declare.Ram: frozenset({"read"}),
    declare.Fifo: frozenset({"get", "put"}),
    declare.HostStream: frozenset({"get", "put"}),
    declare.Handshake: frozenset({"get", "put"}),
}
NAMES = frozenset().union(*WAITING.values())


def resolve(node: ast.expr, code: Code, design: Any) -> Any:
    """The Python object that a chain such as ``self.rx.queue`` means, or None if only execution can tell."""
    if isinstance(node, ast.Name):
        parameters = [a.arg for a in code.tree.args.args]
        if design is not None and parameters and node.id == parameters[0]:
            return design
        if node.id in parameters or node.id in code.assigned:
            return None
        try:
            return code.outer(node.id)
        except KeyError:
            return None
    if isinstance(node, ast.Attribute):
        base = resolve(node.value, code, design)
        return None if base is None else getattr(base, node.attr, None)
    if isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant):
        base = resolve(node.value, code, design)
        try:
            return None if base is None else base[node.slice.value]
        except (LookupError, TypeError):
            return None
    return None


def waits(tree: ast.AST, code: Code, design: Any, seen: frozenset[tuple[FunctionType, int]] = frozenset()) -> bool:
    """True if something in ``tree`` takes ticks."""
    if tree not in code.calls:
        code.calls[tree] = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return any(_call_waits(call, code, design, seen) for call in code.calls[tree])


def _call_waits(node: ast.Call, code: Code, design: Any, seen: frozenset[tuple[FunctionType, int]]) -> bool:
    function = resolve(node.func, code, design)
    if function in (steps.tick, steps.wait, steps.until):
        return True
    if isinstance(function, Bound) and isinstance(function.method, Operation):
        key = (function.method.function, id(function.design))
        if key in seen:
            return False
        inner = code_of(function.method.function)
        return waits(inner.tree, inner, function.design, seen | {key})
    if function is None and isinstance(node.func, ast.Attribute) and node.func.attr in NAMES:
        base = resolve(node.func.value, code, design)
        if base is None:  # a parameter or a local: only its method's name is known
            return True
        return any(isinstance(base, kind) and node.func.attr in names for kind, names in WAITING.items())
    return False
