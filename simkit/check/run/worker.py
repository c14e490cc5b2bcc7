"""The judge's process: reads one task a line, writes one verdict a line.  It never loads a learner's code.

A task names the folder of a *trusted* ``exercises.py``; the answer in it is data and trusted in nothing.  While it judges
an answer that is code it says what is to be called (``{"say": message}``) and reads the reply as the next line (see :data:`.pipes.SAYS`).
"""

from __future__ import annotations

import json
import os
import signal
import sys
import traceback
from pathlib import Path
from typing import Any, BinaryIO, NoReturn

from ...engines.native.jit import expect_short_runs
from ..find import load_lab
from ..judging import Answer, KitFault, judge
from ..live.call import UNREADABLE, Gone, Message, Serve
from ..model import AuthorError
from .pipes import SAYS, own_line
from .session import limit_resources


class PipeCaller:
    """Calls functions on the other side of this process's pipes.  What comes from there may be anything."""

    def __init__(self, tasks: BinaryIO, results: BinaryIO) -> None:
        self._tasks, self._results = tasks, results
        self._why = ""

    def call(self, message: Message, serve: Serve) -> Message:
        reply = self._exchange(message)
        while "ask" in reply:
            reply = self._exchange(serve(reply))
        return reply

    def _exchange(self, message: Message) -> Message:
        if self._why:
            raise Gone(self._why)
        write_line(self._results, {"say": message})
        line = self._tasks.readline()
        if not line:
            raise SystemExit  # whoever grades has gone
        if not line.startswith(SAYS):
            self._lost(json.loads(line))
        try:
            reply = json.loads(line[len(SAYS) :])
        except (ValueError, RecursionError):
            self._lost(UNREADABLE)
        if not isinstance(reply, dict):
            self._lost(UNREADABLE)
        return reply

    def _lost(self, why: str) -> NoReturn:
        self._why = why
        raise Gone(why)


def write_line(file: BinaryIO, message: Message) -> None:
    file.write(json.dumps(message).encode() + b"\n")
    file.flush()


def do_task(task: dict[str, Any], caller: PipeCaller) -> dict[str, Any]:
    """``{"verdict": ...}``, or ``{"fault": text}`` when the kit or the lab is at fault."""
    try:
        exercise = load_lab(Path(task["lab"]))[task["exercise"]]
        verdict = judge(
            exercise,
            Answer(exercise.id, *task["answer"]),
            task["learner"],
            task["seed"],
            caller,
            task["tell"],
        )
    except (KitFault, AuthorError, KeyError, OSError) as error:
        return {"fault": str(error), "trace": traceback.format_exc()[-4000:]}
    except (MemoryError, RecursionError) as error:
        return {"overrun": f"judging this answer needs too much memory ({type(error).__name__})"}
    return {"verdict": verdict.as_plain()}


def main() -> None:
    """``python -m simkit.check.run.worker FD MEMORY``: tasks on stdin, results on the descriptor FD."""
    fd, memory = own_line(int(sys.argv[1])), int(sys.argv[2])
    os.dup2(os.open(os.devnull, os.O_RDWR), 1)  # what is printed must not disturb the results
    limit_resources(memory, -1, 0)
    expect_short_runs()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever grades is asked to stop, and ends this process
    tasks, results = sys.stdin.buffer, os.fdopen(fd, "wb")
    for line in iter(tasks.readline, b""):
        write_line(results, do_task(json.loads(line), PipeCaller(tasks, results)))


if __name__ == "__main__":
    main()
