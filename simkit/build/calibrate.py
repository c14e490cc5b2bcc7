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
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from ..emit.verilog import emit
from ..netlist import Netlist
from . import cache
from .flow import Flow, netlist_of
from .parts import SPEED_GRADE, part_of
from .rawpath import clock_of
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
        cells = json.loads((flow.folder / "use.json").read_text(encoding="utf-8"))["modules"][f"\\{verilog.module}"]["num_cells_by_type"]
        rates, paths = [], []
        for seed in seeds:
            flow.seed = seed
            flow.place_and_route()
            report = json.loads((flow.folder / "report.json").read_text(encoding="utf-8"))
            rates.append({str(clock_of(name)): rate["achieved"] for name, rate in report["fmax"].items()})
            paths.append(flow.summary(verilog, {})["paths"])
    return {"cells": cells, "rates": rates, "paths": paths[0], "key": cache.key_of(bare, SPEED_GRADE)}


def measure_all(file: Path, module: str, say: Callable[[str], object]) -> dict[str, Any]:
    """Measurements of the whole corpus; what stands in ``file`` for an unchanged design is taken from there."""
    known: dict[str, Any] = json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}
    for name, make in corpus(module).items():
        netlist = netlist_of(make())
        if known.get(name, {}).get("key") != cache.key_of(cache.without_places(netlist), SPEED_GRADE):
            known[name] = measure(netlist)
            say(f"{name}: {known[name]['cells']}, {known[name]['rates']}")
            file.write_text(json.dumps(known, indent=1), encoding="utf-8")
    return {name: known[name] for name in corpus(module)}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--corpus", default=CORPUS, help="module with a CORPUS of designs")
    parser.add_argument("--measured", type=Path, default=Path("tests/build/measured.json"), help="where measurements are kept")
    options = parser.parse_args()
    warm_up(lambda stage, done: print(f"\r{stage} {100 * done:.0f} %", end="", file=sys.stderr))
    measure_all(options.measured, options.corpus, print)
    return 0


if __name__ == "__main__":
    sys.exit(main())
