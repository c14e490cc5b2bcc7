"""One clock's part of an edge: its expressions, what is recorded of them, and the next value of all its state."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ...netlist import Node, Signal
from .chunks import Chunks
from .expr import Expressions, needed
from .irtext import I64, Value, integer
from .layout import last_words, words
from .ssa import FALSE, Ports, Ssa

if TYPE_CHECKING:
    from .program import Program

PORTS = ("enable", "addr", "data")


class ClockTick:
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
        b.branch(f"eval{c}") if alone else b.branch_if(
            b.icmp_unsigned("==", self.head.edge[c], self.now), f"eval{c}", f"join{c}"
        )
        b.label(f"eval{c}")
        order = needed(self.net, self._roots())
        self.stored: set[int] = set()
        if self.p.resident:
            self.exprs.emit(order)
        else:
            chunks = Chunks(self.p, self.clock, order)
            self.stored = chunks.emit([s.node for _, _, s in self.p.recorded if s.clock == c])
            self.exprs.fetch = chunks.fetch
        special, block = self._record(after.special)
        new, dirty = self._next_values()
        b.branch(f"join{c}")
        b.label(f"join{c}")
        arms = (block,) if alone else (block, f"test{c}")
        for (part, index), value in new.items():
            old = value.type(0) if part in PORTS else getattr(self.head, part)[index]
            getattr(ports if part in PORTS else after, part)[index] = self._merge(value, old, arms)
        after.special = self._merge(special, after.special, arms)
        joined = self._merge(dirty, FALSE, arms)
        after.dirty = b.or_(after.dirty, joined)
        b.branch("commit" if self.last else f"test{c + 1}")

    def _merge(self, new: Value, old: Value, arms: tuple[str, ...]) -> Value:
        return new if len(arms) == 1 or new.ref == old.ref else self.b.phi(new.type, (new, arms[0]), (old, arms[1]))

    def _mine(self, part: str) -> list[tuple[int, Any]]:
        return [(i, item) for i, item in enumerate(getattr(self.net, part)) if item.clock == self.clock]

    def _roots(self) -> list[int]:
        roots = [s.node for _, _, s in self.p.recorded if s.clock == self.clock]
        roots += [r.next for _, r in self._mine("regs") if not r.cross]
        for part, names in (
            ("timers", ("load", "value")),
            ("reads", ("addr", "enable")),
            ("writes", ("addr", "data", "enable")),
        ):
            roots += [getattr(item, name) for _, item in self._mine(part) for name in names]
        return roots

    def _leaf(self, node: Node) -> Value:
        if node.op == "reg":
            return self.p.old(self.head, "regs", node.attr)
        if node.op == "rdata":
            return self.p.old(self.head, "reads", node.attr)
        if node.op == "expired":
            return self.b.icmp_unsigned("==", self.p.old(self.head, "timers", node.attr), I64(0))
        return self.p.load(self.p.layout.inputs[node.attr], node.type.width)

    # --- next values ---

    def _next_values(self) -> tuple[dict[tuple[str, int], Value], Value]:
        b, value = self.b, self.exprs.value
        new: dict[tuple[str, int], Value] = {}
        dirty: list[Value] = []

        def give(part: str, index: int, next_value: Value) -> None:
            if self.p.resident:
                new[part, index] = next_value
            else:  # stored where the commit will copy it from; values that live shorter are compiled faster
                self.p.store(getattr(self.p.layout, part)[index] + self.p.ahead, next_value)

        for i, reg in self._mine("regs"):
            if i not in self.stored:
                give("regs", i, self._sample(i, dirty) if reg.cross else value(reg.next))
        for i, timer in self._mine("timers"):
            count, load = self.p.old(self.head, "timers", i), value(timer.load)
            less = b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {count.ref}, i64 1)")
            give("timers", i, b.select(load, b.resize(value(timer.value), 64, False), less))
            dirty.append(load)
        for i, read in self._mine("reads"):
            word = self.p.word(read.mem, value(read.addr))
            give("reads", i, b.select(value(read.enable), word, self.p.old(self.head, "reads", i)))
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

    # --- clock crossing ---

    def _sample(self, index: int, dirty: list[Value]) -> Value:
        """What a crossing register takes: see ``_sampled`` of the reference engine."""
        b, reg = self.b, self.net.regs[index]
        source = self.net.nodes[reg.next]
        width = reg.type.width
        if source.op == "reg":
            new, count = self.p.old(self.head, "regs", source.attr), words(width)
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

    def _append(self, mine: list[tuple[int, str, Signal]], wide: list[Value], changed: list[Value]) -> Value:
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
