"""What a check says: a verdict with one line per criterion.  It is shown as text, and given out as plain JSON."""

from __future__ import annotations

import math
import textwrap
from dataclasses import asdict, dataclass, field
from typing import Any

from .look import Look
from .model import Exercise, Plain, Result

WIDTH = 96
TO_DO = "still to do"
MIME = "application/vnd.tickbench.verdict+json"


@dataclass(frozen=True)
class Line:
    """One criterion's outcome.  ``points`` were given out of ``max_points``; ``hint`` has three steps or none.

    ``look`` is where a failure can be seen, for the learner who checks; a grader keeps none.
    """

    name: str
    text: str
    passed: bool
    points: float
    max_points: float
    measured: Plain = None
    wanted: Plain = None
    unit: str = ""
    hint: tuple[str, ...] = ()
    look: Look | None = field(default=None, compare=False)

    def as_json(self) -> dict[str, Any]:
        """The criterion as the commands print it; the hint is its first two steps as one text, "" if none."""
        return {
            "name": self.name,
            "passed": self.passed,
            "measured": self.measured,
            "wanted": self.wanted,
            "unit": self.unit,
            "hint": " ".join(self.hint[:2]),
        }


@dataclass(frozen=True)
class Verdict:
    """The outcome of one exercise.

    Parameters
    ----------
    status : "judged"; "todo" (still the placeholder); "refused" (not an answer of the right kind, or it failed
        on the way; ``message`` says why)
    message : shown above the criteria; may have several lines
    hints : how many steps of each hint the text shows, 1 to 3
    learner : whose numbers were used, "" if not noted

    In a notebook the value of ``check(...)`` prints as the points alone: that number is what nbgrader reads.
    """

    id: str
    title: str
    status: str
    lines: tuple[Line, ...]
    message: str = ""
    hints: int = field(default=1, compare=False)
    learner: str = field(default="", compare=False)

    @property
    def score(self) -> float:
        return math.fsum(line.points for line in self.lines)

    @property
    def max_score(self) -> float:
        return math.fsum(line.max_points for line in self.lines)

    @property
    def passed(self) -> bool:
        return all(line.passed for line in self.lines)

    def as_json(self) -> dict[str, Any]:
        return {
            "id": self.id,
            "score": self.score,
            "max_score": self.max_score,
            "criteria": [line.as_json() for line in self.lines],
        }

    def as_plain(self) -> dict[str, Any]:
        """Everything in it, as plain data for :meth:`from_plain`."""
        plain = asdict(self)
        for line in plain["lines"]:
            if line["look"] is None:
                del line["look"]
        return plain

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> Verdict:
        lines = tuple(
            Line(**{**line, "hint": tuple(line["hint"]), "look": Look.from_plain(line.get("look"))})
            for line in plain["lines"]
        )
        return cls(**{**plain, "lines": lines})

    def text(self) -> str:
        """The verdict as lines of text, without colour."""
        out = [f"{self.id}  {self.title}: {self.score:g} of {self.max_score:g} points"]
        if self.status == "todo":
            return f"{out[0]} - {TO_DO}"
        if self.message:
            out += ["  " + line for line in self.message.splitlines()]
        for line in self.lines if self.status == "judged" else ():
            out += self._line(line)
        if self.status == "judged" and self.hints < 3 and any(line.hint for line in self.lines):
            out.append(f"  (more help: check({self.id!r}, ..., hints={self.hints + 1}))")
        return "\n".join(out)

    def _line(self, line: Line) -> list[str]:
        sign, word = ("✓", "passed") if line.passed else ("✗", "failed")
        out = f"  {sign} {word}  {line.text}"
        if line.measured is not None:
            out += f"; measured {shown(line.measured)}{_unit(line.unit)}"
        if line.wanted is not None:
            out += f"; wanted {shown(line.wanted)}{_unit(line.unit)}"
        steps = () if line.passed else line.hint[: self.hints]
        return [
            out,
            *([f"      look: {line.look.text()}"] if line.look else []),
            *(
                wrapped
                for step in steps
                for wrapped in textwrap.wrap(
                    step, WIDTH, initial_indent="      hint: ", subsequent_indent="            "
                )
            ),
        ]

    def __str__(self) -> str:
        return self.text()

    def _repr_mimebundle_(self, **options: Any) -> dict[str, Any]:
        """For Jupyter: the points as text, and the verdict as data that the saved notebook keeps."""
        points = f"<small>{self.score:g} of {self.max_score:g} points</small>"
        return {"text/plain": repr(self), "text/html": points, MIME: {"learner": self.learner, **self.as_json()}}

    def __repr__(self) -> str:
        return f"{self.score:g}"


def _unit(unit: str) -> str:
    return f" {unit}" if unit else ""


def shown(value: Plain) -> str:
    """A plain value as a person reads it: "yes", "40", "0.0333333"."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def plain(value: Any) -> Plain:
    """A judge's value as JSON can hold it: numpy scalars become Python's, NaN and infinities become text."""
    if value is None or isinstance(value, (bool, str)):
        return value
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, bool):
        return value
    if isinstance(value, int):
        return value if value.bit_length() <= 64 else str(value)
    if isinstance(value, float):
        return value if math.isfinite(value) else str(value)
    return str(value)


def verdict_of(
    exercise: Exercise, results: dict[str, Result], status: str = "judged", message: str = "", hint: str = ""
) -> Verdict:
    """Verdict from the results by criterion; a criterion without one fails, with the hint ``hint`` if given."""
    lines = []
    for criterion in exercise.criteria:
        result = results.get(criterion.name) or Result(criterion.name, False, hint=hint)
        key = result.hint or criterion.hint
        steps = exercise.hints[key].steps() if key and not result.passed and status == "judged" else ()
        lines.append(
            Line(
                criterion.name,
                criterion.text,
                result.passed,
                criterion.points if result.passed else 0.0,
                criterion.points,
                plain(result.measured),
                plain(result.wanted),
                result.unit,
                steps,
                result.look if isinstance(result.look, Look) and not result.passed and status == "judged" else None,
            )
        )
    return Verdict(exercise.id, exercise.title, status, tuple(lines), message)


def todo(exercise: Exercise) -> Verdict:
    """The verdict on a placeholder: no points, and every criterion's hint is what is still to do."""
    verdict = verdict_of(exercise, {}, "todo")
    lines = tuple(
        Line(x.name, x.text, False, 0.0, x.max_points, hint=(f"{TO_DO}: {exercise.title}",)) for x in verdict.lines
    )
    return Verdict(exercise.id, exercise.title, "todo", lines)


def refused(exercise: Exercise, message: str) -> Verdict:
    """The verdict on something that is no answer: no points; the message is also each criterion's hint."""
    verdict = verdict_of(exercise, {}, "refused", message)
    first = message.splitlines()[0] if message else ""
    lines = tuple(Line(x.name, x.text, False, 0.0, x.max_points, hint=(first,)) for x in verdict.lines)
    return Verdict(exercise.id, exercise.title, "refused", lines, message)
