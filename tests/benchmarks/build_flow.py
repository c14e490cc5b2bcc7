"""How long builds take, how far the estimate is off, and whether synthesised netlists do what the engines say.

``python tests/benchmarks/build_flow.py --json`` prints ``warm_seconds`` (design to seconds, without the cache of finished builds): a few
designs of the corpus, the one of the capstone's size, and every design of every lab, its solutions included; ``warm_processor_seconds``
beside it.  What takes longer than 5 s is built once more, and the shorter time counts: on a shared machine the same build differs by half.
``machine_seconds`` is what a fixed loop of Python took before and after, so that runs can be compared.  ``estimate_fmax_error_p90`` and ``estimate_luts_error_p90`` (fractions) are those over the fresh designs, which the fit never
sees; with ``_held_out`` over the third of the corpus that is not fitted to, with ``_all`` over corpus and fresh ones together, with
``_labs`` over the labs' designs as just built.  ``equivalence_runs`` and ``equivalence_mismatches`` count the corpus, the fresh designs
and the labs'.  Measurements stand in ``tests/build/measured*.json`` (``python -m simkit.build.calibrate`` makes them anew).
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from subprocess import CalledProcessError
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from instructor.author.build import sources  # noqa: E402
from simkit.build import BuildFault, Report, build, estimate, warm_up  # noqa: E402
from simkit.build.calibrate import errors, held_out, quantiles, samples, spread  # noqa: E402
from simkit.build.estimate import model  # noqa: E402
from simkit.build.flow import netlist_of  # noqa: E402
from simkit.netlist import Netlist  # noqa: E402
from tests.benchmarks.capstone import Monitor  # noqa: E402
from tests.build.corpus import CORPUS  # noqa: E402
from tests.build.fresh import CORPUS as FRESH  # noqa: E402
from tests.build.lab_designs import SOLUTIONS, lab_designs  # noqa: E402
from tests.build.postsynth import compare  # noqa: E402

TIMED = (
    "blink 27",
    "tacho",
    "multiply add compare 18, one stage",
    "moving average 1024",
    "controller",
    "trigger",
    "monitor",
)


LIMIT_S = 5.0
"""What a build of a few hundred registers may take, s."""


def labs() -> tuple[dict[str, Netlist], list[str]]:
    """The designs of all labs, and the labs that could not be read."""
    found: dict[str, Netlist] = {}
    unread = []
    for folder in sources(SOLUTIONS):
        try:
            found |= lab_designs(folder)
        except CalledProcessError:  # the lab itself does not run: its own tests say why
            unread.append(folder.name)
    return found, unread


def timed(designs: Mapping[str, Any]) -> tuple[dict[str, float], dict[str, float], dict[str, Report | str]]:
    """Seconds of a build from design to report, every stage run: by the wall clock, and of processor time; and the reports.

    For a design that cannot be on the chip (too big, or without an output) the report is what the build said.
    """
    wall: dict[str, float] = {}
    processor: dict[str, float] = {}
    reports: dict[str, Report | str] = {}
    for name, design in designs.items():
        for _ in range(2):
            began, before = time.perf_counter(), _processor()
            try:
                reports[name] = build(design, again=True)
            except BuildFault as fault:
                reports[name] = str(fault)
            took = round(time.perf_counter() - began, 2)
            if took < wall.get(name, math.inf):
                wall[name], processor[name] = took, round(_processor() - before, 2)
            if took <= LIMIT_S:
                break
    return wall, processor, reports


def machine_seconds() -> float:
    """Processor time of a fixed loop: how fast this machine is just now."""
    began = time.process_time()
    total = 0
    for number in range(5_000_000):
        total += number * number % 7
    return round(time.process_time() - began, 3)


def live_errors(designs: Mapping[str, Netlist], reports: Mapping[str, Report | str]) -> dict[str, Any]:
    """The estimate beside builds just made, one seed each: relative errors of tables and of the clock rate."""
    luts, rates = {}, {}
    for name, netlist in designs.items():
        guess, report = estimate(netlist), reports[name]
        if isinstance(report, str):
            continue
        used = next(u.design for u in report.usage if u.resource == "LUTs")
        luts[name] = abs(guess.usage["LUTs"] - used) / max(used, 1)
        for rate in report.rates:
            rates[f"{name}, {rate.clock}"] = abs(guess.rates_mhz[rate.clock] / rate.reached - 1)
    return _shares("_labs", luts, rates) if luts else {}


def _shares(suffix: str, luts: Mapping[str, float], rates: Mapping[str, float]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for what, off, limit in (("fmax", rates, 0.20), ("luts", luts, 0.15)):
        within = quantiles(off)
        found[f"estimate_{what}_error_p90{suffix}"] = within["p90"]
        found[f"estimate_{what}_error_p50{suffix}"] = within["p50"]
        found[f"share_{what}_within_{100 * limit:.0f}_percent{suffix}"] = round(
            sum(e <= limit for e in off.values()) / len(off), 3
        )
    return found


def _processor() -> float:
    """Processor time of this process and its finished children, in seconds."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def estimate_errors() -> dict[str, Any]:
    """Distribution of the estimate's errors against the stored measurements, and the tool's own spread."""
    everything = samples(_measured("measured.json"), "tests.build.corpus")
    fresh = samples(_measured("measured_fresh.json"), "tests.build.fresh")
    _, held = held_out(everything)
    found: dict[str, Any] = {}
    for suffix, items in (("", fresh), ("_held_out", held), ("_all", [*everything, *fresh])):
        off = errors(items, model())
        found |= _shares(suffix, off["luts"], off["rate"])
    found["tool_spread_over_seeds_p90"] = quantiles(spread([*everything, *fresh]))["p90"]
    found |= {"designs": len(everything), "designs_held_out": len(held), "designs_fresh": len(fresh)}
    return found


