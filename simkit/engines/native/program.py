"""The run function as LLVM IR.

Theory of operation::

    entry   nothing is known yet: go to `again`
    again   load what the loop keeps in SSA values from the state buffer
    head    now = time of the next edge; if now >= special, go to `cold`, else
    test_c, eval_c, join_c    for each clock c with an edge at `now`: its expressions, recording, next values (.tick)
    commit  memory writes, tracking of crossing sources; everything takes its next value; back to `head`
    cold    store all that is in SSA values; ends, events, skipping (.quiet); then `again` or return

All evaluation reads the values of `head`, so edges that coincide see the old state.  ``special`` is the earliest
time at which something other than a plain tick may have to happen; a plain tick costs one comparison for it.

A small design keeps its state in SSA values, which LLVM keeps in machine registers.  A large one keeps it in the
buffer: it would be spilled anyway, and LLVM's register allocation of hundreds of loop variables takes too long.
"""

from __future__ import annotations

import re

from ...netlist import Netlist, Node
from .calm import CalmLoop
from .expr import weight
from .irtext import I1, I64, Builder, Int, Value, integer, long_division, phi_text
from .layout import BLOCK, Layout, words
from .quiet import ColdPath
from .ssa import FALSE, Ports, Ssa
from .tick import ClockTick
from .timebase import Beat, beats

RESIDENT_WEIGHT = 600
"""A design of more instructions than this is cut into chunks (:mod:`.chunks`), and so keeps its state in the buffer."""


