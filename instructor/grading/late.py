"""Putting the rules for lateness into the gradebook: due dates, extra time, penalties.  Scores themselves stay as they are.

nbgrader keeps a penalty beside a score and takes it off in its exports, so a rule that changes costs no regrading.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy.exc import SQLAlchemyError

from .course import Course, CourseFault
from .rules import Lateness, Rules, lateness, read_rules
from .writer import Writer

Late = dict[str, dict[str, Lateness]]


def settle(course: Course, writer: Writer) -> Late:
    """Write due dates, extra time and penalties, in one transaction; learner to lab to lateness.

    Raises :class:`CourseFault` if the rules or the gradebook cannot be read or written.
    """
    rules = read_rules(course.root)
    book = writer.gradebook
    try:
        for assignment in book.assignments:
            if assignment.name in rules.due:
                assignment.duedate = _naive(rules.due[assignment.name])
        found = {student.id: _settle_learner(rules, student) for student in book.students}
        book.db.commit()
    except SQLAlchemyError as error:
        book.db.rollback()
        raise CourseFault(f"the gradebook cannot be written: {str(error).splitlines()[0]}") from error
    return {learner: late for learner, late in found.items() if late}


def _settle_learner(rules: Rules, student: Any) -> dict[str, Lateness]:
    allowed = rules.of(student.id)
    counted = []
    for submission in student.submissions:
        if allowed.extra:
            submission.extension = allowed.extra
        if submission.duedate is not None and submission.assignment.name not in allowed.excused:
            counted.append((submission.duedate, submission.assignment.name, submission.total_seconds_late))
    late = lateness(rules, counted)
    for submission in student.submissions:
        share = late[submission.assignment.name].share if submission.assignment.name in late else 0.0
        for notebook in submission.notebooks:
            notebook.late_submission_penalty = share * notebook.score if share else None
    return late


def _naive(when: datetime) -> datetime:
    """As nbgrader keeps times: in UTC, without a zone."""
    return when.astimezone(UTC).replace(tzinfo=None)
