"""Writes random statements from what a place in a program may use."""

from __future__ import annotations

import random
from collections.abc import Callable

from simkit.netlist import BIT, Type, make
from tests.designs.expressions import Expressions, local, random_kind, random_number, reader
from tests.designs.oracle import Context, Number, wrapped
from tests.designs.program import RATES, Declared, LoopText, Program, Scope
from tests.designs.statements import (
    Again,
    Broken,
    Call,
    Do,
    Expr,
    For,
    Function,
    If,
    Leave,
    Returned,
    Statement,
    Target,
    Until,
    Wait,
    While,
)


class Writer:
    """What every part of the generator shares: names, registers, and statements made of them."""

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(seed)
        self.program = Program(seed)
        if rng.random() < 0.2:
            self.program.clocks, self.program.rate = 2, rng.choice(RATES)
        self.names = 0
        self.readable: list[list[Expr]] = [[], []]  # for each clock
        self.singles: dict[str, list[Callable[[Scope], Statement | None]]] = {}
        self.waiting: dict[str, list[Callable[[Scope], Statement]]] = {}
        self.owned: dict[str, list[tuple[Target, Type]]] = {}
        self.callable: dict[str, list[tuple[str, Function]]] = {}
        self.arrays: dict[str, tuple[str, Type, int]] = {}

    def name(self, stem: str) -> str:
        self.names += 1
        return f"{stem}{self.names}"

    def _register(self, name: str, kind: Type, reset: Number, word: str = "Reg", options: str = "") -> None:
        shown = repr(float(reset)) if kind.fixed else str(reset)
        self.program.declared.append(
            Declared(
                name, f"{name} = {word}({options or kind}, reset={shown})", lambda m: m.register(name, kind, reset)
            )
        )

    def _read(self, clock: int, text: str, kind: Type, value: Callable[[Context], Number]) -> None:
        self.readable[clock].append(Expr(text, kind, value))

    def _own(self, loop: LoopText, name: str, kind: Type) -> None:
        self.owned[loop.name].append((Target(f"self.{name}", lambda c, v: c.machine.assign(name, v)), kind))
        self._read(loop.clock, f"self.{name}", kind, reader(name))

    def _landing(self, loop: LoopText, kind: Type) -> None:
        """A register into which values of a type go."""
        name = self.name("r")
        self._register(name, kind, random_number(self.rng, kind))
        self._own(loop, name, kind)

    def _registers(self, loop: LoopText) -> None:
        self.owned.setdefault(loop.name, [])
        self.singles[loop.name], self.waiting[loop.name], self.callable[loop.name] = [], [], []
        for _ in range(self.rng.randrange(2, 5)):
            self._landing(loop, random_kind(self.rng))
        if self.rng.random() < 0.4:
            self._array(loop)

    def _array(self, loop: LoopText) -> None:
        """Regs: each element is a register; written by a signal index now and then."""
        name, kind, size = self.name("taps"), make("unsigned", self.rng.choice((4, 9))), self.rng.randrange(2, 6)
        self.program.declared.append(
            Declared(
                name,
                f"{name} = Regs({kind}, {size})",
                lambda m: [m.register(f"{name}[{i}]", kind) for i in range(size)],
            )
        )
        self.arrays[loop.name] = name, kind, size
        for i in range(size):
            self.owned[loop.name].append(
                (Target(f"self.{name}[{i}]", lambda c, v, i=i: c.machine.assign(f"{name}[{i}]", v)), kind)
            )
            self._read(loop.clock, f"self.{name}[{i}]", kind, reader(f"{name}[{i}]"))
        index = f"bits(self.now{loop.clock}, 2, 0)"
        place = lambda c: int(c.machine.old[f"now{loop.clock}"]) & 7  # noqa: E731
        self._read(
            loop.clock,
            f"sum(tap for tap in self.{name})",
            kind,
            lambda c: wrapped(sum(c.machine.old[f"{name}[{i}]"] for i in range(size)), kind),
        )
        self._read(
            loop.clock,
            f"self.{name}[{index}]",
            kind,
            lambda c: c.machine.old[f"{name}[{place(c)}]"] if place(c) < size else 0,
        )
        put = lambda c, v: c.machine.assign(f"{name}[{place(c)}]", v) if place(c) < size else None  # noqa: E731
        self.owned[loop.name].append((Target(f"self.{name}[{index}]", put), kind))

    # --- statements ---

    def expr(self, scope: Scope, kind: Type, depth: int = 2) -> Expr:
        return Expressions(self.rng, scope.readable, self.program.functions).expr(kind, self.rng.randrange(depth + 1))

    def target(self, scope: Scope, kind: Type) -> Target:
        """Something of the given type to put a value into; a new local if there is nothing."""
        found = [target for target in scope.writable if scope.kinds[target.text] == kind]
        return self.rng.choice(found) if found and self.rng.random() < 0.8 else Target("", lambda c, v: None)

    def _locals(self, scope: Scope) -> list[Statement]:
        """Locals with a type, made before anything else so that they have a value on every way."""
        made: list[Statement] = []
        for _ in range(self.rng.randrange(4)):
            name, kind = self.name("v"), random_kind(self.rng)
            value, typed = self.expr(scope, kind), self.rng.random() < 0.5
            made.append(
                Do(
                    f"{name}: {kind} = {value.text}" if typed else f"{name} = {value.text}",
                    lambda c, n=name, v=value: c.locals.__setitem__(n, v.value(c)),
                )
            )
            self._local(scope, name, kind)
        scope.prologue = len(made)
        return made

    def _local(self, scope: Scope, name: str, kind: Type) -> None:
        scope.readable.append(Expr(name, kind, local(name)))
        scope.writable = [*scope.writable, Target(name, lambda c, v: c.locals.__setitem__(name, v))]
        scope.kinds = scope.kinds | {name: kind}

    def block(self, loop: LoopText, scope: Scope, length: int) -> list[Statement]:
        made: list[Statement] = []
        for _ in range(length):
            made.append(self.statement(loop, scope))
            if isinstance(made[-1], For | While):
                made += self.shown(scope)
        return made

    def shown(self, scope: Scope) -> list[Statement]:
        """A local put where it can be seen: loops leave their names in many states."""
        locals_ = [item for item in scope.readable if item.text in scope.kinds and not item.text.startswith("self.")]
        registers = [target for target in scope.writable if target.text.startswith("self.")]
        if not locals_ or not registers or self.rng.random() < 0.3:
            return []
        target = self.rng.choice(registers)
        maker = Expressions(self.rng, scope.readable, [])
        value = maker.fit(self.rng.choice(locals_), scope.kinds[target.text])
        return [Do(f"{target.text} = {value.text}", lambda c: target.put(c, value.value(c)))]

    def statement(self, loop: LoopText, scope: Scope) -> Statement:
        rng, pick = self.rng, self.rng.random()
        if pick < 0.12 and scope.depth < 3:
            return self.branch(loop, scope)
        if pick < 0.30 and scope.waits:
            return self.wait(loop, scope)
        if pick < 0.42 and scope.waits and scope.depth < 3:
            return self.repeat(loop, scope)
        if pick < 0.48 and scope.depth < 2:
            return self.unrolled(loop, scope)
        if pick < 0.55 and self.callable[loop.name]:
            made = self.called(loop, scope)
            if made is not None:
                return made
        if pick < 0.66 and scope.single and self.singles[loop.name]:
            made = self.singles[loop.name].pop(rng.randrange(len(self.singles[loop.name])))(scope)
            if made is not None:
                return made
        if pick < 0.8 and scope.depth and scope.in_loop:
            return self.leave(scope)
        return self.assign(scope)

    def assign(self, scope: Scope) -> Statement:
        locals_ = [target for target in scope.writable if not target.text.startswith("self.")]
        target = self.rng.choice(locals_ if locals_ and self.rng.random() < 0.5 else scope.writable)
        kind = scope.kinds[target.text]
        if self.rng.random() < 0.15 and kind.kind in ("unsigned", "signed"):
            return self.augmented(scope, target, kind)
        if self.rng.random() < 0.1:
            return self.exchanged(scope, target, kind)
        value = self.expr(scope, kind, 3)
        return Do(f"{target.text} = {value.text}", lambda c: target.put(c, value.value(c)))

    def exchanged(self, scope: Scope, target: Target, kind: Type) -> Statement:
        """a, b = …, …"""
        other = self.rng.choice([item for item in scope.writable if scope.kinds[item.text] == kind])
        x, y = self.expr(scope, kind), self.expr(scope, kind)

        def act(c: Context) -> None:
            values = x.value(c), y.value(c)
            target.put(c, values[0])
            other.put(c, values[1])

        return Do(f"{target.text}, {other.text} = {x.text}, {y.text}", act)

    def augmented(self, scope: Scope, target: Target, kind: Type) -> Statement:
        same = [item for item in scope.readable if item.text == target.text]
        value = self.expr(scope, kind)
        if not same:
            return Do(f"{target.text} = {value.text}", lambda c: target.put(c, value.value(c)))
        return Do(
            f"{target.text} += {value.text}", lambda c: target.put(c, wrapped(same[0].value(c) + value.value(c), kind))
        )

    def branch(self, loop: LoopText, scope: Scope) -> Statement:
        yes = self.block(loop, scope.inner(), self.rng.randrange(1, 4))
        no = self.block(loop, scope.inner(), self.rng.randrange(1, 3)) if self.rng.random() < 0.5 else []
        return If(self.expr(scope, BIT), yes, no)

    def leave(self, scope: Scope) -> Statement:
        """break, continue or return, under a condition (else what follows would never be done)."""
        ways: list[Statement] = [Leave("break", Broken)]
        if scope.may_continue:
            ways.append(Leave("continue", Again))
        if scope.function is None:
            ways.append(Leave("return", Returned))
        elif scope.function.result is not None:
            ways.append(Leave("return", Returned, self.expr(scope, scope.function.result, 1)))
        last = [self.assign(scope)] if self.rng.random() < 0.6 else []
        return If(self.expr(scope, BIT), [*last, self.rng.choice(ways)])

    def wait(self, loop: LoopText, scope: Scope) -> Statement:
        pick = self.rng.random()
        if pick < 0.4 and self.waiting[loop.name]:
            return self.rng.choice(self.waiting[loop.name])(scope)
        if pick < 0.55:
            return Wait("tick()", lambda c: 1)
        if pick < 0.7:
            n = self.rng.choice((1, 2, 3, 5, 9, 17))
            return Wait(f"wait({n})", lambda c: n)
        if pick < 0.78:
            length = self.expr(scope, make("unsigned", self.rng.choice((2, 3, 4))), 1)
            return Wait(f"wait({length.text})", lambda c: int(length.value(c)))
        if pick < 0.96:
            return Until(self.later(loop))
        return Until(self.expr(scope, BIT))

    def repeat(self, loop: LoopText, scope: Scope) -> Statement:
        """while or a counted for: a waiting statement on every way through the body."""
        name, span = "", None
        inner = scope.inner(in_loop=True, may_continue=False)
        if self.rng.random() < 0.5:
            name, span = self._counted(inner)
        body = self.block(loop, inner, self.rng.randrange(2))
        body.append(self.wait(loop, inner))
        inner.may_continue = True
        body += self.block(loop, inner, self.rng.randrange(3))
        if span is not None:
            over = (
                f"range({span.start}, {span.stop}, {span.step})"
                if span.step != 1
                else f"range({span.start}, {span.stop})"
            )
            return For(name, over, list(span), body)
        return While(self.expr(scope, BIT) if self.rng.random() < 0.5 else self.later(loop), body)

    def later(self, loop: LoopText) -> Expr:
        """A condition that holds now and then."""
        now, places = f"now{loop.clock}", self.rng.randrange(4)
        return Expr(f"self.{now}[{places}]", BIT, lambda c: (int(c.machine.old[now]) >> places) & 1)

    def _counted(self, inner: Scope) -> tuple[str, range]:
        start, step = self.rng.randrange(-3, 6), self.rng.choice((1, 1, 1, 2, -1))
        span = range(start, start + step * self.rng.randrange(1, 6), step)
        name = self.name("i")
        low, high = min(span), max(span)
        width = max((end if end >= 0 else -end - 1).bit_length() for end in (low, high))
        kind = make("unsigned", max(1, width)) if low >= 0 else make("signed", width + 1)
        self._local(inner, name, kind)
        return name, span

    def unrolled(self, loop: LoopText, scope: Scope) -> Statement:
        """A for over a tuple: copied out, with or without ticks."""
        if loop.name in self.arrays and self.rng.random() < 0.5:
            return self.through_array(loop, scope)
        name, kind = self.name("k"), make("unsigned", 4)
        items = [self.rng.randrange(16) for _ in range(self.rng.randrange(1, 4))]
        inner = scope.inner(
            in_loop=True, may_continue=True, single=False, waits=scope.waits and self.rng.random() < 0.5
        )
        inner.readable.append(Expr(f"{kind}({name})", kind, local(name)))
        body = self.block(loop, inner, self.rng.randrange(1, 4))
        return For(name, f"({', '.join(map(str, items))},)", items, body)

    def through_array(self, loop: LoopText, scope: Scope) -> Statement:
        """A for over the registers of an array, or over their indices: copied out."""
        array, kind, size = self.arrays[loop.name]
        name, by_index = self.name("k"), self.rng.random() < 0.5
        inner = scope.inner(in_loop=True, may_continue=True, single=False, waits=scope.waits and not by_index)
        if by_index:
            one = f"self.{array}[{name}]"
            inner.readable.append(Expr(one, kind, lambda c: c.machine.old[f"{array}[{c.locals[name]}]"]))
            put = Target(one, lambda c, v: c.machine.assign(f"{array}[{c.locals[name]}]", v))
            inner.writable, inner.kinds = [*inner.writable, put, put, put], inner.kinds | {one: kind}
            return For(name, f"range({size})", range(size), self.block(loop, inner, self.rng.randrange(1, 4)))
        inner.readable.append(Expr(name, kind, local(name)))
        items = [reader(f"{array}[{i}]") for i in range(size)]
        return For(name, f"self.{array}", items, self.block(loop, inner, self.rng.randrange(1, 4)))

    def called(self, loop: LoopText, scope: Scope) -> Statement | None:
        place, function = self.rng.choice(self.callable[loop.name])
        if function.waits and not scope.waits:
            return None
        assert function.result is not None
        args = [self.expr(scope, kind) for _, kind in function.parameters]
        return Call(self.target(scope, function.result), place, function, args)
