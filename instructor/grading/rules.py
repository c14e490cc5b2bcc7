"""A course's rules for lateness, in ``rules.toml`` beside the gradebook.

::

    [late]
    free_days = 2        # late days of the whole term, spent in the order of the due dates
    per_day = 0.1        # share of the points lost for every further day begun
    most = 0.5           # and never more than this

    [due]
    "05_keeping_time" = 2026-12-01T12:00:00+01:00

    [learner.ada]
    extra_days = 3       # more time, for every lab
    excused = ["07_signals_in_integers"]

Without the file nobody loses anything.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from .course import CourseFault

FILE = "rules.toml"


@dataclass(frozen=True)
class Allowance:
    """What one learner is granted."""

    extra: timedelta = timedelta(0)
    excused: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Rules:
    """All rules of a course.  Shares are between 0 and 1; ``due`` holds times with their zone."""

    free_days: int = 0
    per_day: float = 0.0
    most: float = 1.0
    due: dict[str, datetime] = field(default_factory=dict)
    learners: dict[str, Allowance] = field(default_factory=dict)

    def of(self, learner: str) -> Allowance:
        return self.learners.get(learner, Allowance())


@dataclass(frozen=True)
class Lateness:
    """How late one submission was: days begun, how many of them were free, and the share of the points that is lost."""

    lab: str
    days: int
    free: int
    share: float

    def __str__(self) -> str:
        days = f"{self.days} day{'s' if self.days != 1 else ''} late"
        return (
            days
            + (f", {self.free} of them free" if self.free else "")
            + (f", {self.share:.0%} of the points lost" if self.share else "")
        )


def lateness(rules: Rules, late: Iterable[tuple[datetime, str, float]]) -> dict[str, Lateness]:
    """Lab to lateness for one learner.

    Parameters
    ----------
    late : ``(due, lab, seconds late)`` of every submission, extra time already counted
    """
    left, found = rules.free_days, {}
    for _, lab, seconds in sorted(late):
        days = math.ceil(seconds / 86_400) if seconds > 0 else 0
        if not days:
            continue
        free = min(left, days)
        left -= free
        found[lab] = Lateness(lab, days, free, min(rules.most, (days - free) * rules.per_day))
    return found


def read_rules(root: Path) -> Rules:
    """The rules of the course in ``root``; raises :class:`CourseFault` with what is wrong and where."""
    path = root / FILE
    if not path.is_file():
        return Rules()
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CourseFault(f"{path}: {error}") from None
    late = _table(path, raw, "late")
    _known(path, raw, {"late", "due", "learner"}, "")
    _known(path, late, {"free_days", "per_day", "most"}, "[late] ")
    return Rules(
        free_days=int(_number(path, late, "free_days", 0, 10_000)),
        per_day=_number(path, late, "per_day", 0.0, 1.0),
        most=_number(path, late, "most", 1.0, 1.0),
        due={lab: _time(path, lab, when) for lab, when in _table(path, raw, "due").items()},
        learners={name: _allowance(path, name, row) for name, row in _table(path, raw, "learner").items()},
    )


def _table(path: Path, raw: dict[str, Any], name: str) -> dict[str, Any]:
    table = raw.get(name, {})
    if not isinstance(table, dict):
        raise CourseFault(f"{path}: {name} must be a table, as [{name}]")
    return table


def _known(path: Path, table: dict[str, Any], names: set[str], where: str) -> None:
    for name in table:
        if name not in names:
            raise CourseFault(f"{path}: {where}{name!r} is not known; there are: {', '.join(sorted(names))}")


def _number(path: Path, table: dict[str, Any], name: str, default: float, most: float) -> float:
    value = table.get(name, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        raise CourseFault(f"{path}: {name} must be a number from 0 to {most:g}, not {value!r}")
    return value


def _time(path: Path, lab: str, when: Any) -> datetime:
    if not isinstance(when, datetime) or when.tzinfo is None:
        raise CourseFault(f"{path}: the time for {lab} needs a zone, as 2026-12-01T12:00:00+01:00, not {when}")
    return when


def _allowance(path: Path, name: str, row: Any) -> Allowance:
    if not isinstance(row, dict):
        raise CourseFault(f"{path}: learner.{name} must be a table, as [learner.{name}]")
    _known(path, row, {"extra_days", "excused", "reason"}, f"[learner.{name}] ")
    excused = row.get("excused", [])
    if not isinstance(excused, list) or not all(isinstance(lab, str) for lab in excused):
        raise CourseFault(f"{path}: learner.{name}.excused must be a list of labs")
    return Allowance(timedelta(days=_number(path, row, "extra_days", 0, 3650)), frozenset(excused))
