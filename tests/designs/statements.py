"""Statements of a random program: each knows its text in the learner's language, and what it does, tick by tick."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from simkit.netlist import Type
from tests.designs.oracle import Again, Broken, Context, Left, Number, Queue, Returned, Steps


class Expr(NamedTuple):
    """An expression: its text, its type, its value (a number)."""

    text: str
    kind: Type
    value: Callable[[Context], Number]


class Statement:
    """``blocks`` are the lists of statements inside; a shrinker may take statements out of them."""

    blocks: tuple[list[Statement], ...] = ()

    def lines(self) -> list[str]:
        raise NotImplementedError

    def run(self, c: Context) -> Steps:
        raise NotImplementedError
        yield


def indented(statements: list[Statement]) -> list[str]:
    found = [f"    {line}" for statement in statements for line in statement.lines()]
    return found or ["    pass"]


def run_block(statements: list[Statement], c: Context) -> Steps:
    for statement in statements:
        yield from statement.run(c)


@dataclass(eq=False)
class Do(Statement):
    """Something done within the tick."""

    text: str
    action: Callable[[Context], object]

    def lines(self) -> list[str]:
        return [self.text]

    def run(self, c: Context) -> Steps:
        self.action(c)
        return
        yield


@dataclass(eq=False)
class If(Statement):
    test: Expr
    yes: list[Statement]
    no: list[Statement] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.blocks = (self.yes, self.no)

    def lines(self) -> list[str]:
        tail = ["else:", *indented(self.no)] if self.no else []
        return [f"if {self.test.text}:", *indented(self.yes), *tail]

    def run(self, c: Context) -> Steps:
        yield from run_block(self.yes if self.test.value(c) else self.no, c)


class Repeats(Statement):
    def once(self, c: Context) -> Generator[None, None, bool]:
        """One pass of the body; True if it ended by break."""
        try:
            yield from run_block(self.blocks[0], c)
        except Again:
            return False
        except Broken:
            return True
        return False


@dataclass(eq=False)
class While(Repeats):
    test: Expr
    body: list[Statement]

    def __post_init__(self) -> None:
        self.blocks = (self.body,)

    def lines(self) -> list[str]:
        return [f"while {self.test.text}:", *indented(self.body)]

    def run(self, c: Context) -> Steps:
        while self.test.value(c):
            if (yield from self.once(c)):
                break


@dataclass(eq=False)
class For(Repeats):
    """Over a range, a tuple of numbers, or registers (which are asked when their turn comes)."""

    name: str
    over: str
    items: Sequence[int | Callable[[Context], Number]]
    body: list[Statement]

    def __post_init__(self) -> None:
        self.blocks = (self.body,)

    def lines(self) -> list[str]:
        return [f"for {self.name} in {self.over}:", *indented(self.body)]

    def run(self, c: Context) -> Steps:
        for item in self.items:
            c.locals[self.name] = item(c) if callable(item) else item
            if (yield from self.once(c)):
                break


@dataclass(eq=False)
class Leave(Statement):
    """break, continue, return."""

    text: str
    how: type[Left]
    value: Expr | None = None

    def lines(self) -> list[str]:
        return [f"{self.text} {self.value.text}" if self.value else self.text]

    def run(self, c: Context) -> Steps:
        raise self.how(self.value.value(c)) if self.value else self.how()
        yield


# --- what takes ticks -----------------------------------------------------------------------------


@dataclass(eq=False)
class Wait(Statement):
    """tick() or wait(n)."""

    text: str
    ticks: Callable[[Context], int]

    def lines(self) -> list[str]:
        return [self.text]

    def run(self, c: Context) -> Steps:
        for _ in range(max(1, self.ticks(c))):
            yield


@dataclass(eq=False)
class Until(Statement):
    test: Expr

    def lines(self) -> list[str]:
        return [f"until({self.test.text})"]

    def run(self, c: Context) -> Steps:
        while not self.test.value(c):
            yield
        yield


Put = Callable[[Context, Number], object]


@dataclass(eq=False)
class Target:
    """What a value goes into: a register, a local, nothing."""

    text: str
    put: Put

    def before(self) -> str:
        return f"{self.text} = " if self.text else ""


@dataclass(eq=False)
class ReadChannel(Statement):
    target: Target
    name: str

    def lines(self) -> list[str]:
        return [f"{self.target.before()}self.{self.name}.read()"]

    def run(self, c: Context) -> Steps:
        box = c.machine.boxes[self.name]
        while not (box.unread or c.machine.strobe(f"{self.name}.valid")):
            yield
        box.taken = True
        yield
        self.target.put(c, box.sample)


@dataclass(eq=False)
class WriteChannel(Statement):
    name: str
    value: Expr

    def lines(self) -> list[str]:
        return [f"self.{self.name}.write({self.value.text})"]

    def run(self, c: Context) -> Steps:
        c.machine.assign(self.name, self.value.value(c))
        yield
        while not c.machine.strobe(f"{self.name}.ready"):
            yield
        yield


@dataclass(eq=False)
class Get(Statement):
    target: Target
    name: str

    def lines(self) -> list[str]:
        return [f"{self.target.before()}self.{self.name}.get()"]

    def run(self, c: Context) -> Steps:
        queue: Queue = c.machine.queues[self.name]
        while not queue.valid:
            yield
        word, queue.got = queue.words[0], True
        yield
        self.target.put(c, word)


@dataclass(eq=False)
class PutWord(Statement):
    name: str
    value: Expr

    def lines(self) -> list[str]:
        return [f"self.{self.name}.put({self.value.text})"]

    def run(self, c: Context) -> Steps:
        queue, word = c.machine.queues[self.name], self.value.value(c)
        while not queue.ready:
            yield
        queue.put.append(word)
        yield


@dataclass(eq=False)
class ReadMemory(Statement):
    target: Target
    name: str
    address: Expr

    def lines(self) -> list[str]:
        return [f"{self.target.before()}self.{self.name}.read({self.address.text})"]

    def run(self, c: Context) -> Steps:
        memory = c.machine.memories[self.name]
        memory.asked[c.loop] = int(self.address.value(c))
        yield
        self.target.put(c, memory.shown[c.loop])


# --- functions --------------------------------------------------------------------------------------


@dataclass(eq=False)
class Function:
    """A @combinational function, or an @operation of the design or of a block."""

    name: str
    decorator: str
    parameters: list[tuple[str, Type]]
    result: Type | None
    body: list[Statement]
    waits: bool = False

    def lines(self) -> list[str]:
        names = [*(["self"] if self.decorator == "operation" else []), *(name for name, _ in self.parameters)]
        return [f"@{self.decorator}", f"def {self.name}({', '.join(names)}):", *indented(self.body)]

    def run(self, c: Context, args: list[Number]) -> Generator[None, None, Any]:
        inner = c.call(dict(zip((name for name, _ in self.parameters), args, strict=True)))
        try:
            yield from run_block(self.body, inner)
        except Returned as returned:
            return returned.value
        return None

    def at_once(self, c: Context, args: list[Number]) -> Any:
        """The result of a function that takes no tick."""
        try:
            next(self.run(c, args))
        except StopIteration as stop:
            return stop.value
        raise AssertionError(f"{self.name} took a tick")


@dataclass(eq=False)
class Call(Statement):
    target: Target
    place: str
    function: Function
    args: list[Expr]

    def lines(self) -> list[str]:
        # The bare name of an analog output would be the channel, not its code.
        args = [f"({arg.text} + 0)" if re.fullmatch(r"self\.drive\d+", arg.text) else arg.text for arg in self.args]
        return [f"{self.target.before()}{self.place}{self.function.name}({', '.join(args)})"]

    def run(self, c: Context) -> Steps:
        value = yield from self.function.run(c, [arg.value(c) for arg in self.args])
        self.target.put(c, value)
