"""The handle of the judge's process: sends tasks, keeps the time limit, starts a new process after a bad one."""

from __future__ import annotations

import json
import os
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..judging import Answer, KitFault, NoCaller
from ..live.call import Caller, Gone, LocalCaller, Message
from ..model import Exercise
from ..verdict import Verdict, refused
from .live import ChildCaller
from .pipes import SAYS, readable, start_module

CALL = b'{"say": '
"""How the judge's line begins that goes to whom it calls; it ends with ``}``."""


@dataclass(frozen=True)
class JudgeTask:
    """One answer to judge.

    ``lab`` is the folder of the trusted ``exercises.py``; ``tell`` is False if the stimuli are private (see
    :func:`~simkit.check.judging.judge`).
    """

    lab: Path
    exercise: Exercise
    answer: Answer
    learner: str
    seed: int
    tell: bool = True


class _Ended(Exception):
    """The judge has nothing more to ask: its last words, None if it has died or was too slow."""

    def __init__(self, reply: dict[str, Any] | None) -> None:
        super().__init__()
        self.reply = reply


class JudgeProcess:
    """A judge in a process of its own.

    Parameters
    ----------
    seconds : time for one answer; an answer that needs more is refused and the process replaced
    memory : address space of the process in bytes
    """

    def __init__(self, seconds: float = 30.0, memory: int = 4 * 1024**3) -> None:
        self.seconds, self.memory = seconds, memory
        self._process: subprocess.Popen[bytes] | None = None
        self._results = -1

    def __enter__(self) -> JudgeProcess:
        return self

    def __exit__(self, *exception: object) -> None:
        self.close()

    def close(self) -> None:
        """End the process, if there is one."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            os.close(self._results)
            assert self._process.stdin is not None
            self._process.stdin.close()
        self._process, self._results = None, -1

    def judge(self, task: JudgeTask, caller: Caller | ChildCaller | None = None) -> Verdict:
        """The verdict; :class:`KitFault` if the kit or the lab is at fault.

        ``caller`` carries the judge's calls to an answer that is code; without it they go to the functions in the answer.
        """
        if task.answer.status != "given":
            from ..judging import judge

            return judge(task.exercise, task.answer, task.learner, task.seed)
        message = {
            "lab": str(task.lab),
            "exercise": task.exercise.id,
            "answer": [task.answer.status, task.answer.data, task.answer.message],
            "learner": task.learner,
            "seed": task.seed,
            "tell": task.tell,
        }
        reply = self._converse(
            message, caller or (LocalCaller(task.answer.functions) if task.answer.functions else NoCaller())
        )
        if reply is None:
            self.close()
            return refused(
                task.exercise, f"judging this answer took longer than {self.seconds:g} s, or needed too much memory"
            )
        if "overrun" in reply:
            return refused(task.exercise, reply["overrun"])
        if "fault" in reply:
            raise KitFault(reply["fault"])
        return Verdict.from_plain(reply["verdict"])

    def _start(self) -> None:
        environment = {**os.environ, "PYTHONWARNINGS": "ignore"}
        environment.pop("TICKBENCH_LEARNER", None)
        self._process, self._results = start_module("simkit.check.run.worker", "1", str(self.memory), env=environment)

    def _converse(self, message: Message, caller: Caller | ChildCaller) -> dict[str, Any] | None:
        """The judge's last words about a task, None if there were none in time; its calls go to ``caller`` meanwhile."""
        if self._process is None:
            self._start()
        until = time.monotonic() + self.seconds

        def say(message: Message) -> Message:
            return json.loads(self._said(SAYS + json.dumps(message).encode(), until))

        try:
            called = self._said(json.dumps(message).encode(), until)
            while True:
                try:
                    if isinstance(caller, ChildCaller):
                        answer = SAYS + caller.carry(called)
                    else:
                        answer = SAYS + json.dumps(caller.call(json.loads(called), say)).encode()
                except Gone as end:
                    answer = json.dumps(str(end)).encode()
                called = self._said(answer, until)
        except _Ended as end:
            return end.reply

    def _said(self, line: bytes, until: float) -> bytes:
        """What the judge says to whom it calls after it was given a line; :class:`_Ended` with its last words."""
        reply = self._exchange(line, until)
        if reply.startswith(CALL):
            return reply[len(CALL) : -2]
        raise _Ended(json.loads(reply) if reply else None)

    def _exchange(self, line: bytes, until: float) -> bytes:
        """The judge's next line, nothing if it has died or is too slow."""
        assert self._process is not None and self._process.stdin is not None
        try:
            self._process.stdin.write(line + b"\n")
            self._process.stdin.flush()
        except OSError:  # it has ended
            return b""
        data = b""
        while not data.endswith(b"\n"):
            if not readable(self._results, until - time.monotonic()):
                return b""
            block = os.read(self._results, 1 << 20)
            if not block:
                return b""
            data += block
        return data
