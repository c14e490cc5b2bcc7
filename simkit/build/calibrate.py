"""Measures a corpus of designs with the real tools and fits the estimate to them: ``python -m simkit.build.calibrate``.

``measure`` builds every design once and places and routes it with several seeds (minutes; what is measured already is kept);
``fit`` finds the model's constants on two thirds of the corpus and writes them to ``model.json``; the rest is held out, and
errors are printed for both.
"""

from __future__ import annotations

import argparse
import importlib
import json
import sys
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import least_squares

from ..emit.verilog import emit
from ..netlist import Netlist
from . import cache
from .area import PARTS, Area, area_of
from .estimate import model
from .flow import Flow, count, netlist_of
from .mapping import Mapper
from .parts import SPEED_GRADE, part_of
from .rawpath import clock_of
from .suited import suited
from .timing import Graph, graph_of, periods
from .tools import warm_up

CORPUS = "tests.build.corpus"
SEEDS = (1, 2, 3)


def corpus(module: str = CORPUS) -> dict[str, Callable[[], Any]]:
    """The designs by name: the module's ``CORPUS``."""
    found: dict[str, Callable[[], Any]] = importlib.import_module(module).CORPUS
    return found


def measure(netlist: Netlist, seeds: Iterable[int] = SEEDS) -> dict[str, Any]:
    """Counts of cells, and the rate of each clock in MHz for each seed."""
    bare = cache.without_places(netlist)
    with tempfile.TemporaryDirectory(prefix="tickbench-") as folder:
        flow = Flow(bare, part_of("25k"), SPEED_GRADE, 1, Path(folder), lambda stage, done: None, None)
        verilog = emit(bare)
        flow.write(verilog)
        flow.synthesise(verilog)
        cells = json.loads((flow.folder / "use.json").read_text(encoding="utf-8"))["modules"][f"\\{verilog.module}"][
            "num_cells_by_type"
        ]
        rates, paths = [], []
        for seed in seeds:
            flow.seed = seed
            with flow.router() as router:
                flow.place_and_route(router)
            report = json.loads((flow.folder / "report.json").read_text(encoding="utf-8"))
            rates.append({str(clock_of(name)): rate["achieved"] for name, rate in report["fmax"].items()})
            paths.append(flow.summary(verilog, {})["paths"])
    return {"cells": cells, "rates": rates, "paths": paths[0], "key": cache.key_of(bare, SPEED_GRADE)}


def measure_all(file: Path, module: str, say: Callable[[str], object], only: Sequence[str] = ()) -> dict[str, Any]:
    """Measurements of the whole corpus (or of the designs named); what stands in ``file`` for an unchanged design is taken from there."""
    known: dict[str, Any] = json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}
    for name, make in corpus(module).items():
        if only and name not in only:
            continue
        netlist = suited(netlist_of(make()))
        if known.get(name, {}).get("key") != cache.key_of(cache.without_places(netlist), SPEED_GRADE):
            known[name] = measure(netlist)
            say(f"{name}: {known[name]['cells']}, {known[name]['rates']}")
            file.write_text(json.dumps(known, indent=1), encoding="utf-8")
    return {name: known[name] for name in corpus(module) if name in known}


# --- fitting ---------------------------------------------------------------------------------------

KNOWN = {"register": 0.395, "setup": 0.12}
"""Delays that are the same in all reports of the tool, in ns."""

START = {
    "memory": 5.0,
    "table": 0.65,
    "wire": 0.1,
    "fanout": 0.03,
    "chain": 1.4,
    "bit": 0.035,
    "exit": 0.2,
    "compressor": 0.9,
    "multiplier": 4.3,
    "partial": 1.0,
    "control": 0.5,
    "size": 0.005,
    "link": 1.7,
}
"""Where the search for the others begins, in ns: values read from reports of the tool by eye, each with the wire that leads to it."""


class Sample(NamedTuple):
    """One design of the corpus: its estimate's parts beside what was measured."""

    name: str
    mapper: Mapper
    area: Area
    graph: Graph
    luts: int
    periods: list[tuple[int, list[float]]]  # clock, measured ns for each seed


def samples(measured: Mapping[str, Any], module: str) -> list[Sample]:
    """Estimate parts and measurements of every design."""
    found = []
    for name, make in corpus(module).items():
        if name not in measured:
            continue
        mapper = Mapper(suited(netlist_of(make())))
        area = area_of(mapper)
        rates = measured[name]["rates"]
        periods = [(int(c), [1e3 / r[c] for r in rates if c in r]) for c in rates[0] if c != "None"]
        found.append(
            Sample(name, mapper, area, graph_of(mapper, area), count(measured[name]["cells"])["LUTs"], periods)
        )
    return found


def held_out(items: Sequence[Sample]) -> tuple[list[Sample], list[Sample]]:
    """Two thirds to fit to and every third design, which the fit never sees."""
    return [x for i, x in enumerate(items) if i % 3 != 2], [x for i, x in enumerate(items) if i % 3 == 2]


