"""The grader's judge: the learners' judge with private seeds, in a process that never saw a learner's code."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from simkit.check import Answer, Lab, Verdict
from simkit.check.draw import private_seed
from simkit.check.run import JudgeProcess, JudgeTask
from simkit.check.run.live import ChildCaller


class Judges:
    """Judges the answers of one submission after another.  Not to be shared between threads: give each its own.

    Parameters
    ----------
    secret : the course's secret
    seconds, memory : limits for one answer
    """

    def __init__(self, secret: bytes, seconds: float = 30.0, memory: int = 4 * 1024**3) -> None:
        self._secret = secret
        self._process = JudgeProcess(seconds, memory)

    def __enter__(self) -> Judges:
        return self

    def __exit__(self, *exception: object) -> None:
        self._process.close()

    def judge(
        self,
        lab: Lab,
        folder: Path,
        answers: dict[str, Answer],
        learner: str,
        numbers: str,
        live: dict[str, Verdict] | None = None,
    ) -> dict[str, Verdict]:
        """A verdict for each exercise; ``live`` are those that exist already.

        ``learner`` decides the private seed; ``numbers`` is the id from which the learner's own parameters follow.
        Raises :class:`~simkit.check.KitFault` if the kit or the lab is at fault.
        """
        there = live or {}
        return {
            name: there.get(name) or self._process.judge(self._task(lab, folder, answer, learner, numbers))
            for name, answer in answers.items()
        }

    def calling(self, lab: Lab, folder: Path, learner: str, numbers: str) -> Callable[[Answer, ChildCaller], Verdict]:
        """What judges an answer that is code by calling it, while the learner's process is still there."""

        def call(answer: Answer, caller: ChildCaller) -> Verdict:
            return self._process.judge(self._task(lab, folder, answer, learner, numbers), caller)

        return call

    def _task(self, lab: Lab, folder: Path, answer: Answer, learner: str, numbers: str) -> JudgeTask:
        seed = private_seed(self._secret, learner, answer.exercise)
        return JudgeTask(folder, lab[answer.exercise], answer, numbers, seed, tell=False)
