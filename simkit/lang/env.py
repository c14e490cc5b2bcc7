"""What is known at a point of a loop: frames, places, states, and the environment of one tick."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Loc
from . import arithmetic
from .build import Builder, Refused, Value
from .parts import Drive, Storage
from .source import Code, HardwareError, in_kit
from .things import Unusable, describe

if TYPE_CHECKING:
    from .execute import Executor

Key = tuple[Any, str]
"""A local: the id of its frame, its name."""

_MISSING = object()


@dataclass(eq=False)
class Frame:
    """One call: the loop itself, or a function copied into it."""

    id: Any
    code: Code
    design: Any
    path: str
    caller: Frame | None = None


@dataclass(frozen=True)
class Here:
    """A statement's place: block, position, what encloses the block, and a path that tells it from all other places."""

    block: list[ast.stmt]
    index: int
    outer: Outer
    path: tuple[Any, ...]
    frame: Frame


class Outer:
    """What encloses a block.  ``resume`` goes on after the block's end, in a tick that began inside it."""

    path: tuple[Any, ...] = ()

    def resume(self, ex: Executor) -> None:
        raise NotImplementedError


@dataclass(eq=False)
class State:
    """A place where a tick begins.  ``entry`` holds the locals that have a value there on every way."""

    index: int
    name: str
    frame: Frame
    action: Callable[[Executor], None]
    loc: Loc
    entry: dict[Key, Any] | None = None


@dataclass(frozen=True)
class Way:
    """A way through the code of one tick: the condition that control takes it, its locals, the value it returns.

    ``used`` tells where a register was written, or the side of a queue or memory used, on this way in this tick.
    """

    active: int
    locals: dict[Key, Any]
    value: Any = None
    used: dict[Any, Loc] = field(default_factory=dict)


@dataclass
class Env:
    """What is known at a point of one tick.

    ``exits`` holds the ways that have left a loop by break or continue, or a function by return: each waits, with the
    locals it had, until control gets to the place where it goes on.
    """

    active: int
    locals: dict[Key, Any] = field(default_factory=dict)
    drives: dict[Drive, int] = field(default_factory=dict)
    exits: dict[Any, Way] = field(default_factory=dict)
    used: dict[Any, Loc] = field(default_factory=dict)

    def fork(self) -> Env:
        return Env(self.active, dict(self.locals), dict(self.drives), dict(self.exits), dict(self.used))

    def way(self, value: Any = None) -> Way:
        """The way that control is on now."""
        return Way(self.active, dict(self.locals), value, dict(self.used))

    def take(self, way: Way) -> None:
        """Control is on ``way`` from here on."""
        self.active, self.locals, self.used = way.active, dict(way.locals), dict(way.used)


def told_with_calls(error: HardwareError, frame: Frame) -> HardwareError:
    """The error with the calls that led to its place; one inside the kit's own blocks is put where the learner calls."""
    calls = []
    while frame.caller is not None:
        name, (line, _) = frame.id[-1]
        calls.append((name, line, frame.caller.code))
        frame = frame.caller
    outside = next((i for i, (_, _, code) in enumerate(calls) if not in_kit(code.text.filename)), None)
    if not in_kit(error.filename) or outside is None:
        here = (error.filename, error.lineno)
        others = [(name, line) for name, line, code in calls if (code.text.filename, line) != here]
        told = ", ".join(f"{name}() in line {line}" for name, line in others[:3])
        return HardwareError(error.why, f"{error.instead} Called: {told}.".strip(), error.loc) if told else error
    name, line, code = calls[outside]
    return HardwareError(f"{name}(): {error.why}", error.instead, code.text.line(line))


class Kept:
    """A value held for the rest of a waiting operation, in a local that has no name in the source."""

    def __init__(self, ex: Executor, key: Key, value: Value) -> None:
        self.ex, self.key, self.value = ex, key, value

    def set(self) -> None:
        self.ex.env.locals[self.key] = self.value

    def get(self) -> Value:
        return self.ex.env.locals[self.key]


