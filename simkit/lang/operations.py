"""Operations: those that take ticks, and functions copied in where they are called."""

from __future__ import annotations

import ast
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, make
from . import steps
from .build import Refused, Value
from .declare import DigitalIn, DigitalOut, HostReg, Reg, Synchronizer
from .design import Bound, Combinational, Method, Operation
from .enclosing import CallOuter, FunctionOuter, without_docstring
from .env import Frame, Here
from .evaluate import Evaluator
from .parts import Part, Storage, Wait
from .source import Code, code_of
from .things import PartMethod, Unusable, is_signal
from .waiting import waits

if TYPE_CHECKING:
    from .execute import Executor

MAX_CALLS = 60

PLAIN = (Reg, DigitalIn, DigitalOut, HostReg, Synchronizer)
"""Declarations that are nothing but their value."""


class Operations(Evaluator):
    """The part of the executor that deals with calls."""

    def waits_call(self, node: ast.expr) -> bool:
        """True if ``node`` is a call that takes ticks."""
        return waits(node, self.frame.code, self.frame.design)

    def waits_block(self, body: list[ast.stmt]) -> bool:
        """True if any statement of a block takes ticks."""
        return any(waits(statement, self.frame.code, self.frame.design) for statement in body)

    def waiting_call(self, node: ast.expr, here: Here, put: Callable[[Executor, Any], None]) -> bool:
        """If ``node`` is a call that takes ticks, do it, give its result to ``put`` in the tick after, and say True."""
        if not isinstance(node, ast.Call) or not self.waits_call(node):
            return False
        function = self.evaluate(node.func)
        if self.loop.kind == "clocked":
            name = (
                f"{function.part.name}.{function.name}()"
                if isinstance(function, PartMethod)
                else f"{ast.unparse(node.func)}()"
            )
            self.frame.code.refuse(
                node,
                f"{name} takes ticks, and a clocked loop has just one.",
                "Use a sequenced loop; in a clocked loop channels offer .valid and .value, queues .try_get() and .try_put().",
            )
        if node.keywords and not isinstance(function, Bound):
            raise Refused(f"{ast.unparse(node.func)} takes no keywords.")
        if isinstance(function, Bound) and isinstance(function.method, Operation):
            args = [self.evaluate(arg) for arg in node.args]
            options = {str(k.arg): self.evaluate(k.value) for k in node.keywords}
            self.at(node)
            CallOuter(here, self.enter(node, function.method, function.design, args, options), put).run(self.whole)
            return True
        self._step(node, function, here, put)
        return True

    def _step(self, node: ast.Call, function: Any, here: Here, put: Callable[[Executor, Any], None]) -> None:
        if function is steps.until:
            if len(node.args) != 1:
                raise Refused("until() takes one condition.")
            # Asked anew in each tick, so the expression itself is kept, not its value.
            wait = Wait(ready=lambda: self._as_bit(self.evaluate(node.args[0]), node.args[0]))
        else:
            args = [self.evaluate(arg) for arg in node.args]
            self.at(node)
            if isinstance(function, PartMethod):
                wait = function.part.wait(self.whole, function.name, [self.operand(arg) for arg in args])
            elif function is steps.wait:
                wait = self._pause(args)
            elif not args:
                wait = Wait()
            else:
                raise Refused("tick() takes no value.", "Write wait(n) for n ticks.")
        self._do_wait(node, wait, here, put)

    def _pause(self, args: list[Any]) -> Wait:
        if len(args) != 1:
            raise Refused("wait() takes one number of ticks.")
        if not is_signal(args[0]):
            ticks = self.circuit.ticks(args[0], self.loop.clock)
            if ticks == 1:
                return Wait()
            kind = make("unsigned", (ticks - 1).bit_length())
            count = Value(self.b.const(ticks - 1, kind), kind)
        else:
            value = self.operand(args[0])
            if value.type.kind != "unsigned" or value.type.width > 62:
                raise Refused(
                    f"wait() takes an unsigned number of ticks of at most 62 bits, not {value.type}.",
                    "Convert it, for example unsigned(8)(x) or resize(x, unsigned(16)).",
                )
            some = self.b.add("ne", (value.node, self.b.const(0, value.type)), BIT)
            less = self.b.add("sub", (value.node, self.b.const(1, value.type)), value.type)
            count = Value(self.b.choose(some, less, value.node, value.type), value.type)
        timer = self.circuit.pause_of(self.loop)
        return Wait(
            begin=lambda: timer.load(self.whole, count), ready=lambda: timer.expired, check_now=False, same_tick=True
        )

    def _do_wait(self, node: ast.Call, wait: Wait, here: Here, put: Callable[[Executor, Any], None]) -> None:
        line = self.frame.code.loc(node)
        where = f"line {line.line}"

        def after(ex: Executor) -> None:
            ex.at(node)
            put(ex, wait.result() if wait.result else None)
            ex.go_on(here)

        def ask(ex: Executor) -> None:
            ex.at(node)
            assert wait.ready is not None
            ready = wait.ready()
            before = ex.env
            ex.env = before.fork()
            if wait.take:
                wait.take()
            ex.goto(next_state)
            ended, ex.env = ex.env, before.fork()
            ex.goto(waiting)
            ex.env = ex.merge(ready, ended, ex.env)

        def when_ready(ex: Executor) -> None:
            ex.at(node)
            assert wait.ready is not None
            ready, before = wait.ready(), ex.env
            ex.env = before.fork()
            ex.goto(waiting)
            stays, ex.env = ex.env, before
            after(ex)
            ex.env = ex.merge(ready, ex.env, stays)

        if wait.begin:
            wait.begin()
        if wait.same_tick:
            waiting = self.whole.state((*here.path, "wait"), f"waits {where}", when_ready, line)
            self.whole.goto(waiting)
            return
        next_state = self.whole.state((*here.path, "after"), f"after {where}", after, line)
        if wait.ready is None:
            self.whole.goto(next_state)
            return
        waiting = self.whole.state((*here.path, "wait"), f"waits {where}", ask, line)
        if wait.check_now:
            ask(self.whole)
        else:
            self.whole.goto(waiting)

    # --- functions copied in ---

    def enter(self, node: ast.Call, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> Frame:
        """A frame with the parameters bound."""
        depth, frame = 0, self.frame
        while frame is not None:
            if frame.code.function is method.function and frame.design is design:
                raise Refused(
                    f"{method.name} calls itself: hardware cannot copy itself into itself.",
                    "Write a loop with a tick inside.",
                )
            depth, frame = depth + 1, frame.caller  # type: ignore[assignment]
        if depth > MAX_CALLS:
            raise Refused("calls are nested too deep.")
        code = code_of(method.function)
        place = (node.lineno, node.col_offset)
        frame = Frame(
            (*self.frame.id, (method.name, place)), code, design, f"{self.frame.path}.{method.name}", self.frame
        )
        for name, value in self._bind_arguments(code, method, design, args, options).items():
            self.whole.bind(frame, name, value)
        return frame

    def _bind_arguments(
        self, code: Code, method: Method, design: Any, args: list[Any], options: dict[str, Any]
    ) -> dict[str, Any]:
        spec = code.tree.args
        if spec.vararg or spec.kwarg:
            code.refuse(
                code.tree, f"{method.name} takes a fixed list of values: * and ** are not part of the language."
            )
        names = [a.arg for a in (*spec.posonlyargs, *spec.args)]
        if isinstance(method, Combinational) and names[:1] == ["self"]:
            raise Refused(f"{method.name} is @combinational, so there is no self in it.", "Mark it @operation instead.")
        given = ([] if isinstance(method, Combinational) else [design]) + args
        if len(given) > len(names):
            usage = f"Write {method.name}({', '.join(names[len(given) - len(args) :])})."
            if not isinstance(method, Combinational) and names[:1] != ["self"]:
                usage = "The first parameter of an operation is self."
            raise Refused(
                f"{method.name} takes {max(0, len(names) - len(given) + len(args))} values, not {len(args)}.", usage
            )
        bound = dict(zip(names, given, strict=False))
        for name, value in options.items():
            if name in bound or name not in (*names, *(a.arg for a in spec.kwonlyargs)):
                raise Refused(f"{method.name} has no free parameter {name!r}.")
            bound[name] = value
        defaults = dict(zip(reversed(names), reversed(method.function.__defaults__ or ()), strict=False)) | (
            method.function.__kwdefaults__ or {}
        )
        for name in (*names, *(a.arg for a in spec.kwonlyargs)):
            if name not in bound and name not in defaults:
                raise Refused(
                    f"{method.name} needs a value for {name!r}.",
                    f"Write {method.name}({', '.join(names[len(given) - len(args) :])}).",
                )
            bound.setdefault(name, defaults.get(name))
        return {name: self.held(value) for name, value in bound.items()}

    def held(self, x: Any) -> Any:
        """What a name holds: the value that a register has now; channels, queues and memories stay what they are."""
        if isinstance(x, Storage) or isinstance(x, Part) and isinstance(x.declared, PLAIN):
            return self.operand(x)
        return x

    def inline(self, node: ast.Call, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> Any:
        code = code_of(method.function)
        if waits(code.tree, code, design):
            self.refuse_waiting(node, f"{method.name}()")
        frame = self.enter(node, method, design, args, options)
        outer = FunctionOuter(frame, (*self.frame.id, node.lineno, node.col_offset))
        caller, self.frame = self.frame, frame
        self.whole.block(without_docstring(code.tree.body), 0, outer)
        result = self.leave_function(frame)
        self.frame = caller
        self.at(node)
        return result

    def leave_function(self, frame: Frame) -> Any:
        """Join the ways that returned with the one that fell off the end; give the returned value."""
        result = self.whole.rejoin(frame.id)
        for key in [key for key in self.env.locals if key[0][: len(frame.id)] == frame.id]:
            del self.env.locals[key]
        if isinstance(result, Unusable):
            raise Refused(result.why, result.instead)
        return result

    def _Return(self, node: ast.Return, here: Here) -> None:
        if self.frame is self.whole.top:
            if node.value is not None:
                raise Refused("a loop returns nothing: nobody called it.", "Assign to a register or an output.")
            self.whole.goto(self.whole.states["start",])
            return
        value = None if node.value is None else self.evaluate(node.value)
        if isinstance(value, Part | Storage):
            value = self.operand(value)
        self.whole.leave(self.frame.id, value)
