"""Do all ways to understand a learner's program agree?  The oracle, both engines and Icarus Verilog on random designs.

``python -m tests.designs.agree --designs 300 --json`` prints ``{"designs", "mismatches", "compared", "seconds", …}``;
a design that fails is printed small, as the learner would write it.  ``--shrink SEED`` does so for one design.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

from simkit.engines import Engine, Events, Recording
from simkit.engines.native import NativeEngine
from simkit.engines.reference import ReferenceEngine
from simkit.netlist import Netlist
from tests.designs.generate import random_program
from tests.designs.oracle import Machine
from tests.designs.program import TICKS, Program
from tests.designs.run import netlist_of
from tests.designs.shrink import shrink

Traces = dict[str, list[tuple[int, int]]]
SLOWER = 20
COMPARED = ("user", "port", "count")
"""Kinds of register that the oracle speaks of; the others are the compiler's own."""


def engine_traces(
    net: Netlist, events: Events, seed: int, engine: Callable[[Netlist, int], Engine], ticks: int = TICKS
) -> Traces:
    running, recording = engine(net, seed), Recording(list(net.signals()))
    running.record(recording)
    running.run(ticks, events)
    traces = {name: recording.trace(name) for name in recording.names}
    return {name: list(zip(t.ticks.tolist(), t.values.tolist(), strict=True)) for name, t in traces.items()}


def difference(wanted: Traces, got: Traces) -> str:
    """Where two sets of traces first part, or "" """
    worst: tuple[int, str] | None = None
    for name in wanted:
        for mine, theirs in zip([*wanted[name], None], [*got.get(name, []), None], strict=False):
            if mine != theirs:
                tick = min(row[0] for row in (mine, theirs) if row is not None)
                if worst is None or tick < worst[0]:
                    worst = tick, f"{name}: {mine} against {theirs}"
                break
    return f"tick {worst[0]}: {worst[1]}" if worst else ""


def oracle_traces(machine: Machine, net: Netlist) -> Traces:
    known = {reg.name for reg in net.regs if reg.kind in COMPARED}
    return {name: changes for name, changes in machine.seen.items() if name in known}


def slowed(program: Program) -> tuple[Netlist, Events]:
    """The program with waits, periods and stimuli ``SLOWER`` times as long: most of its ticks are idle."""
    source = program.source().replace("    @clocked\n    def counter", "    @sequenced(every=1)\n    def counter")
    for form in (r"(\bwait\()(\d+)(?=\))", r"(\bevery=)(\d+)"):
        source = re.sub(form, lambda match: f"{match[1]}{int(match[2]) * SLOWER}", source)
    net = netlist_of(source)
    return net, Events.of(net, [(tick * SLOWER, name, value) for tick, name, value in program.stimuli()])


def disagreements(program: Program, with_icarus: bool = True) -> list[str]:
    """What does not agree on a program, a line each.

    Raises
    ------
    HardwareError
        If the compiler refuses the program: then one of the two, generator or compiler, is wrong too.
    """
    net = netlist_of(program.source())
    events = Events.of(net, program.stimuli())
    wanted = engine_traces(net, events, program.seed, ReferenceEngine)
    found = {"native": difference(wanted, engine_traces(net, events, program.seed, NativeEngine))}
    if program.clocks == 1:
        expected = oracle_traces(program.machine(), net)
        found["oracle"] = difference(expected, wanted)
    if program.seed % 10 == 0:
        idle = (*slowed(program), program.seed)
        found["native, mostly idle"] = difference(
            *(engine_traces(*idle, kind, TICKS * SLOWER // 2) for kind in (ReferenceEngine, NativeEngine))
        )
    if with_icarus:
        from simkit.engines.icarus import run_icarus

        recording = run_icarus(net, TICKS, events, list(wanted), program.seed)
        shown = {name: recording.trace(name) for name in wanted}
        found["Icarus Verilog"] = difference(
            wanted, {name: list(zip(t.ticks.tolist(), t.values.tolist(), strict=True)) for name, t in shown.items()}
        )
    return [f"{who}: {where}" for who, where in found.items() if where]


def verdict(program: Program, with_icarus: bool = True) -> list[str]:
    """As :func:`disagreements`; a program that cannot be compiled or run is a line too."""
    try:
        return disagreements(program, with_icarus)
    except SyntaxError as error:
        return [f"compiler: refused: {error.msg} (line {error.lineno})"]
    except Exception as error:  # noqa: BLE001 - whatever goes wrong in any of the four is what we are looking for
        return [f"{type(error).__name__}: {error}"]


def smallest(seed: int) -> str:
    """A failing design, made small, as the learner would write it."""
    program = random_program(seed)
    faults = {_fault(line) for line in verdict(program)}
    icarus = "Icarus Verilog" in faults

    def still(candidate: Program) -> bool:
        return any(_fault(line) in faults for line in verdict(candidate, icarus))

    return shrink(program, still).source() if faults else ""


def _fault(line: str) -> str:
    """What kind of difference a line tells of: who differs, or what the compiler says, names and numbers left out."""
    return re.sub(r"[a-z]*\d+", "", line) if line.startswith("compiler") else line.split(":")[0]


def _one(job: tuple[int, bool]) -> tuple[int, int, list[str]]:
    seed, with_icarus = job
    program = random_program(seed)
    return seed, program.clocks, verdict(program, with_icarus)


def compare(designs: int, first_seed: int, jobs: int, icarus_every: int) -> dict[str, object]:
    """Run the comparison; the report that ``--json`` prints."""
    began, bad = time.perf_counter(), []
    work = [(seed, bool(icarus_every) and seed % icarus_every == 0) for seed in range(first_seed, first_seed + designs)]
    counts = {"reference": 0, "native": 0, "oracle": 0, "icarus": 0}
    with ProcessPoolExecutor(jobs) as pool:
        for (seed, clocks, lines), (_, icarus) in zip(pool.map(_one, work, chunksize=8), work, strict=True):
            counts["reference"] += 1
            counts["native"] += 1
            counts["oracle"] += clocks == 1
            counts["icarus"] += icarus
            if lines:
                bad.append({"seed": seed, "differences": lines})
    return {
        "designs": designs,
        "mismatches": len(bad),
        "compared": counts,
        "seconds": round(time.perf_counter() - began, 1),
        "ticks": TICKS,
        "first_seed": first_seed,
        "examples": bad[:20],
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--designs", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument(
        "--icarus-every", type=int, default=1, help="run every n-th design in Icarus Verilog too; 0: none"
    )
    parser.add_argument("--shrink", type=int, metavar="SEED", help="print a failing design made small")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    if options.shrink is not None:
        print(smallest(options.shrink) or "this design does not fail")
        return 0
    report = compare(options.designs, options.first_seed, options.jobs, options.icarus_every)
    print(json.dumps(report) if options.json else "\n".join(f"{key}: {value}" for key, value in report.items()))
    for example in report["examples"][:2]:  # type: ignore[index]
        print(f"--- seed {example['seed']}: {example['differences']}\n{smallest(example['seed'])}", file=sys.stderr)
    return 1 if report["mismatches"] else 0


if __name__ == "__main__":
    sys.exit(main())
