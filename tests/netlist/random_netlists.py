"""Random netlists and stimuli: the same seed always gives the same design.

Every operator, width 1 to 130, both signs, timers, memories, ports, strobes, several clocks and crossings.
"""

from __future__ import annotations

import random

from simkit.engines import Events
from simkit.netlist import OPS, Clock, Input, Mem, Netlist, Node, Output, Read, Reg, Timer, Type, Write, check, make

WIDTHS = (1, 1, 1, 2, 3, 5, 7, 8, 12, 16, 24, 31, 32, 33, 48, 63, 64, 65, 100, 130)
DIVISIONS = ("div", "rem", "mod")
RATES = (
    Clock("fast", 40_000_000),
    Clock("converter", 51_200),
    Clock("odd", 30_000_001, 3),
    Clock("slow", 1_000_000),
    Clock("twin", 40_000_000),
    Clock("third", 100_000_000, 3),
)


def random_type(rng: random.Random) -> Type:
    return make(rng.choice(("unsigned", "signed")), rng.choice(WIDTHS))


def random_raw(rng: random.Random, kind: Type) -> int:
    """A value of the type, often at an edge of its range."""
    pick = rng.random()
    if pick < 0.3:
        return rng.choice([v for v in (0, 1, -1, kind.low, kind.high, kind.high - 1, kind.low + 1) if kind.holds(v)])
    if pick < 0.6:
        return kind.wrap(rng.randint(-20, 20))
    return rng.randint(kind.low, kind.high)