def merge(b: Builder, condition: int, yes: Env, no: Env) -> Env:
    """One environment for both ways."""
    drives = {
        d: b.choose(condition, yes.drives.get(d, d.default), no.drives.get(d, d.default), d.kind)
        for d in dict.fromkeys((*yes.drives, *no.drives))
    }
    never = Way(b.zero, {})
    exits = {
        to: join(b, condition, yes.exits.get(to, never), no.exits.get(to, never))
        for to in dict.fromkeys((*yes.exits, *no.exits))
    }
    way = join(b, condition, yes.way(), no.way())
    return Env(way.active, way.locals, drives, exits, way.used)


def join(b: Builder, condition: int, yes: Way, no: Way) -> Way:
    """``yes`` where the condition is 1, else ``no``.  A way that control never takes has no say in the values."""
    if yes is no:
        return yes
    active = b.choose(condition, yes.active, no.active, BIT)
    for way, other in ((yes, no), (no, yes)):
        if way.active == b.zero:
            return Way(active, dict(other.locals), other.value, dict(other.used))
    found = {
        key: merged(b, condition, yes.locals.get(key, _MISSING), no.locals.get(key, _MISSING), key[1])
        for key in dict.fromkeys((*yes.locals, *no.locals))
    }
    value = merged(b, condition, yes.value, no.value, "the returned value")
    return Way(active, found, value, {**yes.used, **no.used})


def merged(b: Builder, condition: int, yes: Any, no: Any, name: str) -> Any:
    """One local for both ways; :class:`Unusable` where they cannot be one wire."""
    if yes is no or yes is _MISSING and isinstance(no, Unusable) or no is _MISSING and isinstance(yes, Unusable):
        return yes if yes is not _MISSING else no
    if yes is _MISSING or no is _MISSING:
        return Unusable(
            f"{name} has no value yet on some way to this line in this turn.",
            "Give it a value on every way, for example before the if.",
        )
    if isinstance(yes, Unusable) or isinstance(no, Unusable):
        return yes if isinstance(yes, Unusable) else no
    if _number(yes) and _number(no):
        if not isinstance(yes, Value) and not isinstance(no, Value) and yes == no:
            return yes
        try:
            return arithmetic.select(b, condition, yes, no)
        except Refused as error:
            return Unusable(f"{name} is not of one type here: {error.why}", error.instead)
    if type(yes) is type(no) and isinstance(yes, tuple | list) and len(yes) == len(no):
        return type(yes)(merged(b, condition, x, y, name) for x, y in zip(yes, no, strict=True))
    return Unusable(
        f"{name} is {describe(yes)} on one way and {describe(no)} on another; a wire cannot be both.",
        "Use two names, or one number type on both ways.",
    )


def agreed(a: dict[Key, Any], b: dict[Key, Any]) -> dict[Key, Any]:
    """Locals that have a value on both ways into a state; a constant that differs is no constant."""
    return {key: _agreed(key[1], item, b[key]) for key, item in a.items() if key in b}


def _agreed(name: str, x: Any, y: Any) -> Any:
    if x is y or isinstance(x, Unusable):
        return x
    if isinstance(y, Unusable):
        return y
    if isinstance(x, Storage) and isinstance(y, Storage):
        return Unusable(
            f"{name} lives across a tick, so it is a register; it would be {x.kind} on one way to this line and {y.kind} on another.",
            f"Write resize(…, {max(x.kind, y.kind, key=lambda kind: kind.width)}) where it is assigned, so that it keeps one type.",
        )
    if type(x) is type(y) and x == y:
        return x
    return Unusable(
        f"{name} lives across a tick but is a plain number on one of the ways here, so it is not known how many bits it needs.",
        f"Give it a type where it starts: {name}: unsigned(8) = 0.",
    )


def _number(x: Any) -> bool:
    return isinstance(x, Value | bool | int | float | Fraction)
