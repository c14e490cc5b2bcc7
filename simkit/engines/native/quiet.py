"""The cold path of the run function: ends, events, and the exact skipping of ticks in which nothing can change.

**When ticks may be skipped.**  In phase 0 the state is copied aside.  In phase 1, after every edge, it is compared with
the copy.  If since the copy nothing has changed (registers, read ports, which timers are at zero, no memory write,
no timer load, no unsettled crossing, no event), then each clock that had an edge since will at its next edges compute
the same again, until a timer reaches zero, an event is due, or the run ends; a clock that had no edge since is not
skipped.  So the jump only lowers the counting timers and moves the clocks on.  After a change the state is copied at once and
compared again in the next tick, :data:`EAGER` times, because what an event sets going is mostly over in a few ticks; then the next try
comes later (1, 2, 4 … :data:`MAX_INTERVAL` ticks), so that a busy design hardly pays for trying.

An input that is a strobe is 1 for one tick.  With one clock the machine code ends it: applying it sets ``pending``, and the cold
path, which comes back in the next tick anyway, sets all strobes to 0.  With several clocks the end is an event of its own.

A jump of the only clock leaves in ``rests`` the time up to which it could have gone without end and events; an event sets it to 0.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from .irtext import I1, I64, Value, integer, phi_text
from .layout import NEVER, STROBE
from .timebase import counts_ticks

if TYPE_CHECKING:
    from .program import Program, Ssa

MAX_INTERVAL = 32
EAGER = 2
"""Tries in ticks on end before they come later."""
STROBE_BIT = STROBE.bit_length() - 1
WIDE = integer(136)
"""Holds a number of ticks (62 bits) times a clock's rate (70 bits)."""


