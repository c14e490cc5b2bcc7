"""The only code of the direct path that writes the gradebook and ``autograded/``.  One transaction for a submission.

nbgrader's form grader, feedback and export read what is written here as if ``nbgrader autograde`` had written it.
Scores and comments given by hand are never touched.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import sys
import warnings
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import nbformat
from nbformat.v4.rwbase import strip_transient
from nbgrader.api import Comment, Grade, Gradebook, MissingEntry, Student, SubmittedAssignment, SubmittedNotebook
from nbgrader.preprocessors import SaveCells
from nbgrader.utils import compute_checksum, is_solution, parse_utc
from sqlalchemy.exc import SAWarning, SQLAlchemyError

from simkit.check.rebuild import name_of

from .course import Course, CourseFault
from .engine import Graded


class Writer:
    """Holds the gradebook open; use it as a context."""

    def __init__(self, course: Course) -> None:
        self.course = course
        warnings.filterwarnings("ignore", category=SAWarning)  # nbgrader 0.9 under SQLAlchemy 2.1
        _find_alembic()
        try:
            self.gradebook = Gradebook(course.db_url, course.course_id)
        except SQLAlchemyError as error:
            raise CourseFault(f"the gradebook {course.db_url} cannot be opened: {str(error).splitlines()[0]}") from None

    def __enter__(self) -> Writer:
        return self

    def __exit__(self, *exception: object) -> None:
        self.gradebook.close()

    def prepare(self, lab: str) -> None:
        """See that the gradebook knows the lab as it was handed out; raises :class:`CourseFault` if it knows another."""
        self.gradebook.update_or_create_assignment(lab)
        release = self.course.release(lab)
        try:
            known = {c.name: c.max_score for c in self.gradebook.find_notebook(lab, lab).grade_cells}
        except MissingEntry:
            resources = {"nbgrader": {"notebook": lab, "assignment": lab, "db_url": self.course.db_url}}
            SaveCells().preprocess(nbformat.from_dict(release), resources)
            self.gradebook.db.expire_all()
            return
        handed_out = {
            name_of(c): float(c.metadata.nbgrader.points)
            for c in release.cells
            if c.metadata.get("nbgrader", {}).get("grade")
        }
        if known != handed_out:
            differ = sorted(set(known.items()) ^ set(handed_out.items()))
            raise CourseFault(
                f"{lab}: the gradebook and the notebook that was handed out differ at {differ[0][0]}: "
                f"run nbgrader generate_assignment {lab} --force"
            )

    def write(self, learner: str, lab: str, graded: Graded, timestamp: str | None) -> None:
        """Write one submission: first the notebook for readers, then all its scores in one transaction.

        Raises :class:`CourseFault` or OSError if it cannot; then the gradebook is as it was.
        """
        self._write_notebook(learner, lab, graded, timestamp)
        session = self.gradebook.db
        try:
            with session.no_autoflush:
                self._write_scores(self._submission(learner, lab, timestamp), graded)
            session.commit()
        except SQLAlchemyError as error:
            session.rollback()
            raise CourseFault(f"the gradebook cannot be written: {str(error).splitlines()[0]}") from error
        except BaseException:
            session.rollback()
            raise

    def has(self, learner: str, lab: str) -> bool:
        """True if the gradebook holds scores for this submission and its notebook can be read."""
        try:
            submission = self.gradebook.find_submission(lab, learner)
        except MissingEntry:
            return False
        grades = [grade for notebook in submission.notebooks for grade in notebook.grades]
        there = (self.course.folder("autograded", learner, lab) / f"{lab}.ipynb").is_file()
        return there and all(grade.auto_score is not None or grade.needs_manual_grade for grade in grades)

    def _submission(self, learner: str, lab: str, timestamp: str | None) -> SubmittedAssignment:
        """The submission's rows, made if they are not there; nothing is committed."""
        book = self.gradebook
        try:
            student = book.find_student(learner)
        except MissingEntry:
            student = Student(id=learner)
            book.db.add(student)
        try:
            submission = book.find_submission(lab, learner)
        except MissingEntry:
            submission = SubmittedAssignment(assignment=book.find_assignment(lab), student=student)
            for notebook in submission.assignment.notebooks:
                submitted = SubmittedNotebook(notebook=notebook, assignment=submission)
                for cell in notebook.grade_cells:
                    Grade(cell_id=cell.id, notebook=submitted, cell=cell)
                for cell in notebook.solution_cells:
                    Comment(cell_id=cell.id, notebook=submitted, cell=cell)
            book.db.add(submission)
        if timestamp:
            submission.timestamp = parse_utc(timestamp)
        return submission

    def _write_scores(self, submission: SubmittedAssignment, graded: Graded) -> None:
        cells = {name_of(cell): cell for cell in graded.notebook.cells}
        for notebook in submission.notebooks:
            for grade in notebook.grades:
                grade.auto_score = self._score(grade.cell, cells.get(grade.cell.name), graded)
                grade.needs_manual_grade = grade.manual_score is not None or grade.auto_score is None
            for comment in notebook.comments:
                cell = cells.get(comment.cell.name)
                comment.auto_comment = "No response." if cell is not None and _unchanged(cell) else None

    def _score(self, known: Any, cell: Any, graded: Graded) -> float | None:
        """The judge's points; a cell graded by hand has 0 if it is as it was handed out, else None, as in nbgrader."""
        verdict = graded.verdicts.get(known.name)
        if verdict is None:
            return 0.0 if cell is None or _unchanged(cell) else None
        score = float(verdict.score)
        if not 0.0 <= score <= known.max_score:
            raise CourseFault(
                f"{known.name}: {score:g} points of at most {known.max_score:g}: generate the assignment again"
            )
        return score

    def _write_notebook(self, learner: str, lab: str, graded: Graded, timestamp: str | None) -> None:
        """Put the graded notebook where readers look for it, whole or not at all."""
        target = self.course.folder("autograded", learner, lab)
        part = target.with_name(f".{lab}.{os.getpid()}")
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir(parents=True)
        # Built from a valid one, which nbformat would check once more; with line breaks Python takes ten times as long to write it.
        text = json.dumps(strip_transient(graded.notebook), ensure_ascii=False, sort_keys=True)
        (part / f"{lab}.ipynb").write_text(text + "\n", encoding="utf-8")
        if timestamp:
            (part / "timestamp.txt").write_text(timestamp, encoding="utf-8")
        old = target.with_name(f".{lab}.{os.getpid()}.old")
        shutil.rmtree(old, ignore_errors=True)
        if target.exists():
            target.rename(old)
        part.rename(target)
        shutil.rmtree(old, ignore_errors=True)


