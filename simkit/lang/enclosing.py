"""What encloses a block of statements, and how a tick that began inside it goes on after the block's end."""

from __future__ import annotations

import ast
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Type, make
from .build import Value
from .env import Frame, Here, Key, Outer

if TYPE_CHECKING:
    from .execute import Executor


class TopOuter(Outer):
    """The body of the loop: its end is the end of the turn."""

    def resume(self, ex: Executor) -> None:
        if ex.env.active != ex.b.zero:
            ex.frame = ex.top
            ex.goto(ex.states["start",])


class IfOuter(Outer):
    """A branch: after it comes what follows the if."""

    def __init__(self, here: Here, branch: bool) -> None:
        self.here = here
        self.path = (*here.path, branch)

    def resume(self, ex: Executor) -> None:
        ex.go_on(self.here)


class LoopOuter(Outer):
    """A body that may be left by ``break`` or ``continue``; ``broken`` and ``again`` are where these go."""

    def __init__(self, here: Here, node: Any, part: Any = "body") -> None:
        self.here = here
        self.node = node
        self.path = (*here.path, part)
        self.broken = (self.path, here.frame.id, "broken")
        self.again = (self.path, here.frame.id, "again")

    def repeat(self, ex: Executor) -> None:
        """What comes after the end of the body."""
        raise NotImplementedError

    def resume(self, ex: Executor) -> None:
        ex.frame = self.here.frame
        ex.rejoin(self.again)
        # What this body's break left behind is set aside: the next body has breaks of its own.
        broken = ex.env.exits.pop(self.broken, None)
        if ex.env.active != ex.b.zero:
            ex.at(self.node)
            self.repeat(ex)
        if broken is not None:
            ex.env.exits[self.broken] = broken
        ex.rejoin(self.broken)
        ex.go_on(self.here)


class WhileOuter(LoopOuter):
    """The body of a while: at its end the condition is asked again."""

    def repeat(self, ex: Executor) -> None:
        ex.while_head(self.node, self.here)


class CountOuter(LoopOuter):
    """The body of a for over a range that takes ticks; a register holds the index."""

    def __init__(self, here: Here, node: ast.For, source: range, kind: Type) -> None:
        super().__init__(here, node)
        self.source, self.kind = source, kind
        name = node.target.id  # type: ignore[attr-defined]
        # The loop's name is its counter, unless the body assigns it: then the count must not follow.
        self.key: Key = (here.frame.id, f"{name}_count_{node.lineno}" if _assigns(node.body, name) else name)

    def body(self, ex: Executor, index: Value) -> None:
        """Run the body for one index, up to its first tick."""
        ex.env.locals[self.key] = index
        ex.env.locals[self.here.frame.id, self.node.target.id] = index
        ex._repeat(self.node, self, ex.env)

    def repeat(self, ex: Executor) -> None:
        index: Value = ex.env.locals[self.key]
        last = ex.b.add("eq", (index.node, ex.b.const(self.source[-1], self.kind)), BIT)
        more = ex.b.add("add", (index.node, ex.b.const(self.source.step, _step_type(self.source.step))), self.kind)
        leave, ex.env = ex.env, ex.env.fork()
        self.body(ex, Value(more, self.kind))
        ex.at(self.node)
        ex.env = ex.merge(last, leave, ex.env)


class UnrolledOuter(LoopOuter):
    """One copy of the body of a for that is copied out."""

    def __init__(self, here: Here, node: ast.For, items: list[Any], number: int) -> None:
        super().__init__(here, node, number)
        self.items, self.number = items, number
        self.broken = ((*here.path, "for"), here.frame.id, "broken")

    def run(self, ex: Executor) -> None:
        """This copy and all that follow."""
        for number in range(self.number, len(self.items)):
            if ex.env.active == ex.b.zero:
                break
            copy = UnrolledOuter(self.here, self.node, self.items, number)
            ex.assign(self.node.target, self.items[number])
            ex.block(self.node.body, 0, copy)
            ex.rejoin(copy.again)
        ex.rejoin(self.broken)

    def repeat(self, ex: Executor) -> None:
        UnrolledOuter(self.here, self.node, self.items, self.number + 1).run(ex)


class FunctionOuter(Outer):
    """The body of a function that takes no tick; it is never resumed."""

    def __init__(self, frame: Frame, path: tuple[Any, ...]) -> None:
        self.path = (*path, "call")


class CallOuter(Outer):
    """The body of an operation that takes ticks."""

    def __init__(self, here: Here, frame: Frame, put: Callable[[Executor, Any], None]) -> None:
        self.here, self.frame, self.put = here, frame, put
        self.path = (*here.path, "call")

    def run(self, ex: Executor) -> None:
        ex.frame = self.frame
        ex.block(without_docstring(self.frame.code.tree.body), 0, self)
        self._leave(ex)

    def _leave(self, ex: Executor) -> None:
        if ex.env.active != ex.b.zero or self.frame.id in ex.env.exits:
            result = ex.leave_function(self.frame)
            ex.frame = self.here.frame
            self.put(ex, result)
        ex.frame = self.here.frame

    def resume(self, ex: Executor) -> None:
        self._leave(ex)
        ex.go_on(self.here)


def _assigns(body: list[ast.stmt], name: str) -> bool:
    """True if some statement of the body gives the name another value."""
    names = (node for statement in body for node in ast.walk(statement) if isinstance(node, ast.Name))
    return any(node.id == name and isinstance(node.ctx, ast.Store) for node in names)


def range_type(source: range) -> Type:
    """The narrowest type that holds every index."""
    ends = source[0], source[-1]
    signed = min(ends) < 0
    bits = max((end if end >= 0 else -end - 1).bit_length() for end in ends)
    return make("signed" if signed else "unsigned", max(1, bits + signed))


def _step_type(step: int) -> Type:
    return make("signed", step.bit_length() + 1)


def without_docstring(body: list[ast.stmt]) -> list[ast.stmt]:
    first = body[0]
    is_text = (
        isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str)
    )
    return body[1:] if is_text else body