class Maker:
    """Builds one random netlist."""

    def __init__(self, seed: int, clocks: int = 1, nodes: int = 40) -> None:
        self.rng = random.Random(seed)
        self.net = Netlist(f"random_{seed}", clocks=[RATES[0], *self.rng.sample(RATES[1:], clocks - 1)])
        self.pools: list[list[int]] = [[] for _ in self.net.clocks]
        self.size = nodes
        self.wide_divisions = seed % 8 == 7

    def node(self, clock: int, op: str, args: tuple[int, ...], kind: Type, attr: int = 0) -> int:
        self.net.nodes.append(Node(op, args, kind, attr))
        self.pools[clock].append(len(self.net.nodes) - 1)
        return len(self.net.nodes) - 1

    def pick(self, clock: int) -> int:
        pool = self.pools[clock]
        return self.rng.choice(pool if self.rng.random() < 0.5 else pool[-12:])

    def as_type(self, clock: int, kind: Type, node: int | None = None) -> int:
        """A node of the given type: an existing one, or one made to fit."""
        node = self.pick(clock) if node is None else node
        found = self.net.nodes[node].type
        return (
            node
            if (found.width, found.signed) == (kind.width, kind.signed)
            else self.node(clock, "wrap", (node,), kind)
        )

    def bit(self, clock: int) -> int:
        return self.as_type(clock, make("bit"))

    def state(self) -> None:
        """State and inputs first, with their leaves; what feeds the state is decided at the end."""
        rng, net = self.rng, self.net
        for clock in range(len(net.clocks)):
            for _ in range(rng.randint(2, 5)):
                kind = random_type(rng)
                net.regs.append(Reg(f"r{len(net.regs)}", kind, random_raw(rng, kind), clock, 0))
                self.node(clock, "reg", (), kind, len(net.regs) - 1)
            for _ in range(rng.randint(1, 3)):
                kind, strobe = random_type(rng), rng.random() < 0.4
                net.inputs.append(Input(f"i{len(net.inputs)}", kind, clock, strobe))
                self.node(clock, "input", (), kind, len(net.inputs) - 1)
            for _ in range(rng.randint(0, 2)):
                width = rng.choice((1, 3, 6, 17))
                net.timers.append(Timer(f"t{len(net.timers)}", width, rng.randrange(1 << min(width, 5)), clock, 0, 0))
                self.node(clock, "expired", (), make("bit"), len(net.timers) - 1)
        for _ in range(rng.randint(0, 2)):
            kind, depth = random_type(rng), rng.choice((1, 2, 5, 16, 33))
            net.mems.append(
                Mem(
                    f"m{len(net.mems)}", kind, depth, tuple(random_raw(rng, kind) for _ in range(rng.randint(0, depth)))
                )
            )
            for _ in range(rng.randint(1, 2)):
                clock = rng.randrange(len(net.clocks))
                net.reads.append(Read(f"q{len(net.reads)}", len(net.mems) - 1, clock, 0, 0))
                self.node(clock, "rdata", (), kind, len(net.reads) - 1)

    def operator(self, clock: int) -> None:
        rng = self.rng
        op = rng.choice((*OPS, "const"))
        kind = random_type(rng)
        if op == "const":
            self.node(clock, "const", (), kind, random_raw(rng, kind))
            return
        args = tuple(self.pick(clock) for _ in range(OPS[op].arity or rng.randint(1, 3)))
        attr = 0
        if op in DIVISIONS and not self.wide_divisions:
            args = tuple(
                self.as_type(clock, make("signed", 64), a) if self.net.nodes[a].type.width > 64 else a for a in args
            )
        if op in ("eq", "ne", "lt", "le", "parity"):
            kind = make("bit")
        if op == "mux":
            args = (self.bit(clock), *args[1:])
        if op in ("shl", "shr"):
            args = (args[0], self.as_type(clock, make("unsigned", rng.choice((1, 3, 5, 7, 8, 64))), args[1]))
        if op == "cat":
            kind = make("unsigned", sum(self.net.nodes[a].type.width for a in args))
            if kind.width > 200:
                return
        if op == "bits":
            width = self.net.nodes[args[0]].type.width
            attr = rng.randrange(width)
            kind = make("unsigned", rng.randint(1, width - attr))
        self.node(clock, op, args, kind, attr)

    def finish(self) -> Netlist:
        """Feed the state, make ports, check."""
        rng, net = self.rng, self.net
        leaves = [i for i, n in enumerate(net.nodes) if n.op in ("reg", "input")]
        for reg in net.regs:
            other = [
                i
                for i in leaves
                if net.nodes[i].type.width == reg.type.width and net.nodes[i].type.signed == reg.type.signed
            ]
            if other and rng.random() < 0.3 * (len(net.clocks) > 1):
                reg.next, reg.cross = rng.choice(other), rng.choice((1, 300, 2_000, 30_000, 1_000_000))
            else:
                held = next(i for i in leaves if net.nodes[i].op == "reg" and net.regs[net.nodes[i].attr] is reg)
                reg.next = self.as_type(reg.clock, reg.type)
                if rng.random() < 0.5:  # a register that often holds gives idle ticks
                    reg.next = self.node(reg.clock, "mux", (self.bit(reg.clock), reg.next, held), reg.type)
        for timer in net.timers:
            timer.load, timer.value = self.bit(timer.clock), self.as_type(timer.clock, make("unsigned", timer.width))
        for read in net.reads:
            read.addr, read.enable = self._address(read.clock), self.bit(read.clock)
        for index in range(len(net.mems)):
            for _ in range(rng.randint(0, 2)):
                clock = rng.randrange(len(net.clocks))
                net.writes.append(
                    Write(
                        index, clock, self._address(clock), self.as_type(clock, net.mems[index].type), self.bit(clock)
                    )
                )
        used = {arg for node in net.nodes for arg in node.args}
        for clock, pool in enumerate(self.pools):  # whatever nothing else uses is looked at from outside
            for node in (i for i in pool if i not in used):
                net.outputs.append(Output(f"o{len(net.outputs)}", net.nodes[node].type, clock, node))
        return check(net)

    def _address(self, clock: int) -> int:
        return self.as_type(clock, make("unsigned", self.rng.choice((1, 3, 4, 6, 65))))

    def make(self) -> Netlist:
        self.state()
        for _ in range(self.size):
            self.operator(self.rng.randrange(len(self.net.clocks)))
        return self.finish()


def random_netlist(seed: int) -> Netlist:
    """One design: every third has several clocks, every fourth is larger."""
    return Maker(seed, clocks=(1, 1, 2, 1, 3, 1)[seed % 6], nodes=120 if seed % 4 == 0 else 35).make()


def divides_wide(net: Netlist) -> bool:
    """Icarus Verilog 11 gets such divisions wrong: all ones in 100 bits over 1 gives 0."""
    return any(n.op in DIVISIONS and any(net.nodes[a].type.width > 64 for a in n.args) for n in net.nodes)


def random_events(net: Netlist, seed: int, ticks: int) -> Events:
    """A burst of changes, a pause, single changes: so that both busy and idle stretches occur."""
    rng = random.Random(seed + 10**6)
    changes = []
    for port in net.inputs:
        span = (
            ticks
            * net.clocks[port.clock].hz_num
            * net.clocks[0].hz_den
            // (net.clocks[0].hz_num * net.clocks[port.clock].hz_den)
        )
        for _ in range(rng.randint(0, 12)):
            tick = rng.randint(0, max(span // 5, 1)) if rng.random() < 0.6 else rng.randint(0, max(span, 1))
            changes.append((tick, port.name, random_raw(rng, port.type)))
    return Events.of(net, changes)
