"""How fast is the native engine, against Verilator -O3 on the same design in the same run?

``python -m tests.benchmarks.engine_speed --json`` prints one JSON object.  Ratios are native over Verilator;
``paced_vs_verilator`` is for one bench second of two paced loops.  Needs ``verilator``, ``make`` and a C++ compiler for
the peer; without them its keys are null.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from simkit.emit.verilog import emit
from simkit.engines import Events, Recording, make_engine
from simkit.engines.native.jit import _compiled
from simkit.lang import compile_design
from simkit.netlist import Netlist
from simkit.netlist.passes import run_passes
from tests.agreement import changes, first_difference
from tests.benchmarks.netlists import always_active, paced, wide_logic, with_counters
from tests.netlist.random_netlists import random_events, random_netlist

SECOND = 40_000_000

MAIN = """
#include "Vpeer.h"
#include <chrono>
#include <cstdio>
#include <cstdlib>
int main(int argc, char** argv) {
    VerilatedContext context;
    Vpeer top{&context};
    long ticks = std::atol(argv[1]);
    auto start = std::chrono::steady_clock::now();
    for (long i = 0; i < ticks; ++i) {
        top.fabric = 0; top.eval();
        top.fabric = 1; top.eval();
    }
    std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    std::printf("%.9f", took.count());
    OUTPUTS
    std::printf("\\n");
}
"""


class Peer:
    """The same design through Verilator."""

    def __init__(self, net: Netlist, folder: Path) -> None:
        verilog = emit(net)
        outputs = [verilog.identifiers["output", i] for i in range(len(net.outputs))]
        folder.mkdir()
        (folder / "design.v").write_text(verilog.text)
        (folder / "main.cpp").write_text(
            MAIN.replace(
                "OUTPUTS", "".join(f'std::printf(" %llu", (unsigned long long)top.{name});' for name in outputs)
            )
        )
        command = [
            "verilator",
            "--cc",
            "--exe",
            "--build",
            "-O3",
            "--x-assign",
            "fast",
            "--x-initial",
            "fast",
            "--noassert",
            "-Wno-fatal",
            "-Wno-lint",
            "--prefix",
            "Vpeer",
            "--top-module",
            verilog.module,
            "-CFLAGS",
            "-O3 -march=native",
            "main.cpp",
            "design.v",
        ]
        began = time.perf_counter()
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        self.compile_seconds = time.perf_counter() - began
        self.program = folder / "obj_dir" / "Vpeer"

    def run(self, ticks: int) -> tuple[float, list[int]]:
        """Seconds, and the outputs afterwards as bit patterns."""
        words = subprocess.run(
            [str(self.program), str(ticks)], check=True, capture_output=True, text=True
        ).stdout.split()
        return float(words[0]), [int(w) for w in words[1:]]


def warm(engine: Any) -> None:
    """Run until the engine has the better code, which a long program gets only after a while."""
    while any(code.quick for code, _ in engine._programs.values()):
        engine.run(5_000)


def native_rate(net: Netlist, ticks: int) -> tuple[float, list[int]]:
    """Seconds for the ticks (compiling apart, after a start of its own), and the outputs in the last tick as bit patterns."""
    engine = make_engine(net)
    engine.run(1)
    warm(engine)
    engine.reset()
    began = time.perf_counter()
    engine.run(ticks)
    took = time.perf_counter() - began
    return took, [engine.peek(o.name) & ((1 << o.type.width) - 1) for o in net.outputs]


def against(net: Netlist, native_ticks: int, peer_ticks: int, folder: Path, rounds: int) -> dict[str, Any]:
    """Ticks per second of both, the median of alternating rounds; and that both computed the same."""
    peer = Peer(net, folder)
    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(native_ticks / native_rate(net, native_ticks)[0])
        theirs.append(peer_ticks / peer.run(peer_ticks)[0])
    same = native_rate(net, peer_ticks)[1] == peer.run(peer_ticks)[1]
    mine, other = statistics.median(ours), statistics.median(theirs)
    return {
        "native_ticks_per_second": round(mine),
        "verilator_ticks_per_second": round(other),
        "ratio": round(mine / other, 2),
        "verilator_compile_seconds": round(peer.compile_seconds, 2),
        "equal_outputs": same,
    }


def compile_seconds(nodes: int, rounds: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """From a netlist of so many nodes to its first tick, the median; by the wall, or by ``time.process_time``."""
    net = wide_logic(nodes)
    took = []
    for _ in range(rounds):
        _compiled.cache_clear()
        began = clock()
        make_engine(net).run(1)
        took.append(clock() - began)
    return round(statistics.median(took), 4)


def source_to_first_tick(rounds: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """Seconds from the text of a design of 200 lines to its first tick, the median.  The file is a new one each time."""
    took = []
    with tempfile.TemporaryDirectory(prefix="source-") as folder:
        for number in range(rounds):
            path = Path(folder) / f"design_{number}.py"
            path.write_text(two_hundred_lines())
            names: dict[str, Any] = {"__name__": f"design_{number}"}
            exec(compile(path.read_text(), str(path), "exec"), names)
            _compiled.cache_clear()
            began = clock()
            make_engine(compile_design(names["Big"])).run(1)
            took.append(clock() - began)
    return round(statistics.median(took), 4)


def two_hundred_lines() -> str:
    """A design with 22 paced loops that share nothing: more logic than a person writes in 200 lines."""
    lines = [
        "from simkit import HostReg, Design, Reg, resize, sequenced, signed, tick, unsigned, wait",
        "",
        "",
        "class Big(Design):",
    ]
    for k in range(22):
        lines.append(
            f"    a{k} = Reg(unsigned(16)); b{k} = Reg(signed(20)); out{k} = HostReg(unsigned(16), access='ro')"
        )
    for k in range(22):
        lines += [
            f"    @sequenced(every={800 + k})",
            f"    def loop{k}(self):",
            f"        self.a{k} = self.a{k} + 1",
            f"        if self.a{k} > 100:",
            f"            self.b{k} = resize(self.b{k} + signed(17)(self.a{k}) * 3, signed(20), overflow='wrap')",
            "            tick()",
            "        wait(10)",
            f"        self.out{k} = self.a{k} ^ 5",
        ]
    return "\n".join(lines) + "\n"


def passes_seconds(nodes: int) -> float:
    net = wide_logic(nodes)
    began = time.perf_counter()
    run_passes(net)
    return round(time.perf_counter() - began, 4)


def growth() -> dict[str, dict[str, float]]:
    """Seconds against size: registers (busy ones), loops, recorded signals, bench seconds."""
    found: dict[str, dict[str, float]] = {
        "first_tick_by_nodes": {},
        "million_ticks_by_nodes": {},
        "bench_second_by_loops": {},
        "bench_second_by_loops_beside_counters": {},
        "million_ticks_by_recorded_signals": {},
        "paced_by_bench_seconds": {},
    }
    for nodes in (250, 500, 1000, 2000, 4000):
        found["first_tick_by_nodes"][str(nodes)] = compile_seconds(nodes, 3, time.process_time)
        found["million_ticks_by_nodes"][str(nodes)] = round(native_rate(wide_logic(nodes), 200_000)[0] * 5, 4)
    for loops in (1, 2, 4, 8, 16):
        found["bench_second_by_loops"][str(loops)] = round(native_rate(paced(loops), SECOND)[0], 4)
        found["bench_second_by_loops_beside_counters"][str(loops)] = round(
            native_rate(with_counters(loops), SECOND)[0], 4
        )
    for seconds in (1, 10, 100):
        found["paced_by_bench_seconds"][str(seconds)] = round(native_rate(paced(), seconds * SECOND)[0], 4)
    net = always_active()
    for signals in (0, 1, 4, 16):
        engine = make_engine(net)
        engine.record(Counting(list(net.signals())[:signals]) if signals else None)
        engine.run(1)
        began = time.perf_counter()
        engine.run(1_000_000)
        found["million_ticks_by_recorded_signals"][str(signals)] = round(time.perf_counter() - began, 4)
    return found


def draw(found: dict[str, dict[str, float]], path: Path) -> None:
    """The growth as a picture: seconds against size, both logarithmic, and a line of slope one through the last point."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import NullFormatter

    figure = Figure(figsize=(11, 6.4), layout="constrained")
    for axes, (name, rows) in zip(figure.subplots(2, 3).flat, found.items(), strict=True):
        sizes, seconds = zip(*((float(k), v) for k, v in rows.items() if float(k)), strict=True)
        axes.loglog(sizes, seconds, "o-", label="measured")
        axes.loglog(sizes, [seconds[-1] * x / sizes[-1] for x in sizes], "--", color="0.5", label="in proportion")
        what, _, against = name.partition("_by_")
        axes.set(
            title=f"{what.replace('_', ' ')}, by {against.replace('_', ' ')}",
            xlabel=against.replace("_", " "),
            ylabel="seconds",
        )
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.legend()
    figure.savefig(path, dpi=100)


