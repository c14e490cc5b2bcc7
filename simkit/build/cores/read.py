"""Reads a Verilog module through yosys into a netlist of our own.

yosys parses, elaborates and flattens; what it writes is a list of word-level cells whose pins are single bits.
:mod:`simkit.build.cores.cells` turns each cell into nodes, :mod:`simkit.build.cores.memories` memories, this file the rest: ports,
registers, and the way from bits back to words.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from ...netlist import NOWHERE, BadNetlist, Clock, Input, Loc, Netlist, Node, Output, Reg, check, make
from ...netlist.passes import run_passes
from ..faults import BuildFault
from ..tools import run_tool, warm_up
from . import kept
from .cells import FLIP_FLOPS, cell_value, next_value
from .memories import add_memory, unfit

Bit = int | str
FABRIC_HZ = 40_000_000


class CoreFault(BuildFault):
    """A core that cannot be brought in; the text names the construct and its line."""


def read_core(
    file: str | Path,
    top: str | None = None,
    *,
    parameters: Mapping[str, int] | None = None,
    clocks: Mapping[str, int | Fraction] | None = None,
    include: Sequence[str | Path] = (),
) -> Netlist:
    """The netlist of a Verilog-2005 module.

    Parameters
    ----------
    file : the Verilog text
    top : name of the module; may be left out if the file has one that no other uses
    parameters : values of the module's parameters
    clocks : rate in hertz of each clock input; by default an input that clocks registers runs at 40 MHz
    include : further Verilog files that the module needs

    An asynchronous reset is taken as one that changes only at clock edges, which is what the engines can show.

    Raises
    ------
    CoreFault
        If the file cannot be read, or holds something that has no counterpart here: latches, falling edges, tristate wires,
        asynchronous reads of large memories, combinational loops.
    """
    files = [Path(file), *map(Path, include)]
    for path in files:
        if not path.is_file():
            raise CoreFault(f"there is no file {path}")
    key = _key(files, parameters or {}, clocks or {})
    found = kept.find(files, key)
    if found is not None and top in (None, found.name):
        return found
    return _read(files, top, parameters or {}, clocks or {})


def keep_reading(file: str | Path) -> Path:
    """Read the one module of a file that no other uses, and keep the reading beside the file; the path of what was written.

    Raises what :func:`read_core` raises.
    """
    files = [Path(file)]
    if not files[0].is_file():
        raise CoreFault(f"there is no file {file}")
    return kept.keep(files, _key(files, {}, {}), _read(files, None, {}, {}))


def _key(files: list[Path], parameters: Mapping[str, int], clocks: Mapping[str, int | Fraction]) -> str:
    rates = sorted((name, str(Fraction(rate))) for name, rate in clocks.items())
    return kept.key_of(files, sorted(parameters.items()), rates)


def _read(
    files: list[Path], top: str | None, parameters: Mapping[str, int], clocks: Mapping[str, int | Fraction]
) -> Netlist:
    """The netlist as yosys reads it."""
    warm_up()
    with tempfile.TemporaryDirectory(prefix="tickbench-core-") as folder:
        place = Path(folder)
        names = {}
        for number, path in enumerate(files):
            names[f"/build/core{number}.v"] = str(path)
            shutil.copyfile(path, place / f"core{number}.v")
        module = _synthesise(place, len(files), top, parameters, names, ())
        large = unfit(module)
        if large:  # memories that no block can be: as registers, if small enough
            module = _synthesise(place, len(files), top, parameters, names, large)
    return _Reader(module, names, clocks).netlist()


def _synthesise(
    place: Path,
    files: int,
    top: str | None,
    parameters: Mapping[str, int],
    names: Mapping[str, str],
    as_registers: Sequence[str],
) -> dict[str, Any]:
    """yosys's JSON of the flattened module, with its name under ``"name"``."""
    _must_be_name(top, parameters)
    setting = "".join(f" -chparam {name} {value}" for name, value in parameters.items())
    chosen = f"-top {top}" if top else "-auto-top"
    mapped = "".join(f"memory_map c:{name}; " for name in as_registers)
    script = (
        "".join(f"read_verilog /build/core{n}.v; " for n in range(files))
        + f"hierarchy -check {chosen}{setting}; proc; flatten; opt_expr; opt_muxtree; opt_reduce; opt_clean; check -assert; async2sync; "
        f"memory -nomap; {mapped}opt_expr; opt_clean; chformal -remove; delete t:$print t:$scopeinfo; write_json /build/core.json"
    )
    code, said = run_tool("yosys", ["-Q", "-T", "-q", "-p", script], place)
    if code:
        raise CoreFault(_complaint(said, names))
    modules = json.loads((place / "core.json").read_text(encoding="utf-8"))["modules"]
    found = [(name, m) for name, m in modules.items() if int(str(m["attributes"].get("top", "0")), 2)]
    name, module = found[0]
    return {**module, "name": name}


