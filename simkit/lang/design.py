"""``Design`` and the decorators that say what a method is."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from types import FunctionType
from typing import Any

from .build import Refused
from .declare import Clock, Declared
from .source import at_caller


class Method:
    """A method whose source becomes hardware.  Python never runs its body."""

    kind = ""

    def __init__(self, function: Callable[..., Any]) -> None:
        if not isinstance(function, FunctionType):
            raise Refused(
                f"@{self.kind} stands before a method (def …), not before {type(function).__name__}.",
                "Write @sequenced(every=us(20)) for a period." if self.kind == "sequenced" else "",
            )
        if function.__code__.co_flags & (inspect.CO_COROUTINE | inspect.CO_ASYNC_GENERATOR):
            raise Refused("async is not part of the language.", "Write def; wait with until(…) in a sequenced loop.")
        self.function = function
        self.name = function.__name__
        self.__doc__ = function.__doc__
        self.__wrapped__ = function

    def __get__(self, instance: Any, owner: type | None = None) -> Any:
        return self if instance is None else Bound(instance, self)

    @at_caller
    def __call__(self, *args: Any, **options: Any) -> Any:
        raise Refused(
            f"{self.name} is @{self.kind}: it is hardware and cannot be called from Python.",
            "Load the design on a bench and run that; loops and operations of a design may use it.",
        )


class Bound:
    """A method of one particular design."""

    def __init__(self, design: Any, method: Method) -> None:
        self.design = design
        self.method = method

    def __call__(self, *args: Any, **options: Any) -> Any:
        return self.method(*args, **options)


class Operation(Method):
    """See :func:`operation`."""

    kind = "operation"


class Combinational(Method):
    """See :func:`combinational`."""

    kind = "combinational"


class LoopMethod(Method):
    """See :func:`clocked` and :func:`sequenced`."""

    def __init__(self, function: Callable[..., Any], kind: str, every: Any, clock: Any) -> None:
        self.kind = kind
        super().__init__(function)
        self.every = every
        self.clock = clock
        if clock is not None and not isinstance(clock, Clock) and not callable(clock):
            raise Refused(f"@{kind}: clock is {clock!r}.", "Give a Clock, for example clock=Clock(100_000_000).")


@at_caller
def clocked(function: Callable[..., Any] | None = None, *, clock: Clock | Callable[[Any], Clock] | None = None) -> Any:
    """The method is one tick's logic, done in every tick of ``clock``."""
    if function is None:
        return at_caller(lambda f: LoopMethod(f, "clocked", None, clock))
    return LoopMethod(function, "clocked", None, clock)


@at_caller
def sequenced(
    function: Callable[..., Any] | None = None,
    *,
    every: Any = None,
    clock: Clock | Callable[[Any], Clock] | None = None,
) -> Any:
    """The method is a sequence of steps that takes ticks and starts again when it ends.

    ``every`` (ticks, or a duration such as ``us(20)``, or a function of the design that gives one): a turn starts
    on each multiple of the period, in tick 0, period, 2 × period ….  A multiple that finds the turn before still busy starts
    none; it is counted as late.
    """
    if function is None:
        return at_caller(lambda f: LoopMethod(f, "sequenced", every, clock))
    return LoopMethod(function, "sequenced", every, clock)


@at_caller
def operation(function: Callable[..., Any]) -> Any:
    """The method is copied into the loop that calls it, each time it is called."""
    return Operation(function)


@at_caller
def combinational(function: Callable[..., Any]) -> Any:
    """The function (no ``self``) is logic without state, copied in wherever it is called."""
    return Combinational(function)


class _Names(dict[str, Any]):
    """The names of a class body; hardware that a second definition would silently replace is refused."""

    @at_caller
    def __setitem__(self, name: str, item: Any) -> None:
        before = self.get(name)
        if isinstance(before, Method | Declared) and before is not item:
            what = f"@{before.kind}" if isinstance(before, Method) else type(before).__name__
            raise Refused(
                f"{name} is defined already, as {what}; the second definition would replace it.",
                "Give one of them another name.",
            )
        super().__setitem__(name, item)


class DesignType(type):
    """Metaclass of designs: watches over the names in the class body."""

    @classmethod
    def __prepare__(metacls, name: str, bases: tuple[type, ...], /, **options: Any) -> _Names:
        return _Names()


class Design(metaclass=DesignType):
    """Base class of every design: declarations as attributes, loops as methods."""


def members(design: Design) -> Iterator[tuple[str, Any]]:
    """Attributes of a design in the order they were written, class first; lists and dicts give ``name[i]``."""
    names: dict[str, None] = {}
    for cls in reversed(type(design).__mro__):
        names.update(dict.fromkeys(name for name in vars(cls) if not name.startswith("__")))
    for name in names:
        item = getattr(type(design), name, None)
        if isinstance(item, Declared) and name not in vars(design):
            yield name, getattr(design, name)
        elif isinstance(item, LoopMethod):
            yield name, item
        elif name not in vars(design):
            yield from _items(name, item)
    for name, item in list(vars(design).items()):
        if name != "_declared":
            yield from _items(name, item)


def _items(name: str, item: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(item, Declared | Design):
        yield name, item
    elif isinstance(item, list | tuple):
        for i, part in enumerate(item):
            yield from _items(f"{name}[{i}]", part)
    elif isinstance(item, dict):
        for key, part in item.items():
            yield from _items(f"{name}[{key}]", part)
