"""The judge's process: reads one task a line, writes one verdict a line.  It never loads a learner's code.

A task names the folder of a *trusted* ``exercises.py``; the answer in it is data and trusted in nothing.
"""

from __future__ import annotations

import json
import os
import sys
import traceback
from pathlib import Path
from typing import Any

from ..find import load_lab
from ..judging import Answer, KitFault, judge
from ..model import AuthorError
from .session import limit_resources


def do_task(task: dict[str, Any]) -> dict[str, Any]:
    """``{"verdict": ...}``, or ``{"fault": text}`` when the kit or the lab is at fault."""
    answer = task["answer"]
    try:
        exercise = load_lab(Path(task["lab"]))[task["exercise"]]
        verdict = judge(
            exercise,
            Answer(exercise.id, answer["status"], answer["data"], answer["message"]),
            task["learner"],
            task["seed"],
        )
    except (KitFault, AuthorError, KeyError, OSError) as error:
        return {"fault": str(error), "trace": traceback.format_exc()[-4000:]}
    except (MemoryError, RecursionError) as error:
        return {"overrun": f"judging this answer needs too much memory ({type(error).__name__})"}
    return {"verdict": verdict.as_plain()}


def main() -> None:
    """``python -m simkit.check.run.worker FD MEMORY``: tasks on stdin, results on the descriptor FD."""
    fd, memory = int(sys.argv[1]), int(sys.argv[2])
    limit_resources(memory, -1, 0)
    sys.stdout = sys.stderr  # a judge that prints must not disturb the results
    results = os.fdopen(fd, "w", encoding="utf-8")
    for line in sys.stdin:
        results.write(json.dumps(do_task(json.loads(line))) + "\n")
        results.flush()


if __name__ == "__main__":
    main()
