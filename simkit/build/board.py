"""From a design's ports to the pins of a chip: the design, a serial link for everything wide, and a pin file.

A chip has too few pins for the ports of a design with converters and host registers.  Lamps, switches and relays
(``digital_in``, ``digital_out``) get pins of their own; all other ports hang on one *port link*, a long shift register that
a microcontroller on the board can serve:

* ``link_clk``, ``link_in``, ``link_frame`` are sampled by the fabric clock, so the link's bit rate must stay below a
  quarter of it.  When ``link_frame`` rises, the outputs are taken into the shift register; at each rise of ``link_clk``
  it moves one bit, ``link_out`` showing the last; when ``link_frame`` falls, the inputs take their new values, a strobe
  being 1 for one tick.
* The bit sent *last* is bit 0 of the first port.  :attr:`Board.to_chip` and :attr:`Board.from_chip` list the ports in order.
* Ports of another clock than the fabric clock follow one frame later.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from ..emit.verilog import Verilog
from ..netlist import Netlist
from .parts import Part, clock_pins, plain_pins

TOP = "board"
DESIGN = "logic_of_design"
GROUP = 16
"""Bits of the port link that share control registers."""

LINK_PINS = ("link_clk", "link_in", "link_frame", "link_out")


class BoardFault(ValueError):
    """A design that cannot be brought to the pins of the part."""


class Field(NamedTuple):
    """A port's place in the link: the bits ``low`` to ``low + width - 1`` of the shift register."""

    name: str
    low: int
    width: int


@dataclass
class Board:
    """The text of the top module, its pins, and what the link carries."""

    text: str
    pins: list[tuple[str, str]]  # port bit of the top module, ball
    to_chip: list[Field] = field(default_factory=list)
    from_chip: list[Field] = field(default_factory=list)
    clocks: list[tuple[str, float]] = field(default_factory=list)  # port of the top module, MHz


class _Port(NamedTuple):
    """One port of the design: its own name, its identifier in the design's module, where it goes."""

    name: str
    identifier: str
    width: int
    clock: int
    strobe: bool
    pin: bool


def make_board(netlist: Netlist, verilog: Verilog, part: Part) -> Board:
    """The top module and pin list for a design; :class:`BoardFault` if the part has too few pins."""
    direct = {
        name
        for point in netlist.endpoints
        if point.kind in ("digital_in", "digital_out")
        for name in point.ports.values()
    }
    of = verilog.identifiers
    inputs = [
        _Port(p.name, of["input", i], p.type.width, p.clock, p.strobe, p.name in direct)
        for i, p in enumerate(netlist.inputs)
    ]
    outputs = [
        _Port(p.name, of["output", i], p.type.width, p.clock, False, p.name in direct)
        for i, p in enumerate(netlist.outputs)
    ]
    clocks = [(f"clk_{i}", c.hz_num / c.hz_den / 1e6) for i, c in enumerate(netlist.clocks)]
    to_chip = _fields(p for p in inputs if not p.pin)
    from_chip = _fields(p for p in outputs if not p.pin)
    text = _Top(verilog, netlist, inputs, outputs, to_chip, from_chip).text()
    balls = _place_pins(part, clocks, inputs, outputs, bool(to_chip or from_chip))
    return Board(text, balls, to_chip, from_chip, clocks)


def _fields(ports) -> list[Field]:
    found: list[Field] = []
    low = 0
    for port in ports:
        found.append(Field(port.name, low, port.width))
        low += port.width
    return found


def _place_pins(
    part: Part, clocks: list[tuple[str, float]], inputs: list[_Port], outputs: list[_Port], link: bool
) -> list[tuple[str, str]]:
    """A ball for each bit of each pin of the top module."""
    clock_balls, balls = clock_pins(part), plain_pins(part)
    if len(clocks) > len(clock_balls):
        raise BoardFault(f"the design has {len(clocks)} clocks; {part.name} has {len(clock_balls)} clock pins")
    wanted = list(LINK_PINS) if link else []
    for port, name in _pin_names(inputs, outputs):
        wanted += [name] if port.width == 1 else [f"{name}[{bit}]" for bit in range(port.width)]
    if len(wanted) > len(balls):
        raise BoardFault(
            f"the design's digital inputs and outputs need {len(wanted)} pins; {part.name} in {part.package} has {len(balls)}. "
            "Use fewer or narrower digital channels, or hand wide values to the host through a HostReg."
        )
    placed = [(name, pin.ball) for (name, _), pin in zip(clocks, clock_balls, strict=False)]
    return placed + [(name, pin.ball) for name, pin in zip(wanted, balls, strict=False)]


