"""How long builds take, how far the estimate is off, and whether synthesised netlists do what the engines say.

``python tests/benchmarks/build_flow.py --json`` prints ``warm_seconds`` (design to seconds, without the cache of finished builds),
``estimate_fmax_error_p90`` and ``estimate_luts_error_p90`` (fractions, over the designs that the fit never saw), the same over the
whole corpus, the tool's own spread over seeds, ``estimate_seconds_max``, ``equivalence_runs`` and ``equivalence_mismatches``.
The measurements behind the errors stand in ``tests/build/measured.json`` (``python -m simkit.build.calibrate`` makes them anew).
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from simkit.build import build, estimate, warm_up  # noqa: E402
from simkit.build.calibrate import errors, held_out, quantiles, samples, spread  # noqa: E402
from simkit.build.estimate import model  # noqa: E402
from simkit.build.flow import netlist_of  # noqa: E402
from tests.build.corpus import CORPUS  # noqa: E402
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


def warm_seconds(names: Sequence[str]) -> tuple[dict[str, float], dict[str, float]]:
    """Seconds of a build from design to report, every stage run: by the wall clock, and of processor time (which other work does not change)."""
    wall, processor = {}, {}
    for name in names:
        began, before = time.perf_counter(), _processor()
        build(CORPUS[name](), again=True)
        wall[name] = round(time.perf_counter() - began, 2)
        processor[name] = round(_processor() - before, 2)
    return wall, processor


def _processor() -> float:
    """Processor time of this process and its finished children, in seconds."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def estimate_errors() -> dict[str, Any]:
    """Distribution of the estimate's errors and the tool's own spread."""
    measured = json.loads((ROOT / "tests" / "build" / "measured.json").read_text(encoding="utf-8"))
    everything = samples(measured, "tests.build.corpus")
    _, held = held_out(everything)
    fitted = model()
    found: dict[str, Any] = {}
    for suffix, items in (("", held), ("_all", everything)):
        off = errors(items, fitted)
        found[f"estimate_fmax_error_p90{suffix}"] = quantiles(off["rate"])["p90"]
        found[f"estimate_luts_error_p90{suffix}"] = quantiles(off["luts"])["p90"]
        found[f"estimate_fmax_error_p50{suffix}"] = quantiles(off["rate"])["p50"]
        found[f"estimate_luts_error_p50{suffix}"] = quantiles(off["luts"])["p50"]
        found[f"share_fmax_within_20_percent{suffix}"] = round(
            sum(e <= 0.20 for e in off["rate"].values()) / len(off["rate"]), 3
        )
        found[f"share_luts_within_15_percent{suffix}"] = round(
            sum(e <= 0.15 for e in off["luts"].values()) / len(off["luts"]), 3
        )
    found["tool_spread_over_seeds_p90"] = quantiles(spread(everything))["p90"]
    found["designs_held_out"], found["designs"] = len(held), len(everything)
    return found


def estimate_seconds() -> float:
    """The slowest estimate of the corpus, of a compiled design, in seconds of processor time."""
    slowest = 0.0
    for make in CORPUS.values():
        net = netlist_of(make())
        began = time.process_time()
        estimate(net)
        slowest = max(slowest, time.process_time() - began)
    return round(slowest, 4)


def equivalence(limit: int | None) -> tuple[int, list[str]]:
    """Synthesised netlists in Icarus Verilog against the engine; designs whose crossings settle at random cannot be compared."""
    runs, wrong = 0, []
    for name, make in list(CORPUS.items())[:limit]:
        net = netlist_of(make())
        if any(reg.cross for reg in net.regs):
            continue
        runs += 1
        difference = compare(net).difference
        wrong += [f"{name}: {difference}"] if difference else []
    return runs, wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument(
        "--equivalence", type=int, default=None, metavar="N", help="compare only the first N designs of the corpus"
    )
    options = parser.parse_args()
    warm_up()
    wall, processor = warm_seconds(TIMED)
    report: dict[str, Any] = {
        "warm_seconds": wall,
        "warm_processor_seconds": processor,
        "load_average": os.getloadavg()[0],
    }
    report |= {**estimate_errors(), "estimate_seconds_max": estimate_seconds()}
    report["equivalence_runs"], wrong = equivalence(options.equivalence)
    report["equivalence_mismatches"] = len(wrong)
    report["examples"] = wrong[:5]
    print(json.dumps(report) if options.json else "\n".join(f"{key}: {value}" for key, value in report.items()))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
