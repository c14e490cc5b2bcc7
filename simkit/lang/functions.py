"""Functions that work on signals: the words of :mod:`simkit.lang.steps` that take no tick, and Python's own."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any

from ..netlist import Type
from . import arithmetic, steps
from .build import Refused, Value
from .parts import Part
from .source import signature_of
from .things import contains_signal, describe, is_signal


def _kind(x: Any) -> Type:
    if not isinstance(x, Type):
        raise Refused(f"a type is needed here, not {describe(x)}.", "Write for example signed(16) or sfixed(3, -12).")
    return x


def _plain(ex: Any, x: Any) -> Any:
    return ex.operand(x) if is_signal(x) else x


def _resize(ex: Any, x: Any, kind: Any, *, overflow: str | None = None, round: str | None = None) -> Value:
    return arithmetic.resize(ex.b, ex.operand(x), _kind(kind), overflow, round)


def _const(ex: Any, number: Any, kind: Any) -> Value:
    if is_signal(number):
        raise Refused("const() takes a number known when the design is built.", "Use resize(x, type) for a signal.")
    return Value(ex.b.const(arithmetic.const_rounded(ex.operand(number), _kind(kind)), kind), kind)


def _fold(action: Callable[[Any, Any, Any], Any]) -> Callable[..., Any]:
    def handler(ex: Any, *items: Any) -> Any:
        values = ex.iterable(items[0]) if len(items) == 1 else list(items)
        if not values:
            raise Refused("there is nothing to choose from.", "Give two or more values.")
        result = values[0]
        for value in values[1:]:
            result = action(ex, result, value)
        return result

    return handler


def _sum(ex: Any, items: Any, start: Any = 0) -> Any:
    values = ex.iterable(items)
    result = values[0] if start == 0 and values else start
    for value in values[1:] if start == 0 else values:
        result = ex.binary("+", result, value)
    return result


def _any(ex: Any, items: Any) -> Any:
    result: Any = False
    for item in ex.iterable(items):
        result = ex._either(result, item)
    return result


def _all(ex: Any, items: Any) -> Any:
    result: Any = True
    for item in ex.iterable(items):
        result = ex._both(result, item)
    return result


def _length(ex: Any, x: Any) -> int:
    if isinstance(x, Part) and hasattr(x, "__len__"):
        return len(x)
    raise Refused(f"{describe(x)} has no length.", "How many bits a signal has stands where it is declared.")


LANGUAGE: dict[Any, Callable[..., Any]] = {
    steps.resize: _resize,
    steps.const: _const,
    steps.bits: lambda ex, x, hi, lo: arithmetic.bits(ex.b, ex.operand(x), _plain(ex, hi), _plain(ex, lo)),
    steps.cat: lambda ex, *xs: arithmetic.cat(ex.b, *(ex.operand(x) for x in xs)),
    steps.rem: lambda ex, x, y: arithmetic.rem(ex.b, ex.operand(x), ex.operand(y)),
    steps.scalb: lambda ex, x, n: arithmetic.scalb(ex.b, ex.operand(x), _plain(ex, n)),
    steps.unsafe_cross: lambda ex, x: ex.circuit.unsafe_cross(ex, x),
}
"""What the words of :mod:`simkit.lang.steps` do inside a loop."""

BUILTINS: dict[Any, Callable[..., Any]] = {
    abs: lambda ex, x: arithmetic.unary(ex.b, "abs", ex.operand(x)),
    min: _fold(lambda ex, x, y: arithmetic.minimum(ex.b, ex.operand(x), ex.operand(y))),
    max: _fold(lambda ex, x, y: arithmetic.maximum(ex.b, ex.operand(x), ex.operand(y))),
    sum: _sum,
    any: _any,
    all: _all,
    len: _length,
    list: lambda ex, x: ex.iterable(x),
    tuple: lambda ex, x: tuple(ex.iterable(x)),
    enumerate: lambda ex, x, start=0: list(enumerate(ex.iterable(x), start)),
    reversed: lambda ex, x: list(reversed(ex.iterable(x))),
    zip: lambda ex, *xs: list(zip(*(ex.iterable(x) for x in xs), strict=False)),
}
"""Python's own functions that also work on signals."""


def find(function: Any, args: list[Any], options: dict[str, Any]) -> Callable[..., Any] | None:
    """What does ``function`` in hardware, if anything does."""
    if getattr(type(function), "__hash__", None) is None or isinstance(function, tuple):
        return None
    if function in LANGUAGE:
        return LANGUAGE[function]
    return BUILTINS.get(function) if any(contains_signal(x) for x in (*args, *options.values())) else None


def call(ex: Any, function: Any, handler: Callable[..., Any], args: list[Any], options: dict[str, Any]) -> Any:
    """``function(*args, **options)`` as ``handler`` does it; a wrong number of arguments is refused in words."""
    try:
        signature_of(handler).bind(ex, *args, **options)
    except TypeError as error:
        raise Refused(f"{function.__name__}(): {error}.", f"Write {_usage(function)}.") from None
    return handler(ex, *args, **options)


def _usage(function: Any) -> str:
    usual = {abs: "abs(x)", len: "len(x)", sum: "sum(xs)", any: "any(xs)", all: "all(xs)"}
    if function in usual:
        return usual[function]
    names = inspect.signature(function).parameters.values() if function in LANGUAGE else ()
    return (
        f"{function.__name__}({', '.join(f'{p.name}=…' if p.kind is p.KEYWORD_ONLY else p.name for p in names) or '…'})"
    )
