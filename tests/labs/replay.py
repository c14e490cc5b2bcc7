"""Runs the code cells of a lab's source in this process and judges what they answer.

Quicker than a notebook run, so that each likely wrong answer can be judged on its own.  The notebook itself, in a
process of its own, is run by ``test_every_lab.py`` as well.
"""

from __future__ import annotations

import contextlib
import importlib.util
import io
import linecache
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from instructor.author.source import Source, read_source
from simkit.check import Verdict, collect, judge, use_lab
from simkit.check.cells import checked_exercise
from simkit.check.draw import public_seed
from simkit.check.judging import Answer

ROOT = Path(__file__).parents[2]
LABS = sorted(path.parent.name for path in (ROOT / "solutions").glob("*/lab.md"))
LOOKS = (
    "timing_diagram(",
    "histogram(",
    "schedule(",
    "spectrum(",
    "balance_plot(",
    "queue_level(",
    "rig.run(",
    "rig.trace(",
)
"""Calls of cells that only look at a design; answer cells and check cells are run all the same."""


@dataclass
class Replay:
    """A lab whose cells have been run as one learner.

    ``names[exercise]`` holds the names as they were just before its check; ``verdicts`` what the check said.
    """

    source: Source
    learner: str
    names: dict[str, dict[str, Any]] = field(default_factory=dict)
    verdicts: dict[str, Verdict] = field(default_factory=dict)

    def judged(self, exercise: str, answer: Any) -> Verdict:
        """Verdict on any answer to an exercise, as this learner."""
        found = self.source.lab[exercise]
        given: Answer = collect(found, answer)
        return judge(found, given, self.learner, public_seed(self.learner, exercise))

    def with_code(self, exercise: str, code: str) -> Verdict:
        """Verdict after ``code`` has changed the names of the solution."""
        names = dict(self.names[exercise])
        check = next(
            c.source
            for c in self.source.notebook.cells
            if c.cell_type == "code" and checked_exercise(c.source) == exercise
        )
        with as_learner(self):
            run_code(code, names, f"<wrong answer to {exercise}: {hash(code)}>")
            return run_check(check, names)


def replay(name: str, learner: str, *, looks: bool = True, until: str = "") -> Replay:
    """Run all code cells of a solution; without ``looks``, leave out those that only look at a design.

    With ``until``, run only those before the check of that exercise, and no check.
    """
    done = Replay(read_source(ROOT / "solutions" / name), learner)
    beside_the_notebook(ROOT / "solutions" / name / "exercises.py")
    names: dict[str, Any] = {"__name__": "__main__", "display": lambda picture: None}
    with as_learner(done):
        for number, cell in enumerate(done.source.notebook.cells):
            if cell.cell_type != "code" or not (looks or "nbgrader" in cell.metadata or not only_looks(cell.source)):
                continue
            exercise = checked_exercise(cell.source)
            if exercise:
                done.names[exercise] = dict(names)
                if exercise == until:
                    break
                if not until:
                    done.verdicts[exercise] = run_check(cell.source, names)
            else:
                fails = "raises-exception" in cell.metadata.get("tags", [])
                run_code(cell.source, names, f"<{name} cell {number} of {learner}>", fails)
    return done


def beside_the_notebook(path: Path) -> None:
    """Let cells import ``exercises``, as they can where the notebook lies in the same folder."""
    spec = importlib.util.spec_from_file_location("exercises", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["exercises"] = module
    spec.loader.exec_module(module)


def only_looks(source: str) -> bool:
    """True for a cell that makes nothing that an answer needs."""
    return any(word in source for word in LOOKS) and not re.search(r"^def ", source, re.M)


def run_code(code: str, names: dict[str, Any], place: str, fails: bool = False) -> None:
    """Run a cell so that the language finds its source; with ``fails`` it must raise."""
    linecache.cache[place] = (len(code), None, code.splitlines(keepends=True), place)
    with contextlib.redirect_stdout(io.StringIO()):
        try:
            exec(compile(code, place, "exec"), names)
        except Exception:
            if not fails:
                raise
            return
    assert not fails, f"{place} was meant to fail"


def run_check(source: str, names: dict[str, Any]) -> Verdict:
    """Run a check cell and give its verdict."""
    with contextlib.redirect_stdout(io.StringIO()):
        return eval(source.strip(), names)


@contextlib.contextmanager
def as_learner(done: Replay) -> Iterator[None]:
    before = os.environ.get("TICKBENCH_LEARNER")
    os.environ["TICKBENCH_LEARNER"] = done.learner
    use_lab(done.source.lab)
    try:
        with contextlib.chdir(done.source.folder):  # where a cell finds the lab's data files
            yield
    finally:
        use_lab(None)
        if before is None:
            del os.environ["TICKBENCH_LEARNER"]
        else:
            os.environ["TICKBENCH_LEARNER"] = before
