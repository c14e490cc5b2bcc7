"""The emitted Verilog in Icarus Verilog: a third opinion on what a design does (for tests; slow to start).

The test bench keeps the kit's times: at each edge it notes the values, moves the clocks, and only then changes inputs,
so that edges which coincide see the old state and an input changes at the start of a tick.
"""

from __future__ import annotations

import heapq
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from ..emit.verilog import Verilog, emit
from ..netlist import Input, Netlist, Output, Reg
from .api import NO_EVENTS, EngineFault, Events, Recording
from .inputs import InputTable


def run_icarus(
    netlist: Netlist, ticks: int, events: Events = NO_EVENTS, names: Sequence[str] = (), seed: int = 0
) -> Recording:
    """Run from reset for ``ticks`` ticks of clock 0 and record the named signals.

    Raises
    ------
    EngineFault
        If a signal is unknown, an event does not fit, or a tool reports an error (its words are passed on).
    """
    verilog = emit(netlist)
    bench = bench_text(netlist, verilog, names, seed)
    with tempfile.TemporaryDirectory(prefix="icarus-") as folder:
        place = Path(folder)
        (place / "design.v").write_text(verilog.text, encoding="utf-8")
        (place / "bench.v").write_text(bench, encoding="utf-8")
        (place / "steps.txt").write_text("\n".join(_steps(netlist, ticks, InputTable(netlist).checked(events))) + "\n")
        _call(["iverilog", "-g2005", "-DSIMULATION", "-o", "run.vvp", "bench.v", "design.v"], place)
        _call(["vvp", "-n", "run.vvp"], place)
        return _collect(netlist, names, (place / "changes.txt").read_text())


def _call(command: list[str], place: Path) -> None:
    done = subprocess.run(command, cwd=place, capture_output=True, text=True, timeout=120, check=False)
    if done.returncode or "error" in done.stderr.lower():
        raise EngineFault(f"{command[0]}: {done.stderr.strip()[:2000] or done.stdout.strip()[:2000]}")


# --- stimulus --------------------------------------------------------------------------------------


def _steps(net: Netlist, ticks: int, events: Events) -> Iterator[str]:
    """Lines ``0 input value`` (hex, set), ``1 clocks wait`` (edges after so many picoseconds)."""
    changes = _changes(net, events)
    edges = [(clock.edge_ps(0), i, 0) for i, clock in enumerate(net.clocks)]
    heapq.heapify(edges)
    end = net.clocks[0].edge_ps(ticks - 1)
    now = 0
    yield from changes.pop(-1, ())
    while edges and edges[0][0] <= end:
        at = edges[0][0]
        mask, ended = 0, []
        while edges and edges[0][0] == at:
            _, i, k = heapq.heappop(edges)
            mask |= 1 << i
            ended.append((i, k))
            heapq.heappush(edges, (net.clocks[i].edge_ps(k + 1), i, k + 1))
        yield f"1 {mask} {at - now:x}"
        now = at
        for i, k in ended:
            yield from changes.pop((i, k), ())


def _changes(net: Netlist, events: Events) -> dict[object, list[str]]:
    """Input changes by the edge (clock, number) after which they happen; -1: at the start.  A strobe falls one tick later."""
    rows: list[tuple[int, int, int, int]] = []
    for tick, port, value in zip(events.tick.tolist(), events.port.tolist(), events.value.tolist(), strict=True):
        rows.append((tick, 1, port, value))
        if net.inputs[port].strobe:
            rows.append((tick + 1, 0, port, 0))
    found: dict[object, list[str]] = {}
    for tick, _, port, value in sorted(rows, key=lambda row: row[:2]):
        item = net.inputs[port]
        key = (item.clock, tick - 1) if tick else -1
        found.setdefault(key, []).append(f"0 {port} {value & ((1 << item.type.width) - 1):x}")
    return found


# --- test bench ------------------------------------------------------------------------------------


