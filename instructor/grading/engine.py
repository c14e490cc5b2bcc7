"""Grading one notebook: rebuild, run, judge.  Knows no database and no nbgrader; both doors call it."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nbgrader.utils import compute_checksum

from simkit.check import Lab, Verdict
from simkit.check.cells import checked_exercise, code_cells
from simkit.check.collected import answers_of, live_of
from simkit.check.identity import DEFAULT
from simkit.check.judging import Answer
from simkit.check.prints import print_of
from simkit.check.rebuild import graded_by_hand, name_of, rebuild
from simkit.check.run import Cell, Job, Limits, RunResult
from simkit.check.verdict import MIME

from ..judge import Judges
from ..run import Runner
from .display import make_harmless, put_outputs, put_verdicts
from .needed import needed_cells

# A notebook's whole run may take longer than a class has patience for; these are for grading, not for learning.
LIMITS = Limits(cell_seconds=30.0, seconds=240.0, memory=2 * 1024**3, cpu_seconds=240)
PRACTICE = DEFAULT  # the numbers of whoever never gave an id


@dataclass
class Graded:
    """What came of one notebook: the verdict of each exercise, the notebook to show, lines for the instructor, and a
    digest of each answer."""

    notebook: Any
    verdicts: dict[str, Verdict]
    notes: list[str] = field(default_factory=list)
    prints: dict[str, str] = field(default_factory=dict)

    @property
    def score(self) -> float:
        return math.fsum(verdict.score for verdict in self.verdicts.values())

    @property
    def max_score(self) -> float:
        return math.fsum(verdict.max_score for verdict in self.verdicts.values())


def numbers_of(notebook: Any, learner: str) -> str:
    """Whose parameters the learner worked with: their own, or the practice numbers of a copy that has no id.

    The outputs of a saved notebook say it.  They are the learner's to write, so only these two are possible.
    """
    return PRACTICE if any(said.get("learner") == PRACTICE for said in _said(notebook)) else learner


def seen_of(notebook: Any) -> dict[str, float]:
    """The points of each exercise that the learner saw when the notebook was saved, 0 for those not checked.

    The outputs are the learner's to write: what they say may cause more work, never points.
    """
    seen: dict[str, float] = {}
    for said in _said(notebook):
        name, score = said.get("id"), said.get("score")
        if isinstance(name, str) and isinstance(score, (int, float)) and math.isfinite(score):
            seen[name] = float(score)
    return seen


def _said(notebook: Any) -> Iterator[dict[str, Any]]:
    """The verdicts in the saved outputs of checks."""
    for cell in notebook.cells:
        if cell.cell_type != "code" or not checked_exercise(cell.source):
            continue
        for output in cell.get("outputs", []):
            data = output.get("data")
            said = data.get(MIME) if isinstance(data, dict) else None
            if isinstance(said, dict):
                yield said


def grade_notebook(
    lab: Lab,
    folder: Path,
    release: Any,
    submission: Any,
    learner: str,
    runner: Runner,
    judges: Judges,
    limits: Limits = LIMITS,
) -> Graded:
    """Grade one submission.

    Parameters
    ----------
    folder : the lab's trusted folder: ``exercises.py`` and data files
    release, submission : notebooks; ``submission`` may be None if there is none that can be read
    """
    if submission is None:
        return _nothing(lab, release)
    rebuilt, notes = rebuild(release, submission)
    numbers, seen = numbers_of(submission, learner), seen_of(submission)
    return grade_rebuilt(lab, folder, release, rebuilt, notes, learner, numbers, runner, judges, limits, seen)


def grade_rebuilt(
    lab: Lab,
    folder: Path,
    release: Any,
    rebuilt: Any,
    notes: list[str],
    learner: str,
    numbers: str,
    runner: Runner,
    judges: Judges,
    limits: Limits = LIMITS,
    seen: Mapping[str, float] | None = None,
) -> Graded:
    """Run and judge a rebuilt notebook.

    Cells on which no answer depends are left out, and nothing is drawn, unless a person will grade a cell of code.  Whoever
    grades a text sees the pictures that the learner saved (see :func:`~instructor.grading.display.put_outputs`).  The notebook is run
    in full where that might take points off: if a check gives no answer although something was written for it, and if an
    answer earns less than the learner saw (``seen``, by exercise).
    """
    notes = list(notes)
    if numbers != learner:
        notes.append(f"worked with the practice numbers, not with those of {learner}")
    by_hand = [index for index, cell in enumerate(rebuilt.cells) if graded_by_hand(cell)]
    cells = code_cells(rebuilt)
    chosen = needed_cells(cells, by_hand)
    draw = any(rebuilt.cells[index].cell_type == "code" for index in by_hand)
    call = judges.calling(lab, folder, learner, numbers)
    for tried in (chosen, cells):
        result = runner.run(Job(tried, str(folder), numbers, limits, show=draw), call)
        in_full = len(tried) == len(cells)
        if not in_full and not all(_settled(cell, result, rebuilt) for cell in tried if cell.exercise):
            continue
        answers = answers_of(lab, tried, result)
        verdicts = judges.judge(lab, folder, answers, learner, numbers, live_of(tried, result))
        if in_full or not _less_than(seen or {}, verdicts):
            break
    put_outputs(rebuilt, result.outputs, keep=bool(by_hand) and not draw)
    graded = _finished(rebuilt, release, verdicts, [*notes, *result.notes])
    graded.prints = {name: print_of(lab[name], answer) for name, answer in answers.items()}
    return graded


def _less_than(seen: Mapping[str, float], verdicts: Mapping[str, Verdict]) -> bool:
    """True if an exercise earns less than the learner saw."""
    return any(verdict.score < seen.get(name, 0.0) - 1e-9 for name, verdict in verdicts.items())


def _settled(cell: Cell, result: RunResult, notebook: Any) -> bool:
    """True if running more cells can change nothing: there is an answer, or nothing was written for it."""
    if cell.index in result.answers:
        return True
    answers = [other for other in notebook.cells if name_of(other).startswith(f"{cell.exercise}-answer")]
    return all(other.metadata["nbgrader"].get("checksum") == compute_checksum(other) for other in answers)


def _nothing(lab: Lab, release: Any) -> Graded:
    """A submission in which there is nothing to grade scores nothing; the notebook as handed out stands for it."""
    from simkit.check.judging import judge

    absent = "no notebook that can be read was handed in"
    verdicts = {name: judge(lab[name], Answer(name, "refused", message=absent), "", 0) for name in lab.exercises}
    return _finished(copy.deepcopy(release), release, verdicts, [])


def _finished(notebook: Any, release: Any, verdicts: dict[str, Verdict], notes: list[str]) -> Graded:
    make_harmless(notebook, release)
    put_verdicts(notebook, verdicts, notes)
    for cell in notebook.cells:
        if name_of(cell) in verdicts:
            cell.metadata["tickbench"] = {"criteria": [line.as_json() for line in verdicts[name_of(cell)].lines]}
    return Graded(notebook, verdicts, notes)