def _pin_names(inputs: list[_Port], outputs: list[_Port]) -> list[tuple[_Port, str]]:
    return [(p, f"pin_in_{p.identifier}") for p in inputs if p.pin] + [
        (p, f"pin_out_{p.identifier}") for p in outputs if p.pin
    ]


class _Top:
    """Writes the top module: pins, port link, the design."""

    def __init__(
        self,
        verilog: Verilog,
        netlist: Netlist,
        inputs: list[_Port],
        outputs: list[_Port],
        to_chip: list[Field],
        from_chip: list[Field],
    ) -> None:
        self.verilog, self.netlist = verilog, netlist
        self.inputs, self.outputs = inputs, outputs
        self.low = {f"in {f.name}": f.low for f in to_chip} | {f"out {f.name}": f.low for f in from_chip}
        self.length = max([f.low + f.width for f in (*to_chip, *from_chip)], default=0)
        self.linked_in = [p for p in inputs if not p.pin]
        self.linked_out = [p for p in outputs if not p.pin]

    def text(self) -> str:
        lines = [f"// Top of the chip: pins, the port link and the design {self.netlist.name}.", f"module {TOP} ("]
        lines += [f"    {text}{',' if i < len(self._ports()) - 1 else ''}" for i, text in enumerate(self._ports())] + [
            ");"
        ]
        if self.length:
            lines += self._link()
        lines += self._wires() + self._instance() + ["endmodule", ""]
        return "\n".join(lines)

    def _ports(self) -> list[str]:
        ports = [f"input wire clk_{i}" for i in range(len(self.netlist.clocks))]
        if self.length:
            ports += [f"input wire {name}" for name in LINK_PINS[:3]] + [f"output wire {LINK_PINS[3]}"]
        for port, name in _pin_names(self.inputs, self.outputs):
            direction = "input" if name.startswith("pin_in_") else "output"
            ports.append(f"{direction} wire {_size(port.width)}{name}")
        return ports

    def _link(self) -> list[str]:
        """The shift register.  Each group of its bits has control registers of its own: one that drives all would set the clock rate."""
        groups = range((self.length + GROUP - 1) // GROUP)
        lines = [
            "    reg [2:0] link_clk_seen = 0, link_frame_seen = 0;",
            "    reg [1:0] link_in_seen = 0;",
            f"    reg [{self.length - 1}:0] link_word = 0;",
            f"    assign link_out = link_word[{self.length - 1}];",
            *(f"    (* keep *) reg link_take_{g} = 0, link_go_{g} = 0, link_apply_{g} = 0;" for g in groups),
            "    wire link_take = link_frame_seen[1] & ~link_frame_seen[2];",
            "    wire link_move = link_clk_seen[1] & ~link_clk_seen[2];",
            "    wire link_apply = ~link_frame_seen[1] & link_frame_seen[2];",
            "    always @(posedge clk_0) begin",
            "        link_clk_seen <= {link_clk_seen[1:0], link_clk};",
            "        link_frame_seen <= {link_frame_seen[1:0], link_frame};",
            "        link_in_seen <= {link_in_seen[0], link_in};",
        ]
        for g in groups:
            lines.append(
                f"        link_take_{g} <= link_take; link_go_{g} <= link_take | link_move; link_apply_{g} <= link_apply;"
            )
        return [*lines, *self._moves(), "    end"]

    def _moves(self) -> list[str]:
        """How each bit of the shift register takes its next value."""
        taken = {
            self.low[f"out {p.name}"] + bit: f"{self._shown(p)}[{bit}]" if p.width > 1 else self._shown(p)
            for p in self.linked_out
            for bit in range(p.width)
        }
        lines = []
        for bit in range(self.length):
            before = f"link_word[{bit - 1}]" if bit else "link_in_seen[1]"
            value = f"link_take_{bit // GROUP} ? {taken[bit]} : {before}" if bit in taken else before
            lines.append(f"        if (link_go_{bit // GROUP}) link_word[{bit}] <= {value};")
        return lines

    def _slice(self, port: _Port, way: str) -> str:
        low = self.low[f"{way} {port.name}"]
        return f"{low + port.width - 1}:{low}" if port.width > 1 else f"{low}"

    def _shown(self, port: _Port) -> str:
        return f"out_{port.identifier}" + ("_seen" if port.clock else "")

    def _wires(self) -> list[str]:
        lines = [f"    wire {_size(p.width)}out_{p.identifier};" for p in self.outputs]
        for clock in range(len(self.netlist.clocks)):
            held = [p for p in self.linked_in if p.clock == clock]
            shown = [p for p in self.linked_out if p.clock == clock and clock]
            lines += self._apply(clock) if clock and (held or shown) else []
            if not held and not shown:
                continue
            lines += [f"    reg {_size(p.width)}in_{p.identifier} = 0;" for p in held]
            lines += [f"    reg {_size(p.width)}out_{p.identifier}_seen = 0;" for p in shown]
            lines.append(f"    always @(posedge clk_{clock}) begin")
            lines += [
                f"        in_{p.identifier} <= {self._apply_of(p, clock)} & link_word[{self._slice(p, 'in')}];"
                for p in held
                if p.strobe
            ]
            lines += [
                f"        if ({self._apply_of(p, clock)}) in_{p.identifier} <= link_word[{self._slice(p, 'in')}];"
                for p in held
                if not p.strobe
            ]
            lines += [
                f"        if (link_apply_clk_{clock}) out_{p.identifier}_seen <= out_{p.identifier};" for p in shown
            ]
            lines.append("    end")
        lines += [f"    assign pin_out_{p.identifier} = out_{p.identifier};" for p in self.outputs if p.pin]
        return lines

    def _apply_of(self, port: _Port, clock: int) -> str:
        """The bit that lets a port take its new value: of its own group, or of its own clock."""
        return f"link_apply_clk_{clock}" if clock else f"link_apply_{self.low[f'in {port.name}'] // GROUP}"

    def _apply(self, clock: int) -> list[str]:
        """The end of a frame, carried to another clock as a level that changes."""
        name = f"link_apply_clk_{clock}"
        return [
            f"    reg {name}_level = 0;",
            f"    always @(posedge clk_0) if (link_apply) {name}_level <= ~{name}_level;",
            f"    reg [2:0] {name}_seen = 0;",
            f"    always @(posedge clk_{clock}) {name}_seen <= {{{name}_seen[1:0], {name}_level}};",
            f"    wire {name} = {name}_seen[1] ^ {name}_seen[2];",
        ]

    def _instance(self) -> list[str]:
        of = self.verilog.identifiers
        joined = [(of["clock", i], f"clk_{i}") for i in range(len(self.netlist.clocks))]
        joined += [(p.identifier, f"pin_in_{p.identifier}" if p.pin else f"in_{p.identifier}") for p in self.inputs]
        joined += [(p.identifier, f"out_{p.identifier}") for p in self.outputs]
        rows = [f"        .{port}({wire})" for port, wire in joined]
        return ["    (* keep_hierarchy *)", f"    {self.verilog.module} {DESIGN} (", ",\n".join(rows), "    );"]


def _size(width: int) -> str:
    return f"[{width - 1}:0] " if width > 1 else ""


CAUTION = """\
# CAUTION. Pins drive whatever is wired to them from the moment the chip is configured. Before outputs of this design
# reach a relay, a drive, a heater or anything that moves, heats or switches mains:
#   - check every pin below against the schematic of your own board; a wrong pin can damage the board;
#   - try it with the load disconnected, then with the load isolated and guarded;
#   - keep an emergency stop and over-temperature, over-speed and over-current protection that do not depend on this chip;
#   - follow the local electrical code; have mains and machine wiring done and checked by licensed people.
"""


def pin_file(board: Board, part: Part, title: str) -> str:
    """The constraint file (LPF) of the place-and-route tool: a ball, a level and a rate for every pin."""
    lines = [
        f"# Pins of {title} on {part.name} in {part.package}.",
        "# Written for no particular board: edit the SITE of each pin.",
        CAUTION.rstrip(),
    ]
    for name, mhz in board.clocks:
        lines.append(f'FREQUENCY PORT "{name}" {mhz:.6f} MHZ;  # needs an oscillator of this rate')
    for name, ball in board.pins:
        lines.append(f'LOCATE COMP "{name}" SITE "{ball}";')
        lines.append(f'IOBUF PORT "{name}" IO_TYPE=LVCMOS33{" DRIVE=4" if "out" in name else ""};')
    if board.to_chip or board.from_chip:
        lines.append("# Port link: bits of the shift register, the last bit sent first")
        lines += [f"#   to chip   {f.low + f.width - 1}:{f.low}  {f.name}" for f in board.to_chip]
        lines += [f"#   from chip {f.low + f.width - 1}:{f.low}  {f.name}" for f in board.from_chip]
    return "\n".join(lines) + "\n"
