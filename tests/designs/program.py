"""A random program as data: declarations, blocks, functions and loops, its text, its stimuli, and the machine that runs it."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from simkit.netlist import Type, make
from tests.designs.expressions import random_number
from tests.designs.oracle import Loop, Machine, raw_of
from tests.designs.statements import Expr, Function, Statement, Target, indented, run_block

TICKS = 160
COUNT = make("unsigned", 32)
RATES = (40_000_000, 41_000_000, 13_333_333, 100_000_000, 39_999_999)

Event = tuple[int, str, int]


@dataclass
class Input:
    """A port that the stimuli drive."""

    name: str
    kind: Type
    strobe: bool
    every: int


@dataclass
class Declared:
    """A line of a class body, and what the machine holds for it."""

    name: str
    text: str
    build: Callable[[Machine], object]


@dataclass(eq=False)
class LoopText:
    name: str
    kind: str
    period: int
    clock: int
    body: list[Statement] = field(default_factory=list)

    def lines(self) -> list[str]:
        options = [*([f"every={self.period}"] if self.period else []), *(["clock=other"] if self.clock else [])]
        return [
            f"@{self.kind}" + (f"({', '.join(options)})" if options else ""),
            f"def {self.name}(self):",
            *indented(self.body),
        ]


@dataclass
class Block:
    """A sub-design with state and an operation of its own."""

    name: str
    declared: list[Declared]
    functions: list[Function]


@dataclass
class Program:
    seed: int
    clocks: int = 1
    rate: int = RATES[0]
    declared: list[Declared] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    functions: list[Function] = field(default_factory=list)
    operations: list[Function] = field(default_factory=list)
    loops: list[LoopText] = field(default_factory=list)
    inputs: list[Input] = field(default_factory=list)

    def bodies(self) -> list[list[Statement]]:
        """Every list of statements that a shrinker may shorten."""
        inner = [f.body for f in (*self.functions, *self.operations, *(f for b in self.blocks for f in b.functions))]
        return [*(loop.body for loop in self.loops), *inner]

    def source(self) -> str:
        code = [line for loop in self.loops for line in ("", *loop.lines())]
        code += [line for function in self.operations for line in ("", *function.lines())]
        text = "\n".join(code)
        lines = ["from simkit import *", *([f"other = Clock({self.rate})"] if self.clocks > 1 else [])]
        blocks = [block for block in self.blocks if f"self.{block.name}." in text]
        inner = "\n".join(line for block in blocks for function in block.functions for line in function.lines())
        for function in self.functions:
            if f"{function.name}(" in text + inner:
                lines += ["", *function.lines()]
        for block in blocks:
            own = [line for function in block.functions for line in ("", *function.lines())]
            lines += [
                "",
                f"class Class_{block.name}(Design):",
                *(f"    {d.text}" for d in block.declared),
                *(f"    {line}" for line in own),
            ]
        used = [d.text for d in self.declared if f"self.{d.name}" in text] + [
            f"{b.name} = Class_{b.name}()" for b in blocks
        ]
        return "\n".join(
            [*lines, "", "class Random(Design):", *(f"    {line}" for line in (*(used or ["pass"]), *code)), ""]
        )

    def stimuli(self) -> list[Event]:
        """Changes of the inputs that this program's text still has: tick, input, raw value."""
        source, events = self.source(), []
        for number, port in enumerate(self.inputs):
            if f"self.{port.name.split('.')[0]}" not in source:
                continue
            rng = random.Random(f"{self.seed} {number}")
            tick = rng.randrange(port.every)
            while tick < TICKS:
                value = 1 if port.strobe else raw_of(random_number(rng, port.kind), port.kind)
                events.append((tick, port.name, value))
                tick += rng.choice((1, rng.randrange(1, 2 * port.every + 1)))
        return events

    def machine(self) -> Machine:
        """The second opinion, after a run."""
        machine = Machine()
        for item in (*self.declared, *(d for block in self.blocks for d in block.declared)):
            item.build(machine)
        for loop in self.loops:
            if loop.period:
                machine.register(f"{loop.name}.late", COUNT)
            machine.loops.append(Loop(loop.name, loop.period, lambda c, body=loop.body: run_block(body, c)))
        kinds = {port.name: port for port in self.inputs}
        machine.run(
            TICKS,
            [
                (tick, name, value * kinds[name].kind.step if kinds[name].kind.fixed else value, kinds[name].strobe)
                for tick, name, value in self.stimuli()
            ],
        )
        return machine


@dataclass
class Scope:
    """What a place in the program may use."""

    readable: list[Expr]
    writable: list[Target]
    kinds: dict[str, Type]
    waits: bool
    in_loop: bool = False
    may_continue: bool = False
    function: Function | None = None
    single: bool = True  # may hold statements that are allowed once in a tick
    prologue: int = 0
    depth: int = 0

    def inner(self, **changes: object) -> Scope:
        fields = self.__dict__ | {"readable": list(self.readable), "depth": self.depth + 1} | changes
        return Scope(**fields)  # type: ignore[arg-type]
