"""Designs for the speed measurements, as netlists."""

from __future__ import annotations

from simkit.netlist import BIT, Clock, Mem, Netlist, Node, Output, Read, Reg, Timer, Type, Write, check, make

U, S = (lambda n: make("unsigned", n)), (lambda n: make("signed", n))


class Maker:
    """A few words for building netlists by hand; registers are made first and fed later."""

    def __init__(self, name: str, clocks: tuple[Clock, ...] = (Clock("fabric", 40_000_000),)) -> None:
        self.net = Netlist(name, clocks=list(clocks))

    def op(self, op: str, kind: Type, *args: int, attr: int = 0) -> int:
        self.net.nodes.append(Node(op, args, kind, attr))
        return len(self.net.nodes) - 1

    def const(self, raw: int, kind: Type) -> int:
        return self.op("const", kind, attr=raw)

    def reg(self, name: str, kind: Type, reset: int = 0) -> int:
        """A register's leaf; it holds until :meth:`feed` says otherwise."""
        self.net.regs.append(Reg(name, kind, reset, 0, 0))
        leaf = self.op("reg", kind, attr=len(self.net.regs) - 1)
        self.net.regs[-1].next = leaf
        return leaf

    def feed(self, leaf: int, node: int) -> None:
        self.net.regs[self.net.nodes[leaf].attr].next = node

    def out(self, name: str, node: int) -> None:
        self.net.outputs.append(Output(name, self.net.nodes[node].type, 0, node))

    def pace(self, name: str, period: int) -> int:
        """A bit that is 1 once every ``period`` ticks."""
        width = period.bit_length()
        self.net.timers.append(Timer(name, width, 0, 0, 0, 0))
        due = self.op("expired", BIT, attr=len(self.net.timers) - 1)
        self.net.timers[-1].load, self.net.timers[-1].value = due, self.const(period - 1, U(width))
        return due

    def when(self, condition: int, leaf: int, new: int) -> None:
        """The register takes ``new`` where the condition holds."""
        self.feed(leaf, self.op("mux", self.net.nodes[leaf].type, condition, new, leaf))

    def done(self) -> Netlist:
        return check(self.net)


def always_active() -> Netlist:
    """Sixteen registers that all change every tick: a noise source, a four-tap average, its mean square, counters."""
    m = Maker("always_active")
    noise = m.reg("noise", U(24), 1)
    low = m.op("bits", BIT, noise, attr=0)
    taps = m.op(
        "xor",
        U(24),
        m.op("shr", U(24), noise, m.const(1, U(1))),
        m.op("mux", U(24), low, m.const(0xE10000, U(24)), m.const(0, U(24))),
    )
    m.feed(noise, taps)
    sample = m.op("wrap", S(24), noise)
    history = [m.reg(f"history_{i}", S(24)) for i in range(4)]
    for older, newer in zip(history, [sample, *history], strict=False):
        m.feed(older, newer)
    total = m.reg("total", S(26))
    m.feed(total, m.op("sub", S(26), m.op("add", S(26), total, sample), history[3]))
    mean = m.reg("mean", S(24))
    m.feed(mean, m.op("shr", S(24), total, m.const(2, U(2))))
    ac = m.reg("deviation", S(25))
    m.feed(ac, m.op("sub", S(25), history[1], mean))
    square = m.reg("square", U(48))
    m.feed(square, m.op("wrap", U(48), m.op("mul", S(50), ac, ac)))
    slow = m.reg("mean_square", U(58))
    m.feed(slow, m.op("add", U(58), m.op("sub", U(58), slow, m.op("shr", U(58), slow, m.const(10, U(4)))), square))
    level = m.reg("level", U(48))
    m.feed(level, m.op("wrap", U(48), m.op("shr", U(58), slow, m.const(10, U(4)))))
    peak = m.reg("peak", U(48))
    m.when(m.op("lt", BIT, peak, level), peak, level)
    _counters(m, level)
    m.out("level_out", level)
    return m.done()


def _counters(m: Maker, level: int) -> None:
    ticks, phase, over, parity = (
        m.reg("ticks", U(32)),
        m.reg("phase", U(10)),
        m.reg("over", U(16)),
        m.reg("parity", BIT),
    )
    m.feed(ticks, m.op("add", U(32), ticks, m.const(1, U(1))))
    wrapped = m.op("eq", BIT, phase, m.const(999, U(10)))
    m.feed(phase, m.op("mux", U(10), wrapped, m.const(0, U(10)), m.op("add", U(10), phase, m.const(1, U(1)))))
    high = m.op("lt", BIT, m.const(1 << 40, U(48)), level)
    m.feed(over, m.op("mux", U(16), high, m.op("add", U(16), over, m.const(1, U(1))), m.const(0, U(16))))
    m.feed(parity, m.op("parity", BIT, ticks))
    m.out("over_out", over)


