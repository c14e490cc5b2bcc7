"""How fast the grader is beside stock ``nbgrader autograde``: same lab, same submissions, same machine, one after the other.

    python tests/benchmarks/grading.py --json

Both are timed as a user sees them: the whole command, start included, divided by the submissions that it graded.
``scores_equal`` compares every learner's points in the two gradebooks; ``cpu_speedup`` compares processor time, which a busy
machine disturbs less.  Memory is the grader's whole family of processes
(proportional set size, sampled).
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import nbformat

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SMALL = ROOT / "tests" / "check" / "course" / "solutions"

STOCK = "c = get_config()\nc.CourseDirectory.course_id = 'tickbench'\nc.ExecutePreprocessor.kernel_name = 'python3'\n"


def make_course(folder: Path, lab: str, solutions: Path, learners: int) -> Path:
    """A course whose learners have handed in the solution; every third has left one answer, in turn, as it was."""
    from instructor.author.build import build_lab

    labs = folder / "labs"
    build_lab(solutions / lab, labs)
    os.environ.update(TICKBENCH_LABS=str(labs), TICKBENCH_SOLUTIONS=str(solutions))
    course = folder / "course"
    tickbench(folder, "course", str(course), "--lab", lab)
    nbgrader(course, "generate_assignment", lab)
    source = nbformat.read(str(course / "source" / lab / f"{lab}.ipynb"), as_version=4)
    answers = {c["id"]: c.source for c in source.cells if c["id"].find("-answer") > 0}
    for number in range(learners):
        notebook = nbformat.read(str(course / "release" / lab / f"{lab}.ipynb"), as_version=4)
        skipped = sorted(answers)[number // 3 % len(answers)] if number % 3 == 2 else ""
        for cell in notebook.cells:
            if cell["id"] in answers and cell["id"] != skipped:
                cell.source = answers[cell["id"]]
        target = course / "submitted" / f"learner{number:04}" / lab
        target.mkdir(parents=True)
        nbformat.write(notebook, str(target / f"{lab}.ipynb"))
    return course


def tickbench(folder: Path, *arguments: str) -> None:
    subprocess.run(
        [sys.executable, "-c", "from simkit.cli import main; main()", *arguments],
        cwd=folder,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
    )


def nbgrader(folder: Path, *arguments: str) -> None:
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    subprocess.run(
        [sys.executable, "-m", "nbgrader", *arguments],
        cwd=folder,
        check=True,
        capture_output=True,
        env={**os.environ, "PATH": path, "PYTHONPATH": str(ROOT)},
    )


def scores(course: Path, lab: str) -> dict[str, dict[str, float]]:
    from nbgrader.api import Gradebook

    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        return {
            s.student.id: {g.name: g.auto_score for n in s.notebooks for g in n.grades}
            for s in book.assignment_submissions(lab)
        }


class Memory:
    """Samples the memory of this process's children in megabytes, and how many submissions are graded."""

    def __init__(self, graded: Path) -> None:
        self.samples: list[tuple[float, float]] = []
        self.done: list[tuple[float, int]] = []
        self._graded = graded
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._watch)

    def __enter__(self) -> Memory:
        self._begun = time.monotonic()
        self._thread.start()
        return self

    def __exit__(self, *exception: object) -> None:
        self._stop.set()
        self._thread.join()

    def _watch(self) -> None:
        import psutil

        while not self._stop.wait(0.25):
            total = 0.0
            for process in psutil.Process().children(recursive=True):
                try:
                    lines = Path(f"/proc/{process.pid}/smaps_rollup").read_text().splitlines()
                    total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024
                except (OSError, psutil.Error):
                    continue
            self.samples.append((time.monotonic() - self._begun, total))
            there = sum(1 for _ in self._graded.iterdir()) if self._graded.is_dir() else 0
            self.done.append((time.monotonic() - self._begun, there))


def straightness(done: list[tuple[float, int]]) -> float:
    """Time of the second half of the submissions over that of the first: 1 if time grows linearly."""
    last = max(count for _, count in done)
    begun, middle, end = (next(at for at, count in done if count >= n) for n in (1, last / 2, last))
    return (end - middle) / max(middle - begun, 1e-9)


