"""A core's own Verilog in Icarus Verilog against the netlist that was read from it, with random inputs."""

from __future__ import annotations

import random
import re
import subprocess
import tempfile
from pathlib import Path

from simkit.build.cores import read_core
from simkit.engines import Events, Recording, make_engine
from simkit.netlist import Netlist


def difference(file: Path, top: str, ticks: int = 300, seed: int = 1) -> str:
    """The first output and tick in which the two differ, or "" """
    netlist = read_core(file, top)
    rng = random.Random(seed)
    inputs = [
        [
            rng.getrandbits(port.type.width) & -rng.getrandbits(2) % (1 << port.type.width)
            if rng.random() < 0.3
            else rng.getrandbits(port.type.width)
            for port in netlist.inputs
        ]
        for _ in range(ticks)
    ]
    wanted = _icarus(file, top, netlist, inputs)
    for kind in ("reference", "native"):
        got = _engine(kind, netlist, inputs)
        for tick, (a, b) in enumerate(zip(wanted, got, strict=True)):
            for port, x, y in zip(netlist.outputs, a, b, strict=True):
                if x not in (None, y):
                    return f"{port.name} in tick {tick}: {x} in Icarus Verilog, {y} in the {kind} engine, inputs {inputs[tick]}"
    return ""


def _engine(kind: str, netlist: Netlist, inputs: list[list[int]]) -> list[list[int]]:
    engine = make_engine(netlist, 1, kind)
    recording = Recording([port.name for port in netlist.outputs])
    engine.record(recording)
    engine.run(
        len(inputs),
        Events.of(
            netlist, [(t, port.name, row[i]) for t, row in enumerate(inputs) for i, port in enumerate(netlist.inputs)]
        ),
    )
    traces = [recording.trace(port.name) for port in netlist.outputs]
    return [[trace.at(t) for trace in traces] for t in range(len(inputs))]


def _icarus(file: Path, top: str, netlist: Netlist, inputs: list[list[int]]) -> list[list[int | None]]:
    """Each tick's outputs, just before the edge; None where Icarus says undefined (division by zero, a register before its reset)."""
    clock = netlist.clocks[0].name
    ports = [
        f".{clock}(c)",
        *(f".{p.name}(i{n})" for n, p in enumerate(netlist.inputs)),
        *(f".{p.name}(o{n})" for n, p in enumerate(netlist.outputs)),
    ]
    rows = [f"    reg [{p.type.width - 1}:0] i{n} = 0;" for n, p in enumerate(netlist.inputs)]
    rows += [f"    wire [{p.type.width - 1}:0] o{n};" for n, p in enumerate(netlist.outputs)]
    steps = []
    for row in inputs:
        steps.append(" ".join(f"i{n} = {p.type.width}'d{row[n]};" for n, p in enumerate(netlist.inputs)) + " #5;")
        steps.append(
            '$display("'
            + " ".join("%h" for _ in netlist.outputs)
            + '", '
            + ", ".join(f"o{n}" for n in range(len(netlist.outputs)))
            + "); c = 1; #5 c = 0;"
        )
    text = "\n".join(
        [
            "module bench;",
            "    reg c = 0;",
            *rows,
            f"    {top} dut ({', '.join(ports)});",
            "    initial begin",
            *steps,
            "    end",
            "endmodule",
        ]
    )
    with tempfile.TemporaryDirectory(prefix="core-") as folder:
        (Path(folder) / "bench.v").write_text(text)
        subprocess.run(
            ["iverilog", "-g2005", "-o", "run", "bench.v", str(file.resolve())], cwd=folder, check=True, timeout=60
        )
        said = subprocess.run(
            ["vvp", "-n", "run"], cwd=folder, check=True, timeout=60, capture_output=True, text=True
        ).stdout
    return [
        [None if re.search("[xzXZ]", word) else int(word, 16) for word in line.split()] for line in said.splitlines()
    ]
