"""What a course folder stores of its learners, and deleting all of one of them."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from nbgrader.api import MissingEntry

from ..grading.course import KIT, Course
from ..grading.writer import Writer

PLACES = {
    "submitted": "notebooks as they were handed in",
    "autograded": "notebooks with verdicts",
    "feedback": "pages for learners",
    "gradebook.db": "names, points and comments",
    f"{KIT}/attempts": "every attempt, once",
    f"{KIT}/graded": "what each criterion found",
    f"{KIT}/history": "earlier scores and why they changed",
    f"{KIT}/backups": "copies of the gradebook before each run",
    f"{KIT}/secret": "the secret of pseudonyms and private seeds",
}


def stored(course: Course) -> list[tuple[str, str, str]]:
    """``(where, what, size)`` of every place that is there."""
    rows = []
    for place, what in PLACES.items():
        path = course.root / place
        if path.exists():
            size = sum(f.stat().st_size for f in ([path] if path.is_file() else path.rglob("*")) if f.is_file())
            rows.append((place, what, f"{size / 1024:.0f} KiB"))
    return rows


def traces(course: Course, learner: str) -> list[Path]:
    """Files and folders that belong to one learner alone."""
    places = [course.folder(kind, learner) for kind in ("submitted", "autograded", "feedback")]
    places += [course.root / KIT / kind / learner for kind in ("graded", "history")]
    return [path for path in places if path.exists()]


def forget(course: Course, learner: str) -> None:
    """Delete a learner: folders, attempts that nobody else has, rows of the gradebook, and the backups that still hold them."""
    for path in traces(course, learner):
        shutil.rmtree(path)
    _forget_attempts(course.root / KIT / "attempts", learner)
    shutil.rmtree(course.root / KIT / "backups", ignore_errors=True)
    with Writer(course) as writer:
        try:
            writer.gradebook.remove_student(learner)
        except MissingEntry:
            pass


def _forget_attempts(folder: Path, learner: str) -> None:
    log = folder / "attempts.jsonl"
    if not log.is_file():
        return
    entries = list(_entries(log))
    kept = [entry for entry in entries if entry.get("learner") != learner]
    needed = {blob for entry in kept for blob in entry.get("files", {}).values()}
    gone = {blob for entry in entries for blob in entry.get("files", {}).values()} - needed
    part = log.with_name(f"{log.name}.{os.getpid()}.part")
    part.write_text("".join(json.dumps(entry, ensure_ascii=False) + "\n" for entry in kept), encoding="utf-8")
    part.rename(log)
    for blob in gone:
        (folder / "files" / blob[:2] / blob[2:]).unlink(missing_ok=True)


def _entries(log: Path) -> Iterator[dict]:
    for line in log.read_text(encoding="utf-8").splitlines():
        try:
            yield json.loads(line)
        except ValueError:
            continue  # torn by a kill
