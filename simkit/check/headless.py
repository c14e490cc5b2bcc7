"""Checking a notebook without opening it: the same run and the same judge as in grading, with public seeds."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from .cells import Unreadable, code_cells, read_notebook
from .collected import answers_of, live_of
from .draw import public_seed
from .find import load_lab
from .identity import learner as learner_of
from .journal import place
from .judging import Answer
from .model import Lab
from .noted import note_check
from .rebuild import rebuild
from .run import Job, JudgeProcess, JudgeTask, Limits, run_job
from .run.live import ChildCaller
from .verdict import Verdict

SOURCE = "lab.md"
"""What an author's source is called: it holds the solution, so a check of it is nobody's progress."""


@dataclass
class Report:
    """What came of one notebook.  ``error`` is one line, "" for none; the verdicts count all the same.

    ``unsaved`` says in one line why the learner's progress could not be saved, "" if it was or need not be.
    """

    path: Path
    verdicts: list[Verdict] = field(default_factory=list)
    error: str = ""
    unsaved: str = ""

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
    """Run a notebook in its own folder, judge its answers, and note them as the progress of the learner whose notebook it is.

    Parameters
    ----------
    path : ``.ipynb`` or a text form
    lab_folder : where the lab's ``exercises.py`` lies
    release : the notebook as it was handed out, from which lost or edited check cells are restored; None if unknown
    learner : whose numbers to use, "" for those of the notebook's folder; of anybody else's nothing is noted
    """
    lab = load_lab(lab_folder)
    own = learner_of(path.parent)
    who = learner or own
    try:
        notebook = read_notebook(path)
    except Unreadable as error:
        return Report(path, [], str(error))
    notes: list[str] = []
    if release is not None and path.suffix == ".ipynb":
        notebook, notes = rebuild(read_notebook(release), notebook)
    cells = code_cells(notebook)

    def call(answer: Answer, caller: ChildCaller) -> Verdict:
        task = JudgeTask(lab_folder, lab[answer.exercise], answer, who, public_seed(who, answer.exercise))
        return judges.judge(task, caller)

    job = Job(cells, str(path.resolve().parent), who, limits or Limits(), show=False)
    result = run_job(job, judge=call)
    answers = answers_of(lab, cells, result)
    verdicts = judge_all(lab, lab_folder, answers, judges, who, live_of(cells, result))
    unsaved = _note_all(path, lab, answers, verdicts, who) if who == own and path.name != SOURCE else ""
    return Report(path, verdicts, "; ".join([*notes, *result.notes]), unsaved)


def _note_all(path: Path, lab: Lab, answers: dict[str, Answer], verdicts: list[Verdict], who: str) -> str:
    """Write the checks into the learner's progress, as the notebook's own would; why that failed, "" if it did not."""
    journal = place(path.parent)
    for verdict in verdicts:
        fault = note_check(journal, lab.name, lab[verdict.id], answers[verdict.id], replace(verdict, learner=who))[1]
        if fault:
            return fault
    return ""


def judge_all(
    lab: Lab, folder: Path, answers: dict[str, Any], judges: JudgeProcess, who: str, live: dict[str, Verdict]
) -> list[Verdict]:
    """A verdict for each answer, with the public seed; ``live`` are those that exist already."""
    return [
        live.get(name) or judges.judge(JudgeTask(folder, lab[name], answer, who, public_seed(who, name)))
        for name, answer in answers.items()
    ]
