"""What a new version of a lab changes for learners, and whose work must be graded again.

Either side is a folder with a lab's source, or ``REVISION:FOLDER`` for that folder as git has it.
"""

from __future__ import annotations

import contextlib
import difflib
import io
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simkit.check import AuthorError, Exercise
from simkit.check.cells import code_cells
from simkit.check.rebuild import is_answer

from ..grading.needed import needed_cells
from ..judge.fingerprint import fingerprints, numbers_fingerprints
from .build import for_learners
from .source import Source, read_source


@dataclass
class Change:
    """What differs between two versions of one exercise; ``regrade``: work that was graded must be graded again."""

    exercise: str
    lines: list[str] = field(default_factory=list)
    regrade: bool = False
    new_numbers: bool = False


@dataclass
class Difference:
    """Everything that differs.  ``text`` is a unified diff of what learners read and are given."""

    old_points: float
    new_points: float
    changes: list[Change] = field(default_factory=list)
    text: list[str] = field(default_factory=list)

    @property
    def regrade(self) -> list[str]:
        return [change.exercise for change in self.changes if change.regrade]

    def as_json(self) -> dict[str, Any]:
        rows = [
            {"exercise": c.exercise, "changes": c.lines, "regrade": c.regrade, "new_numbers": c.new_numbers}
            for c in self.changes
        ]
        return {
            "points": [self.old_points, self.new_points],
            "exercises": rows,
            "regrade": self.regrade,
            "text": self.text,
        }


def difference(old: Path, new: Path) -> Difference:
    """Compare two folders with a lab's source; raises :class:`AuthorError`."""
    before, after = read_source(old), read_source(new)
    found = Difference(before.lab.points, after.lab.points)
    for name in [*before.lab.exercises, *(n for n in after.lab.exercises if n not in before.lab.exercises)]:
        change = _change(name, before, after)
        if change.lines:
            found.changes.append(change)
    found.text = list(difflib.unified_diff(_shown(before), _shown(after), "old", "new", lineterm="", n=1))
    return found


def _change(name: str, before: Source, after: Source) -> Change:
    change = Change(name)
    if name not in after.lab.exercises:
        change.lines.append("is gone: its points are lost to those who had them")
        return change
    if name not in before.lab.exercises:
        change.lines.append(f"is new, {after.lab[name].points:g} points: submissions made so far have no answer to it")
        return change
    change.lines += _said(before.lab[name], after.lab[name])
    old, new = (numbers_fingerprints(side.lab, side.folder)[name] for side in (before, after))
    if old != new:
        change.new_numbers = True
        change.lines.append("learners get other numbers: answers handed in so far fit the old ones")
    old, new = (fingerprints(side.lab, side.folder)[name] for side in (before, after))
    if old != new and not change.lines:
        change.lines.append("is judged in another way")
    change.regrade = old != new
    if _given(before, name) != _given(after, name):
        change.lines.append(
            "code that the answer builds on has changed: it takes the place of the old code in submissions"
        )
        change.regrade = True
    return change


def _said(old: Exercise, new: Exercise) -> list[str]:
    """What an author wrote for learners: points, criteria, hints."""
    lines = []
    if old.points != new.points:
        lines.append(f"points: {old.points:g} -> {new.points:g}")
    if repr(old.kind) != repr(new.kind):
        lines.append(f"wants another answer: {old.kind.describe()} -> {new.kind.describe()}")
    earlier, later = ({c.name: c for c in side.criteria} for side in (old, new))
    lines += [f"criterion {name!r} is gone" for name in earlier if name not in later]
    lines += [f"criterion {name!r} is new ({c.points:g})" for name, c in later.items() if name not in earlier]
    for name in earlier.keys() & later.keys():
        if earlier[name].points != later[name].points:
            lines.append(f"criterion {name!r}: {earlier[name].points:g} -> {later[name].points:g} points")
        elif earlier[name].text != later[name].text:
            lines.append(f"criterion {name!r} is worded anew (feedback only)")
    lines += [
        f"hint {key!r} {'is new' if key not in old.hints else 'is gone' if key not in new.hints else 'is worded anew'} (feedback only)"
        for key in sorted(old.hints.keys() | new.hints.keys())
        if old.hints.get(key) != new.hints.get(key)
    ]
    return lines


def _given(source: Source, exercise: str) -> list[str]:
    """The code that learners are given and on which the answer to one exercise depends."""
    notebook = for_learners(source)
    answers = {cell.source for cell in notebook.cells if is_answer(cell)}
    cells = [cell for cell in code_cells(notebook) if cell.exercise in ("", exercise)]
    return [cell.source for cell in needed_cells(cells) if cell.source not in answers]


def _shown(source: Source) -> list[str]:
    return [line for cell in for_learners(source).cells for line in [*cell.source.splitlines(), ""]]


@contextlib.contextmanager
def version(name: str) -> Iterator[Path]:
    """A folder with the version called ``name``; one from git is unpacked for as long as the context lasts."""
    path = Path(name)
    if path.is_dir():
        yield path
        return
    revision, colon, folder = name.partition(":")
    if not colon:
        raise AuthorError(f"there is no folder {name!r}; for a version in git write REVISION:FOLDER")
    with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch:
        top = _git("rev-parse", "--show-toplevel").decode().strip()
        inside = Path(folder).resolve().relative_to(Path(top).resolve())
        _unpack(_git("-C", top, "archive", revision, "--", inside.as_posix()), Path(scratch))
        yield Path(scratch) / inside


def _git(*words: str) -> bytes:
    done = subprocess.run(["git", *words], capture_output=True)
    if done.returncode:
        raise AuthorError(f"git {' '.join(words[:4])}: {done.stderr.decode(errors='replace').strip()}")
    return done.stdout


def _unpack(archive: bytes, place: Path) -> None:
    with tarfile.open(fileobj=io.BytesIO(archive)) as files:
        files.extractall(place, filter="data")
