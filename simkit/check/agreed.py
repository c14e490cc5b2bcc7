"""What a learner agrees to show the instructor: numbers of tries, and the time to the first pass.  Nothing else.

The file ``tries.json`` lies in the lab's folder, so it is handed in with the notebook, and only if the learner asked for it:
``{"lab": "05_keeping_time", "exercises": {"05-a": {"tries": 3, "passed": true, "minutes": 12.5}}}``.  ``minutes`` runs from the first check
of the exercise to the one that passed (null if none did); it is the time on the clock, pauses included.
"""

from __future__ import annotations

import json
import math
import os
from datetime import datetime
from pathlib import Path
from typing import Any

from .journal import standings

FILE = "tries.json"
MOST = 1_000_000


def summary(rows: list[dict[str, Any]], learner: str, lab: str) -> dict[str, Any]:
    """The file's content, from the events of the learner's journal."""
    exercises = {}
    for (where, exercise), standing in standings(rows, learner).items():
        if where == lab and standing.checks:
            exercises[exercise] = {
                "tries": standing.tries,
                "passed": standing.done,
                "minutes": _minutes(rows, learner, lab, exercise, standing.first_pass) if standing.done else None,
            }
    return {"lab": lab, "exercises": exercises}


def _minutes(rows: list[dict[str, Any]], learner: str, lab: str, exercise: str, passed: str) -> float | None:
    times = [
        str(row.get("time", ""))
        for row in rows
        if row["event"] == "check"
        and (row.get("lab"), row.get("exercise")) == (lab, exercise)
        and row.get("learner", learner) == learner
        and row.get("status") == "judged"
    ]
    try:
        return round((datetime.fromisoformat(passed) - datetime.fromisoformat(times[0])).total_seconds() / 60, 1)
    except (ValueError, IndexError, TypeError):
        return None


def write(folder: Path, content: dict[str, Any]) -> Path:
    """Put the file into the lab's folder, whole or not at all."""
    path = folder / FILE
    part = path.with_name(f".{FILE}.{os.getpid()}")
    part.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    part.replace(path)
    return path


def read(folder: Path) -> dict[str, dict[str, Any]]:
    """Exercise to ``tries``, ``passed``, ``minutes``, from a file that a learner may have changed; empty if there is none."""
    try:
        if (folder / FILE).stat().st_size > MOST:
            return {}
        raw = json.loads((folder / FILE).read_text(encoding="utf-8"))
        rows = raw["exercises"].items()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}
    return {str(name): found for name, row in rows if (found := _sound(row))}


def _sound(row: Any) -> dict[str, Any]:
    if not isinstance(row, dict) or type(row.get("tries")) is not int or not 0 <= row["tries"] < 100_000:
        return {}
    return {"tries": row["tries"], "passed": row.get("passed") is True, "minutes": _sound_minutes(row.get("minutes"))}


def _sound_minutes(told: Any) -> float | None:
    if isinstance(told, bool) or not isinstance(told, int | float):
        return None
    return float(told) if math.isfinite(told) and 0 <= told < 1e6 else None