class ColdPath:
    """Blocks from ``cold`` to ``again``; leaves through ``exit`` or back to ``head``."""

    def __init__(self, program: Program, head: Ssa, now: Value) -> None:
        self.p, self.b, self.head, self.now = program, program.b, head, now
        self.lay, self.net, self.beats = program.layout, program.net, program.beats
        self.shift = self.lay.snapshot - self.lay.first_state
        strobes = [offset for port, offset in zip(self.net.inputs, self.lay.inputs, strict=True) if port.strobe]
        self.strobes = strobes if counts_ticks(self.net) else []

    def emit(self) -> list[tuple[Value, str]]:
        """Write the blocks; returns (``special``, block) for each way to ``again``."""
        self.b.label("cold")
        self.p.spill(self.head)
        self._checks()
        fed = self._events()
        limit = self._choose_phase()
        snap = self._snapshot()
        self._compare()
        busy = self._back_off(limit)
        jumped = self._jump(limit)
        ways = [(fed, "fed"), (snap, "copied"), (busy, "later"), (jumped, "jump")]
        return ways if self.p.calm is None else [*ways, (self._stroll(limit), "strolled")]

    # --- ends ---

    def _checks(self) -> None:
        b, p = self.b, self.p
        self.end = b.load(I64, p.header("end"))
        b.branch_if(b.icmp_unsigned(">=", self.now, self.end), "exit", "alive")
        b.label("alive")
        budget = b.sub(b.load(I64, p.header("budget")), I64(1))
        b.store(budget, p.header("budget"))
        stop = b.load(I64, p.header("stop"), volatile=True)
        over = b.or_(b.icmp_unsigned("!=", stop, I64(0)), b.icmp_signed("<=", budget, I64(0)))
        b.branch_if(over, "exit", "running")
        b.label("running")
        used, top = b.load(I64, p.header("record_used")), b.load(I64, p.header("record_limit"))
        b.branch_if(b.icmp_unsigned(">", b.add(used, I64(len(p.recorded))), top), "exit", "room")
        b.label("exit")
        status = b.phi(I64, (I64(0), "cold"), (I64(1), "alive"), (I64(2), "running"), (I64(3), "busy"))
        b.line(f"ret i64 {status.ref}")

    # --- events ---

    def _key(self, index: Value, count: Value, table: str) -> Value:
        """Time of an event; NEVER past the last one (the table has a row to spare, so reading is safe)."""
        b = self.b
        key = b.load(I64, b.address(b.mul(index, I64(8 * self.row_words)), table))
        return b.select(b.icmp_unsigned("<", index, count), key, I64(NEVER))

    def _events(self) -> Value:
        """Apply what is due.  Each row: time, word offset of the input, value."""
        b, p = self.b, self.p
        self.row_words = 2 + self.lay.input_words
        b.label("room")
        table = b.put(I64, f"inttoptr i64 {b.load(I64, p.header('events')).ref} to ptr").ref
        first, count = b.load(I64, p.header("event_index")), b.load(I64, p.header("event_count"))
        key0 = self._key(first, count, table)
        due = b.icmp_unsigned("<=", key0, self.now)
        came = ["room"]
        if self.strobes:
            b.branch_if(b.icmp_unsigned("!=", b.load(I64, p.header("pending")), I64(0)), "ended", "going")
            self._end_strobes()
            b.branch_if(due, "feed", "quiet")
            b.label("going")
            came = ["ended", "going"]
        b.branch_if(due, "feed", "quiet")
        b.label("feed")
        index, key = Value(I64, b.name()), Value(I64, b.name())
        slot = len(b.lines)
        self._apply(index, key, table)
        following = b.add(index, I64(1))
        next_key = self._key(following, count, table)
        b.lines[slot:slot] = [
            f"{index.ref} = {phi_text(I64, (*((first, label) for label in came), (following, 'feed')))}",
            f"{key.ref} = {phi_text(I64, (*((key0, label) for label in came), (next_key, 'feed')))}",
        ]
        b.branch_if(b.icmp_unsigned("<=", next_key, self.now), "feed", "fed")
        b.label("fed")
        b.store(following, p.header("event_index"))
        b.store(I64(0), p.header("rests"))
        self._set_phase(0, I64(1))
        special = b.add(self.now, I64(1))
        b.branch("again")
        self.next_key = key0
        return special

    def _end_strobes(self) -> None:
        """The tick of a strobe is over: its input is 0 again.  The inputs are as this tick has them, so a copy may be taken now."""
        b, p, kind = self.b, self.p, integer(64 * self.lay.input_words)
        b.label("ended")
        for offset in self.strobes:
            b.store(kind(0), b.address(8 * offset))
        b.store(I64(0), p.header("pending"))
        b.store(I64(0), p.header("rests"))
        self._set_phase(0, I64(1))

    def _apply(self, index: Value, key: Value, table: str) -> None:
        """Set an input, and remember its old value and the start of the tick for registers that sample across clocks."""
        b, count = self.b, self.lay.input_words
        kind = integer(64 * count)
        row = b.mul(index, I64(8 * self.row_words))
        offset = b.load(I64, b.address(b.add(row, I64(8)), table))
        if self.strobes:  # the highest bit says that it is one
            pending = self.p.header("pending")
            b.store(b.or_(b.load(I64, pending), b.lshr(offset, I64(STROBE_BIT))), pending)
        where = b.shl(offset, I64(3))  # that bit falls out here
        new = b.load(kind, b.address(b.add(row, I64(16)), table))
        value, before = b.address(where), b.address(b.add(where, I64(8 * count)))
        since = b.address(b.add(where, I64(16 * count)))
        old, past = b.load(kind, value), b.load(I64, since)
        time = b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {key.ref}, i64 1)")
        fresh = b.and_(b.icmp_unsigned("!=", old, new), b.icmp_unsigned("!=", past, time))
        b.store(b.select(fresh, old, b.load(kind, before)), before)
        b.store(b.select(fresh, time, past), since)
        b.store(new, value)

    # --- skipping ---

    def _set_phase(self, phase: int, interval: Value) -> None:
        self.b.store(I64(phase), self.p.header("phase"))
        self.b.store(interval, self.p.header("interval"))

    def _min(self, a: Value, other: Value) -> Value:
        return self.b.select(self.b.icmp_unsigned("<", a, other), a, other)

    def _choose_phase(self) -> Value:
        b = self.b
        b.label("quiet")
        limit = self._min(self.end, self.next_key)
        phase = b.load(I64, self.p.header("phase"))
        b.branch_if(b.icmp_unsigned("==", phase, I64(0)), "snap", "compare")
        return limit

    def _snapshot(self) -> Value:
        """Copy the state aside."""
        b, lay = self.b, self.lay
        b.label("snap")
        b.branch("copy")  # a block with one way to it
        b.label("copy")
        self._each_word("copying", "copy", lay.first_state, lay.snapshot - lay.first_state, self._copy, "copied")
        b.label("copied")
        for offset, done in zip(lay.seen_done, self.head.done, strict=True):
            self.p.store(offset, done)
        b.store(I64(1), self.p.header("phase"))
        special = b.add(self.now, I64(1))
        b.branch("again")
        return special

    def _compare(self) -> None:
        """Go to ``jump`` if nothing has changed since the copy, else to ``busy``."""
        b = self.b
        groups = [
            (*place, self._differ if part == "values" else self._zero_differs)
            for (part, _), place in self.lay.groups.items()
        ]
        b.label("compare")
        moving = self._restless_differ()
        b.branch_if(self.head.dirty, "busy", "enter0" if groups else "equal")
        for number, (start, count, test) in enumerate(groups):
            b.label(f"enter{number}")
            leave = f"enter{number + 1}" if number + 1 < len(groups) else "equal"
            self._each_word(f"compare{number}", f"enter{number}", start, count, test, leave)
        b.label("equal")
        b.branch("jump") if moving is None else b.branch_if(moving, "stroll", "jump")

    def _restless_differ(self) -> Value | None:
        """Whether a restless register has changed; its copy is made equal, so that only the others count from here on."""
        if self.p.calm is None:
            return None
        b, differ = self.b, I1(0)
        for index in self.p.calm.restless:
            offset, width = self.lay.regs[index], self.net.regs[index].type.width
            now = self.p.load(offset, width)
            differ = b.or_(differ, b.icmp_unsigned("!=", now, self.p.load(offset + self.shift, width)))
            self.p.store(offset + self.shift, now)
        return differ

    def _each_word(
        self, label: str, came: str, first: int, count: int, body: Callable[[Value, Value], Value | None], leave: str
    ) -> None:
        """A loop over state words; ``body`` gets the addresses of a word and its copy, and may say when to go to ``busy``."""
        b = self.b
        if not count:
            b.branch(leave)
            return
        b.branch(label)
        b.label(label)
        index, slot = Value(I64, b.name()), len(b.lines)
        byte = b.add(b.shl(index, I64(3)), I64(8 * first))
        differs = body(b.address(byte), b.address(b.add(byte, I64(8 * self.shift))))
        following = b.add(index, I64(1))
        more = b.icmp_unsigned("<", following, I64(count))
        latch = label
        if differs is not None:
            latch = f"{label}_same"
            b.branch_if(differs, "busy", latch)
            b.label(latch)
        b.branch_if(more, label, leave)
        b.lines.insert(slot, f"{index.ref} = phi i64 [ 0, %{came} ], [ {following.ref}, %{latch} ]")

    def _copy(self, word: Value, copy: Value) -> None:
        self.b.store(self.b.load(I64, word), copy)

    def _differ(self, word: Value, copy: Value) -> Value:
        return self.b.icmp_unsigned("!=", self.b.load(I64, word), self.b.load(I64, copy))

    def _zero_differs(self, word: Value, copy: Value) -> Value:
        b = self.b
        was, now = (b.icmp_unsigned("==", b.load(I64, place), I64(0)) for place in (copy, word))
        return b.xor(was, now)

    def _back_off(self, limit: Value) -> Value:
        """Something changed: try again later."""
        b = self.b
        b.label("busy")
        interval = self._min(b.shl(b.load(I64, self.p.header("interval")), I64(1)), I64(MAX_INTERVAL << EAGER))
        self._set_phase(0, interval)
        patience = b.sub(b.load(I64, self.p.header("patience")), I64(1))
        b.store(patience, self.p.header("patience"))
        b.branch_if(b.icmp_unsigned("==", patience, I64(0)), "exit", "patient")
        b.label("patient")
        b.branch_if(b.icmp_unsigned("<=", interval, I64(1 << EAGER)), "snap", "later")
        b.label("later")
        fastest = min(beat.step for beat in self.beats)
        wait = b.mul(b.lshr(interval, I64(EAGER)), I64(max(fastest, 1)))
        special = self._min(b.add(self.now, wait), limit)
        b.branch("again")
        return special

    def _jump(self, limit: Value) -> Value:
        """Move every clock that may be skipped to its last edge before the first moment at which something can change."""
        b, head, lay = self.b, self.head, self.lay
        b.label("jump")
        alone = len(self.beats) == 1
        ticked = [
            I1(1) if alone else b.icmp_unsigned("!=", done, self.p.load(offset, 64))
            for done, offset in zip(head.done, lay.seen_done, strict=True)
        ]
        counts = [self.p.load(offset, 64) for offset in lay.timers]
        until = limit
        for c, bit in enumerate(ticked):
            until = self._min(until, b.select(bit, self._first_expiry(c, counts), head.edge[c]))
        if alone:
            b.store(self._first_expiry(0, counts), self.p.header("rests"))
        skips = [b.select(bit, self._edges_before(c, until), I64(0)) for c, bit in enumerate(ticked)]
        for offset, count, timer in zip(lay.timers, counts, self.net.timers, strict=True):
            self.p.store(
                offset, b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {count.ref}, i64 {skips[timer.clock].ref})")
            )
        now = I64(NEVER)
        everyone = I1(1)
        for c, (skip, bit) in enumerate(zip(skips, ticked, strict=True)):
            done = b.add(head.done[c], skip)
            edge, fraction = self._edge_at(c, done, skip)
            for offset, value in ((lay.done[c], done), (lay.edge[c], edge), (lay.fraction[c], fraction)):
                self.p.store(offset, value)
            now, everyone = self._min(now, edge), b.and_(everyone, bit)
        b.store(b.load(I64, self.p.header("full_patience")), self.p.header("patience"))
        b.store(b.zext(b.not_(everyone), I64), self.p.header("phase"))
        b.store(I64(1), self.p.header("interval"))
        special = self._min(limit, b.add(now, I64(1)))
        b.branch("again")
        return special

    def _stroll(self, limit: Value) -> Value:
        """Let the restless registers run while nothing else happens; there is one clock, and time counts its ticks."""
        b, head, lay, header = self.b, self.head, self.lay, self.p.header
        b.label("stroll")
        counts = [self.p.load(offset, 64) for offset in lay.timers]
        until = self._min(limit, self._first_expiry(0, counts))
        budget = b.load(I64, header("budget"))
        most = self._min(b.sub(until, head.edge[0]), b.mul(budget, I64(MAX_INTERVAL)))
        ticks = b.put(I64, f"call i64 @calm(ptr %s, i64 {most.ref})")
        b.branch_if(b.icmp_unsigned("==", ticks, I64(0)), "busy", "strolled")
        b.label("strolled")
        b.store(b.sub(budget, b.lshr(ticks, I64(MAX_INTERVAL.bit_length() - 1))), header("budget"))
        for offset, count in zip(lay.timers, counts, strict=True):
            self.p.store(offset, b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {count.ref}, i64 {ticks.ref})"))
        edge = b.add(head.edge[0], ticks)
        self.p.store(lay.done[0], b.add(head.done[0], ticks))
        self.p.store(lay.edge[0], edge)
        self._set_phase(0, I64(1))
        special = self._min(limit, b.add(edge, I64(1)))
        b.branch("again")
        return special

    def _first_expiry(self, clock: int, counts: list[Value]) -> Value:
        """Time of the first edge that sees one more timer of this clock at zero; NEVER if none is counting."""
        b, beat = self.b, self.beats[clock]
        count = I64(NEVER)
        for left, timer in zip(counts, self.net.timers, strict=True):
            if timer.clock == clock:
                count = self._min(count, b.select(b.icmp_unsigned("==", left, I64(0)), I64(NEVER), left))
        if count.ref == str(NEVER):
            return count
        if beat.remainder == 0:
            far = b.icmp_unsigned(">", count, I64(NEVER // beat.step))
            return b.select(far, I64(NEVER), b.add(self.head.edge[clock], b.mul(count, I64(beat.step))))
        edges = b.zext(b.add(b.add(self.head.done[clock], count), I64(1)), WIDE)
        time = b.udiv(b.mul(edges, WIDE(beat.num)), WIDE(beat.den))
        return b.trunc(self._min(time, WIDE(NEVER)), I64)

    def _edges_before(self, clock: int, until: Value) -> Value:
        """How many edges from the next one on lie before ``until``."""
        b, beat = self.b, self.beats[clock]
        edge = self.head.edge[clock]
        if beat.remainder == 0:
            gap = b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {until.ref}, i64 {edge.ref})")
            return b.udiv(b.add(gap, I64(beat.step - 1)), I64(beat.step))
        scaled = b.sub(b.mul(b.zext(until, WIDE), WIDE(beat.den)), WIDE(1))
        total = b.trunc(b.udiv(scaled, WIDE(beat.num)), I64)
        return b.put(I64, f"call i64 @llvm.usub.sat.i64(i64 {total.ref}, i64 {self.head.done[clock].ref})")

    def _edge_at(self, clock: int, done: Value, skip: Value) -> tuple[Value, Value]:
        """Time and fraction of the next edge once ``done`` edges are behind."""
        b, beat = self.b, self.beats[clock]
        if beat.remainder == 0:
            return b.add(self.head.edge[clock], b.mul(skip, I64(beat.step))), self.head.fraction[clock]
        none = b.icmp_unsigned("==", skip, I64(0))
        product = b.mul(b.add(b.zext(done, WIDE), WIDE(1)), WIDE(beat.num))
        time = b.udiv(product, WIDE(beat.den))
        rest = b.trunc(b.sub(product, b.mul(time, WIDE(beat.den))), I64)
        return (
            b.select(none, self.head.edge[clock], b.trunc(time, I64)),
            b.select(none, self.head.fraction[clock], rest),
        )
