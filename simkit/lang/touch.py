"""Which declarations a loop uses, asked of the syntax tree: decides whether a queue joins two clocks."""

from __future__ import annotations

import ast
from typing import Any

from .declare import Declared
from .design import Bound, Method, Operation
from .source import code_of
from .waiting import resolve


def touched(method: Method, design: Any, seen: frozenset[tuple[int, int]] = frozenset()) -> set[int]:
    """``id`` of each declaration that the method, or an operation it calls, names."""
    key = (id(method.function), id(design))
    if key in seen:
        return set()
    code = code_of(method.function)
    found: set[int] = set()
    for node in ast.walk(code.tree):
        if not isinstance(node, ast.Attribute | ast.Subscript | ast.Name):
            continue
        thing = resolve(node, code, design)
        if isinstance(thing, Declared):
            found.add(id(thing))
        elif isinstance(thing, Bound) and isinstance(thing.method, Operation):
            found |= touched(thing.method, thing.design, seen | {key})
        elif isinstance(thing, list | tuple):
            found |= {id(item) for item in thing if isinstance(item, Declared)}
    return found
