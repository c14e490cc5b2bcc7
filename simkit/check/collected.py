"""From what a run gave to one answer for every exercise of the lab, reasons included where there is none."""

from __future__ import annotations

import re
from typing import Any

from .judging import Answer
from .model import Lab
from .run import Cell, RunResult

MISSING = re.compile(r"^NameError: name '(\w+)' is not defined")


def answers_of(lab: Lab, cells: list[Cell], result: RunResult) -> dict[str, Answer]:
    """An answer for each exercise, in the lab's order.  Where several cells check one exercise, the last counts."""
    where = {cell.exercise: cell for cell in cells if cell.exercise}
    return {exercise: answer_at(exercise, where.get(exercise), cells, result) for exercise in lab.exercises}


def live_of(cells: list[Cell], result: RunResult) -> dict[str, Any]:
    """What came of judging the answers that are code, by exercise: as :func:`answers_of`, the last check counts."""
    where = {cell.exercise: cell.index for cell in cells if cell.exercise}
    return {exercise: result.live[cell] for exercise, cell in where.items() if cell in result.live}


def answer_at(exercise: str, cell: Cell | None, cells: list[Cell], result: RunResult) -> Answer:
    """The answer that a check cell gave, or why it gave none."""
    if cell is None:
        return Answer(
            exercise, "refused", message=f"the cell with check({exercise!r}, ...) is missing from the notebook"
        )
    if cell.index in result.answers:
        return result.answers[cell.index]
    status, note = result.ends.get(cell.index, ("not run", f"cell {cell.index + 1} did not run"))
    before = _failed_before(cell, cells, result)
    name = MISSING.match(note)
    if name and not before:
        return Answer(exercise, "todo")
    if name:
        note = f"there is no {name[1]}"
    if status == "ok":
        note = "the check gave no answer: its cell must be as the lab has it"
    if before:
        note += f", because {before}"
    return Answer(exercise, "refused", message=note)


def _failed_before(check: Cell, cells: list[Cell], result: RunResult) -> str:
    """What went wrong before this check, "" if nothing did.

    The nearest cell that failed since the check before it is named; if it only missed a name, the first cell of
    all that failed is likelier to be the cause.
    """
    first, near = "", ""
    for cell in cells:
        if cell.index >= check.index:
            break
        status, note = result.ends.get(cell.index, ("", ""))
        if cell.exercise:
            near = ""
        elif status in ("error", "timeout", "died") and not cell.may_fail:
            near = note if status == "died" else f"cell {cell.index + 1} failed: {note}"
            first = first or near
    return first if "NameError" in near else near
