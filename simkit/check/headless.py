"""Checking a notebook without opening it: the same run and the same judge as in grading, with public seeds."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .cells import Unreadable, code_cells, read_notebook
from .collected import answers_of, live_of
from .draw import public_seed
from .find import load_lab
from .identity import learner as present_learner
from .judging import Answer
from .live import Caller
from .model import Lab
from .rebuild import rebuild
from .run import Job, JudgeProcess, JudgeTask, Limits, run_job
from .verdict import Verdict


@dataclass
class Report:
    """What came of one notebook.  ``error`` is one line, "" for none; the verdicts count all the same."""

    path: Path
    verdicts: list[Verdict] = field(default_factory=list)
    error: str = ""

    @property
    def score(self) -> float:
        return math.fsum(verdict.score for verdict in self.verdicts)

    @property
    def max_score(self) -> float:
        return math.fsum(verdict.max_score for verdict in self.verdicts)

    def as_json(self) -> dict[str, Any]:
        return {
            "path": str(self.path),
            "score": self.score,
            "max_score": self.max_score,
            "error": self.error or None,
            "exercises": [verdict.as_json() for verdict in self.verdicts],
        }


def check_notebook(
    path: Path,
    lab_folder: Path,
    judges: JudgeProcess,
    release: Path | None = None,
    limits: Limits | None = None,
    learner: str = "",
) -> Report:
    """Run a notebook in its own folder and judge its answers.

    Parameters
    ----------
    path : ``.ipynb`` or a text form
    lab_folder : where the lab's ``exercises.py`` lies
    release : the notebook as it was handed out, from which lost or edited check cells are restored; None if unknown
    """
    lab = load_lab(lab_folder)
    who = learner or present_learner()
    try:
        notebook = read_notebook(path)
    except Unreadable as error:
        return Report(path, [], str(error))
    notes: list[str] = []
    if release is not None and path.suffix == ".ipynb":
        notebook, notes = rebuild(read_notebook(release), notebook)
    cells = code_cells(notebook)

    def call(answer: Answer, caller: Caller) -> Verdict:
        task = JudgeTask(lab_folder, lab[answer.exercise], answer, who, public_seed(who, answer.exercise))
        return judges.judge(task, caller)

    job = Job(cells, str(path.resolve().parent), who, limits or Limits(), show=False)
    result = run_job(job, judge=call)
    verdicts = judge_all(lab, lab_folder, answers_of(lab, cells, result), judges, who, live_of(cells, result))
    return Report(path, verdicts, "; ".join([*notes, *result.notes]))


def judge_all(
    lab: Lab, folder: Path, answers: dict[str, Any], judges: JudgeProcess, who: str, live: dict[str, Verdict]
) -> list[Verdict]:
    """A verdict for each answer, with the public seed; ``live`` are those that exist already."""
    return [
        live.get(name) or judges.judge(JudgeTask(folder, lab[name], answer, who, public_seed(who, name)))
        for name, answer in answers.items()
    ]
