"""What an expression can mean besides a signal or a plain Python object, and how messages name it."""

from __future__ import annotations

from typing import Any

from ..netlist import Type
from .build import Value
from .declare import Declared
from .design import Bound, Design, Method
from .parts import Part, Storage


class PartMethod:
    """``part.name`` where name is an operation; the call decides what to do."""

    def __init__(self, part: Part, name: str) -> None:
        self.part = part
        self.name = name


class Unusable:
    """A local name that has no usable value here; using it says why."""

    def __init__(self, why: str, instead: str) -> None:
        self.why = why
        self.instead = instead


class Condition(int):
    """A node index that is a condition, told apart from a static bool."""


def is_signal(x: Any) -> bool:
    """True for everything whose value is known only when the hardware runs."""
    return isinstance(x, Value | Part | Storage)


def contains_signal(x: Any) -> bool:
    """True for a signal, a declaration, or a list or tuple with one in it."""
    if isinstance(x, list | tuple) and not isinstance(x, Value):
        return any(contains_signal(item) for item in x)
    return is_signal(x) or isinstance(x, Declared)


def uncalled(x: Any) -> bool:
    """True for something that has to be called to mean anything: a method, a function, a class."""
    return isinstance(x, PartMethod | Method | Bound) or callable(x) and not is_signal(x) and not isinstance(x, Design)


def describe(x: Any) -> str:
    """A thing named in a message."""
    if isinstance(x, Part):
        return f"the {x.what} {x.name}"
    if isinstance(x, Storage):
        return f"the register {x.name}"
    if isinstance(x, Value):
        return f"a signal ({x.type})"
    if isinstance(x, Design):
        return f"the design {type(x).__name__}"
    if isinstance(x, PartMethod):
        return f"{x.part.name}.{x.name}"
    if isinstance(x, Type):
        return f"the type {x}"
    if isinstance(x, Method | Bound):
        return x.method.name if isinstance(x, Bound) else x.name
    if isinstance(x, type) or callable(x) and hasattr(x, "__name__"):
        return str(x.__name__)
    if isinstance(x, int) and x.bit_length() > 256:
        return f"a number of {x.bit_length()} bits"
    text = repr(x)
    return text if len(text) < 40 else f"a {type(x).__name__}"