def fit_area(items: Sequence[Sample]) -> dict[str, float]:
    """Weights of the counted tables that come nearest to the measured ones, relative errors counting alike."""
    rows = np.array([[x.area.tables[part] / max(x.luts, 1) for part in PARTS] for x in items])
    start = np.array([0.0 if part == "few" else 1.0 for part in PARTS])

    def off(weights: np.ndarray) -> np.ndarray:
        return np.append(rows @ weights - 1, 0.4 * (weights - start))

    solved = least_squares(off, start + 0.01, bounds=(0, 6), loss="cauchy", f_scale=0.08)
    return dict(zip(PARTS, (round(float(w), 3) for w in solved.x), strict=True))


def fit_delay(items: Sequence[Sample]) -> dict[str, float]:
    """Delays that bring the estimated periods nearest to the medians over the seeds."""
    names = list(START)
    first = np.array([START[name] for name in names])
    target = [(x, clock, float(np.median(ns))) for x in items for clock, ns in x.periods]

    def off(values: np.ndarray) -> np.ndarray:
        delay = KNOWN | dict(zip(names, values, strict=True))
        errors = [np.log(max(periods(x.mapper, x.graph, delay)[clock], 0.1) / ns) for x, clock, ns in target]
        return np.append(errors, 0.1 * (values / first - 1))

    solved = least_squares(off, first, bounds=(first * 0.2, first * 4), loss="soft_l1", f_scale=0.15, max_nfev=40)
    return KNOWN | dict(zip(names, (round(float(v), 4) for v in solved.x), strict=True))


def errors(items: Sequence[Sample], fitted: Mapping[str, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    """Relative errors by design: of the table count and of each clock's rate (``name`` or ``name, clock n``)."""
    luts, rates = {}, {}
    for x in items:
        guess = round(sum(fitted["area"][part] * n for part, n in x.area.tables.items()))
        luts[x.name] = abs(guess - x.luts) / max(x.luts, 1)
        for clock, ns in x.periods:
            rates[x.name + (f", clock {clock}" if clock else "")] = abs(
                float(np.median(ns)) / max(periods(x.mapper, x.graph, fitted["delay"])[clock], 0.1) - 1
            )
    return {"luts": luts, "rate": rates}


def spread(items: Sequence[Sample]) -> dict[str, float]:
    """The tool's own spread: how far a seed's rate is from the median over the seeds, the farthest for each design."""
    return {
        x.name: max(abs(float(np.median(ns)) / n - 1) for _, ns in x.periods for n in ns) for x in items if x.periods
    }


def quantiles(values: Mapping[str, float]) -> dict[str, float]:
    """Median and 90 % point."""
    found = np.quantile(list(values.values()), [0.5, 0.9])
    return {"p50": round(float(found[0]), 3), "p90": round(float(found[1]), 3)}


def _print_errors(title: str, items: Sequence[Sample], worst: int) -> None:
    off = errors(items, model())
    print(f"{title}: {len(items)} designs; tables {quantiles(off['luts'])}; clock rate {quantiles(off['rate'])}")
    for what, by_name in off.items():
        farthest = sorted(by_name.items(), key=lambda item: -item[1])[:worst]
        print(f"  worst in {what}: " + "; ".join(f"{name} {100 * value:.0f} %" for name, value in farthest))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--corpus", default=CORPUS, help="module with a CORPUS of designs")
    parser.add_argument(
        "--measured", type=Path, default=Path("tests/build/measured.json"), help="where measurements are kept"
    )
    parser.add_argument("--only", nargs="+", default=(), help="measure only these designs of the corpus")
    parser.add_argument(
        "--measure-only", action="store_true", help="fit nothing; print the errors of the present model"
    )
    parser.add_argument("--fit-only", action="store_true", help="fit to what is measured already")
    parser.add_argument("--worst", type=int, default=8, help="how many of the worst designs are printed")
    options = parser.parse_args()
    if options.fit_only:
        measured = json.loads(options.measured.read_text(encoding="utf-8"))
    else:
        warm_up(lambda stage, done: print(f"\r{stage} {100 * done:.0f} %", end="", file=sys.stderr))
        measured = measure_all(options.measured, options.corpus, print, options.only)
    everything = samples(measured, options.corpus)
    groups = {"all": everything}
    if not options.measure_only:
        fit_to, held = held_out(everything)
        fitted = {"area": fit_area(fit_to), "delay": fit_delay(fit_to)}
        Path(__file__).with_name("model.json").write_text(json.dumps(fitted, indent=1) + "\n", encoding="utf-8")
        model.cache_clear()
        groups = {"fitted to": fit_to, "held out": held, "all": everything}
    for title, items in groups.items():
        _print_errors(title, items, options.worst)
    print(f"the tool's own spread over {len(SEEDS)} seeds: {quantiles(spread(everything))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
