"""A judged answer as an event of the learner's progress: the same from a notebook's check as from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from . import journal
from .judging import Answer
from .model import Exercise
from .prints import print_of
from .verdict import Verdict


def note_check(
    path: Path, lab: str, exercise: Exercise, given: Answer, verdict: Verdict, active_s: float | None = None
) -> tuple[dict[str, Any], str]:
    """Write a check into the journal ``path``; a placeholder is none.

    Parameters
    ----------
    lab : the lab's name
    active_s : seconds of work since the line before; None where they are not noted

    Returns
    -------
    tuple
        The event ({} for a placeholder), and in one line why it could not be saved, "" if it was.
    """
    if verdict.status == "todo":
        return {}, ""
    row: dict[str, Any] = {"learner": verdict.learner, "lab": lab, "exercise": exercise.id, "status": verdict.status}
    row |= {"score": verdict.score, "max": verdict.max_score, "answer": print_of(exercise, given)}
    row |= {"active_s": active_s} if active_s is not None else {}
    fault = journal.append(path, event="check", **row)
    return {"event": "check", **row}, fault
