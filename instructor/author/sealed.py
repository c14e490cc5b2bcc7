"""The sealed solutions of an edition for self-paced learners; labs that are graded go out without them."""

from __future__ import annotations

from pathlib import Path

from simkit.check.cells import checked_exercise
from simkit.check.rebuild import is_answer
from simkit.check.sealed import SEALED, seal

from .build import with_solutions
from .source import BEGIN, END, Source, read_source


def solutions_of(source: Source) -> dict[str, str]:
    """From exercise to the text of its answer cells, in order, without the marks of the solution."""
    found: dict[str, str] = {}
    waiting: list[str] = []
    for cell in with_solutions(source).cells:
        if "instructor" in cell.metadata.get("tags", []):
            continue
        exercise = checked_exercise(cell.source) if cell.cell_type == "code" else ""
        if is_answer(cell):
            waiting.append(_plain(cell.source))
        elif exercise and waiting:
            found[exercise] = "\n\n".join(waiting)
            waiting = []
    return found


def _plain(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if line.strip() not in (BEGIN, END))


def write_sealed(folder: Path, labs: Path) -> Path:
    """Write the sealed file of the lab in ``folder`` into its built folder in ``labs``."""
    source = read_source(folder)
    path = labs / source.name / SEALED
    path.write_text(seal(source.name, solutions_of(source)), encoding="utf-8")
    return path
