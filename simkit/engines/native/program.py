"""The run function as LLVM IR.

Theory of operation::

    entry   load all state into SSA values
    head    now = time of the next edge; if now >= special, go to `cold` (see .quiet), else
    test_c, eval_c, join_c    for each clock c with an edge at `now`: its expressions, recording, next values
    commit  memory writes, tracking of crossing sources; everything takes its next value; back to `head`
    exit    store all state back

All evaluation reads the values of `head`, so edges that coincide see the old state.  ``special`` is the earliest
time at which something other than a plain tick may have to happen; a plain tick costs one comparison for it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ...netlist import Netlist, Node
from .expr import Expressions
from .irtext import I1, I64, Builder, Int, Value, integer, long_division, phi_text
from .layout import Layout, last_words, words
from .quiet import ColdPath
from .timebase import Beat, beats, counts_ticks

FALSE, TRUE = I1(0), I1(1)


@dataclass
class Ssa:
    """Everything that the loop carries from edge to edge."""

    special: Value
    dirty: Value
    done: list[Value]
    edge: list[Value]
    fraction: list[Value]
    regs: list[Value]
    timers: list[Value]
    reads: list[Value]

    def flat(self) -> list[Value]:
        return [self.special, self.dirty, *self.done, *self.edge, *self.fraction, *self.regs, *self.timers, *self.reads]


@dataclass
class Ports:
    """What a clock's evaluation leaves for the commit: one entry for each write port."""

    enable: dict[int, Value] = field(default_factory=dict)
    addr: dict[int, Value] = field(default_factory=dict)
    data: dict[int, Value] = field(default_factory=dict)


