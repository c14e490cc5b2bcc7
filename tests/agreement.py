"""Do all ways to run a design agree?  Random designs through the reference engine, the native engine and Icarus Verilog.

``python -m tests.agreement --designs 200 --json`` prints ``{"designs", "mismatches", "seconds", ...}``.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from collections.abc import Callable, Sequence

from simkit.engines import Engine, Events, Recording, make_engine
from simkit.engines.api import NO_EVENTS
from simkit.engines.native import NativeEngine
from simkit.netlist import Netlist
from simkit.netlist.passes import run_passes
from tests.designs.generate import random_design
from tests.designs.run import netlist_of
from tests.netlist.random_netlists import divides_wide, random_events, random_netlist

TICKS = 400
PIECEMEAL = "native, events one by one"
GENERATORS: dict[str, Callable[[int], Netlist]] = {
    "netlists": random_netlist,
    "learner designs": lambda seed: netlist_of(random_design(seed)[0]),
}
"""Sources of random designs: netlists with every operator at every width, and designs as learners write them."""


class InBuffer(NativeEngine):
    """The native engine as it runs large designs."""

    resident_words, chunk = -1, 9


class Restless(NativeEngine):
    """The native engine, at once looking for registers that keep a design from being idle."""

    patience, samples = 1, 1


def changes(
    engine: Engine, net: Netlist, events: Events, steps: Sequence[int], early: bool = True
) -> dict[str, list[tuple[int, int]]]:
    """Everything that a run shows, with the run cut into the given steps.

    ``early``: all events are handed over with the first step; else each with the step in which it is due, as a host does (one clock).
    """
    recording = Recording(list(net.signals()))
    engine.record(recording)
    begun = 0
    for number, step in enumerate(steps):
        due = (events.tick >= begun) & (events.tick < begun + step)
        now = Events(events.tick[due], events.port[due], events.value[due])
        engine.run(step, (events if number == 0 else NO_EVENTS) if early else now)
        begun += step
    shown = {
        name: list(zip(recording.trace(name).ticks.tolist(), recording.trace(name).values.tolist(), strict=True))
        for name in recording.names
    }
    return shown | {f"peek {name}": [(0, engine.peek(name))] for name in recording.names}


def first_difference(a: dict[str, list[tuple[int, int]]], b: dict[str, list[tuple[int, int]]]) -> str:
    """Where two runs first part, or "" """
    for name in a:
        if a[name] != b.get(name):
            at = next((x, y) for x, y in zip([*a[name], None], [*b.get(name, []), None], strict=False) if x != y)
            return f"{name}: {at[0]} against {at[1]}"
    return ""


def disagreements(net: Netlist, seed: int, with_icarus: bool = True) -> list[str]:
    """What does not agree on one design, a line each."""
    events = random_events(net, seed, TICKS)
    rng = random.Random(seed)
    cut = rng.randrange(1, TICKS)
    wanted = changes(make_engine(net, seed, "reference"), net, events, [TICKS])
    runs = {
        "native": (NativeEngine(net, seed), [TICKS]),
        "native in two runs": (NativeEngine(net, seed), [cut, TICKS - cut]),
        "native, state in the buffer": (InBuffer(net, seed), [TICKS]),
        "native, restless registers alone": (Restless(net, seed), [TICKS]),
        "native after the passes": (NativeEngine(run_passes(net), seed), [TICKS]),
    }
    if len(net.clocks) == 1:
        runs[PIECEMEAL] = NativeEngine(net, seed), [*[7] * (TICKS // 7), TICKS % 7]
    found = []
    for name, (engine, steps) in runs.items():
        got = changes(engine, engine.netlist, events, steps, early=name != PIECEMEAL)
        where = first_difference({key: rows for key, rows in wanted.items() if key in got}, got)
        if where:
            found.append(f"{net.name}: {name}: {where}")
    if with_icarus and not divides_wide(net):
        from simkit.engines.icarus import run_icarus

        recorded = {k: v for k, v in wanted.items() if not k.startswith("peek ")}
        recording = run_icarus(net, TICKS, events, list(recorded), seed)
        got = {
            n: list(zip(recording.trace(n).ticks.tolist(), recording.trace(n).values.tolist(), strict=True))
            for n in recorded
        }
        where = first_difference(recorded, got)
        if where:
            found.append(f"{net.name}: Icarus Verilog: {where}")
    return found


def compare(
    designs: int, first_seed: int, with_icarus: bool, generators: dict[str, Callable[[int], Netlist]]
) -> dict[str, object]:
    """Run the comparison; the report that ``--json`` prints."""
    began, found = time.perf_counter(), []
    for name, generator in generators.items():
        for seed in range(first_seed, first_seed + designs):
            found += [f"{name} {line}" for line in disagreements(generator(seed), seed, with_icarus)]
    return {
        "designs": designs * len(generators),
        "mismatches": len(found),
        "seconds": round(time.perf_counter() - began, 2),
        "ticks": TICKS,
        "first_seed": first_seed,
        "engines": ["reference", "native", *(["icarus"] if with_icarus else [])],
        "examples": found[:10],
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--designs", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--without-icarus", action="store_true")
    parser.add_argument("--json", action="store_true")
    parser.add_argument(
        "--source", choices=[*GENERATORS, "both"], default="both", help="what to make; 'both': half of each"
    )
    options = parser.parse_args()
    chosen = GENERATORS if options.source == "both" else {options.source: GENERATORS[options.source]}
    report = compare(-(-options.designs // len(chosen)), options.first_seed, not options.without_icarus, chosen)
    print(json.dumps(report) if options.json else "\n".join(f"{key}: {value}" for key, value in report.items()))
    return 1 if report["mismatches"] else 0


if __name__ == "__main__":
    sys.exit(main())
