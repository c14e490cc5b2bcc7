"""Puts a design together: finds its parts and loops, runs each loop through the executor, closes the circuit.

``compile_design`` is the front end's one door: a design goes in, a checked netlist comes out.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from ..netlist import BIT, Clock, Endpoint, Input, Loc, Loop, Mem, Netlist, Output, Read, Timer, Type, Write, make
from ..netlist import check as check_netlist
from ..netlist.check import LIMITS, MAX_MEMORY_BITS
from ..netlist.once import checked
from ..netlist.passes import run_passes
from ..units import Duration
from . import declare
from .build import Builder, Refused, Value
from .channels import (
    AnalogInPart,
    AnalogOutPart,
    DigitalInPart,
    HostRegPart,
    InterruptPart,
    RegPart,
    SynchronizerPart,
)
from .design import Bound, Design, LoopMethod, members
from .execute import Executor, State
from .loops import LoopInfo, Pause, asked, narrow, refuse_head
from .memories import RamPart, RegsPart
from .parts import COUNT, CROSSING_PS, Drive, Part, Storage, count_up
from .queues import QueuePart, StreamPart
from .source import HardwareError, fitting, shown
from .things import describe
from .touch import touched

FABRIC_HZ = 40_000_000

PARTS: dict[type, type[Part]] = {
    declare.Reg: RegPart,
    declare.DigitalOut: RegPart,
    declare.DigitalIn: DigitalInPart,
    declare.AnalogIn: AnalogInPart,
    declare.ThermocoupleIn: AnalogInPart,
    declare.AnalogOut: AnalogOutPart,
    declare.Interrupt: InterruptPart,
    declare.Synchronizer: SynchronizerPart,
    declare.Regs: RegsPart,
    declare.Ram: RamPart,
    declare.Rom: RamPart,
    declare.Fifo: QueuePart,
    declare.Handshake: QueuePart,
    declare.HostStream: StreamPart,
}


class Circuit:
    """Everything known while one design is being compiled."""

    def __init__(self, root: Design) -> None:
        self.root = root
        self.netlist = Netlist(type(root).__name__)
        self.b = Builder(self.netlist)
        self.parts: dict[int, Part] = {}
        self.loops: list[LoopInfo] = []
        self.totals: dict[Drive, int] = {}
        self.reads: dict[tuple[int, int], tuple[Storage, LoopInfo, Loc]] = {}
        self.outputs: list[tuple[Output, Storage]] = []
        self.crossed: dict[tuple[int, int], Storage] = {}
        self.memory_bits = 0
        self.copies = 0
        self._declared: list[tuple[declare.Declared, str]] = []
        self._clocks: dict[int, int] = {}
        self._alive: list[Any] = []  # keeps ids unique

    # --- the whole way ---

    def compile(self) -> Netlist:
        """Collect, lower, close, simplify, check."""
        self._find_clocks()
        self._collect(self.root, "", set())
        if not self.loops:
            raise HardwareError(
                f"{type(self.root).__name__} has no loop, so it would do nothing.",
                "Mark a method @clocked (one tick's logic) or @sequenced (steps that take ticks).",
            )
        self._find_loop_clocks()
        for declared, name in self._declared:
            self._make_part(declared, name)
        self._start_loops()
        executors = [self._lower(loop) for loop in self.loops]
        for loop, executor in zip(self.loops, executors, strict=True):
            self._assemble(loop, executor)
        for part in list(self.parts.values()):
            self.b.loc = part.declared.loc._replace(file=shown(part.declared.loc.file))
            part.finish()
        self._close_loops(executors)
        for output, storage in self.outputs:
            output.clock = storage.reg.clock
        self._check_reads()
        self._check_size()
        return checked(run_passes(check_netlist(self.netlist)))

    # --- what a design holds ---

    def _find_clocks(self) -> None:
        fabric = getattr(self.root, "clock", None)
        if isinstance(fabric, int | float | Fraction):
            raise HardwareError(
                f"{type(self.root).__name__}.clock is {fabric!r}, which is a number and no clock.",
                "Write clock = Clock(100_000_000).",
            )
        if not isinstance(fabric, declare.Clock):
            fabric = declare.Clock(FABRIC_HZ, "fabric")
        self._add_clock(fabric, "fabric")

    def _add_clock(self, clock: declare.Clock, name: str = "") -> int:
        if id(clock) not in self._clocks:
            self._alive.append(clock)
            names = {c.name for c in self.netlist.clocks}
            chosen = name or clock.name or "clock"
            while chosen in names:
                chosen += "_"
            self._clocks[id(clock)] = len(self.netlist.clocks)
            self.netlist.clocks.append(Clock(chosen, clock.hz.numerator, clock.hz.denominator))
        return self._clocks[id(clock)]

    def _collect(self, design: Design, prefix: str, seen: set[int]) -> None:
        """Declarations and loops of a design, then those of the designs it holds."""
        if id(design) in seen:
            return
        seen.add(id(design))
        children: list[tuple[str, Design]] = []
        for name, item in members(design):
            if isinstance(item, declare.Declared):
                self._declare(item, prefix + name)
            elif isinstance(item, LoopMethod):
                self.loops.append(LoopInfo(prefix + name, item.kind, design, item))
            elif isinstance(item, Design):
                children.append((prefix + name, item))
        for name, child in children:
            self._collect(child, name + ".", seen)

    def _declare(self, declared: declare.Declared, name: str) -> None:
        if any(known is declared for known, _ in self._declared):
            return
        if any(taken == name for _, taken in self._declared):
            raise HardwareError(
                f"two parts of {type(self.root).__name__} would both be called {name}.",
                "Give them names (or dictionary keys) that differ as text.",
                declared.loc,
            )
        self._declared.append((declared, name))

    def _find_loop_clocks(self) -> None:
        for loop in self.loops:
            clock = loop.method.clock
            if clock is not None and not isinstance(clock, declare.Clock):
                clock = asked(loop, "clock", clock)
                if not isinstance(clock, declare.Clock):
                    refuse_head(loop, f"the clock of {loop.name} is {clock!r}.", "Give a Clock: Clock(100_000_000).")
            loop.clock = self._add_clock(clock) if clock is not None else 0
            every = loop.method.every
            if callable(every):
                every = asked(loop, "period", every)
            if every is not None:
                try:
                    loop.period = self.ticks(every, loop.clock)
                except Refused as error:
                    refuse_head(loop, error.why, error.instead)

    def _make_part(self, declared: declare.Declared, name: str) -> None:
        self.b.loc = declared.loc._replace(file=shown(declared.loc.file))
        try:
            self.parts[id(declared)] = _part_class(declared)(self, declared, name)
        except Refused as error:
            raise HardwareError(f"{name}: {error.why}", error.instead, declared.loc) from None

    def part(self, declared: declare.Declared) -> Part:
        """The part made from a declaration; one that nobody holds is found here, by the loop that uses it."""
        if id(declared) not in self.parts:
            raise Refused(
                f"this {type(declared).__name__} is not held by the design.",
                "Make it an attribute of the design: self.name = …",
            )
        return self.parts[id(declared)]

    def clocks_touching(self, declared: declare.Declared) -> set[int]:
        """Clocks of the loops that use a declaration."""
        if len(self.netlist.clocks) == 1:
            return {0}
        return {loop.clock for loop in self.loops if id(declared) in touched(loop.method, loop.design)}

    # --- loops ---

    def _start_loops(self) -> None:
        """Period counters and counts of late turns: they exist before any loop is read, since any loop may read them."""
        for loop in self.loops:
            if not loop.period:
                continue
            index = len(self.netlist.timers)
            kind = make("unsigned", max(1, (loop.period - 1).bit_length()))
            loop.start = self.b.add("expired", (), BIT, index)
            value = self.b.const(loop.period - 1, kind)
            self.netlist.timers.append(Timer(f"{loop.name}.period", kind.width, 0, loop.clock, loop.start, value))
            loop.late = Storage(self, f"{loop.name}.late", COUNT, 0, "count")

    def _lower(self, loop: LoopInfo) -> Executor:
        executor = Executor(self, loop)
        executor.run()
        return executor

    def _assemble(self, loop: LoopInfo, ex: Executor) -> None:
        """Join what the states drive: each state's part counts while the loop is in that state."""
        states = list(ex.done)
        self.b.loc = own_line = ex.top.code.loc(ex.top.code.tree)
        kind = make("unsigned", max(1, (len(ex.states) - 1).bit_length()))
        state = None
        if len(states) > 1:
            state = Storage(self, f"{loop.name}.state", kind, 0, "state")
            state.reg.states = tuple(s.name for s in sorted(states, key=lambda s: s.index))
        drives = dict.fromkeys(drive for results in ex.done.values() for drive in results)
        for drive in drives:
            total = state.leaf if drive is ex.goes_to and state else drive.default
            target = kind if drive is ex.goes_to else drive.kind
            self.b.loc = (
                drive.first if drive.first.line else own_line
            )  # what chooses among states belongs to the first write
            for s in states:
                if drive not in ex.done[s]:
                    continue
                node = ex.done[s][drive]
                if drive is ex.goes_to:
                    node = narrow(self.b, node, kind)
                total = self.b.choose(self._selected(loop, state, s), node, total, target)
            self.totals[drive] = total
        self.b.loc = own_line
        if state:
            state.set(self.totals[ex.goes_to], loop.clock)
        if loop.late is not None:
            busy = self.b.add("ne", (state.leaf, self.b.const(0, kind)), BIT) if state else self.b.zero
            loop.late.set(count_up(self, loop.late, self.b.both(loop.start, busy)), loop.clock)  # type: ignore[arg-type]
        self.netlist.loops.append(
            Loop(
                loop.name,
                loop.kind,
                loop.clock,
                loop.period,
                state.name if state else "",
                loop.late.name if loop.late else "",
                ex.top.code.loc(ex.top.code.tree),
            )
        )

    def _selected(self, loop: LoopInfo, state: Storage | None, s: State) -> int:
        """The bit that says: the loop is in this state (and, for its first state, a turn starts)."""
        chosen = self.b.add("eq", (state.leaf, self.b.const(s.index, state.kind)), BIT) if state else self.b.one
        return self.b.both(chosen, loop.start) if s.index == 0 and loop.start is not None else chosen

    def _close_loops(self, executors: list[Executor]) -> None:
        for loop, executor in zip(self.loops, executors, strict=True):
            for slot in executor.slots.values():
                slot.finish()
            if loop.pause:
                loop.pause.finish(self)

    def pause_of(self, loop: LoopInfo) -> Pause:
        """The timer behind a loop's ``wait``."""
        if loop.pause is None:
            loop.pause = Pause(self, loop)
        return loop.pause

    def late_of(self, ex: Executor, bound: Bound) -> Value:
        """``self.loop.late`` as a value."""
        for loop in self.loops:
            if loop.method is bound.method and loop.design is bound.design and loop.late is not None:
                return loop.late.read(ex)
        raise Refused(
            f"{bound.method.name} has no period, so it is never late.", "Only a loop with every= counts late turns."
        )

    def ticks(self, duration: Any, clock: int) -> int:
        """A number of ticks: a positive whole number, or a duration that is a whole number of ticks."""
        rate = self.netlist.clocks[clock]
        if isinstance(duration, Duration):
            exact = duration.ticks(Fraction(rate.hz_num, rate.hz_den))
            if exact.denominator != 1 or exact < 1:
                near = max(1, int(exact)), int(exact) + 1
                raise Refused(
                    f"{duration} is {float(exact):.10g} ticks of the clock {rate.name!r}, and hardware can only count whole ticks.",
                    f"Choose {near[0]} or {near[1]} ticks.",
                )
            return int(exact)
        if isinstance(duration, bool) or not isinstance(duration, int) or not 1 <= duration < 2**61:
            raise Refused(
                f"a time here is a whole number of ticks, at least 1, not {duration!r}.",
                "Write for example 800, or us(20).",
            )
        return duration

    # --- what parts ask for ---

    def total(self, drive: Drive) -> int:
        """What the owning loop made of a drive; its default if no loop touched it."""
        return self.totals.get(drive, drive.default)

    def clock_of(self, drive: Drive, reg: int) -> int:
        """Clock of a register: that of its writer, else that of a reader."""
        if drive.owner is not None:
            return drive.owner.clock
        return next((loop.clock for (index, _), (_, loop, _) in self.reads.items() if index == reg), 0)

    def input(self, name: str, kind: Type, strobe: bool = False) -> int:
        """A new input port; its leaf."""
        self.netlist.inputs.append(Input(name, kind, 0, strobe, self.b.loc))
        return self.b.add("input", (), kind, len(self.netlist.inputs) - 1)

    def output(self, name: str, kind: Type, storage: Storage) -> None:
        """A new output port that shows a register."""
        port = Output(name, kind, 0, storage.leaf, self.b.loc)
        self.netlist.outputs.append(port)
        self.outputs.append((port, storage))

    def output_node(self, name: str, kind: Type, node: int) -> None:
        """A new output port of the fabric clock that shows a node."""
        self.netlist.outputs.append(Output(name, kind, 0, node, self.b.loc))

    def endpoint(self, endpoint: Endpoint) -> None:
        """Note ports that belong together."""
        if endpoint.kind in ("digital_out", "analog_out"):
            for other in self.netlist.endpoints:
                if (other.kind, other.terminal) == (endpoint.kind, endpoint.terminal):
                    raise Refused(
                        f"the terminal {endpoint.terminal!r} is driven by {other.name} already: two drivers on one wire.",
                        "Give each output a terminal of its own.",
                    )
        self.netlist.endpoints.append(endpoint)

    def memory(self, name: str, kind: Type, depth: int, init: tuple[int, ...] = ()) -> int:
        """A new memory; its index."""
        self.memory_bits += kind.width * depth
        if self.memory_bits > MAX_MEMORY_BITS:
            raise Refused(
                f"{depth} words of {kind.width} bits make {self.memory_bits} bits of memory in all.",
                f"A design may have {MAX_MEMORY_BITS}; a real part has far less.",
            )
        self.netlist.mems.append(Mem(name, kind, depth, init, self.b.loc))
        return len(self.netlist.mems) - 1

    def read_port(self, name: str, mem: int, kind: Type) -> tuple[int, int]:
        """A new read port, to be closed later; its index and leaf."""
        index = len(self.netlist.reads)
        self.netlist.reads.append(Read(name, mem, 0, self.b.const(0, BIT), self.b.zero, self.b.loc))
        return index, self.b.add("rdata", (), kind, index)

    def write_port(self, mem: int, clock: int, addr: int, data: int, enable: int) -> None:
        """A new write port."""
        self.netlist.writes.append(Write(mem, clock, addr, data, enable, self.netlist.mems[mem].loc))

    def free_name(self, name: str) -> str:
        """``name``, or with a number behind it if a register has it already."""
        taken = {reg.name for reg in self.netlist.regs}
        number, chosen = 2, name
        while chosen in taken:
            chosen, number = f"{name}_{number}", number + 1
        return chosen

    def unsafe_cross(self, ex: Executor, x: Any) -> Value:
        """One register of the loop's clock that samples ``x`` without protection."""
        storage = getattr(x, "storage", x)
        if not isinstance(storage, Storage):
            raise Refused("unsafe_cross() takes a register of another clock.", "Write unsafe_cross(self.count).")
        key = (ex.loop.clock, storage.index)
        if key not in self.crossed:
            crossed = Storage(self, self.free_name(f"{storage.name}.crossed"), storage.kind, 0, "sync")
            crossed.set(storage.leaf, ex.loop.clock, CROSSING_PS)
            self.crossed[key] = crossed
        return Value(self.crossed[key].leaf, storage.kind)

    # --- warnings and clock rules ---

    def warn(self, loc: Loc, text: str) -> None:
        """Note something that is allowed but probably not meant."""
        if (loc, text) not in self.netlist.warnings:
            self.netlist.warnings.append((loc, text))

    def note_read(self, storage: Storage, loop: LoopInfo, loc: Loc) -> None:
        """Remember where a loop reads a register."""
        self.reads.setdefault((storage.index, loop.clock), (storage, loop, loc))

    def _check_size(self) -> None:
        """Limits that a learner can reach; the others are the netlist's own business."""
        called = {"nodes": "operations", "regs": "registers", "mems": "memories"}
        for part, limit in LIMITS.items():
            count = len(getattr(self.netlist, part))
            if count > limit:
                advice = "Long arrays belong in a Ram; loops that are copied out get small with a tick() inside."
                raise HardwareError(
                    f"{type(self.root).__name__} would have {count} {called.get(part, part)}; a design may have {limit}.",
                    "Loops of one rate share one Clock." if part == "clocks" else advice,
                )

    def _check_reads(self) -> None:
        for storage, loop, loc in self.reads.values():
            if storage.reg.clock != loop.clock:
                clocks = self.netlist.clocks
                raise HardwareError(
                    f"{storage.name} belongs to the clock {clocks[storage.reg.clock].name!r} and {loop.name} runs on "
                    f"{clocks[loop.clock].name!r}: the value may change just while it is being sampled.",
                    "Carry it across with a Synchronizer (one bit), a Handshake (one value at a time) or a Fifo.",
                    loc,
                )


def _part_class(declared: declare.Declared) -> type[Part]:
    if isinstance(declared, declare.HostReg):
        return HostRegPart if declared.access == "rw" else RegPart
    return next(PARTS[kind] for kind in type(declared).__mro__ if kind in PARTS)


def compile_design(design: Design | type[Design]) -> Netlist:
    """The netlist of a design (an instance, or a class that needs no arguments).

    Raises
    ------
    HardwareError
        If the design breaks a rule of the language; it points at the learner's line.
    """
    if isinstance(design, type) and issubclass(design, Design):
        try:
            fitting(design, design.__name__, (), {})
        except Refused as error:
            raise HardwareError(error.why, f"Make one yourself and give that: {design.__name__}(…).") from None
        design = design()
    if not isinstance(design, Design):
        raise HardwareError(
            f"{describe(design)} is not a design.", "Give a class that inherits from Design, or an instance of one."
        )
    try:
        return Circuit(design).compile()
    except RecursionError:
        raise HardwareError(
            f"{type(design).__name__} holds an expression, or calls of operations, nested too deeply.",
            "Give parts of it names on lines of their own.",
        ) from None
    except HardwareError as error:
        raise error.with_traceback(None) from None  # the learner's line says it all; the kit's inside does not help
