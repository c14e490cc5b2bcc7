"""Where learners' code runs when it is graded.

A *runner* takes a :class:`~simkit.check.run.Job` and gives a :class:`~simkit.check.run.RunResult`.  It never trusts the
job's code, and what comes back is data that the judge trusts in nothing.
"""

from __future__ import annotations

from typing import Protocol

from simkit.check.run import Job, RunResult
from simkit.check.run.live import Judge

from .bubblewrap import BubblewrapRunner
from .landlock import LandlockRunner
from .plain import PlainRunner
from .zygote.runner import ZygoteFault, ZygoteRunner


class Runner(Protocol):
    """Runs jobs, from several threads at once if need be.  ``protects`` says what it keeps the code from."""

    protects: str

    def missing(self) -> str:
        """Why this runner cannot be used on this computer; "" if it can."""

    def run(self, job: Job, judge: Judge | None = None) -> RunResult:
        """Run a job to its end, whatever its code does; ``judge`` judges the answers that are code."""

    def close(self) -> None:
        """Give up what the runner holds."""


class NoSandbox(Exception):
    """This computer offers no way to run untrusted code; the text says what to do."""


SANDBOXES: tuple[type[Runner], ...] = (ZygoteRunner, BubblewrapRunner, LandlockRunner)  # the fastest first


def best_runner(trust: bool = False) -> Runner:
    """The best runner that works on this computer.

    Raises
    ------
    NoSandbox
        If there is none and the instructor did not say ``trust``.
    """
    why = []
    for kind in SANDBOXES:
        runner = kind()
        fault = runner.missing()
        if not fault:
            return runner
        runner.close()
        why.append(fault)
    if trust:
        return PlainRunner()
    raise NoSandbox(
        f"no sandbox: {'; '.join(why)}. With --trust the notebooks run with your own rights: they could read and "
        "change your files, the gradebook among them. Do that only with notebooks that you have read"
    )


__all__ = [
    "SANDBOXES",
    "BubblewrapRunner",
    "NoSandbox",
    "PlainRunner",
    "Runner",
    "ZygoteFault",
    "ZygoteRunner",
    "best_runner",
]