class Program:
    """Writes the run function of one netlist, recording the given signals."""

    def __init__(self, layout: Layout, recorded: tuple[str, ...]) -> None:
        self.layout = layout
        self.net: Netlist = layout.netlist
        self.b = Builder()
        self.beats: list[Beat] = beats(self.net)
        self.in_ticks = counts_ticks(self.net)
        signals = self.net.signals()
        self.recorded = [(i, name, signals[name]) for i, name in enumerate(recorded)]
        self.stride = 2 + max((words(s.type.width) for _, _, s in self.recorded), default=1)

    def text(self) -> str:
        """The whole module."""
        b = self.b
        b.lines += ["define i64 @run(ptr noalias nocapture %s) {", "entry:"]
        start = self._load_state()
        b.branch("head")
        b.label("head")
        slot = len(b.lines)
        head = self._named_like(start)
        now = head.edge[0]
        for edge in head.edge[1:]:
            now = b.select(b.icmp_unsigned("<", edge, now), edge, now)
        b.branch_if(b.icmp_unsigned(">=", now, head.special), "cold", "test0", likely=False)
        again = ColdPath(self, head, now).emit()
        after = self._tick(head, now)
        self._exit(head)
        arms = zip(head.flat(), start.flat(), again.flat(), after.flat(), strict=True)
        b.lines[slot:slot] = [f"{h.ref} = {phi_text(h.type, ((s, 'entry'), (g, 'again'), (a, 'commit')))}" for h, s, g, a in arms]
        return "\n".join((*b.lines, "}", *(long_division(kind) for kind in sorted(b.long_divisions)), *_declarations(b.lines), "")) + _METADATA

    # --- state in and out ---

    def _slots(self) -> list[tuple[int, int]]:
        """(word offset, width) of registers, timers, read ports, in the order of :class:`Ssa`."""
        net, lay = self.net, self.layout
        return [*((o, r.type.width) for o, r in zip(lay.regs, net.regs, strict=True)),
                *((o, 64) for o in lay.timers),
                *((o, net.mems[r.mem].type.width) for o, r in zip(lay.reads, net.reads, strict=True))]

    def load(self, offset: int, width: int) -> Value:
        """A value of ``width`` bits at a word offset."""
        return self.b.resize(self.b.load(integer(64 * words(width)), self.b.address(8 * offset)), width, False)

    def store(self, offset: int, value: Value) -> None:
        self.b.store(self.b.resize(value, 64 * words(value.type.width), False), self.b.address(8 * offset))

    def header(self, name: str) -> Value:
        """Address of a header word."""
        return self.b.address(8 * self.layout.header[name])

    def _load_state(self) -> Ssa:
        lay = self.layout
        values = [self.load(offset, width) for offset, width in self._slots()]
        regs, timers = len(lay.regs), len(lay.timers)
        done, edge, fraction = ([self.load(o, 64) for o in part] for part in (lay.done, lay.edge, lay.fraction))
        return Ssa(I64(0), TRUE, done, edge, fraction, values[:regs], values[regs:regs + timers], values[regs + timers:])

    def _named_like(self, start: Ssa) -> Ssa:
        def fresh(value: Value) -> Value:
            return Value(value.type, self.b.name())

        lists = ([fresh(v) for v in part] for part in (start.done, start.edge, start.fraction, start.regs, start.timers, start.reads))
        return Ssa(fresh(start.special), fresh(start.dirty), *lists)

    def _exit(self, head: Ssa) -> None:
        b = self.b
        b.label("exit")
        status = b.phi(I64, (I64(0), "cold"), (I64(1), "alive"), (I64(2), "running"))
        for (offset, _), value in zip(self._slots(), (*head.regs, *head.timers, *head.reads), strict=True):
            self.store(offset, value)
        lay = self.layout
        for offsets, values in ((lay.done, head.done), (lay.edge, head.edge), (lay.fraction, head.fraction)):
            for offset, value in zip(offsets, values, strict=True):
                self.store(offset, value)
        b.line(f"ret i64 {status.ref}")

    # --- one edge ---

    def _tick(self, head: Ssa, now: Value) -> Ssa:
        after = Ssa(head.special, FALSE, [*head.done], [*head.edge], [*head.fraction], [*head.regs], [*head.timers], [*head.reads])
        ports = Ports()
        for clock in range(len(self.net.clocks)):
            _ClockTick(self, clock, head, now).emit(after, ports)
        b = self.b
        b.label("commit")
        for index in sorted(ports.enable):
            self._write(index, ports)
        for index, offset in self.layout.shadow.items():
            self._track(offset, head.regs[index], after.regs[index], now)
        b.branch("head")
        return after

    def element(self, mem: int, index: Value) -> tuple[Value, Int]:
        """Address and stored type of a memory word; the caller has checked the index."""
        bits = self.layout.mem_bits[mem]
        byte = self.b.add(self.b.mul(index, I64(bits // 8)), I64(8 * self.layout.mems[mem]))
        return self.b.address(byte), integer(bits)

    def inside(self, mem: int, addr: Value) -> Value | None:
        """The check that an address lies in the memory; None if it cannot lie outside."""
        depth, width = self.net.mems[mem].depth, addr.type.width
        return None if depth >= 1 << width else self.b.icmp_unsigned("<", addr, addr.type(depth))

    def _write(self, index: int, ports: Ports) -> None:
        """Store where enabled and inside; else into the spare word past the end."""
        b, write = self.b, self.net.writes[index]
        inside = self.inside(write.mem, ports.addr[index])
        go = ports.enable[index] if inside is None else b.and_(ports.enable[index], inside)
        where = b.select(go, b.resize(ports.addr[index], 64, False), I64(self.net.mems[write.mem].depth))
        address, kind = self.element(write.mem, where)
        b.store(b.resize(ports.data[index], kind.width, False), address)

    def _track(self, offset: int, old: Value, new: Value, now: Value) -> None:
        """Remember when the source of a crossing register changed, and from what."""
        count, changed = words(old.type.width), self.b.icmp_unsigned("!=", old, new)
        self.store(offset + count, self.b.select(changed, old, self.load(offset + count, old.type.width)))
        self.store(offset + 2 * count, self.b.select(changed, now, self.load(offset + 2 * count, 64)))


class _ClockTick:
    """The part of an edge that belongs to one clock."""

    def __init__(self, program: Program, clock: int, head: Ssa, now: Value) -> None:
        self.p, self.b, self.net = program, program.b, program.net
        self.clock, self.head, self.now = clock, head, now
        self.exprs = Expressions(self.net, self.b, self._leaf)
        self.last = clock == len(self.net.clocks) - 1

    def emit(self, after: Ssa, ports: Ports) -> None:
        """Blocks ``test``, ``eval`` and ``join``; puts next values into ``after`` and ``ports``."""
        b, c = self.b, self.clock
        b.label(f"test{c}")
        alone = len(self.net.clocks) == 1
        due = TRUE if alone else b.icmp_unsigned("==", self.head.edge[c], self.now)
        b.branch_if(due, f"eval{c}", f"join{c}")
        b.label(f"eval{c}")
        self.exprs.require(self._roots())
        special, block = self._record(after.special)
        new, dirty = self._next_values()
        b.branch(f"join{c}")
        b.label(f"join{c}")
        arms = block, f"test{c}"
        for key, value in new.items():
            self._join(after, ports, key, value, arms)
        after.special = self._merge(special, after.special, arms)
        joined = self._merge(dirty, FALSE, arms)
        after.dirty = b.or_(after.dirty, joined)
        b.branch("commit" if self.last else f"test{c + 1}")

    def _merge(self, new: Value, old: Value, arms: tuple[str, str]) -> Value:
        return new if new.ref == old.ref else self.b.phi(new.type, (new, arms[0]), (old, arms[1]))

    def _join(self, after: Ssa, ports: Ports, key: tuple[str, int], value: Value, arms: tuple[str, str]) -> None:
        part, index = key
        place = getattr(after, part, None) if part not in ("enable", "addr", "data") else getattr(ports, part)
        old = place[index] if part not in ("enable", "addr", "data") else value.type(0)
        place[index] = self._merge(value, old, arms)

    def _mine(self, part: str) -> list[tuple[int, object]]:
        return [(i, item) for i, item in enumerate(getattr(self.net, part)) if item.clock == self.clock]

    def _roots(self) -> list[int]:
        roots = [s.node for _, _, s in self.p.recorded if s.clock == self.clock]
        roots += [r.next for _, r in self._mine("regs") if not r.cross]
        for part, names in (("timers", ("load", "value")), ("reads", ("addr", "enable")), ("writes", ("addr", "data", "enable"))):
            roots += [getattr(item, name) for _, item in self._mine(part) for name in names]
        return roots

    def _leaf(self, node: Node) -> Value:
        if node.op == "reg":
            return self.head.regs[node.attr]
        if node.op == "rdata":
            return self.head.reads[node.attr]
        if node.op == "expired":
            return self.b.icmp_unsigned("==", self.head.timers[node.attr], I64(0))
        return self.p.load(self.p.layout.inputs[node.attr], node.type.width)

    # --- next values ---

    def _next_values(self) -> tuple[dict[tuple[str, int], Value], Value]:
        b, value = self.b, self.exprs.value
        new: dict[tuple[str, int], Value] = {}
        dirty: list[Value] = []
        for i, reg in self._mine("regs"):
            new["regs", i] = self._sample(i, dirty) if reg.cross else value(reg.next)
        for i, timer in self._mine("timers"):
            count, load = self.head.timers[i], value(timer.load)
            less = b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {count.ref}, i64 1)")
            new["timers", i] = b.select(load, b.resize(value(timer.value), 64, False), less)
            dirty.append(load)
        for i, read in self._mine("reads"):
            new["reads", i] = b.select(value(read.enable), self._word(read.mem, value(read.addr)), self.head.reads[i])
        for i, write in self._mine("writes"):
            new["enable", i], new["addr", i], new["data", i] = value(write.enable), value(write.addr), value(write.data)
            dirty.append(new["enable", i])
        self._advance(new)
        some = FALSE
        for bit in dirty:
            some = b.or_(some, bit)
        return new, some

    def _advance(self, new: dict[tuple[str, int], Value]) -> None:
        """The clock's next edge."""
        b, c, beat = self.b, self.clock, self.p.beats[self.clock]
        new["done", c] = b.add(self.head.done[c], I64(1))
        edge = b.add(self.head.edge[c], I64(beat.step))
        if beat.remainder:
            total = b.add(self.head.fraction[c], I64(beat.remainder))
            carry = b.icmp_unsigned(">=", total, I64(beat.den))
            edge = b.add(edge, b.zext(carry, I64))
            new["fraction", c] = b.select(carry, b.sub(total, I64(beat.den)), total)
        new["edge", c] = edge

    def _word(self, mem: int, addr: Value) -> Value:
        """The memory's word; 0 beyond the depth."""
        b, inside = self.b, self.p.inside(mem, addr)
        safe = addr if inside is None else b.select(inside, addr, addr.type(0))
        address, kind = self.p.element(mem, b.resize(safe, 64, False))
        word = b.resize(b.load(kind, address), self.net.mems[mem].type.width, False)
        return word if inside is None else b.select(inside, word, word.type(0))

    # --- clock crossing ---

    def _sample(self, index: int, dirty: list[Value]) -> Value:
        """What a crossing register takes: see ``_sampled`` of the reference engine."""
        b, reg = self.b, self.net.regs[index]
        source = self.net.nodes[reg.next]
        width = reg.type.width
        if source.op == "reg":
            new, count = self.head.regs[source.attr], words(width)
            track = self.p.layout.shadow[source.attr]
        else:
            new, count = self._leaf(source), self.p.layout.input_words
            track = self.p.layout.inputs[source.attr]
        old = self.p.load(track + count, width)
        age = b.sub(self.now, self.p.load(track + 2 * count, 64))
        unsettled = b.and_(b.icmp_signed("<", age, I64(reg.cross)), b.icmp_unsigned("!=", old, new))
        dirty.append(unsettled)
        mask = self._settle(index, width)
        mixed = b.or_(b.and_(new, mask), b.and_(old, b.not_(mask)))
        return b.select(unsettled, mixed, new)

    def _settle(self, index: int, width: int) -> Value:
        """:func:`simkit.netlist.ops.settle`, repeated to ``width`` bits."""
        b = self.b
        z = b.add(b.load(I64, self.p.header("seed")), I64(index * 0xD1B54A32D192ED03))
        z = b.add(z, b.mul(self.head.done[self.clock], I64(0x9E3779B97F4A7C15)))
        z = b.mul(b.xor(z, b.lshr(z, I64(30))), I64(0xBF58476D1CE4E5B9))
        z = b.mul(b.xor(z, b.lshr(z, I64(27))), I64(0x94D049BB133111EB))
        z = b.xor(z, b.lshr(z, I64(31)))
        bits = z
        for _ in range(1, words(width)):
            wider = integer(bits.type.width + 64)
            bits = b.or_(b.shl(b.zext(bits, wider), wider(64)), b.zext(z, wider))
        return b.resize(bits, width, False)

    # --- recording ---

    def _record(self, special: Value) -> tuple[Value, str]:
        """Append the recorded signals that changed; returns ``special`` (0 if the table is nearly full) and the block."""
        b, mine = self.b, [row for row in self.p.recorded if row[2].clock == self.clock]
        if not mine:
            return special, f"eval{self.clock}"
        wide = [b.resize(self.exprs.value(s.node), 64 * last_words(s.type.width), s.type.signed) for _, _, s in mine]
        changed = []
        for (_, name, _), value in zip(mine, wide, strict=True):
            changed.append(b.icmp_unsigned("!=", value, b.load(value.type, b.address(8 * self.p.layout.last[name]))))
        some = changed[0]
        for bit in changed[1:]:
            some = b.or_(some, bit)
        b.branch_if(some, f"record{self.clock}", f"recorded{self.clock}")
        b.label(f"record{self.clock}")
        full = self._append(mine, wide, changed)
        nearly = b.select(full, I64(0), special)
        b.branch(f"recorded{self.clock}")
        b.label(f"recorded{self.clock}")
        return b.phi(I64, (nearly, f"record{self.clock}"), (special, f"eval{self.clock}")), f"recorded{self.clock}"

    def _append(self, mine: list, wide: list[Value], changed: list[Value]) -> Value:  # type: ignore[type-arg]
        """Entries of (signal, tick, value); one that did not change is overwritten by the next."""
        b, stride = self.b, self.p.stride
        base = b.put(I64, f"inttoptr i64 {b.load(I64, self.p.header('records')).ref} to ptr").ref
        used = b.load(I64, self.p.header("record_used"))
        for (number, name, signal), value, bit in zip(mine, wide, changed, strict=True):
            place = b.mul(used, I64(8 * stride))
            b.store(I64(number), b.address(place, base))
            b.store(self.head.done[self.clock], b.address(b.add(place, I64(8)), base))
            b.store(b.resize(value, 64 * words(signal.type.width), False), b.address(b.add(place, I64(16)), base))
            b.store(value, b.address(8 * self.p.layout.last[name]))
            used = b.add(used, b.zext(bit, I64))
        b.store(used, self.p.header("record_used"))
        return b.icmp_unsigned(">", b.add(used, I64(len(self.p.recorded))), b.load(I64, self.p.header("record_limit")))


def _declarations(lines: list[str]) -> list[str]:
    """Declarations of the intrinsics that occur."""
    found = {"@llvm.usub.sat.i64"} | {word for line in lines if "@llvm.ctpop" in line for word in line.split() if word[0] == "@"}
    names = sorted(name.split("(")[0] for name in found)
    return [f"declare i64 {n}(i64, i64)" if "usub" in n else f"declare {n[12:]} {n}({n[12:]})" for n in names]


_METADATA = '!0 = !{!"branch_weights", i32 1000, i32 1}\n!1 = !{!"branch_weights", i32 1, i32 1000}\n'