def bench_text(net: Netlist, verilog: Verilog, names: Sequence[str], seed: int) -> str:
    """Verilog that plays ``steps.txt`` and writes ``changes.txt`` (signal, tick, value in hex)."""
    of = verilog.identifiers
    clocks, inputs = range(len(net.clocks)), range(len(net.inputs))
    width = max([p.type.width for p in net.inputs] + [64])
    rows = [
        *(f"    reg c{i} = 0; integer k{i} = 0;" for i in clocks),
        *(f"    reg [{net.inputs[i].type.width - 1}:0] i{i} = 0;" for i in inputs),
    ]
    ports = [f".{of['clock', i]}(c{i})" for i in clocks] + [f".{of['input', i]}(i{i})" for i in inputs]
    parameter = f" #(.SETTLE_SEED(64'd{seed & (2**64 - 1)}))" if any(r.cross for r in net.regs) else ""
    signals = net.signals()
    watch = []
    for number, name in enumerate(names):
        if name not in signals:
            raise EngineFault(f"there is no signal {name!r}")
        signal = signals[name]
        rows.append(f"    reg [{signal.type.width}:0] l{number} = {{{signal.type.width + 1}{{1'bx}}}};")
        rows.append(f"    wire [{signal.type.width}:0] s{number} = {{1'b0, dut.{_place(net, verilog, name)}}};")
        watch.append(
            f"            if (arg[{signal.clock}] && s{number} !== l{number}) begin "
            f'$fdisplay(out, "{number} %0d %h", k{signal.clock}, s{number}); l{number} = s{number}; end'
        )
    sets = [f"                {i}: i{i} = value;" for i in inputs]
    return "\n".join(
        [
            "`timescale 1ps / 1ps",
            "module bench;",
            *rows,
            f"    {verilog.module}{parameter} dut ({', '.join(ports)});",
            f"    integer steps, out, kind, arg, got; reg [{width - 1}:0] value;",
            "    initial begin",
            '        steps = $fopen("steps.txt", "r"); out = $fopen("changes.txt", "w");',
            '        got = $fscanf(steps, "%d %d %h", kind, arg, value);',
            "        while (got == 3) begin",
            "            if (kind == 0) case (arg)",
            *sets,
            "                default: ;",
            "            endcase else begin",
            "            #(value[63:0]);",
            *watch,
            *(f"            if (arg[{i}]) begin c{i} = 1; k{i} = k{i} + 1; end" for i in clocks),
            "            #0;",
            *(f"            c{i} = 0;" for i in clocks),
            "            end",
            '            got = $fscanf(steps, "%d %d %h", kind, arg, value);',
            "        end",
            "        $fclose(out); $finish;",
            "    end",
            "endmodule",
            "",
        ]
    )


def _place(net: Netlist, verilog: Verilog, name: str) -> str:
    """Identifier inside the module of a signal."""
    parts: tuple[tuple[str, Sequence[Reg | Input | Output]], ...] = (
        ("reg", net.regs),
        ("input", net.inputs),
        ("output", net.outputs),
    )
    for kind, items in parts:
        for index, item in enumerate(items):
            if item.name == name:
                return verilog.identifiers[kind, index]
    raise EngineFault(f"there is no signal {name!r}")


def _collect(net: Netlist, names: Sequence[str], text: str) -> Recording:
    signals = net.signals()
    found: list[tuple[list[int], list[int]]] = [([], []) for _ in names]
    for line in text.splitlines():
        number, tick, value = line.split()
        if set(value) & set("xzXZ"):
            raise EngineFault(f"{names[int(number)]} is undefined ({value}) in tick {tick}")
        at, values = found[int(number)]
        at.append(int(tick))
        values.append(signals[names[int(number)]].type.wrap(int(value, 16)))
    recording = Recording(list(names))
    for name, (at, values) in zip(names, found, strict=True):
        wide = signals[name].type.width > 63
        recording.add(name, np.array(at, np.int64), np.array(values, object if wide else np.int64))
    return recording
