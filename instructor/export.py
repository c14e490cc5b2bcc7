"""Grades for a learning platform: a CSV file whose columns are the instructor's own.

A mapping is a TOML file::

    delimiter = ";"                        # default ","
    decimal = ","                          # default "."
    encoding = "utf-8-sig"                 # default "utf-8"
    labs = ["05_keeping_time"]             # default: all

    [columns]                              # heading = value, in this order
    "Student ID" = "learner"
    "Last name" = "last_name"
    "Keeping time" = "points:05_keeping_time"
    "Total (%)" = "percent"

Values: ``learner``, ``first_name``, ``last_name``, ``email``; ``points``, ``of``, ``percent``, ``penalty``, ``late`` (in words), each for
all labs or with ``:LAB`` for one; ``"=text"`` for a fixed text.  An excused lab is left empty and counts in no sum.

It is also a plugin of nbgrader: ``nbgrader export --exporter instructor.export.MappedExporter``.
"""

from __future__ import annotations

import codecs
import csv
import io
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nbgrader.plugins import ExportPlugin
from traitlets import Unicode

from .grading.course import Course, CourseFault
from .grading.late import settle
from .grading.rules import Lateness, Rules, read_rules
from .grading.writer import Writer
from .report.page import harmless

PEOPLE = ("learner", "first_name", "last_name", "email")
MEASURES = ("points", "of", "percent", "penalty", "late")


@dataclass(frozen=True)
class Mapping:
    """How the file is to look; ``columns`` maps a heading to a value."""

    columns: dict[str, str]
    labs: list[str] = field(default_factory=list)
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"


@dataclass(frozen=True)
class Row:
    """One learner's results; ``None`` for an excused lab."""

    person: dict[str, str]
    labs: dict[str, tuple[float, float, float, str] | None]

    def value(self, what: str, lab: str) -> Any:
        """``points`` after the penalty, ``of``, ``percent``, ``penalty`` or ``late``, of one lab or ("") of all."""
        chosen = [self.labs[lab]] if lab else list(self.labs.values())
        known = [entry for entry in chosen if entry is not None]
        if not known:
            return ""
        points = sum(entry[0] for entry in known)
        most = sum(entry[1] for entry in known)
        penalty = sum(entry[2] for entry in known)
        if what == "late":
            return "; ".join(entry[3] for entry in known if entry[3])
        return {"points": points, "of": most, "penalty": penalty, "percent": 100 * points / most if most else 0.0}[what]


def read_mapping(path: Path | None, known: list[str]) -> Mapping:
    """The mapping in ``path``, checked; without a path one that has everything.

    Raises
    ------
    CourseFault
        If the file is no mapping, or names a value or lab that there is not.
    """
    if path is None:
        columns = {"learner": "learner"}
        columns |= {f"{lab} {what}": f"{what}:{lab}" for lab in known for what in ("points", "of", "late")}
        return Mapping(columns | {"points": "points", "of": "of", "percent": "percent"}, known)
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CourseFault(f"{path}: {error}") from None
    told, labs = raw.get("columns"), raw.get("labs", known)
    if not isinstance(told, dict) or not told or not all(isinstance(v, str) for v in told.values()):
        raise CourseFault(f'{path}: there is no table [columns] with lines as "Heading" = "points"')
    for heading, value in told.items():
        _check(path, heading, value, known)
    if not isinstance(labs, list):
        raise CourseFault(f'{path}: labs is a list of names, as ["one", "other"]')
    for lab in labs:
        if lab not in known:
            raise CourseFault(f"{path}: labs names {lab!r}; graded are: {', '.join(known) or 'none'}")
    return Mapping(told, labs, **_look(path, raw))


