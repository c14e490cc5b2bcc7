"""Reading a course: the gradebook has the scores, the grader's records have what each criterion found."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from simkit.check import Lab, Verdict, agreed

from ..grading.course import KIT, Course
from ..grading.writer import Writer
from .names import pseudonyms

NOTHING = "nothing handed in"
MANY_TRIES = 5


@dataclass
class Finding:
    """One criterion over the whole class: ``failed`` of ``judged`` answers; ``hints`` counts the first step of the hint they got."""

    exercise: str
    criterion: str
    text: str
    judged: int = 0
    failed: int = 0
    hints: Counter[str] = field(default_factory=Counter)

    @property
    def share(self) -> float:
        return self.failed / self.judged if self.judged else 0.0


@dataclass
class LabScores:
    """A lab's results.

    Parameters
    ----------
    learners : those with a score, in the order of the arrays' rows
    scores : learners by exercises, in points; by hand where somebody graded by hand
    most : points of each exercise
    passes : learners by criteria: 1 passed, 0 not; NaN where there is no record
    criteria : exercise and criterion of each column of ``passes``
    verdicts : learner to exercise to verdict
    missing : learners of the course without a submission
    tries : of those who agreed to show it, learner to exercise to ``tries``, ``passed``, ``minutes``
    """

    lab: Lab
    learners: list[str]
    scores: np.ndarray
    most: np.ndarray
    passes: np.ndarray
    criteria: list[tuple[str, str]]
    verdicts: dict[str, dict[str, Verdict]]
    notes: dict[str, str]
    missing: list[str]
    tries: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)

    @property
    def exercises(self) -> list[str]:
        return list(self.lab.exercises)

    def total(self, learner: str) -> float:
        return math.fsum(self.scores[self.learners.index(learner)])

    def findings(self) -> list[Finding]:
        """Every criterion, those with most failures first.  Only answers that were judged count, not those still to do."""
        found = {(e.id, c.name): Finding(e.id, c.name, c.text) for e in self.lab.exercises.values() for c in e.criteria}
        for verdicts in self.verdicts.values():
            for verdict in verdicts.values():
                for line in verdict.lines if verdict.status == "judged" else ():
                    finding = found.get((verdict.id, line.name))
                    if finding is None:
                        continue  # of an older edition
                    finding.judged += 1
                    finding.failed += not line.passed
                    if not line.passed and line.hint:
                        finding.hints[line.hint[0]] += 1
        return sorted(found.values(), key=lambda f: (-f.share, f.exercise))

    def beliefs(self, least: int = 2) -> list[tuple[str, str, str, int, float]]:
        """``(hint, exercise, criterion, learners, share)`` for every hint that ``least`` learners got, commonest first.

        A hint belongs to one mistake, so this is what the class believes.
        """
        rows = [
            (hint, f.exercise, f.criterion, count, count / f.judged)
            for f in self.findings()
            for hint, count in f.hints.items()
            if count >= least
        ]
        return sorted(rows, key=lambda row: -row[3])

    def effort(self, exercise: str) -> tuple[int, float, float]:
        """``(learners who agreed, median of their tries, median minutes to the first pass)``; NaN where nobody did."""
        rows = [own[exercise] for own in self.tries.values() if exercise in own]
        minutes = [row["minutes"] for row in rows if row["minutes"] is not None]
        nan = float("nan")
        return (
            len(rows),
            float(np.median([row["tries"] for row in rows])) if rows else nan,
            float(np.median(minutes)) if minutes else nan,
        )

    def stuck(self, below: float = 0.4) -> list[tuple[str, str]]:
        """``(learner, why)`` of those who may need help now."""
        found = [(learner, NOTHING) for learner in self.missing]
        for row, learner in enumerate(self.learners):
            share = np.nansum(self.scores[row]) / self.most.sum()
            refused = [v.id for v in self.verdicts.get(learner, {}).values() if v.status == "refused"]
            if share < below:
                found.append((learner, f"{share:.0%} of the points"))
            elif lost := [
                name
                for name, row in self.tries.get(learner, {}).items()
                if row["tries"] >= MANY_TRIES and not row["passed"]
            ]:
                found.append((learner, f"{MANY_TRIES} tries or more without a pass: {', '.join(lost)}"))
            elif len(refused) >= 2:
                found.append((learner, f"answers that could not be judged: {', '.join(refused)}"))
        return found


@dataclass
class Cohort:
    """A course's results: learner to the name to show, and lab to its results."""

    course_id: str
    names: dict[str, str]
    labs: dict[str, LabScores]
    root: Path


def read_cohort(course: Course, labs: Iterable[str] | None = None, real_names: bool = False) -> Cohort:
    """Everything graded so far in a course.

    Parameters
    ----------
    labs : only these; None for all that anybody has handed in
    real_names : show learners by their ids instead of pseudonyms
    """
    wanted = set(labs) if labs is not None else None
    with Writer(course) as writer:
        book = writer.gradebook
        learners = sorted(student.id for student in book.students)
        found = {}
        for assignment in sorted(book.assignments, key=lambda a: a.name):
            if wanted is not None and assignment.name not in wanted or not assignment.submissions:
                continue
            found[assignment.name] = _lab_scores(course, assignment, learners)
    known = sorted({*learners, *(name for lab in found.values() for name in lab.learners)})
    names = {name: name for name in known} if real_names else pseudonyms(known, course.secret)
    return Cohort(course.course_id, names, found, course.root)


def _lab_scores(course: Course, assignment: Any, learners: list[str]) -> LabScores:
    lab = course.lab(assignment.name)
    submissions = {submission.student.id: submission for submission in assignment.submissions}
    there = sorted(submissions)
    records = {learner: _record(course, learner, lab.name) for learner in there}
    verdicts = {learner: {v.id: v for v in found[0]} for learner, found in records.items()}
    criteria = [(e.id, c.name) for e in lab.exercises.values() for c in e.criteria]
    return LabScores(
        lab=lab,
        learners=there,
        scores=np.array([_points(submissions[name], lab) for name in there]).reshape(len(there), len(lab.exercises)),
        most=np.array([exercise.points for exercise in lab.exercises.values()], float),
        passes=np.array([_passes(verdicts[name], criteria) for name in there]).reshape(len(there), len(criteria)),
        criteria=criteria,
        verdicts=verdicts,
        notes={learner: found[1] for learner, found in records.items() if found[1]},
        missing=[name for name in learners if name not in submissions],
        tries={name: found for name in there if (found := agreed.read(course.folder("submitted", name, lab.name)))},
    )


def _points(submission: Any, lab: Lab) -> list[float]:
    """The points of each exercise as the gradebook has them: by hand before automatic, extra credit included."""
    scores = {
        grade.name: grade.score
        for notebook in submission.notebooks
        for grade in notebook.grades
        if grade.score is not None
    }
    return [float(scores.get(name, math.nan)) for name in lab.exercises]


def _passes(verdicts: dict[str, Verdict], criteria: list[tuple[str, str]]) -> list[float]:
    lines = {(v.id, line.name): float(line.passed) for v in verdicts.values() for line in v.lines}
    return [lines.get(key, math.nan) for key in criteria]


def _record(course: Course, learner: str, lab: str) -> tuple[list[Verdict], str]:
    """The verdicts and the note of the grader's record; none if there is no record that can be read."""
    try:
        record = json.loads((course.root / KIT / "graded" / learner / f"{lab}.json").read_text(encoding="utf-8"))
        return [Verdict.from_plain(plain) for plain in record["verdicts"]], str(record["error"])
    except (OSError, ValueError, KeyError, TypeError):
        return [], ""