def paced(loops: int = 1) -> Netlist:
    """Loops at 51.2 kS/s (a running sum over a memory) and at 1 kHz (a pulse width), on 40 MHz; all else is idle."""
    m = Maker("paced")
    for i in range(loops):
        due = m.pace(f"sample_{i}", 781)
        step = m.reg(f"step_{i}", U(2))
        place, total, sample = (
            m.reg(f"place_{i}", U(6)),
            m.reg(f"total_{i}", S(32)),
            m.reg(f"sample_{i}", S(24), 12345 + i),
        )
        m.net.mems.append(Mem(f"window_{i}", S(24), 64))
        at = [m.op("eq", BIT, step, m.const(n, U(2))) for n in range(4)]
        m.net.reads.append(Read(f"oldest_{i}", i, 0, place, at[1]))
        oldest = m.op("rdata", S(24), attr=i)
        m.net.writes.append(Write(i, 0, place, sample, at[2]))
        busy = m.op("or", BIT, due, m.op("not", BIT, at[0]))
        m.when(busy, step, m.op("add", U(2), step, m.const(1, U(1))))
        m.when(
            at[1], sample, m.op("wrap", S(24), m.op("sub", S(32), m.op("mul", S(32), sample, m.const(5, U(3))), total))
        )
        m.when(at[2], total, m.op("sub", S(32), m.op("add", S(32), total, sample), oldest))
        m.when(at[3], place, m.op("add", U(6), place, m.const(1, U(1))))
        beat = m.pace(f"millisecond_{i}", 40_000)
        speed = m.reg(f"speed_{i}", U(16))
        m.when(beat, speed, m.op("add", U(16), speed, m.op("bits", U(3), total, attr=4)))
        m.out(f"total_out_{i}", total)
        m.out(f"speed_out_{i}", speed)
    return m.done()


def with_counters(loops: int) -> Netlist:
    """Paced loops, and beside them a free-running time counter and a pulse-width output: never idle, mostly calm."""
    m = Maker(f"counters_{loops}")
    m.net = paced(loops)
    ticks, phase, pulse = m.reg("ticks", U(32)), m.reg("phase", U(11)), m.reg("pulse", BIT)
    m.feed(ticks, m.op("add", U(32), ticks, m.const(1, U(1))))
    top = m.op("eq", BIT, phase, m.const(1999, U(11)))
    m.feed(phase, m.op("mux", U(11), top, m.const(0, U(11)), m.op("add", U(11), phase, m.const(1, U(1)))))
    m.feed(pulse, m.op("lt", BIT, phase, m.const(700, U(11))))
    m.out("pulse_out", pulse)
    return m.done()


def wide_logic(nodes: int) -> Netlist:
    """About ``nodes`` nodes that all matter: counters, each mixed with its neighbours in a different way."""
    m = Maker(f"wide_{nodes}")
    count = max(nodes // 8, 2)
    regs = [m.reg(f"r{i}", U(24), i) for i in range(count)]
    for i, reg in enumerate(regs):
        left, right = regs[i - 1], regs[(i + 1) % count]
        step = m.op("add", U(24), reg, m.const(i % 7 + 1, U(3)))
        mixed = m.op(("xor", "and", "or", "sub")[i % 4], U(24), step, left)
        bigger = m.op("lt", BIT, mixed, right)
        scaled = m.op("wrap", U(24), m.op("mul", U(30), mixed, m.const(i % 31 + 1, U(6)))) if i % 5 == 0 else mixed
        m.feed(reg, m.op("mux", U(24), bigger, scaled, step))
    m.out("first", regs[0])
    return m.done()


def sampled() -> Netlist:
    """A channel: value and valid strobe come from outside; a sum and a peak are kept of them."""
    from simkit.netlist import Input

    m = Maker("sampled")
    m.net.inputs = [Input("accel.value", S(24), 0), Input("accel.valid", BIT, 0, strobe=True)]
    value, valid = m.op("input", S(24), attr=0), m.op("input", BIT, attr=1)
    total, peak = m.reg("total", S(32)), m.reg("peak", S(24))
    m.when(valid, total, m.op("add", S(32), total, value))
    m.when(m.op("and", BIT, valid, m.op("lt", BIT, peak, value)), peak, value)
    m.out("peak_out", peak)
    return m.done()