def _look(path: Path, raw: dict[str, Any]) -> dict[str, str]:
    """What the file says of delimiter, decimal sign and encoding, checked."""
    found: dict[str, Any] = {name: raw[name] for name in ("delimiter", "decimal", "encoding") if name in raw}
    for name in ("delimiter", "decimal"):
        if name in found and (not isinstance(found[name], str) or len(found[name]) != 1 or found[name] in '"\r\n'):
            raise CourseFault(f"{path}: {name} is one character, as {Mapping.delimiter!r}, not {found[name]!r}")
    try:
        codecs.lookup(found.get("encoding", "utf-8"))
    except (LookupError, TypeError):
        raise CourseFault(f"{path}: there is no encoding {found['encoding']!r}; most programs read utf-8-sig") from None
    return found


def _check(path: Path, heading: str, value: str, known: list[str]) -> None:
    what, colon, lab = value.partition(":")
    if value.startswith("=") or value in PEOPLE:
        return
    if what not in MEASURES:
        raise CourseFault(f"{path}: {heading!r} is to hold {what!r}; there are: {', '.join((*PEOPLE, *MEASURES))}")
    if colon and lab not in known:
        raise CourseFault(f"{path}: {heading!r} names the lab {lab!r}; graded are: {', '.join(known) or 'none'}")


def as_csv(rows: list[Row], mapping: Mapping) -> str:
    """The file's text."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mapping.delimiter, lineterminator="\n")
    writer.writerow(mapping.columns)
    for row in rows:
        writer.writerow([_cell(row, value, mapping) for value in mapping.columns.values()])
    return out.getvalue()


def _cell(row: Row, value: str, mapping: Mapping) -> str:
    if value.startswith("="):
        return value[1:]
    if value in PEOPLE:
        return harmless(row.person[value])
    what, _, lab = value.partition(":")
    found = row.value(what, lab)
    return f"{found:.10g}".replace(".", mapping.decimal) if isinstance(found, float) else str(found)


def rows_of(course: Course, writer: Writer, labs: list[str]) -> list[Row]:
    """A row for every learner of the course, those without a submission included."""
    late, rules = settle(course, writer), read_rules(course.root)
    book = writer.gradebook
    return [
        _row(book, student, labs, late.get(student.id, {}), rules)
        for student in sorted(book.students, key=lambda s: s.id)
    ]


def _row(book: Any, student: Any, labs: list[str], late: dict[str, Lateness], rules: Rules) -> Row:
    submissions = {submission.assignment.name: submission for submission in student.submissions}
    results: dict[str, tuple[float, float, float, str] | None] = {}
    for lab in labs:
        if lab in rules.of(student.id).excused:
            results[lab] = None
        elif lab in submissions:
            penalty = float(submissions[lab].late_submission_penalty or 0.0)
            points = max(0.0, float(submissions[lab].score) - penalty)
            results[lab] = (points, float(submissions[lab].max_score), penalty, str(late.get(lab, "")))
        else:
            results[lab] = (0.0, float(book.find_assignment(lab).max_score), 0.0, "")
    person = {"learner": student.id, **{name: getattr(student, name) or "" for name in PEOPLE[1:]}}
    return Row(person, results)


def known_labs(writer: Writer) -> list[str]:
    """Labs that the gradebook knows, by name."""
    return sorted(assignment.name for assignment in writer.gradebook.assignments)


class MappedExporter(ExportPlugin):
    """``nbgrader export`` with the columns of a mapping."""

    mapping = Unicode("", help="The mapping's TOML file; empty for all columns.").tag(config=True)

    def export(self, gradebook: Any) -> None:
        course = Course(Path(self.parent.coursedir.root), self.config)
        with Writer(course) as writer:
            known = known_labs(writer)
            chosen: Callable[[str], bool] = lambda lab: not self.assignment or lab in self.assignment  # noqa: E731
            mapping = read_mapping(Path(self.mapping) if self.mapping else None, known)
            rows = rows_of(course, writer, [lab for lab in mapping.labs if chosen(lab)])
        Path(self.to or "grades.csv").write_text(as_csv(rows, mapping), encoding=mapping.encoding)
