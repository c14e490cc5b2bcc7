"""Random designs as learners would write them: source text, stimuli, and a machine that says what they mean.

``random_design(seed)`` gives ``(source, stimuli)``; the class is called ``Random``.  ``random_program(seed)`` gives the
:class:`Program` behind it.  The same seed always gives the same design.  Every fifth one or so has two clocks; those
have no second opinion, because what crosses clocks depends on chance.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from simkit.netlist import BIT, Type, make
from tests.designs.expressions import Expressions, literal, local, random_kind, random_number, reader
from tests.designs.oracle import Context, Loop, Machine, Mailbox, Memory, Number, Queue, raw_of, wrapped
from tests.designs.statements import (
    Again,
    Broken,
    Call,
    Do,
    Expr,
    For,
    Function,
    Get,
    If,
    Leave,
    PutWord,
    ReadChannel,
    ReadMemory,
    Returned,
    Statement,
    Target,
    Until,
    Wait,
    While,
    WriteChannel,
    indented,
    run_block,
)

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
        return [f"@{self.kind}" + (f"({', '.join(options)})" if options else ""), f"def {self.name}(self):", *indented(self.body)]


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
            lines += ["", f"class Class_{block.name}(Design):", *(f"    {d.text}" for d in block.declared),
                      *(f"    {line}" for line in own)]
        used = [d.text for d in self.declared if f"self.{d.name}" in text] + [f"{b.name} = Class_{b.name}()" for b in blocks]
        return "\n".join([*lines, "", "class Random(Design):", *(f"    {line}" for line in (*(used or ["pass"]), *code)), ""])

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
        machine.run(TICKS, [(tick, name, value * kinds[name].kind.step if kinds[name].kind.fixed else value, kinds[name].strobe)
                            for tick, name, value in self.stimuli()])
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


class Generator:
    """Writes one random program."""

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

    def name(self, stem: str) -> str:
        self.names += 1
        return f"{stem}{self.names}"

    # --- the whole ---

    def make(self) -> Program:
        rng, program = self.rng, self.program
        self._counter()
        for number in range(rng.choice((1, 1, 2, 2, 3))):
            kind = "clocked" if rng.random() < 0.25 else "sequenced"
            period = rng.choice((0, 0, 0, 1, 2, 7, 16, 30)) if kind == "sequenced" else 0
            clock = 1 if program.clocks > 1 and number == 0 else rng.randrange(program.clocks)
            loop = LoopText(f"loop{number}", kind, period, clock)
            program.loops.append(loop)
            self._registers(loop)
            if period:
                self._read(clock, f"self.{loop.name}.late", COUNT, reader(f"{loop.name}.late"))
        self._outside()
        self._links()
        self._functions()
        written = [loop for loop in program.loops if not loop.name.startswith("counter")]
        for loop in written:
            self._operations(loop)
        for loop in written:
            scope = self._scope(loop, loop.kind == "sequenced")
            loop.body[:] = self._locals(scope) + self.block(loop, scope, rng.randrange(3, 8))
            self._use_the_rest(loop, scope)
        return program

    def _use_the_rest(self, loop: LoopText, scope: Scope) -> None:
        """Statements for what the loop has but did not use, so that words flow through its queues and channels."""
        for makers in (self.singles[loop.name], self.waiting[loop.name]):
            for maker in makers:
                if self.rng.random() < 0.8:
                    loop.body.insert(self.rng.randrange(scope.prologue, len(loop.body) + 1), maker(scope))

    def _scope(self, loop: LoopText, waits: bool) -> Scope:
        owned = self.owned[loop.name]
        return Scope(list(self.readable[loop.clock]), [target for target, _ in owned], {t.text: k for t, k in owned}, waits)

    def _counter(self) -> None:
        for clock in range(self.program.clocks):
            name, loop = f"now{clock}", LoopText(f"counter{clock}", "clocked", 0, clock)
            kind = make("unsigned", 8)
            self._register(name, kind, 0)
            loop.body.append(Do(f"self.{name} = self.{name} + 1", lambda c, n=name: c.machine.assign(n, (c.machine.old[n] + 1) % 256)))
            self.program.loops.append(loop)
            self._read(clock, f"self.{name}", kind, reader(name))
            self.owned[loop.name] = []

    def _register(self, name: str, kind: Type, reset: Number, word: str = "Reg", options: str = "") -> None:
        shown = repr(float(reset)) if kind.fixed else str(reset)
        self.program.declared.append(Declared(name, f"{name} = {word}({options or kind}, reset={shown})",
                                              lambda m: m.register(name, kind, reset)))

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
        if self.rng.random() < 0.3:
            self._array(loop)

    def _array(self, loop: LoopText) -> None:
        """Regs: each element is a register; written by a signal index now and then."""
        name, kind, size = self.name("taps"), make("unsigned", self.rng.choice((4, 9))), self.rng.randrange(2, 6)
        self.program.declared.append(Declared(name, f"{name} = Regs({kind}, {size})",
                                              lambda m: [m.register(f"{name}[{i}]", kind) for i in range(size)]))
        for i in range(size):
            self.owned[loop.name].append((Target(f"self.{name}[{i}]", lambda c, v, i=i: c.machine.assign(f"{name}[{i}]", v)), kind))
            self._read(loop.clock, f"self.{name}[{i}]", kind, reader(f"{name}[{i}]"))
        index = f"bits(self.now{loop.clock}, 2, 0)"
        place = lambda c: int(c.machine.old[f"now{loop.clock}"]) & 7  # noqa: E731
        self._read(loop.clock, f"sum(tap for tap in self.{name})", kind,
                   lambda c: wrapped(sum(c.machine.old[f"{name}[{i}]"] for i in range(size)), kind))
        self._read(loop.clock, f"self.{name}[{index}]", kind, lambda c: c.machine.old[f"{name}[{place(c)}]"] if place(c) < size else 0)
        put = lambda c, v: c.machine.assign(f"{name}[{place(c)}]", v) if place(c) < size else None  # noqa: E731
        self.owned[loop.name].append((Target(f"self.{name}[{index}]", put), kind))

    # --- what is outside ---

    def _outside(self) -> None:
        fabric = [loop for loop in self.program.loops if loop.clock == 0 and not loop.name.startswith("counter")]
        makers = (self._host_register, self._digital_in, self._digital_out, self._analog_in, self._analog_out, self._interrupt,
                  self._stream_out, self._stream_in, self._memory, self._block, self._host_shown)
        for loop in fabric:
            for maker in self.rng.sample(makers, self.rng.randrange(2, 6)):
                maker(loop)

    def _input(self, name: str, kind: Type, strobe: bool = False, every: int = 12) -> None:
        self.program.inputs.append(Input(name, kind, strobe, every))

    def _host_register(self, loop: LoopText) -> None:
        name, kind = self.name("limit"), random_kind(self.rng)
        reset = random_number(self.rng, kind)
        self._register(name, kind, reset, "HostReg")
        self.program.declared.append(Declared(name, "", lambda m: m.hosted.append(name)))
        self._input(f"{name}.data", kind)
        self._input(f"{name}.write", BIT, strobe=True)
        self._read(0, f"self.{name}", kind, reader(name))

    def _host_shown(self, loop: LoopText) -> None:
        name, kind = self.name("level"), random_kind(self.rng)
        self._register(name, kind, 0, "HostReg", f'{kind}, access="ro"')
        self._own(loop, name, kind)

    def _digital_in(self, loop: LoopText) -> None:
        name, kind, sync = self.name("pin"), self.rng.choice((BIT, make("unsigned", 3))), self.rng.randrange(4)
        self.program.declared.append(Declared(name, f'{name} = DigitalIn("{name}", {kind}, sync={sync})',
                                              lambda m: m.chains.__setitem__(name, [0] * sync) if sync else None))
        self._input(name, kind)
        if sync:
            self._read(0, f"self.{name}", kind, lambda c: c.machine.chains[name][-1])
        else:
            self._read(0, f"self.{name}", kind, lambda c: c.machine.inputs.get(name, 0))

    def _digital_out(self, loop: LoopText) -> None:
        name, kind = self.name("lamp"), self.rng.choice((BIT, make("unsigned", 4)))
        self._register(name, kind, 1, "DigitalOut", f'"{name}", {kind}')
        self._own(loop, name, kind)

    def _analog_in(self, loop: LoopText) -> None:
        name, kind = self.name("probe"), make("signed", self.rng.choice((8, 16, 24)))

        def build(m: Machine) -> None:
            m.boxes[name] = Mailbox()
            m.register(f"{name}.missed", COUNT)

        self.program.declared.append(Declared(name, f'{name} = AnalogIn("{name}", {kind})', build))
        self._input(f"{name}.value", kind, every=7)
        self._input(f"{name}.valid", BIT, strobe=True, every=7)
        self._read(0, f"self.{name}.value", kind, lambda c: c.machine.inputs.get(f"{name}.value", 0))
        self._read(0, f"self.{name}.valid", BIT, lambda c: int(c.machine.strobe(f"{name}.valid")))
        if loop.kind == "sequenced":
            self._landing(loop, kind)
            self.waiting[loop.name].append(lambda scope: ReadChannel(self.target(scope, kind), name))
            self._read(0, f"self.{name}.missed", COUNT, reader(f"{name}.missed"))

    def _analog_out(self, loop: LoopText) -> None:
        name, kind = self.name("drive"), make("signed", self.rng.choice((8, 16)))
        self._register(name, kind, 0, "AnalogOut", f'"{name}", {kind}')
        self._own(loop, name, kind)
        self._input(f"{name}.ready", BIT, strobe=True, every=5)
        self._read(0, f"self.{name}.ready", BIT, lambda c: int(c.machine.strobe(f"{name}.ready")))
        if loop.kind == "sequenced":
            self.waiting[loop.name].append(lambda scope: WriteChannel(name, self.expr(scope, kind)))

    def _interrupt(self, loop: LoopText) -> None:
        name = self.name("alarm")

        def build(m: Machine) -> None:
            m.register(name, BIT)
            m.interrupts.append(name)

        self.program.declared.append(Declared(name, f"{name} = Interrupt()", build))
        self._input(f"{name}.acknowledge", BIT, strobe=True)
        self._read(0, f"self.{name}.pending", BIT, reader(name))
        self.singles[loop.name].append(lambda scope: Do(f"self.{name}.request()", lambda c: c.machine.requests.add(name)))

    def _block(self, loop: LoopText) -> None:
        """A sub-design of its own for one loop: a register and an operation that changes it."""
        name = self.name("part")
        inner, kind = f"{name}.acc", make(self.rng.choice(("unsigned", "signed")), self.rng.choice((8, 16, 24)))
        declared = Declared(inner, f"acc = Reg({kind})", lambda m: m.register(inner, kind))
        argument = random_kind(self.rng)
        function = Function("step", "operation", [("x", argument)], kind, [])
        readable = [Expr("self.acc", kind, reader(inner)), Expr("x", argument, local("x"))]
        maker = Expressions(self.rng, readable, [])
        new, result = maker.expr(kind, 2), maker.expr(kind, 1)
        function.body += [Do(f"self.acc = {new.text}", lambda c: c.machine.assign(inner, new.value(c)))]
        if self.rng.random() < 0.5:
            early = maker.expr(kind, 1)
            function.body.insert(0, If(maker.expr(BIT, 1), [Leave("return", Returned, early)]))
        if loop.kind == "sequenced" and self.rng.random() < 0.5:
            function.waits = True
            function.body.append(Wait("tick()", lambda c: 1))
        function.body.append(Leave("return", Returned, result))
        self.program.blocks.append(Block(name, [declared], [function]))
        self._landing(loop, kind)
        self.callable[loop.name].append((f"self.{name}.", function))
        self._read(loop.clock, f"self.{name}.acc", kind, reader(inner))

    def _memory(self, loop: LoopText) -> None:
        if self.rng.random() < 0.2:
            return self._rom(loop)
        name, kind, depth = self.name("store"), random_kind(self.rng), self.rng.choice((2, 5, 8, 16))
        address = make("unsigned", max(1, (depth - 1).bit_length()))
        self.program.declared.append(Declared(name, f"{name} = Ram({kind}, {depth})",
                                              lambda m: m.memories.__setitem__(name, Memory([0] * depth))))

        def write(scope: Scope) -> Statement:
            where, what = self.expr(scope, address), self.expr(scope, kind)
            return Do(f"self.{name}[{where.text}] = {what.text}",
                      lambda c: setattr(c.machine.memories[name], "write", (int(where.value(c)), what.value(c))))

        self.singles[loop.name].append(write)
        if loop.kind == "sequenced":
            self._landing(loop, kind)
            self.waiting[loop.name].append(lambda scope: ReadMemory(self.target(scope, kind), name, self.expr(scope, address)))
        return None

    def _rom(self, loop: LoopText) -> None:
        name, kind = self.name("table"), make("unsigned", 8)
        words: list[Number] = [self.rng.randrange(256) for _ in range(4)]
        self.program.declared.append(Declared(name, f"{name} = Rom({kind}, {words})",
                                              lambda m: m.memories.__setitem__(name, Memory(list(words)))))
        if loop.kind == "sequenced":
            address = make("unsigned", 2)
            self.waiting[loop.name].append(lambda scope: ReadMemory(self.target(scope, kind), name, self.expr(scope, address)))

    # --- queues ---

    def _declare_queue(self, name: str, kind: Type, depth: int, text: str, direction: str = "") -> None:
        def build(m: Machine) -> None:
            m.queues[name] = Queue(depth)
            if direction:
                m.far[name] = direction
                m.register(f"{name}.overflow", COUNT)

        self.program.declared.append(Declared(name, f"{name} = {text}", build))

    def _stream_out(self, loop: LoopText) -> None:
        name, kind, depth = self.name("log"), random_kind(self.rng), self.rng.choice((1, 2, 5))
        self._declare_queue(name, kind, depth, f'HostStream({kind}, {depth}, "to_host")', "to_host")
        self._input(f"{name}.ready", BIT, strobe=True, every=6)
        self._read(0, f"self.{name}.overflow", COUNT, reader(f"{name}.overflow"))
        self._puts(loop, name, kind, counts=True)

    def _stream_in(self, loop: LoopText) -> None:
        name, kind, depth = self.name("orders"), random_kind(self.rng), self.rng.choice((1, 2, 5))
        self._declare_queue(name, kind, depth, f'HostStream({kind}, {depth}, "from_host")', "from_host")
        self._input(f"{name}.data", kind, every=6)
        self._input(f"{name}.valid", BIT, strobe=True, every=6)
        self._gets(loop, name, kind)

    def _links(self) -> None:
        """Queues between loops."""
        loops = [loop for loop in self.program.loops if not loop.name.startswith("counter")]
        for _ in range(self.rng.randrange(3)):
            giver, taker = self.rng.choice(loops), self.rng.choice(loops)
            name, kind = self.name("queue"), random_kind(self.rng)
            crossing = giver.clock != taker.clock
            depth = self.rng.choice((2, 4, 8)) if crossing else self.rng.choice((1, 2, 3, 8))
            handshake = self.program.clocks > 1 and self.rng.random() < 0.4
            self._declare_queue(name, kind, depth, f"Handshake({kind})" if handshake else f"Fifo({kind}, {depth})")
            self._puts(giver, name, kind)
            self._gets(taker, name, kind)
        if self.program.clocks > 1:
            self._crossings(loops)

    def _crossings(self, loops: list[LoopText]) -> None:
        """Synchronizer and unsafe_cross between two loops (designs of two clocks only)."""
        giver, taker = self.rng.choice(loops), self.rng.choice(loops)
        name = self.name("flag")
        self.program.declared.append(Declared(name, f"{name} = Synchronizer(stages={self.rng.randrange(1, 4)})", lambda m: None))
        self.owned[giver.name].append((Target(f"self.{name}", lambda c, v: None), BIT))
        self._read(taker.clock, f"self.{name}", BIT, lambda c: 0)
        mine = [(target, kind) for target, kind in self.owned[giver.name] if target.text.startswith("self.r")]
        if mine and giver.clock != taker.clock:
            target, kind = self.rng.choice(mine)
            self._read(taker.clock, f"unsafe_cross({target.text})", kind, lambda c: 0)

    def _puts(self, loop: LoopText, name: str, kind: Type, counts: bool = False) -> None:
        if loop.kind == "sequenced" and self.rng.random() < 0.5:
            self.waiting[loop.name].append(lambda scope: PutWord(name, self.expr(scope, kind)))
            return
        if self.program.clocks == 1:
            self._read(loop.clock, f"self.{name}.ready", BIT, lambda c: int(c.machine.queues[name].ready))

        def offer(scope: Scope) -> Statement:
            word, flag = self.expr(scope, kind), self.target(scope, BIT)

            def act(c: Context) -> None:
                queue, value = c.machine.queues[name], word.value(c)
                if queue.ready:
                    queue.put.append(value)
                elif counts:
                    c.machine.refused.add(name)
                flag.put(c, int(queue.ready))
            return Do(f"{flag.before()}self.{name}.try_put({word.text})", act)

        self.singles[loop.name].append(offer)

    def _gets(self, loop: LoopText, name: str, kind: Type) -> None:
        self._landing(loop, kind)
        if loop.kind == "sequenced" and self.rng.random() < 0.5:
            self.waiting[loop.name].append(lambda scope: Get(self.target(scope, kind), name))
            return
        if self.program.clocks == 1:
            self._read(loop.clock, f"self.{name}.valid", BIT, lambda c: int(c.machine.queues[name].valid))
        default = literal(kind, random_number(self.rng, kind))
        word = lambda c: c.machine.queues[name].words[0] if c.machine.queues[name].valid else default.value(c)  # noqa: E731
        oldest = Expr(f"(self.{name}.value if self.{name}.valid else {default.text})", kind, word)

        def ask(scope: Scope) -> Statement:
            test, into = self.expr(scope, BIT), self.target(scope, kind)

            def took(c: Context) -> int:
                if not test.value(c):
                    return 0
                queue = c.machine.queues[name]
                queue.got = queue.valid
                return int(queue.valid)

            inside = [Do(f"{into.before()}{oldest.text}", lambda c: into.put(c, word(c)))] if into.text else []
            return If(Expr(f"{test.text} and self.{name}.try_get()", BIT, took), inside)

        self.singles[loop.name].append(ask)

    # --- functions ---

    def _functions(self) -> None:
        for _ in range(self.rng.randrange(3)):
            parameters = [(name, random_kind(self.rng)) for name in ("x", "y")[: self.rng.randrange(1, 3)]]
            result = random_kind(self.rng)
            maker = Expressions(self.rng, [Expr(name, kind, local(name)) for name, kind in parameters], [])
            body: list[Statement] = [If(maker.expr(BIT, 1), [Leave("return", Returned, maker.expr(result, 1))])] if self.rng.random() < 0.6 else []
            body.append(Leave("return", Returned, maker.expr(result, 2)))
            self.program.functions.append(Function(self.name("function"), "combinational", parameters, result, body))

    def _operations(self, loop: LoopText) -> None:
        """Operations of the design itself, used by one loop."""
        for _ in range(self.rng.randrange(2)):
            waits = loop.kind == "sequenced" and self.rng.random() < 0.6
            parameters = [(self.name("x"), random_kind(self.rng)) for _ in range(self.rng.randrange(3))]
            result = random_kind(self.rng)
            function = Function(self.name("work"), "operation", parameters, result, [], waits)
            scope = self._scope(loop, waits)
            scope.readable += [Expr(name, kind, local(name)) for name, kind in parameters]
            scope.function, scope.single, scope.depth = function, False, 1
            function.body += self._locals(scope) + self.block(loop, scope, self.rng.randrange(1, 4))
            if waits and not any(line.lstrip().startswith(("tick(", "wait(", "until(")) for line in function.lines()):
                function.body.append(Wait("tick()", lambda c: 1))
            function.body.append(Leave("return", Returned, self.expr(scope, result)))
            self.program.operations.append(function)
            self.callable[loop.name].append(("self.", function))

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
            made.append(Do(f"{name}: {kind} = {value.text}" if typed else f"{name} = {value.text}",
                           lambda c, n=name, v=value: c.locals.__setitem__(n, v.value(c))))
            self._local(scope, name, kind)
        scope.prologue = len(made)
        return made

    def _local(self, scope: Scope, name: str, kind: Type) -> None:
        scope.readable.append(Expr(name, kind, local(name)))
        scope.writable = [*scope.writable, Target(name, lambda c, v: c.locals.__setitem__(name, v))]
        scope.kinds = scope.kinds | {name: kind}

    def block(self, loop: LoopText, scope: Scope, length: int) -> list[Statement]:
        return [self.statement(loop, scope) for _ in range(length)]

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
        if pick < 0.55 and self.callable[loop.name] and (scope.function is None):
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
        return Do(f"{target.text} += {value.text}", lambda c: target.put(c, wrapped(same[0].value(c) + value.value(c), kind)))

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
        return If(self.expr(scope, BIT), [self.rng.choice(ways)])

    def wait(self, loop: LoopText, scope: Scope) -> Statement:
        pick = self.rng.random()
        if pick < 0.4 and self.waiting[loop.name] and scope.function is None:
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
            over = f"range({span.start}, {span.stop}, {span.step})" if span.step != 1 else f"range({span.start}, {span.stop})"
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
        name, kind = self.name("k"), make("unsigned", 4)
        items = [self.rng.randrange(16) for _ in range(self.rng.randrange(1, 4))]
        inner = scope.inner(in_loop=True, may_continue=True, single=False, waits=scope.waits and self.rng.random() < 0.5)
        inner.readable.append(Expr(f"{kind}({name})", kind, local(name)))
        body = self.block(loop, inner, self.rng.randrange(1, 4))
        return For(name, f"({', '.join(map(str, items))},)", items, body)

    def called(self, loop: LoopText, scope: Scope) -> Statement | None:
        place, function = self.rng.choice(self.callable[loop.name])
        if function.waits and not scope.waits:
            return None
        assert function.result is not None
        args = [self.expr(scope, kind) for _, kind in function.parameters]
        return Call(self.target(scope, function.result), place, function, args)


def random_program(seed: int) -> Program:
    """A random program; the same seed always gives the same one."""
    return Generator(seed).make()


def random_design(seed: int) -> tuple[str, list[Event]]:
    """Source text of a design class ``Random``, and stimuli ``(tick, input, raw value)``."""
    program = random_program(seed)
    return program.source(), program.stimuli()
