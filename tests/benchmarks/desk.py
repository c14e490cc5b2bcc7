"""How quick the learner's desk is: ``python tests/benchmarks/desk.py [--json] [--rounds N] [--processor]``.

Prints: ``import simkit`` in a new process; the first cell of each lab in a new process; a warm check of every exercise with its
solution and with each known wrong answer, at the 95th percentile over all exercises (the card with its pictures included).
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("MPLBACKEND", "agg")
CLOCK = "perf_counter"
LIMITS = {"import_s": 0.3, "first_cell_s": 2.0, "check_p95_s": 1.0}


def process_s(code: str, folder: Path, rounds: int) -> float:
    """Median time that a new process needs for ``code``, without the start of Python itself, in s."""
    text = f"import time; t = time.{CLOCK}()\n{code}\nprint(time.{CLOCK}() - t)"
    found = []
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for _ in range(rounds):
        done = subprocess.run(
            [sys.executable, "-c", text], cwd=folder, env=environment, capture_output=True, text=True, check=True
        )
        found.append(float(done.stdout.split()[-1]))
    return statistics.median(found)


def first_cell(folder: Path) -> str:
    """The source of a lab's first code cell."""
    book = json.loads((folder / f"{folder.name}.ipynb").read_text(encoding="utf-8"))
    return next("".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code")


def checks_s(name: str) -> dict[str, float]:
    """For each exercise the longest of its warm checks: the solution's and those of its known wrong answers, in s."""
    from instructor.author.verify import load_wrong_answers
    from simkit.check.cells import checked_exercise
    from tests.labs.replay import ROOT as PROJECT
    from tests.labs.replay import as_learner, replay, run_code

    done = replay(name, "learner", looks=False)
    sources = [c.source for c in done.source.notebook.cells if c.cell_type == "code"]
    checks = {checked_exercise(source): source for source in sources if checked_exercise(source)}
    slowest: dict[str, float] = {}
    with as_learner(done):
        for exercise, check in checks.items():
            known = load_wrong_answers(PROJECT / "solutions" / name, done.source.lab)
            for number, code in enumerate(["", *(w.code for w in known if w.exercise == exercise)]):
                names = dict(done.names[exercise])
                run_code(code, names, f"<{exercise} answer {number}>")
                slowest[exercise] = max(slowest.get(exercise, 0.0), shown_s(check, names))
    return slowest


def shown_s(check: str, names: dict[str, object]) -> float:
    """Time of a check and of showing its verdict as the notebook does, in s; the answer's module is not compiled beforehand."""
    import contextlib
    import io

    from simkit.check.card import bundle

    begun = getattr(time, CLOCK)()
    with contextlib.redirect_stdout(io.StringIO()):
        verdict = eval(check.strip(), names)
        bundle(verdict)
    return getattr(time, CLOCK)() - begun


def measure(rounds: int, only: list[str]) -> dict[str, object]:
    """All of it, or only some labs; times in s, with a journal of its own that begins empty."""
    with tempfile.TemporaryDirectory() as data:
        os.environ["XDG_DATA_HOME"] = data
        return _measure(rounds, only)


def _measure(rounds: int, only: list[str]) -> dict[str, object]:
    labs = sorted(
        path.parent for path in (ROOT / "labs").glob("*/exercises.py") if not only or path.parent.name in only
    )
    first = {folder.name: round(process_s(first_cell(folder), folder, rounds), 3) for folder in labs}
    checks = {exercise: round(seconds, 3) for folder in labs for exercise, seconds in checks_s(folder.name).items()}
    return {
        "import_s": round(process_s("import simkit", ROOT, rounds), 3),
        "first_cell_s": first,
        "check_s": checks,
        "check_p95_s": round(float(np.percentile(list(checks.values()), 95)), 3),
        "limits": LIMITS,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--lab", action="append", default=[], help="only this lab (may be repeated)")
    parser.add_argument("--processor", action="store_true", help="processor time, for a machine that has other work")
    options = parser.parse_args()
    global CLOCK
    CLOCK = "process_time" if options.processor else CLOCK
    found = measure(options.rounds, options.lab)
    if options.json:
        print(json.dumps(found))
        return
    print(f"import simkit        {found['import_s']} s (at most {LIMITS['import_s']})")
    for lab, seconds in found["first_cell_s"].items():  # type: ignore[union-attr]
        print(f"first cell of {lab:24} {seconds} s (at most {LIMITS['first_cell_s']})")
    for exercise, seconds in sorted(found["check_s"].items(), key=lambda row: -row[1])[:10]:  # type: ignore[union-attr]
        print(f"slowest checks: {exercise}  {seconds} s")
    print(
        f"95th percentile over {len(found['check_s'])} exercises: {found['check_p95_s']} s (at most {LIMITS['check_p95_s']})"
    )  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
