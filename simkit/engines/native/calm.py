"""The calm loop: ticks in which only a few restless registers change (a free-running counter, a noise source).

Such a register keeps a design from ever being idle.  So while nothing else changes, a function of its own goes on from
tick to tick: it computes only what depends on the restless registers, and stops *before* the first tick in which anything
else would change (another register, a read port, a write, a timer's load, a recorded signal).  That tick is then done
in full.  What does not depend on them has the value it had in the tick before, by the same reasoning as in :mod:`.quiet`.

Which registers are restless is found by watching a design run (see :class:`.engine.NativeEngine`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .expr import Expressions, needed, weight
from .irtext import I1, I64, Builder, Value, integer, phi_text
from .layout import last_words

if TYPE_CHECKING:
    from .program import Program

LARGEST = 600
"""A calm loop of more instructions would gain little and compile slowly."""


class CalmLoop:
    """Writes the function ``calm(state, most ticks) -> ticks done`` for the given restless registers (of the only clock)."""

    def __init__(self, program: Program, restless: frozenset[int]) -> None:
        self.p, self.net, self.restless = program, program.net, sorted(restless)
        moves = self.moves = bytearray(len(self.net.nodes))
        for index, node in enumerate(self.net.nodes):
            moves[index] = any(moves[a] for a in node.args) or (node.op == "reg" and node.attr in restless)
        self.recorded = [row for row in program.recorded if moves[row[2].node]]
        self.order = needed(self.net, [r.node for _, _, r in self.recorded] + self._roots())

    def worthwhile(self) -> bool:
        """True if a calm tick is much cheaper than a full one."""
        if not self.restless or any(not self.net.nodes[s.node].args for _, _, s in self.recorded):
            return False
        mine = sum(weight(self.net.nodes[i]) for i in self.order if self.moves[i])
        return mine <= LARGEST and 2 * mine < sum(weight(n) for n in self.net.nodes if n.args)

    def _roots(self) -> list[int]:
        net, moves = self.net, self.moves
        roots = [reg.next for i, reg in enumerate(net.regs) if i in self.restless or moves[reg.next]]
        for read in net.reads:
            if moves[read.addr] or moves[read.enable]:
                roots += (read.addr, read.enable)
        roots += [w.enable for w in net.writes if moves[w.enable]]
        return roots + [t.load for t in net.timers if moves[t.load]]

    def text(self) -> str:
        b, outer = Builder(), self.p.b
        self.p.b = self.b = b
        try:
            self._write()
        finally:
            self.p.b = outer
        outer.long_divisions |= b.long_divisions
        return "\n".join(("define internal i64 @calm(ptr noalias nocapture %s, i64 %most) noinline {", *b.lines, "}"))

    def _write(self) -> None:
        b, net, lay = self.b, self.net, self.p.layout
        b.label("entry")
        self.exprs = Expressions(net, b, self.p.buffer_leaf)
        self._fixed()
        start = {i: self.p.load(lay.regs[i], net.regs[i].type.width) for i in self.restless}
        held = self._held()
        b.branch("loop")
        b.label("loop")
        slot, ticks = len(b.lines), Value(I64, b.name())
        now = {i: Value(value.type, b.name()) for i, value in start.items()}
        for index, node in enumerate(net.nodes):
            if node.op == "reg" and node.attr in now:
                self.exprs.known[index] = now[node.attr]
        self.exprs.emit([i for i in self.order if self.moves[i]])
        new = {i: self.exprs.value(net.regs[i].next) for i in self.restless}
        b.branch_if(b.or_(self._disturbed(held), b.not_(self._any_differs(new, now))), "out", "go", likely=False)
        b.label("go")
        more = b.add(ticks, I64(1))
        b.branch_if(b.icmp_unsigned("<", more, Value(I64, "%most")), "loop", "full")
        b.lines[slot:slot] = [
            f"{ticks.ref} = {phi_text(I64, ((I64(0), 'entry'), (more, 'go')))}",
            *(f"{v.ref} = {phi_text(v.type, ((start[i], 'entry'), (new[i], 'go')))}" for i, v in now.items()),
        ]
        for label, values, count in (("full", new, more), ("out", now, ticks)):
            b.label(label)
            for i, value in values.items():
                self.p.store(lay.regs[i], value)
            b.line(f"ret i64 {count.ref}")

    def _fixed(self) -> None:
        """What does not move is computed, or loaded, before the loop."""
        self.exprs.emit([i for i in self.order if not self.moves[i]])
        for index in {a for i in self.order for a in self.net.nodes[i].args} | set(self._roots()):
            if not self.moves[index]:
                self.exprs.value(index)

    def _held(self) -> dict[tuple[str, Any], Value]:
        """What must not change, loaded before the loop."""
        net, lay, load = self.net, self.p.layout, self.p.load
        held: dict[tuple[str, Any], Value] = {}
        for i, reg in enumerate(net.regs):
            if i not in self.restless and self.moves[reg.next]:
                held["reg", i] = load(lay.regs[i], reg.type.width)
        for i, read in enumerate(net.reads):
            if self.moves[read.addr] or self.moves[read.enable]:
                held["read", i] = load(lay.reads[i], net.mems[read.mem].type.width)
        for _, name, signal in self.recorded:
            held["last", name] = self.b.load(
                integer(64 * last_words(signal.type.width)), self.b.address(8 * lay.last[name])
            )
        return held

    def _disturbed(self, held: dict[tuple[str, Any], Value]) -> Value:
        """Would anything but the restless registers change in this tick?"""
        b, net, value = self.b, self.net, self.exprs.value
        bad = I1(0)
        for (part, key), old in held.items():
            if part == "reg":
                bad = b.or_(bad, b.icmp_unsigned("!=", value(net.regs[key].next), old))
            elif part == "read":
                read = net.reads[key]
                other = b.icmp_unsigned("!=", self.p.word(read.mem, value(read.addr)), old)
                bad = b.or_(bad, b.and_(value(read.enable), other))
        for _, name, signal in self.recorded:
            old = held["last", name]
            bad = b.or_(
                bad, b.icmp_unsigned("!=", b.resize(value(signal.node), old.type.width, signal.type.signed), old)
            )
        for node in [w.enable for w in net.writes] + [t.load for t in net.timers]:
            if self.moves[node]:
                bad = b.or_(bad, value(node))
        return bad

    def _any_differs(self, new: dict[int, Value], now: dict[int, Value]) -> Value:
        some = I1(0)
        for i in new:
            some = self.b.or_(some, self.b.icmp_unsigned("!=", new[i], now[i]))
        return some
