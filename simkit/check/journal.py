"""The learner's own progress: a file of events that only grows, in the learner's folder.

Form: one JSON object a line (UTF-8).  Every line has ``event``, ``time`` (UTC, ISO 8601) and ``learner``, and:

* ``check``: ``lab``, ``exercise``, ``score``, ``max``, ``status`` (a verdict's), ``answer`` (the digest of
  :func:`.prints.print_of`, or ""), and ``active_s`` (s of work since the line before) where the learner wants time noted
* ``prediction``: ``lab``, ``exercise``, ``value``: what the learner expected before the run; the first one counts
* ``solution``: ``lab``, ``exercise``: the solution was opened
* ``time``: ``on``: whether the time spent is noted from here on (off at first)

A line is written in one piece under a lock and brought to the disk before the check returns: a killed kernel, a second
kernel or a new edition of the labs loses none.  Lines that cannot be read are left where they are and passed over, so a damaged file
costs the damaged lines only.  Nothing is sent anywhere, and it never holds
answers.  What a learner may agree to show an instructor is in :mod:`.agreed`.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

FOLDER, FILE = ".tickbench", "progress.jsonl"
EDITIONS = "editions.json"
ENOUGH_TRIES = 2
"""Different answers that were judged and did not pass, after which a solution may be opened."""
PAUSE_S = 300.0
"""A longer time without running a cell does not count as work, s."""


def place(folder: Path | None = None) -> Path:
    """The file for a folder, the present one if None: that of the course folder that ``tickbench start`` made above it, else one
    for the user."""
    here = (folder or Path.cwd()).resolve()
    for above in (here, *here.parents):
        if (above / FOLDER / EDITIONS).is_file():
            return above / FOLDER / FILE
    import platformdirs

    return Path(platformdirs.user_data_dir("tickbench", appauthor=False)) / FILE


def append(path: Path, **fields: Any) -> str:
    """Add an event; "" if that worked, else in one line why not.  Never raises for what the disk does."""
    row = {"event": "", "time": datetime.now(UTC).isoformat(timespec="seconds"), **fields}
    line = json.dumps(row, ensure_ascii=False).encode() + b"\n"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as file, _locked(file):
            file.seek(0, os.SEEK_END)
            if file.tell():  # a line that a crash cut off must not swallow this one
                file.seek(-1, os.SEEK_END)
                line = line if file.read(1) == b"\n" else b"\n" + line
            file.write(line)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        return f"your progress could not be saved in {path}: {error.strerror or error}"
    return ""


@contextlib.contextmanager
def _locked(file: Any) -> Iterator[None]:
    """One writer at a time, also from several kernels; a file system without locks goes without."""
    try:
        import fcntl
    except ImportError:  # Windows
        yield from _locked_on_windows(file)
        return
    with contextlib.suppress(OSError):
        fcntl.flock(file, fcntl.LOCK_EX)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            fcntl.flock(file, fcntl.LOCK_UN)


def _locked_on_windows(file: Any) -> Iterator[None]:
    import msvcrt

    byte = 1 << 30  # far behind the text, so that readers are not kept out
    file.seek(byte)
    with contextlib.suppress(OSError):
        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined]
    try:
        yield
    finally:
        file.flush()
        file.seek(byte)
        with contextlib.suppress(OSError):
            msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined]


def read(path: Path, exercise: str = "") -> list[dict[str, Any]]:
    """All events that can be read, oldest first; empty if there is no file.

    With ``exercise``, at least those of this exercise and those of no exercise, so that a check stays quick when the file grows long.
    """
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return []
    if exercise:
        mark = json.dumps(exercise).encode()
        lines = [line for line in lines if mark in line or b'"exercise"' not in line]
    rows = []
    for line in lines:
        with contextlib.suppress(ValueError, RecursionError):
            row = json.loads(line)
            if isinstance(row, dict) and isinstance(row.get("event"), str):
                rows.append(row)
    return rows


@dataclass
class Standing:
    """How a learner stands in one exercise.  ``share`` is the best score as a share of the points that it had then.

    ``tries`` counts the different answers that were judged; ``checks`` every check of an answer; times are ISO 8601 texts, "" for
    never.  The best score counts: an answer that was right once stays done.
    """

    lab: str
    exercise: str
    score: float = 0.0
    max_score: float = 0.0
    checks: int = 0
    tries: int = 0
    first_pass: str = ""
    solution: str = ""
    active_s: float = 0.0
    share: float = 0.0

    def worth(self, points: float) -> None:
        """Count the exercise with these points: a new edition of a lab may give it more or fewer than it had."""
        self.max_score, self.score = points, round(self.share * points, 2)

    @property
    def done(self) -> bool:
        return bool(self.first_pass)


def standings(rows: list[dict[str, Any]], learner: str = "") -> dict[tuple[str, str], Standing]:
    """By lab and exercise, from the events of ``learner`` ("" for all)."""
    found: dict[tuple[str, str], Standing] = {}
    answers: dict[tuple[str, str], set[str]] = {}
    for row in rows:
        key = (str(row.get("lab", "")), str(row.get("exercise", "")))
        if row["event"] not in ("check", "solution") or (learner and row.get("learner", learner) != learner):
            continue
        one = found.setdefault(key, Standing(*key))
        if row["event"] == "solution":
            one.solution = one.solution or str(row.get("time", ""))
        else:
            with contextlib.suppress(TypeError, ValueError):
                _count(one, row, answers.setdefault(key, set()))
    return found


def _count(one: Standing, row: dict[str, Any], answers: set[str]) -> None:
    score, most = float(row.get("score", 0)), float(row.get("max", 0))
    one.active_s += float(row.get("active_s", 0))
    judged = row.get("status") == "judged"
    if judged and most:
        one.share = max(one.share, min(score / most, 1.0))
    one.worth(most)
    if not judged:
        return
    one.checks += 1
    if most and score >= most:
        one.first_pass = one.first_pass or str(row.get("time", ""))
    if row.get("answer"):
        answers.add(str(row["answer"]))
    one.tries = len(answers)


def prediction(rows: list[dict[str, Any]], learner: str, lab: str, exercise: str) -> Any:
    """The learner's first prediction in an exercise, as data; None if there is none."""
    for row in rows:
        mine = (row.get("learner"), row.get("lab"), row.get("exercise")) == (learner, lab, exercise)
        if row["event"] == "prediction" and mine:
            return row.get("value")
    return None


def wants_time(rows: list[dict[str, Any]]) -> bool:
    """Whether the learner wants the time spent to be noted."""
    said = [bool(row.get("on")) for row in rows if row["event"] == "time"]
    return bool(said) and said[-1]


class Clock:
    """Time of work in this kernel: the gaps between cells that are run, without pauses."""

    def __init__(self) -> None:
        self._last = time.monotonic()
        self._active = 0.0

    def tick(self, *event: Any) -> None:
        """A cell begins or a check is made."""
        now = time.monotonic()
        self._active += now - self._last if now - self._last < PAUSE_S else 0.0
        self._last = now

    def take(self) -> float:
        """Seconds since the last time this was asked."""
        self.tick()
        active, self._active = self._active, 0.0
        return round(active, 1)


clock = Clock()
