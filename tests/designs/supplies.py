"""What a random program has to work with: channels, host registers, memories, queues, blocks, functions."""

from __future__ import annotations

from simkit.netlist import BIT, Type, make
from tests.designs.expressions import Expressions, literal, local, random_kind, random_number, reader
from tests.designs.oracle import Context, Machine, Mailbox, Memory, Number, Queue
from tests.designs.program import COUNT, Block, Declared, Input, LoopText, Scope
from tests.designs.statements import (
    Do,
    Expr,
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
    Wait,
    WriteChannel,
)
from tests.designs.writing import Writer


class Supplies(Writer):
    """Adds declarations, and for each the statements that use it."""

    # --- what is outside ---

    def _outside(self) -> None:
        fabric = [loop for loop in self.program.loops if loop.clock == 0 and not loop.name.startswith("counter")]
        makers = (
            self._host_register,
            self._digital_in,
            self._digital_out,
            self._analog_in,
            self._analog_out,
            self._interrupt,
            self._stream_out,
            self._stream_in,
            self._memory,
            self._block,
            self._host_shown,
        )
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
        self.program.declared.append(
            Declared(
                name,
                f'{name} = DigitalIn("{name}", {kind}, sync={sync})',
                lambda m: m.chains.__setitem__(name, [0] * sync) if sync else None,
            )
        )
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
        self.singles[loop.name].append(
            lambda scope: Do(f"self.{name}.request()", lambda c: c.machine.requests.add(name))
        )

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
        self.program.declared.append(
            Declared(
                name, f"{name} = Ram({kind}, {depth})", lambda m: m.memories.__setitem__(name, Memory([0] * depth))
            )
        )

        def write(scope: Scope) -> Statement:
            where, what = self.expr(scope, address), self.expr(scope, kind)
            return Do(
                f"self.{name}[{where.text}] = {what.text}",
                lambda c: setattr(c.machine.memories[name], "write", (int(where.value(c)), what.value(c))),
            )

        self.singles[loop.name].append(write)
        if loop.kind == "sequenced":
            self._landing(loop, kind)
            self.waiting[loop.name].append(
                lambda scope: ReadMemory(self.target(scope, kind), name, self.expr(scope, address))
            )
        return None

    def _rom(self, loop: LoopText) -> None:
        name, kind = self.name("table"), make("unsigned", 8)
        words: list[Number] = [self.rng.randrange(256) for _ in range(4)]
        self.program.declared.append(
            Declared(
                name, f"{name} = Rom({kind}, {words})", lambda m: m.memories.__setitem__(name, Memory(list(words)))
            )
        )
        if loop.kind == "sequenced":
            address = make("unsigned", 2)
            self.waiting[loop.name].append(
                lambda scope: ReadMemory(self.target(scope, kind), name, self.expr(scope, address))
            )

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
        self.program.declared.append(
            Declared(name, f"{name} = Synchronizer(stages={self.rng.randrange(1, 4)})", lambda m: None)
        )
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
            body: list[Statement] = (
                [If(maker.expr(BIT, 1), [Leave("return", Returned, maker.expr(result, 1))])]
                if self.rng.random() < 0.6
                else []
            )
            body.append(Leave("return", Returned, maker.expr(result, 2)))
            self.program.functions.append(Function(self.name("function"), "combinational", parameters, result, body))

    def _operations(self, loop: LoopText) -> None:
        """Operations of the design itself, used by one loop."""
        for _ in range(self.rng.randrange(3)):
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