def _must_be_name(top: str | None, parameters: Mapping[str, int]) -> None:
    """Names go into a tool's script, so nothing but plain names may pass."""
    for name in [*([top] if top is not None else []), *parameters]:
        if not re.fullmatch(r"[A-Za-z_]\w*", name):
            raise CoreFault(f"{name!r} is not the name of a module or parameter")
    for name, value in parameters.items():
        if isinstance(value, bool) or not isinstance(value, int):
            raise CoreFault(f"parameter {name} is {value!r}; a core's parameter is a whole number")


def _complaint(said: str, names: Mapping[str, str]) -> str:
    """yosys's error in the learner's file names."""
    lines = [line for line in said.splitlines() if "ERROR" in line] or said.splitlines()[-3:]
    if "logic loop" in said:
        places = dict.fromkeys(re.findall(r"cell .*?source: (\S+?:\d+)\.", said))
        lines = [
            f"it has a combinational loop through {', '.join(places)}: a value depends on itself within one tick. "
            "Put a register into the loop."
        ]
    text = " ".join(line.replace("ERROR: ", "") for line in lines)
    for inside, outside in names.items():
        text = text.replace(inside, outside)
    return f"the core cannot be read: {text}"


class _Reader:
    """Turns one flattened module into a netlist."""

    def __init__(self, module: dict[str, Any], names: Mapping[str, str], clocks: Mapping[str, int | Fraction]) -> None:
        self.module, self.files, self.rates = module, names, clocks
        self.net = Netlist(module["name"])
        self.cells: dict[str, dict[str, Any]] = module["cells"]
        self.driver: dict[Bit, tuple[str, str, int]] = {}  # bit -> cell, pin, place
        self.leaf: dict[Bit, tuple[int, int]] = {}  # bit -> node, place
        self.values: dict[tuple[str, str], int] = {}
        self.open: list[str] = []
        self.known: dict[tuple[object, ...], int] = {}
        self.loc: Loc = NOWHERE

    # --- the whole way ---

    def netlist(self) -> Netlist:
        for name, cell in self.cells.items():
            for pin, bits in cell["connections"].items():
                if cell["port_directions"].get(pin) == "output":
                    for place, bit in enumerate(bits):
                        self.driver.setdefault(bit, (name, pin, place))
        self._refuse()
        clock_bits = self._clocks()
        self._inputs(clock_bits)
        registers = self._registers()
        memories = [add_memory(self, name, cell) for name, cell in self.cells.items() if cell["type"] == "$mem_v2"]
        for index, name in registers:
            self.loc = self.place(self.cells[name])
            self.net.regs[index].next = next_value(self, self.cells[name], index)
        for close in memories:
            close()
        self._outputs()
        try:
            return check(run_passes(check(self.net)))
        except BadNetlist as error:
            raise CoreFault(f"{self.net.name} cannot be brought in: {error}") from None

    def place(self, item: dict[str, Any]) -> Loc:
        """Where in the Verilog text a cell or name comes from."""
        for source in str(item["attributes"].get("src", "")).split("|"):
            found = re.match(r"(.*?):(\d+)\.(\d+)", source)
            if found and found[1] in self.files:
                return Loc(self.files[found[1]], int(found[2]), int(found[3]) - 1)
        return NOWHERE

    def _refuse(self) -> None:
        for cell in self.cells.values():
            why = REFUSED.get(cell["type"])
            if why is None and "LATCH" in cell["type"].upper():
                why = REFUSED["$dlatch"]
            if why is not None:
                raise CoreFault(f"{self.place(cell)}: {why}")

    # --- ports ---

    def _clocks(self) -> dict[Bit, int]:
        """Clock inputs, by their bit; every register must run on the rising edge of one."""
        ports = {port["bits"][0]: name for name, port in self.module["ports"].items() if port["direction"] == "input"}
        found: dict[Bit, int] = {}
        for name, bit, polarity, cell in self._clock_pins():
            if bit not in ports:
                raise CoreFault(
                    f"{self.place(cell)}: {name} is clocked by a signal made inside the core; "
                    "here every register runs on a clock input. Use an enable instead."
                )
            if not polarity:
                raise CoreFault(
                    f"{self.place(cell)}: a register on the falling edge of {ports[bit]}; here registers take rising edges only"
                )
            if bit not in found:
                hz = Fraction(self.rates.get(ports[bit], FABRIC_HZ))
                found[bit] = len(self.net.clocks)
                self.net.clocks.append(Clock(ports[bit], hz.numerator, hz.denominator))
        if not found:
            self.net.clocks.append(Clock("fabric", FABRIC_HZ))
        self.clock_index = found
        return found

    def _clock_pins(self) -> list[tuple[str, Bit, bool, dict[str, Any]]]:
        found = []
        for name, cell in self.cells.items():
            pins = cell["connections"]
            if cell["type"] in FLIP_FLOPS:
                found.append((name, pins["CLK"][0], bool(self.number(cell, "CLK_POLARITY")), cell))
            elif cell["type"] == "$mem_v2":
                for kind in ("RD", "WR"):
                    enabled, polarity = (
                        self.number(cell, f"{kind}_CLK_ENABLE"),
                        self.number(cell, f"{kind}_CLK_POLARITY"),
                    )
                    found += [
                        (name, bit, bool(polarity >> i & 1), cell)
                        for i, bit in enumerate(pins[f"{kind}_CLK"])
                        if enabled >> i & 1
                    ]
        return found

    def _inputs(self, clock_bits: Mapping[Bit, int]) -> None:
        for name, port in self.module["ports"].items():
            if port["direction"] == "inout":
                raise CoreFault(f"{self.net.name}: port {name} is inout; a core has inputs and outputs only")
            bits = port["bits"]
            if port["direction"] == "input" and not (len(bits) == 1 and bits[0] in clock_bits):
                kind = make("unsigned", len(bits))
                self.loc = self.place(self.module["netnames"][name])
                self.net.inputs.append(Input(name, kind, 0, False, self.loc))
                node = self.add("input", (), len(bits), attr=len(self.net.inputs) - 1)
                self.leaf.update({bit: (node, place) for place, bit in enumerate(bits)})

    def _outputs(self) -> None:
        for name, port in self.module["ports"].items():
            if port["direction"] == "output":
                self.loc = self.place(self.module["netnames"][name])
                node = self.word(port["bits"])
                self.net.outputs.append(
                    Output(name, make("unsigned", len(port["bits"])), self._clock_of(node), node, self.loc)
                )

    def _clock_of(self, node: int) -> int:
        """Clock of the registers that an output shows; 0 if it shows none."""
        todo = [node]
        while todo:
            item = self.net.nodes[todo.pop()]
            if item.op == "reg":
                return self.net.regs[item.attr].clock
            if item.op == "rdata":
                return self.net.reads[item.attr].clock
            todo += item.args
        return 0

    # --- registers ---

    def _registers(self) -> list[tuple[int, str]]:
        """A register for each flip-flop cell, still without its next value."""
        names, starts = self._names(), self._starts()
        found = []
        for name, cell in self.cells.items():
            if cell["type"] not in FLIP_FLOPS:
                continue
            bits = cell["connections"]["Q"]
            start = sum((starts.get(bit, 0)) << i for i, bit in enumerate(bits))
            self.loc = self.place(cell)
            index = len(self.net.regs)
            self.net.regs.append(
                Reg(
                    self._own_name(names, bits, index),
                    make("unsigned", len(bits)),
                    start,
                    self.clock_index[cell["connections"]["CLK"][0]],
                    0,
                    self.loc,
                )
            )
            node = self.add("reg", (), len(bits), attr=index)
            self.leaf.update({bit: (node, place) for place, bit in enumerate(bits)})
            found.append((index, name))
        return found

    def _names(self) -> dict[tuple[Bit, ...], str]:
        """The author's name for each word that has one.  A register behind an asynchronous reset takes the name of the multiplexer there."""
        names = {
            tuple(net["bits"]): name
            for name, net in reversed(self.module["netnames"].items())
            if not net.get("hide_name")
        }
        for cell in self.cells.values():
            if cell["type"] == "$mux":
                pins = cell["connections"]
                for leg in (tuple(pins["A"]), tuple(pins["B"])):
                    if leg not in names and tuple(pins["Y"]) in names:
                        names[leg] = names[tuple(pins["Y"])]
        return names

    def _starts(self) -> dict[Bit, int]:
        """Bits whose start value is 1."""
        starts: dict[Bit, int] = {}
        for net in self.module["netnames"].values():
            start = str(net["attributes"].get("init", ""))[::-1]
            starts.update({bit: 1 for bit, value in zip(net["bits"], start, strict=False) if value == "1"})
        return starts

    def _own_name(self, names: Mapping[tuple[Bit, ...], str], bits: Sequence[Bit], index: int) -> str:
        taken = {reg.name for reg in self.net.regs} | {port.name for port in self.net.inputs}
        wanted = names.get(tuple(bits), f"register_{index}")
        shown = self.module["ports"].get(wanted)
        if shown is not None and shown["bits"] != list(
            bits
        ):  # behind an asynchronous reset the port shows another value
            wanted = f"{wanted}_register"
        return wanted if wanted not in taken else f"{wanted}_{index}"

    # --- from bits to words ---

    def add(self, op: str, args: tuple[int, ...], width: int, *, attr: int = 0, signed: bool = False) -> int:
        """A node; an equal one that exists already is used again."""
        kind = make("signed" if signed else "unsigned", width)
        key = (op, args, kind, attr)
        if key not in self.known:
            self.known[key] = len(self.net.nodes)
            self.net.nodes.append(Node(op, args, kind, attr, self.loc))
        return self.known[key]

    def const(self, value: int, width: int) -> int:
        """An unsigned constant."""
        return self.add("const", (), width, attr=value & ((1 << width) - 1))

    def word(self, bits: Sequence[Bit]) -> int:
        """The node whose bits are the given ones, lowest first; an undefined bit is 0."""
        runs: list[tuple[int, int, int]] = []  # node (-1: constant), place or value, width
        for bit in bits:
            node, place = self._source(bit)
            if runs and runs[-1][0] == node == -1:
                runs[-1] = (-1, runs[-1][1] | place << runs[-1][2], runs[-1][2] + 1)
            elif runs and node >= 0 and runs[-1][0] == node and runs[-1][1] + runs[-1][2] == place:
                runs[-1] = (node, runs[-1][1], runs[-1][2] + 1)
            else:
                runs.append((node, place, 1))
        parts = [self._run(*run) for run in reversed(runs)]
        return parts[0] if len(parts) == 1 else self.add("cat", tuple(parts), len(bits))

    def _run(self, node: int, place: int, width: int) -> int:
        if node < 0:
            return self.const(place, width)
        kind = self.net.nodes[node].type
        if place == 0 and kind.width == width and not kind.signed:
            return node
        return self.add("bits", (node,), width, attr=place)

    def _source(self, bit: Bit) -> tuple[int, int]:
        """Node and place of a bit; (-1, value) for a constant."""
        if bit == "z":
            raise CoreFault(f"{self.loc if self.loc.line else self.net.name}: {REFUSED['$tribuf']}")
        if isinstance(bit, str):
            return -1, int(bit == "1")
        if bit not in self.leaf:
            if bit not in self.driver:
                return -1, 0  # driven by nothing
            name, pin, _ = self.driver[bit]
            node = self._value(name, pin)
            self.leaf.update(
                {b: (node, i) for i, b in enumerate(self.cells[name]["connections"][pin]) if isinstance(b, int)}
            )
        return self.leaf[bit]

    def _value(self, name: str, pin: str) -> int:
        """The node of a cell's output."""
        if name in self.open:
            places = ", ".join(
                dict.fromkeys(str(self.place(self.cells[n])) for n in self.open[self.open.index(name) :])
            )
            raise CoreFault(
                f"{self.net.name} has a combinational loop through {places}: a value depends on itself within one tick. "
                "Put a register into the loop."
            )
        cell = self.cells[name]
        self.open.append(name)
        before, self.loc = self.loc, self.place(cell)
        found = cell_value(self, cell)
        self.loc = before
        self.open.pop()
        if found is None:
            raise CoreFault(
                f"{self.place(cell)}: the construct that yosys calls {cell['type']} has no counterpart here"
            )
        return found

    @staticmethod
    def number(cell: dict[str, Any], parameter: str) -> int:
        """A parameter of a cell as a number; undefined bits are 0."""
        text = str(cell["parameters"][parameter])
        return int(re.sub("[^1]", "0", text), 2) if text else 0


REFUSED = {
    "$dlatch": "a latch (a value that is held while no clock edge comes). Give every branch a value, or assign at a clock edge.",
    "$adlatch": "a latch with reset. Assign at a clock edge instead.",
    "$sr": "a set/reset latch. Assign at a clock edge instead.",
    "$tribuf": "a tristate driver (value z); inside a chip only one driver may exist. Use a multiplexer.",
    "$ff": "a latch (a value that is held while no clock edge comes). Give every branch a value, or assign at a clock edge.",
    "$mem": "a memory in an old form of yosys.",
}