def _measured(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((ROOT / "tests" / "build" / name).read_text(encoding="utf-8"))
    return found


def estimate_seconds(designs: Iterable[Netlist]) -> float:
    """The slowest estimate of compiled designs, in seconds of processor time: of each design the median of three."""
    return round(max(sorted(_seconds_of(net) for _ in range(3))[1] for net in designs), 4)


def _seconds_of(net: Netlist) -> float:
    began = time.process_time()
    estimate(net)
    return time.process_time() - began


def equivalence(designs: Mapping[str, Netlist], limit: int | None) -> tuple[int, list[str]]:
    """Synthesised netlists in Icarus Verilog against the engine; designs whose crossings settle at random cannot be compared."""
    runs, wrong = 0, []
    for name, net in list(designs.items())[:limit]:
        if any(reg.cross for reg in net.regs):
            continue
        runs += 1
        difference = compare(net).difference
        wrong += [f"{name}: {difference}"] if difference else []
    return runs, wrong


def _compiled(designs: Mapping[str, Callable[[], Any]]) -> dict[str, Netlist]:
    return {name: netlist_of(make()) for name, make in designs.items()}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument(
        "--equivalence", type=int, default=None, metavar="N", help="compare only the first N designs, the labs' first"
    )
    options = parser.parse_args()
    warm_up()
    speed = machine_seconds()
    stored, (taught, unread) = _compiled(CORPUS | FRESH), labs()
    wall, processor, reports = timed(
        {"capstone": Monitor} | {name: stored[name] for name in TIMED} | {f"lab {k}": v for k, v in taught.items()}
    )
    report: dict[str, Any] = {
        "warm_seconds": wall,
        "warm_processor_seconds": processor,
        "machine_seconds": [speed, machine_seconds()],
        "load_average": os.getloadavg()[0],
        "labs_not_read": unread,
        "refused": {name: said for name, said in reports.items() if isinstance(said, str)},
    }
    report |= estimate_errors() | live_errors(taught, {k: reports[f"lab {k}"] for k in taught})
    report["estimate_seconds_max"] = estimate_seconds([*stored.values(), *taught.values()])
    report["equivalence_runs"], wrong = equivalence(
        {k: v for k, v in taught.items() if v.outputs} | stored, options.equivalence
    )
    report["equivalence_mismatches"] = len(wrong)
    report["examples"] = wrong[:5]
    print(json.dumps(report) if options.json else "\n".join(f"{key}: {value}" for key, value in report.items()))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