class Program:
    """Writes the run function of one netlist, recording the given signals.

    A design with at most ``resident_words`` words of state keeps it in SSA values; one of more has its expressions cut
    into functions of about ``chunk`` instructions.  ``restless`` registers are let run alone (:mod:`.calm`).
    """

    def __init__(
        self,
        layout: Layout,
        recorded: tuple[str, ...],
        resident_words: int = 40,
        chunk: int = 300,
        restless: frozenset[int] = frozenset(),
    ) -> None:
        self.layout = layout
        self.net: Netlist = layout.netlist
        self.b = Builder()
        self.beats: list[Beat] = beats(self.net)
        self.ahead = layout.following - layout.first_state
        self.chunk = chunk
        self.resident = layout.state_words <= resident_words and sum(map(weight, self.net.nodes)) <= RESIDENT_WEIGHT
        self.functions: list[str] = []
        signals = self.net.signals()
        self.recorded = [(i, name, signals[name]) for i, name in enumerate(recorded)]
        self.calm = CalmLoop(self, restless) if restless else None
        self.stride = 2 + max((words(s.type.width) for _, _, s in self.recorded), default=1)

    def text(self) -> str:
        """The whole module."""
        b = self.b
        b.lines += ["define i64 @run(ptr noalias nocapture %s) {", "entry:", "br label %again", "again:"]
        special, dirty = Value(I64, b.name()), Value(I1, b.name())
        slot = len(b.lines)
        again = self._load_state(special, dirty)
        b.branch("head")
        b.label("head")
        head_slot = len(b.lines)
        head = again.renamed(b.name)
        now = head.edge[0]
        for edge in head.edge[1:]:
            now = b.select(b.icmp_unsigned("<", edge, now), edge, now)
        b.branch_if(b.icmp_unsigned(">=", now, head.special), "cold", "test0", likely=False)
        cold = ColdPath(self, head, now).emit()
        after = self._tick(head, now)
        arms = zip(head.flat(), again.flat(), after.flat(), strict=True)
        phis = [f"{h.ref} = {phi_text(h.type, ((g, 'again'), (a, 'advance')))}" for h, g, a in arms]
        b.lines[head_slot:head_slot] = phis
        b.lines[slot:slot] = [
            f"{special.ref} = {phi_text(I64, ((I64(0), 'entry'), *cold))}",
            f"{dirty.ref} = {phi_text(I1, ((I1(1), 'entry'), *((head.dirty, label) for _, label in cold)))}",
        ]
        divisions = (long_division(kind) for kind in sorted(b.long_divisions))
        if self.calm is not None:
            self.functions.append(self.calm.text())
        text = "\n".join((*b.lines, "}", *self.functions, *divisions, ""))
        return text + _declarations(text) + _METADATA

    # --- state in and out ---

    def load(self, offset: int, width: int) -> Value:
        """A value of ``width`` bits at a word offset."""
        return self.b.resize(self.b.load(integer(64 * words(width)), self.b.address(8 * offset)), width, False)

    def store(self, offset: int, value: Value) -> None:
        self.b.store(self.b.resize(value, 64 * words(value.type.width), False), self.b.address(8 * offset))

    def header(self, name: str) -> Value:
        """Address of a header word."""
        return self.b.address(8 * self.layout.header[name])

    def _cells(self) -> dict[str, list[tuple[int, int]]]:
        """(word offset, width) of everything that the loop keeps in SSA values."""
        net, lay = self.net, self.layout
        cells = {part: [(o, 64) for o in getattr(lay, part)] for part in ("done", "edge", "fraction")}
        cells["regs"] = [(o, r.type.width) for o, r in zip(lay.regs, net.regs, strict=True)]
        cells["timers"] = [(o, 64) for o in lay.timers]
        cells["reads"] = [(o, net.mems[r.mem].type.width) for o, r in zip(lay.reads, net.reads, strict=True)]
        return cells if self.resident else cells | {"regs": [], "timers": [], "reads": []}

    def _load_state(self, special: Value, dirty: Value) -> Ssa:
        return Ssa(
            special, dirty, **{part: [self.load(*cell) for cell in cells] for part, cells in self._cells().items()}
        )

    def spill(self, head: Ssa) -> None:
        """Store all that is kept in SSA values."""
        for part, cells in self._cells().items():
            for (offset, _), value in zip(cells, getattr(head, part), strict=True):
                self.store(offset, value)

    def old(self, head: Ssa, part: str, index: int) -> Value:
        """A register's, timer's or read port's value before the edge."""
        if self.resident:
            return getattr(head, part)[index]
        offset = getattr(self.layout, part)[index]
        if part == "timers":
            return self.load(offset, 64)
        item = self.net.regs[index] if part == "regs" else self.net.mems[self.net.reads[index].mem]
        return self.load(offset, item.type.width)

    # --- one edge ---

    def _tick(self, head: Ssa, now: Value) -> Ssa:
        after, ports = head.copied(special=head.special, dirty=FALSE), Ports()
        for clock in range(len(self.net.clocks)):
            ClockTick(self, clock, head, now).emit(after, ports)
        b = self.b
        b.label("commit")
        for index in sorted(ports.enable):
            self._write(index, ports)
        if self.resident:
            for index, offset in self.layout.shadow.items():
                self._track(offset, head.regs[index], after.regs[index], now)
        else:
            for clock in range(len(self.net.clocks)):
                self._commit_buffer(clock, head, now)
        b.branch("advance")
        b.label("advance")
        b.branch("head")
        return after

    def _commit_buffer(self, clock: int, head: Ssa, now: Value) -> None:
        """Where state stays in the buffer: copy the next values of a clock that has its edge."""
        b, lay = self.b, self.layout
        b.branch_if(b.icmp_unsigned("==", head.edge[clock], now), f"commit{clock}", f"committed{clock}")
        b.label(f"commit{clock}")
        for index, offset in lay.shadow.items():
            reg = self.net.regs[index]
            if reg.clock == clock:
                old, new = (self.load(lay.regs[index] + shift, reg.type.width) for shift in (0, self.ahead))
                self._track(offset, old, new, now)
        for (_, owner), (start, count) in lay.groups.items():
            if owner == clock:
                self._copy_blocks(start + self.ahead, start, count, f"copy{len(b.lines)}")
        b.branch(f"committed{clock}")
        b.label(f"committed{clock}")

    def _copy_blocks(self, source: int, target: int, count: int, label: str) -> None:
        b, size = self.b, 8 * BLOCK
        before = f"{label}_start"
        b.branch(before)
        b.label(before)
        b.branch(label)
        b.label(label)
        byte, following = b.name(), b.name()
        b.line(f"{byte} = phi i64 [ 0, %{before} ], [ {following}, %{label} ]")
        place = Value(I64, byte)
        block = b.put(I64, f"load <{BLOCK} x i64>, ptr {b.address(b.add(place, I64(8 * source))).ref}, align 8").ref
        b.line(f"store <{BLOCK} x i64> {block}, ptr {b.address(b.add(place, I64(8 * target))).ref}, align 8")
        b.line(f"{following} = add i64 {byte}, {size}")
        b.branch_if(b.icmp_unsigned("<", Value(I64, following), I64(8 * count)), label, f"{label}_end")
        b.label(f"{label}_end")

    def element(self, mem: int, index: Value) -> tuple[Value, Int]:
        """Address and stored type of a memory word; the caller has checked the index."""
        bits = self.layout.mem_bits[mem]
        byte = self.b.add(self.b.mul(index, I64(bits // 8)), I64(8 * self.layout.mems[mem]))
        return self.b.address(byte), integer(bits)

    def inside(self, mem: int, addr: Value) -> Value | None:
        """The check that an address lies in the memory; None if it cannot lie outside."""
        depth, width = self.net.mems[mem].depth, addr.type.width
        return None if depth >= 1 << width else self.b.icmp_unsigned("<", addr, addr.type(depth))

    def word(self, mem: int, addr: Value) -> Value:
        """The memory's word; 0 beyond the depth."""
        b, inside = self.b, self.inside(mem, addr)
        safe = addr if inside is None else b.select(inside, addr, addr.type(0))
        address, kind = self.element(mem, b.resize(safe, 64, False))
        word = b.resize(b.load(kind, address), self.net.mems[mem].type.width, False)
        return word if inside is None else b.select(inside, word, word.type(0))

    def buffer_leaf(self, node: Node) -> Value:
        """A leaf's value out of the buffer."""
        lay = self.layout
        if node.op == "expired":
            return self.b.icmp_unsigned("==", self.load(lay.timers[node.attr], 64), I64(0))
        return self.load(
            {"reg": lay.regs, "rdata": lay.reads, "input": lay.inputs}[node.op][node.attr], node.type.width
        )

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


def _declarations(text: str) -> str:
    """Declarations of the intrinsics that occur."""
    kinds = sorted(set(re.findall(r"@llvm\.ctpop\.(i\d+)", text)))
    return (
        "".join(f"declare {kind} @llvm.ctpop.{kind}({kind})\n" for kind in kinds)
        + "declare i64 @llvm.usub.sat.i64(i64, i64)\n"
    )


_METADATA = '!0 = !{!"branch_weights", i32 1000, i32 1}\n!1 = !{!"branch_weights", i32 1, i32 1000}\n'
