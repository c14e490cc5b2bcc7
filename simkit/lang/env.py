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
from .evaluate import Unusable, describe
from .parts import Drive, Storage
from .source import Code

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


@dataclass
class Env:
    """What is known at a point of one tick."""

    active: int
    locals: dict[Key, Any] = field(default_factory=dict)
    drives: dict[Drive, int] = field(default_factory=dict)
    flags: dict[Any, int] = field(default_factory=dict)
    returns: dict[Any, Any] = field(default_factory=dict)
    written: dict[Storage, Loc] = field(default_factory=dict)

    def fork(self) -> Env:
        return Env(
            self.active, dict(self.locals), dict(self.drives), dict(self.flags), dict(self.returns), dict(self.written)
        )


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
    bit = lambda x, y: b.choose(condition, x, y, BIT)  # noqa: E731
    drives = {
        d: b.choose(condition, yes.drives.get(d, d.default), no.drives.get(d, d.default), d.kind)
        for d in dict.fromkeys((*yes.drives, *no.drives))
    }
    flags = {f: bit(yes.flags.get(f, b.zero), no.flags.get(f, b.zero)) for f in dict.fromkeys((*yes.flags, *no.flags))}
    returns = {
        f: merged(b, condition, yes.returns.get(f, _MISSING), no.returns.get(f, _MISSING), "the returned value")
        for f in dict.fromkeys((*yes.returns, *no.returns))
    }
    env = Env(bit(yes.active, no.active), {}, drives, flags, returns, {**yes.written, **no.written})
    ended = [e.active == b.zero and all(flag == b.zero for flag in e.flags.values()) for e in (yes, no)]
    if ended[0] != ended[1]:
        env.locals = dict((no if ended[0] else yes).locals)
    else:
        for key in dict.fromkeys((*yes.locals, *no.locals)):
            env.locals[key] = merged(b, condition, yes.locals.get(key, _MISSING), no.locals.get(key, _MISSING), key[1])
    return env


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
    both = {}
    for key, item in a.items():
        if key not in b:
            continue
        other = b[key]
        if item is other or isinstance(item, Unusable):
            both[key] = item
        elif isinstance(other, Unusable):
            both[key] = other
        elif (
            not isinstance(item, Storage)
            and not isinstance(other, Storage)
            and type(item) is type(other)
            and item == other
        ):
            both[key] = item
        else:
            both[key] = Unusable(
                f"{key[1]} lives across a tick but is a plain number on one of the ways here, so it is not known how many bits it needs.",
                f"Give it a type where it starts: {key[1]}: unsigned(8) = 0.",
            )
    return both


def _number(x: Any) -> bool:
    return isinstance(x, Value | bool | int | float | Fraction)