def draw(memory: Memory, path: Path, title: str) -> None:
    """Submissions graded and memory used, over time."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7, 5), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    above.plot(*zip(*memory.done, strict=True))
    above.set_ylabel("submissions graded")
    above.set_title(title)
    below.plot(*zip(*memory.samples, strict=True))
    below.set_ylabel("memory of all processes, MB")
    below.set_ylim(bottom=0)
    below.set_xlabel("time, s")
    figure.savefig(path)


def measure(lab: str, solutions: Path, ours: int, theirs: int, jobs: int, plot: Path | None = None) -> dict[str, Any]:
    with tempfile.TemporaryDirectory(prefix="grading-") as name:
        os.chmod(name, 0o755)
        folder = Path(name)
        course = make_course(folder, lab, solutions, ours)
        stock = Path(shutil.copytree(course, folder / "stock", ignore=shutil.ignore_patterns("submitted")))
        (stock / "nbgrader_config.py").write_text(STOCK)
        for learner in sorted((course / "submitted").iterdir())[:theirs]:
            shutil.copytree(learner, stock / "submitted" / learner.name)
        stock_seconds, stock_cpu = timed(lambda: nbgrader(stock, "autograde", lab))
        with Memory(course / ".tickbench" / "graded") as memory:
            our_seconds, our_cpu = timed(lambda: tickbench(folder, "grade", str(course), "--jobs", str(jobs)))
        graded, wanted = scores(course, lab), scores(stock, lab)
    if plot is not None:
        draw(memory, plot, f"{lab}: {ours} submissions, {jobs} jobs")
    peak = max((mb for _, mb in memory.samples), default=0.0)
    late = [mb for at, mb in memory.samples if at > our_seconds * 0.75]
    early = [mb for at, mb in memory.samples if our_seconds * 0.25 < at < our_seconds * 0.5]
    return {
        "lab": lab,
        "submissions": ours,
        "jobs": jobs,
        "seconds": round(our_seconds, 2),
        "stock_submissions": theirs,
        "stock_seconds": round(stock_seconds, 2),
        "speedup_vs_nbgrader": round((stock_seconds / theirs) / (our_seconds / ours), 1),
        "cpu_seconds_each": round(our_cpu / ours, 3),
        "stock_cpu_seconds_each": round(stock_cpu / theirs, 2),
        "cpu_speedup": round((stock_cpu / theirs) / (our_cpu / ours), 1),
        "scores_equal": len(graded) == ours and all(graded[learner] == wanted[learner] for learner in wanted),
        "submissions_per_minute": round(60 * ours / our_seconds),
        "peak_memory_mb": round(peak),
        "second_half_over_first": round(straightness(memory.done), 2),
        "memory_growth_mb": round(max(late, default=0) - max(early, default=0)),
    }


def timed(action: Any) -> tuple[float, float]:
    """Seconds, and seconds of processor time of all the processes that were started."""
    begun, before = time.monotonic(), os.times()
    action()
    after = os.times()
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return time.monotonic() - begun, cpu


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument(
        "--lab", default="", help="a lab of solutions/ (default: the first; the tests' small lab if there is none)"
    )
    parser.add_argument("--submissions", type=int, default=200)
    parser.add_argument("--stock", type=int, default=10, help="how many of them stock nbgrader grades")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--plot", type=Path, help="draw submissions and memory over time into this file")
    options = parser.parse_args()
    labs = sorted(path.parent.name for path in (ROOT / "solutions").glob("*/lab.md"))
    lab = options.lab or (labs[0] if labs else "90_ticks")
    solutions = SMALL if (SMALL / lab).is_dir() else ROOT / "solutions"
    result = measure(lab, solutions, options.submissions, options.stock, options.jobs, options.plot)
    print(json.dumps(result, indent=1) if options.json else "\n".join(f"{k}: {v}" for k, v in result.items()))


if __name__ == "__main__":
    main()
