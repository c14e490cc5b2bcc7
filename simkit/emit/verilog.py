"""A netlist as one readable Verilog-2005 module (IEEE 1364-2005).

Registers start at their reset value, as an FPGA's do after configuration; ``reset="sync"`` adds a reset input.
Every register, wire and port carries a ``src`` attribute with the learner's line, and :class:`Verilog` holds the same
for every line of the text, because a synthesiser names the cells of an expression by the line they came from.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from ..netlist import NOWHERE, Loc, Netlist, Type
from .crossing import Crossing, settle_function
from .expressions import Wires, declared, literal
from .identifiers import Identifiers, Named


@dataclass
class Verilog:
    """Text of the module, what each identifier stands for, and the learner's place for each line (counted from 1)."""

    module: str
    text: str
    names: dict[str, Named]
    places: dict[int, Loc] = field(default_factory=dict)
    identifiers: dict[tuple[str, int], str] = field(default_factory=dict)


def to_verilog(netlist: Netlist, reset: str | None = None) -> str:
    """The text of the module; see :func:`emit` for all else."""
    return emit(netlist, reset).text


def names(netlist: Netlist) -> dict[str, Named]:
    """What each identifier in the module's text stands for."""
    return emit(netlist).names


def emit(netlist: Netlist, reset: str | None = None) -> Verilog:
    """Write the module.

    Parameters
    ----------
    netlist : a checked netlist
    reset : None (state starts at configuration only) or ``"sync"`` (a ``reset`` input, taken at the clock edge)

    Raises
    ------
    ValueError
        If ``reset`` is neither.
    """
    if reset not in (None, "sync"):
        raise ValueError(f"reset={reset!r}: write None or 'sync'")
    return _Emitter(netlist, reset is not None).run()