def _find_alembic() -> None:
    """nbgrader makes a new gradebook with the program ``alembic``, which is beside Python but perhaps not on the path."""
    beside = str(Path(sys.executable).parent)
    if beside not in os.environ.get("PATH", "").split(os.pathsep):
        os.environ["PATH"] = os.pathsep.join([beside, os.environ.get("PATH", os.defpath)])


def _unchanged(cell: Any) -> bool:
    marked = cell.metadata.get("nbgrader", {})
    return is_solution(cell) and marked.get("checksum") == compute_checksum(cell)


def back_up(course: Course, keep: int = 20) -> Path | None:
    """A copy of the gradebook as it is now, in ``.tickbench/backups``; None if there is none yet, or it is no sqlite file."""
    path = course.root / "gradebook.db"
    if not course.db_url.startswith("sqlite:") or not path.is_file():
        return None
    folder = course.root / ".tickbench" / "backups"
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"gradebook-{datetime.now(UTC):%Y%m%dT%H%M%S%f}.db"
    part = target.with_suffix(".part")
    with sqlite3.connect(path, timeout=60) as source, sqlite3.connect(part) as copy:
        source.backup(copy)
    part.rename(target)
    for old in sorted(folder.glob("gradebook-*.db"))[:-keep]:
        old.unlink()
    return target