class Counting(Recording):
    """Takes changes and keeps none, so that the engine's own memory is seen."""

    def add(self, name: str, ticks: Any, values: Any) -> None:
        self.taken = getattr(self, "taken", 0) + len(ticks)


def hour_of_paced() -> dict[str, float]:
    """An hour of bench time with two signals recorded: seconds it took, changes seen, how much the process grew."""
    net = paced()
    engine = make_engine(net)
    recording = Counting(["total_0", "speed_0"])
    engine.record(recording)
    engine.run(SECOND)
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.perf_counter()
    engine.run(3599 * SECOND)
    return {
        "seconds": round(time.perf_counter() - began, 2),
        "changes": recording.taken,
        "grown_mib": round((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024, 2),
    }


def streamed_second() -> float:
    """One bench second of a 51.2 kS/s strobe input, fed as events: seconds."""
    import numpy as np

    from tests.benchmarks.netlists import sampled

    net = sampled()
    ticks = np.repeat(np.arange(51_200) * SECOND // 51_200, 2)
    port = np.tile([0, 1], 51_200)
    value = np.where(port == 0, np.arange(len(ticks)) % 30_000, 1)
    engine = make_engine(net)
    engine.run(1)
    began = time.perf_counter()
    engine.run(SECOND, Events(ticks + 1, port, value))
    return round(time.perf_counter() - began, 4)


def agreement(designs: int) -> bool:
    """Reference and native on random designs."""
    for seed in range(9000, 9000 + designs):
        net = random_netlist(seed)
        events = random_events(net, seed, 300)
        runs = [changes(make_engine(net, seed, kind), net, events, [300]) for kind in ("reference", "native")]
        if first_difference(*runs):
            return False
    return True


def measure(quick: bool) -> dict[str, Any]:
    report: dict[str, Any] = {"always_active_vs_verilator": None, "paced_vs_verilator": None}
    make_engine(paced()).run(1)  # loading LLVM is paid once a process, and reported apart
    if shutil.which("verilator") and shutil.which("g++"):
        with tempfile.TemporaryDirectory(prefix="speed-") as folder:
            busy = against(always_active(), 20_000_000, 5_000_000, Path(folder) / "busy", 3 if quick else 5)
            idle = against(paced(), SECOND, SECOND // 4 if quick else SECOND, Path(folder) / "paced", 1 if quick else 3)
        report |= {
            "always_active_vs_verilator": busy["ratio"],
            "paced_vs_verilator": idle["ratio"],
            "always_active": busy,
            "paced": idle,
        }
    report["compile_seconds"] = source_to_first_tick(5)
    report["compile_processor_seconds"] = source_to_first_tick(5, time.process_time)  # the same on a busy machine
    report["netlist_of_1000_nodes_seconds"] = compile_seconds(1000, 5)
    report["passes_seconds_3000_nodes"] = passes_seconds(3000)
    report["reference_vs_native_equal"] = agreement(20)
    report["streamed_second"] = streamed_second()
    if not quick:
        report |= {"growth": growth(), "hour_of_paced": hour_of_paced()}
    return report


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true", help="leave out growth and the long run")
    parser.add_argument("--plot", type=Path, metavar="FILE", help="draw the growth as a PNG or SVG file")
    options = parser.parse_args()
    report = measure(options.quick)
    if options.plot:
        draw(report.get("growth") or growth(), options.plot)
    print(json.dumps(report, indent=None if options.json else 2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