class _Emitter:
    def __init__(self, netlist: Netlist, with_reset: bool) -> None:
        self.net = netlist
        self.lines: list[str] = []
        self.places: dict[int, Loc] = {}
        self.names = Identifiers(netlist)
        self.module = self.names.add("module", 0, netlist.name or "design", NOWHERE)
        self.reset = self.names.add("input", -1, "reset", NOWHERE) if with_reset else ""
        self.wires = Wires(netlist, self.names)
        self.crossings = [Crossing(netlist, self.names, i) for i, reg in enumerate(netlist.regs) if reg.cross]

    def run(self) -> Verilog:
        self._header()
        self._ports()
        if self.crossings:
            self._block("", [settle_function()])
        self._block("registers", [self._register(i) for i in range(len(self.net.regs))])
        self._block("down-counters", [self._timer_declaration(i) for i in range(len(self.net.timers))])
        for index in range(len(self.net.mems)):
            self._memory(index)
        self._block("read ports", [self._read_declaration(i) for i in range(len(self.net.reads))])
        self._block("logic", [self._wire(i) for i in self.wires.wired])
        self._block("outputs", [self._output(i) for i in range(len(self.net.outputs))])
        for clock in range(len(self.net.clocks)):
            self._edge(clock)
        for crossing in self.crossings:
            self._block("", [(crossing.text(), self.net.regs[crossing.index].loc)])
        self._line("endmodule")
        return Verilog(self.module, "\n".join(self.lines) + "\n", self.names.named, self.places, self.names.of)

    # --- lines ---

    def _line(self, text: str = "", loc: Loc = NOWHERE) -> None:
        for part in text.split("\n"):
            self.lines.append(part)
            if loc.line:
                self.places[len(self.lines)] = loc

    def _block(self, title: str, rows: list[Any]) -> None:
        """Rows of text, or of (text, place)."""
        if not rows:
            return
        if title:
            self._line(f"    // {title}")
        for row in rows:
            self._line(*row) if isinstance(row, tuple) else self._line(row)
        self._line()

    @staticmethod
    def _src(loc: Loc) -> str:
        return f"(* src = {json.dumps(str(loc), ensure_ascii=True)} *) " if loc.line else ""

    @staticmethod
    def _note(loc: Loc) -> str:
        """The learner's place and words, as a comment that cannot end early."""
        said = " ".join(loc.text.split())[:80].rstrip("\\")
        return f"  // {loc}{': ' + said if said else ''}".replace("\n", " ") if loc.line else ""

    def _header(self) -> None:
        self._line(f"// {self.net.name}: emitted from a netlist; edit the design, not this file.")
        if self.crossings:
            self._line("`ifdef SIMULATION\n`timescale 1ps / 1ps\n`endif")

    def _ports(self) -> None:
        net, of = self.net, self.names.of
        rows = [
            (f"input wire {of['clock', i]}", f"  // {c.hz_num}{f'/{c.hz_den}' if c.hz_den > 1 else ''} Hz", NOWHERE)
            for i, c in enumerate(net.clocks)
        ]
        if self.reset:
            rows.append((f"input wire {self.reset}", "", NOWHERE))
        rows += [
            (f"{self._src(p.loc)}input wire {declared(p.type)}{of['input', i]}", self._note(p.loc), p.loc)
            for i, p in enumerate(net.inputs)
        ]
        rows += [
            (f"{self._src(p.loc)}output wire {declared(p.type)}{of['output', i]}", self._note(p.loc), p.loc)
            for i, p in enumerate(net.outputs)
        ]
        parameters = " #(parameter [63:0] SETTLE_SEED = 64'd0)" if self.crossings else ""
        self._line(f"module {self.module}{parameters} (")
        for number, (text, note, loc) in enumerate(rows):
            self._line(f"    {text}{',' if number < len(rows) - 1 else ''}{note}", loc)
        self._line(");")

    # --- declarations ---

    def _register(self, index: int) -> tuple[str, Loc]:
        reg = self.net.regs[index]
        note = "  // " + ", ".join(f"{i} {s}" for i, s in enumerate(reg.states)) if reg.states else self._note(reg.loc)
        note = " ".join(note.split("\n"))
        name = self.names.of["reg", index]
        return (
            f"    {self._src(reg.loc)}reg {declared(reg.type)}{name} = {literal(reg.reset, reg.type)};{note}",
            reg.loc,
        )

    def _timer_declaration(self, index: int) -> tuple[str, Loc]:
        timer = self.net.timers[index]
        size = f"[{timer.width - 1}:0] " if timer.width > 1 else ""
        return (
            f"    {self._src(timer.loc)}reg {size}{self.names.of['timer', index]} = {timer.width}'d{timer.reset};"
            f"{self._note(timer.loc)}",
            timer.loc,
        )

    def _memory(self, index: int) -> None:
        mem, name = self.net.mems[index], self.names.of["mem", index]
        counter = self.names.add("node", -1 - index, f"{name}_i", mem.loc)
        self._line(
            f"    {self._src(mem.loc)}reg {declared(mem.type)}{name} [0:{mem.depth - 1}];{self._note(mem.loc)}", mem.loc
        )
        self._line(f"    integer {counter};\n    initial begin", mem.loc)
        if len(mem.init) < mem.depth:
            self._line(
                f"        for ({counter} = {len(mem.init)}; {counter} < {mem.depth}; {counter} = {counter} + 1) "
                f"{name}[{counter}] = {literal(0, mem.type)};",
                mem.loc,
            )
        for place, value in enumerate(mem.init):
            self._line(f"        {name}[{place}] = {literal(value, mem.type)};", mem.loc)
        self._line("    end\n")

    def _read_declaration(self, index: int) -> tuple[str, Loc]:
        """The word last read, and whether there was one; the two together are 0 before the first read and past the end."""
        read = self.net.reads[index]
        kind, name = self.net.mems[read.mem].type, self.names.of["read", index]
        word = self.names.add("read", -1 - 2 * index, f"{name}_word", read.loc)
        there = self.names.add("read", -2 - 2 * index, f"{name}_there", read.loc)
        return (
            f"    reg {declared(kind)}{word};\n    reg {there} = 1'b0;\n"
            f"    {self._src(read.loc)}wire {declared(kind)}{name} = {there} ? {word} : {literal(0, kind)};{self._note(read.loc)}",
            read.loc,
        )

    def _wire(self, index: int) -> tuple[str, Loc]:
        node = self.net.nodes[index]
        return (
            f"    {self._src(node.loc)}wire {declared(node.type)}{self.names.of['node', index]} = "
            f"{_bare(self.wires.expression(index))};{self._note(node.loc)}",
            node.loc,
        )

    def _output(self, index: int) -> tuple[str, Loc]:
        port = self.net.outputs[index]
        return f"    assign {self.names.of['output', index]} = {self.wires.operand(port.node)};", port.loc

    # --- what happens at an edge ---

    def _edge(self, clock: int) -> None:
        rows = [*self._resettable(clock)]
        at = f"always @(posedge {self.names.of['clock', clock]})"
        if rows:
            self._line(f"    {at} begin")
            for name, kind, start, text, loc in rows:
                first = f"if ({self.reset}) {name} <= {literal(start, kind)}; else " if self.reset else ""
                self._line(f"        {first}{text}", loc)
            self._line("    end\n")
        for index, read in enumerate(self.net.reads):
            if read.clock == clock:
                self._line(self._read(index, at) + "\n", read.loc)
        for index in range(len(self.net.mems)):
            self._writes(index, clock, at)

    def _resettable(self, clock: int) -> list[tuple[str, Type, int, str, Loc]]:
        """(name, type, start value, statement, place) of each register and timer."""
        net, of, operand = self.net, self.names.of, self.wires.operand
        rows = []
        for i, reg in enumerate(net.regs):
            holds = (net.nodes[reg.next].op, net.nodes[reg.next].attr) == ("reg", i)  # a constant: nothing to write
            if reg.clock == clock and not reg.cross and not holds:
                name = of["reg", i]
                rows.append(
                    (
                        name,
                        reg.type,
                        reg.reset,
                        self._assignment(i, name) + self._note(net.nodes[reg.next].loc),
                        reg.loc,
                    )
                )
        for i, timer in enumerate(net.timers):
            if timer.clock == clock:
                name, kind = of["timer", i], net.nodes[timer.value].type
                text = f"if ({_bare(operand(timer.load))}) {name} <= {operand(timer.value)}; else if ({name} != 0) {name} <= {name} - 1'b1;"
                rows.append((name, kind, timer.reset, text, timer.loc))
        return rows

    def _assignment(self, index: int, name: str) -> str:
        chain, operand = self.wires.choices.get(index), self.wires.operand
        if not chain:
            return f"{name} <= {operand(self.net.regs[index].next)};"
        return " else ".join(
            f"if ({_bare(operand(condition))}) {name} <= {operand(value)};" for _, condition, value in chain
        )

    def _read(self, index: int, at: str) -> str:
        """A block of its own, with nothing between memory and register: the form that becomes block RAM."""
        read, of = self.net.reads[index], self.names.of
        inside = self._inside(read.mem, read.addr) or "1'b1"
        word, there = of["read", -1 - 2 * index], of["read", -2 - 2 * index]
        reset = f"if ({self.reset}) {there} <= 1'b0; else " if self.reset else ""
        enable = _bare(self.wires.operand(read.enable))
        return (
            f"    {at} if ({enable}) {word} <= {of['mem', read.mem]}[{self._index(read.mem, read.addr)}];\n"
            f"    {at} {reset}if ({enable}) {there} <= {inside};"
        )

    def _writes(self, mem: int, clock: int, at: str) -> None:
        """Ports of one memory and clock share a block, so that the later one wins."""
        rows = [w for w in self.net.writes if w.mem == mem and w.clock == clock]
        if not rows:
            return
        operand = self.wires.operand
        self._line(f"    {at} begin")
        for write in rows:
            inside = self._inside(mem, write.addr)
            guard = f"{operand(write.enable)} && {inside}" if inside else _bare(operand(write.enable))
            self._line(
                f"        if ({guard}) {self.names.of['mem', mem]}[{self._index(mem, write.addr)}] <= {operand(write.data)};"
                f"{self._note(write.loc)}",
                write.loc,
            )
        self._line("    end\n")

    def _inside(self, mem: int, addr: int) -> str:
        depth, kind = self.net.mems[mem].depth, self.net.nodes[addr].type
        return f"({self.wires.operand(addr)} < {literal(depth, kind)})" if depth < 1 << kind.width else ""

    def _index(self, mem: int, addr: int) -> str:
        """The address, cut to the bits that the memory needs."""
        needed = max((self.net.mems[mem].depth - 1).bit_length(), 1)
        name = self.wires.operand(addr)
        if self.net.nodes[addr].type.width <= needed or not name.isidentifier():
            return name
        return f"{name}[{needed - 1}:0]" if needed > 1 else f"{name}[0]"


def _bare(text: str) -> str:
    """Without the parentheses around the whole, if they are one pair."""
    if not text.startswith("("):
        return text
    depth = 0
    for place, char in enumerate(text):
        depth += (char == "(") - (char == ")")
        if depth == 0:
            return text[1:-1] if place == len(text) - 1 else text
    return text
