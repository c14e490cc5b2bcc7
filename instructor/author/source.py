"""Reading a lab's source: the text notebook ``lab.md`` (MyST Markdown), told which cells are graded.

Authors write no grading metadata.  A cell with a solution region is an answer cell; a code cell whose last line is
``check("05-b", ...)`` is the check cell of that exercise, with the points that ``exercises.py`` gives.  Cells with
the tag ``instructor`` stay with the instructor.  A cell that a person grades carries
``{"manual": "05-m", "points": 3}`` as metadata.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import nbformat
from jupytext.myst import myst_to_notebook
from nbformat.notebooknode import NotebookNode

from simkit.check import AuthorError, Lab, load_lab
from simkit.check.cells import checked_exercise

BEGIN, END = "### BEGIN SOLUTION", "### END SOLUTION"
SCHEMA = 3  # of nbgrader's cell metadata
ID = re.compile(r"^[A-Za-z0-9_-]{1,50}$")
KERNEL = {"display_name": "Python 3", "language": "python", "name": "python3"}


@dataclass
class Source:
    """A lab's source, with the cells marked.  ``lines[i]`` is the line of ``path`` on which cell *i* begins."""

    folder: Path
    lab: Lab
    notebook: NotebookNode
    lines: list[int] = field(default_factory=list)

    @property
    def name(self) -> str:
        return self.folder.name

    @property
    def path(self) -> Path:
        return self.folder / "lab.md"


def read_source(folder: Path) -> Source:
    """Read and mark ``folder/lab.md``; raises :class:`AuthorError` with file and line."""
    folder = Path(folder)
    path = folder / "lab.md"
    if not path.is_file():
        raise AuthorError("there is no lab.md here: a lab's source is lab.md and exercises.py", str(folder))
    if not (folder / "exercises.py").is_file():
        raise AuthorError("there is no exercises.py here: write one that makes lab = Lab(...)", str(folder))
    lab = load_lab(folder)
    if lab.name != folder.name:
        raise AuthorError(
            f"the lab calls itself {lab.name!r}: write Lab({folder.name!r}, ...)", str(folder / "exercises.py"), 1
        )
    notebook = myst_to_notebook(path.read_text(encoding="utf-8"), add_source_map=True)
    source = Source(folder, lab, _fresh(notebook), [line + 1 for line in notebook.metadata["source_map"]])
    _mark(source)
    _name_cells(source)
    return source


def _fresh(notebook: NotebookNode) -> NotebookNode:
    """The cells alone, in the newest notebook format, with metadata that does not depend on the machine."""
    fresh = nbformat.v4.new_notebook(cells=notebook.cells)
    fresh.metadata = nbformat.from_dict({"kernelspec": KERNEL, "language_info": {"name": "python"}})
    fresh.nbformat_minor = 5
    return fresh


# --- which cells are graded ---


def _mark(source: Source) -> None:
    waiting: list[int] = []  # answer cells that no check cell has claimed yet
    seen: dict[str, int] = {}
    for index, cell in enumerate(source.notebook.cells):
        if "instructor" in cell.metadata.get("tags", []):
            continue
        if _has_region(source, index):
            waiting.append(index)
        elif "manual" in cell.metadata:
            _mark_manual(source, index, seen)
        else:
            exercise = checked_exercise(cell.source) if cell.cell_type == "code" else ""
            if exercise:
                _mark_check(source, index, exercise, waiting, seen)
                waiting = []
    if waiting:
        raise _at(
            source, waiting[0], 'this solution region belongs to no exercise: a check("ID", ...) cell must follow it'
        )
    for exercise in source.lab.exercises:
        if exercise not in seen:
            raise AuthorError(
                f"exercise {exercise!r} is never checked: end a cell with check({exercise!r}, ...)", str(source.path), 1
            )


