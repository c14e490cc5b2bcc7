"""Which edition of a lab a score belongs to, and what must be graded again when the edition changes.

An exercise was mended: only that exercise is judged again, the others keep their verdicts.  The code that was handed out has
changed, or the kit itself: everything is.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from ..judge.fingerprint import fingerprints
from .course import Course


@dataclass(frozen=True)
class Edition:
    """``base``: the kit and the code that was handed out; ``exercises``: what decides the points of each."""

    base: str
    exercises: dict[str, str]

    def digest(self) -> str:
        """One text for all of it."""
        return hashlib.sha256(json.dumps([self.base, self.exercises], sort_keys=True).encode()).hexdigest()

    def changed(self, before: Any) -> set[str] | None:
        """Exercises to judge again if ``before`` is what :meth:`plain` gave then; None for everything."""
        if (
            not isinstance(before, dict)
            or before.get("base") != self.base
            or not isinstance(before.get("exercises"), dict)
        ):
            return None
        return {name for name, mark in self.exercises.items() if before["exercises"].get(name) != mark}

    def plain(self) -> dict[str, Any]:
        return {"base": self.base, "exercises": self.exercises}


def edition_of(course: Course, lab: str) -> Edition:
    """The edition of a lab as the course has it now."""
    digest = hashlib.sha256(version("tickbench").encode())
    for cell in course.release(lab).cells:
        marked = cell.metadata.get("nbgrader", {})
        if cell.cell_type == "code" or marked.get("grade"):
            own = {name: marked.get(name) for name in ("grade_id", "points", "grade", "solution")}
            digest.update(json.dumps([cell.source, own], sort_keys=True).encode())
    return Edition(digest.hexdigest(), fingerprints(course.lab(lab), course.lab_folder(lab)))


def keep_history(folder: Path, learner: str, lab: str, old: dict[str, Any], reason: str) -> None:
    """Add the earlier scores to the learner's history of this lab, with the reason why they are no longer the present ones."""
    path = folder / learner / f"{lab}.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    entry = {"until": now, "reason": reason, "scores": scores_of(old), "key": old.get("key", "")}
    with open(path, "ab") as file:
        file.write(json.dumps(entry, ensure_ascii=False).encode() + b"\n")
        file.flush()
        os.fsync(file.fileno())


def scores_of(record: dict[str, Any]) -> dict[str, float]:
    """Exercise id to points, of a grader's record."""
    return {v["id"]: math.fsum(line["points"] for line in v["lines"]) for v in record.get("verdicts", [])}


def history(folder: Path, learner: str, lab: str) -> list[dict[str, Any]]:
    """The earlier scores, oldest first."""
    path = folder / learner / f"{lab}.jsonl"
    if not path.is_file():
        return []
    entries = []
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            entries.append(json.loads(line))
        except ValueError:
            continue  # torn by a kill
    return entries
