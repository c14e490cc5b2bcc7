"""Reading what learners handed in.  Nothing here follows a link or leaves the submission's folder."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simkit.check.cells import MAX_NOTEBOOK, Unreadable, parse_notebook
from simkit.check.rebuild import name_of

MAX_FILES = 500
MAX_TOTAL = 300 * 1024**2


@dataclass
class Submitted:
    """One learner's submission of one lab, as files; ``refused`` says what was left out."""

    learner: str
    lab: str
    folder: Path
    files: dict[str, bytes] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)


def find_submissions(
    root: Path, learners: set[str] | None = None, labs: set[str] | None = None
) -> list[tuple[str, str, Path]]:
    """(learner, lab, folder) for each ``root/<learner>/<lab>``, by name; links are not followed."""
    found = []
    for learner in _folders(root):
        for lab in _folders(root / learner):
            if (learners is None or learner in learners) and (labs is None or lab in labs):
                found.append((learner, lab, root / learner / lab))
    return found


def _folders(path: Path) -> list[str]:
    with os.scandir(path) as entries:
        return sorted(e.name for e in entries if e.is_dir(follow_symlinks=False) and not e.name.startswith("."))


def read_submission(learner: str, lab: str, folder: Path) -> Submitted:
    """Read a submission's regular files into memory; links, devices and what is too large are refused and named."""
    found = Submitted(learner, lab, folder)
    total = 0
    for base, folders, names in os.walk(folder):
        folders[:] = sorted(n for n in folders if n not in (".ipynb_checkpoints", "__pycache__"))
        for name in [*folders]:
            if os.path.islink(os.path.join(base, name)):
                found.refused.append(f"{name}: a link")
        for name in sorted(names):
            relative = os.path.relpath(os.path.join(base, name), folder)
            if len(found.files) >= MAX_FILES:
                found.refused.append(f"more than {MAX_FILES} files: the rest was not read")
                return found
            content = _read(os.path.join(base, name), MAX_TOTAL - total)
            if isinstance(content, str):
                found.refused.append(f"{relative}: {content}")
            else:
                total += len(content)
                found.files[relative] = content
    return found


def _read(path: str, room: int) -> bytes | str:
    """The file's content, or why it is refused."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        return "a link" if os.path.islink(path) else f"cannot be read ({error.strerror})"
    with os.fdopen(handle, "rb") as file:
        state = os.fstat(file.fileno())
        if not stat.S_ISREG(state.st_mode):
            return "not a regular file"
        if state.st_size > min(MAX_NOTEBOOK, room):
            return "too large"
        return file.read(min(MAX_NOTEBOOK, room))


def choose_notebook(submitted: Submitted, release: Any) -> tuple[Any, list[str]]:
    """The notebook of the submission that belongs to the lab, and notes; None if there is none that can be read.

    The right name wins; else the notebook with the most of the lab's grade ids in it.
    """
    notes = [f"not taken: {what}" for what in submitted.refused]
    wanted = {name_of(cell) for cell in release.cells} - {""}
    readable: list[tuple[int, bool, str, Any]] = []
    for name in sorted(n for n in submitted.files if n.lower().endswith(".ipynb")):
        try:
            notebook = parse_notebook(submitted.files[name].decode("utf-8-sig"))
        except UnicodeDecodeError as error:
            notes.append(f"{name}: not UTF-8 text (byte {error.start})")
            continue
        except Unreadable as error:
            notes.append(f"{name}: {error}")
            continue
        known = len(wanted & {name_of(cell) for cell in notebook.cells})
        readable.append((known, name == f"{submitted.lab}.ipynb", name, notebook))
    if not readable:
        notes.append("no notebook that can be read was handed in")
        return None, notes
    right = [entry for entry in readable if entry[1]] or [max(readable, key=lambda entry: entry[0])]
    known, exact, name, notebook = right[0]
    if not exact:
        notes.append(f"{name} was taken for {submitted.lab}.ipynb: {known} of its {len(wanted)} graded cells are in it")
    if exact and known == 0:
        notes.append(f"{name} holds none of this lab's graded cells: is it another lab's notebook?")
    return notebook, notes