def _has_region(source: Source, index: int) -> bool:
    """True if the cell holds solution regions; raises if one is unclosed, nested or never opened."""
    opened = 0
    found = False
    for offset, line in enumerate(source.notebook.cells[index].source.splitlines()):
        where = _line(source, index, offset)
        if "BEGIN SOLUTION" in line:
            if opened:
                raise AuthorError(
                    f"a solution region begins inside another (begun on line {opened}): close that one first "
                    f"with {END}",
                    str(source.path),
                    where,
                )
            opened, found = where, True
        elif "END SOLUTION" in line:
            if not opened:
                raise AuthorError(
                    f"a solution region ends that never began: write {BEGIN} above it", str(source.path), where
                )
            opened = 0
    if opened:
        raise AuthorError(f"this solution region is never closed: write {END} below it", str(source.path), opened)
    return found


def _mark_check(source: Source, index: int, exercise: str, waiting: list[int], seen: dict[str, int]) -> None:
    if exercise not in source.lab.exercises:
        raise _at(
            source,
            index,
            f"exercises.py has no exercise {exercise!r}; it has {', '.join(source.lab.exercises) or 'none'}",
        )
    _once(source, index, exercise, seen)
    if not waiting:
        raise _at(
            source,
            index,
            f"nothing is asked before check({exercise!r}): a cell with {BEGIN} ... {END} must stand before it",
        )
    for count, answer in enumerate(waiting):
        grade_id = f"{exercise}-answer" + (f"-{count + 1}" if count else "")
        _set(source, answer, grade_id, grade=False, solution=True, locked=False)
    _set(source, index, exercise, grade=True, solution=False, locked=True, points=source.lab[exercise].points)


def _mark_manual(source: Source, index: int, seen: dict[str, int]) -> None:
    cell = source.notebook.cells[index]
    grade_id, points = cell.metadata.pop("manual"), cell.metadata.pop("points", None)
    if isinstance(points, bool) or not isinstance(points, (int, float)) or points < 0:
        raise _at(
            source, index, f'the cell {grade_id!r}, graded by hand, has no points: add "points": 3 to its metadata'
        )
    _once(source, index, grade_id, seen)
    _set(source, index, grade_id, grade=True, solution=True, locked=False, points=float(points))


def _once(source: Source, index: int, grade_id: Any, seen: dict[str, int]) -> None:
    if not isinstance(grade_id, str) or not ID.match(grade_id):
        raise _at(source, index, f"{grade_id!r} is no id: use letters, digits, - and _ (at most 50)")
    if grade_id in seen:
        raise _at(
            source,
            index,
            f"the id {grade_id!r} is used twice, first on line {source.lines[seen[grade_id]]}: give each its own",
        )
    seen[grade_id] = index


def _set(source: Source, index: int, grade_id: str, **flags: Any) -> None:
    source.notebook.cells[index].metadata["nbgrader"] = nbformat.from_dict(
        {"grade_id": grade_id, "schema_version": SCHEMA, "task": False, **flags}
    )


def _at(source: Source, index: int, what: str) -> AuthorError:
    return AuthorError(what, str(source.path), _line(source, index, 0))


def _line(source: Source, index: int, offset: int) -> int:
    """Line in ``lab.md`` of a line of a cell.  The map gives the line on which the cell's block begins."""
    text = source.path.read_text(encoding="utf-8").splitlines()
    wanted = (source.notebook.cells[index].source.splitlines() or [""])[offset]
    start = source.lines[index] - 1
    for line in range(start + offset, len(text)):
        if text[line] == wanted:
            return line + 1
    return source.lines[index]


# --- ids that stay the same when other cells change ---


def _name_cells(source: Source) -> None:
    used: dict[str, int] = {}
    for cell in source.notebook.cells:
        marked = cell.metadata.get("nbgrader")
        name = (
            marked["grade_id"]
            if marked
            else "c" + hashlib.sha256(f"{cell.cell_type}\n{cell.source}".encode()).hexdigest()[:10]
        )
        used[name] = used.get(name, 0) + 1
        cell["id"] = name if used[name] == 1 else f"{name}-{used[name]}"
