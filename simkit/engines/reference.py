"""The reference engine: plain Python that defines what a netlist means.

It is written to be read, not to be fast.  Where another engine differs, the other engine is wrong.
Each tick: take the inputs that are due, compute every node in order, note the recorded values, then let
all state of the clocks that have an edge change at once.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from ..netlist import OPS, Netlist
from ..netlist.ops import settle
from .api import NO_EVENTS, EngineFault, Events, Recording
from .inputs import InputTable


class ReferenceEngine:
    """Runs a checked netlist tick by tick.

    Parameters
    ----------
    netlist : Netlist
        Must have passed :func:`simkit.netlist.check`.
    seed : int
        Decides how metastable bits settle.
    """

    def __init__(self, netlist: Netlist, seed: int = 0) -> None:
        self.netlist = netlist
        self.seed = seed
        self._steps = [(node, OPS.get(node.op), [netlist.nodes[a].type for a in node.args]) for node in netlist.nodes]
        self._signals = netlist.signals()
        self._table = InputTable(netlist)
        self.reset()

    def reset(self) -> None:
        net = self.netlist
        self._done = [0] * len(net.clocks)
        self._inputs = [0] * len(net.inputs)
        self._regs = [reg.reset for reg in net.regs]
        self._timers = [timer.reset for timer in net.timers]
        self._mems = [list(mem.init) + [0] * (mem.depth - len(mem.init)) for mem in net.mems]
        self._reads = [0] * len(net.reads)
        # For each crossing register: the source's value before its last change, and when it changed.
        self._before = [(0, -(10**18))] * len(net.regs)
        self._pending: list[deque[tuple[int, int, int]]] = [deque() for _ in net.clocks]
        self._latest = [0] * len(net.clocks)
        self._recording: Recording | None = None

    def ticks(self, clock: int = 0) -> int:
        return self._done[clock]

    def rests_until(self) -> int:
        """The present tick: this engine looks at every one."""
        return self._done[0]

    def run(self, ticks: int, events: Events = NO_EVENTS) -> None:
        self._accept(events)
        clocks = self.netlist.clocks
        end = clocks[0].edge_ps(self._done[0] + ticks - 1) if ticks > 0 else -1
        self._blocks: dict[str, tuple[list[int], list[int]]] = {}
        while True:
            now = min(clock.edge_ps(done) for clock, done in zip(clocks, self._done, strict=True))
            if now > end:
                break
            self._edge(now, [i for i, clock in enumerate(clocks) if clock.edge_ps(self._done[i]) == now])
        if self._recording is not None:
            for name, (at, values) in self._blocks.items():
                wide = self._signals[name].type.width > 63
                self._recording.add(name, np.array(at, np.int64), np.array(values, object if wide else np.int64))

    def record(self, recording: Recording | None) -> None:
        for name in recording.names if recording else ():
            if name not in self._signals:
                raise EngineFault(f"there is no signal {name!r}; signals: {', '.join(self._signals)}")
        self._recording = recording
        self._last: dict[str, int] = {}

    def peek(self, name: str) -> int:
        if name not in self._signals:
            raise EngineFault(f"there is no signal {name!r}; signals: {', '.join(self._signals)}")
        return self._evaluate()[self._signals[name].node]

    # --- one edge ---

    def _edge(self, now: int, clocks: list[int]) -> None:
        self._take_inputs()
        value = self._evaluate()
        self._note(value, clocks)
        self._commit(value, now, clocks)
        for index, port in enumerate(self.netlist.inputs):
            if port.strobe and port.clock in clocks:
                self._source_changed("input", index, self._inputs[index], 0, now)
                self._inputs[index] = 0
        for clock in clocks:
            self._done[clock] += 1

    def _take_inputs(self) -> None:
        """Set the inputs that are due in the tick which each clock is in; they changed when that tick began."""
        for clock, queue in enumerate(self._pending):
            while queue and queue[0][0] <= self._done[clock]:
                _, port, new = queue.popleft()
                start = self.netlist.clocks[clock].edge_ps(self._done[clock] - 1) if self._done[clock] else 0
                self._source_changed("input", port, self._inputs[port], new, start)
                self._inputs[port] = new

    def _evaluate(self) -> list[int]:
        """Value of every node, from the present state and inputs."""
        value: list[int] = []
        for node, row, types in self._steps:
            if row is not None:
                value.append(node.type.wrap(int(row.python([value[a] for a in node.args], node, types))))
            elif node.op == "const":
                value.append(node.attr)
            elif node.op == "reg":
                value.append(self._regs[node.attr])
            elif node.op == "input":
                value.append(self._inputs[node.attr])
            elif node.op == "rdata":
                value.append(self._reads[node.attr])
            else:  # expired
                value.append(int(self._timers[node.attr] == 0))
        return value

    def _commit(self, value: list[int], now: int, clocks: list[int]) -> None:
        """All state of the given clocks changes at once: first everything is computed, then stored."""
        net = self.netlist
        regs = {
            i: self._sampled(i, value, now) if reg.cross else value[reg.next]
            for i, reg in enumerate(net.regs)
            if reg.clock in clocks
        }
        timers = {
            i: value[t.value] if value[t.load] else max(self._timers[i] - 1, 0)
            for i, t in enumerate(net.timers)
            if t.clock in clocks
        }
        reads = {
            i: self._word(r.mem, value[r.addr])
            for i, r in enumerate(net.reads)
            if r.clock in clocks and value[r.enable]
        }
        for index, new in regs.items():
            self._source_changed("reg", index, self._regs[index], new, now)
            self._regs[index] = new
        for index, new in timers.items():
            self._timers[index] = new
        for index, new in reads.items():
            self._reads[index] = new
        for write in net.writes:
            if write.clock in clocks and value[write.enable] and value[write.addr] < net.mems[write.mem].depth:
                self._mems[write.mem][value[write.addr]] = value[write.data]

    def _word(self, mem: int, addr: int) -> int:
        return self._mems[mem][addr] if addr < len(self._mems[mem]) else 0

    # --- clock crossing ---

    def _source_changed(self, op: str, index: int, old: int, new: int, now: int) -> None:
        """Remember when the source of a crossing register last changed, and what it was before that moment."""
        if old == new:
            return
        for i, reg in enumerate(self.netlist.regs):
            source = self.netlist.nodes[reg.next]
            if reg.cross and source.op == op and source.attr == index and self._before[i][1] != now:
                self._before[i] = (old, now)

    def _sampled(self, index: int, value: list[int], now: int) -> int:
        """What a crossing register samples: the source's value, bits that changed just now at random."""
        reg = self.netlist.regs[index]
        new = value[reg.next]
        old, changed = self._before[index]
        if now - changed >= reg.cross or old == new:
            return new
        bits = settle(self.seed, index, self._done[reg.clock])
        mask = sum(((bits >> (i % 64)) & 1) << i for i in range(reg.type.width))
        return reg.type.wrap((new & mask) | (old & ~mask))

    # --- bookkeeping ---

    def _accept(self, events: Events) -> None:
        events = self._table.checked(events)
        self._latest = self._table.last_ticks(events, self._latest, self._done)
        for event in zip(events.tick.tolist(), events.port.tolist(), events.value.tolist(), strict=True):
            self._pending[self.netlist.inputs[event[1]].clock].append(event)

    def _note(self, value: list[int], clocks: list[int]) -> None:
        if self._recording is None:
            return
        for name in self._recording.names:
            signal = self._signals[name]
            now = value[signal.node]
            if signal.clock in clocks and self._last.get(name) != now:
                self._last[name] = now
                at, values = self._blocks.setdefault(name, ([], []))
                at.append(self._done[signal.clock])
                values.append(now)
