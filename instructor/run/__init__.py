"""Where learners' code runs when it is graded.

A *runner* takes a :class:`~simkit.check.run.Job` and gives a :class:`~simkit.check.run.RunResult`.  It never trusts the
job's code, and what comes back is data that the judge trusts in nothing.
"""

from __future__ import annotations

from typing import Protocol

from simkit.check.run import Job, RunResult

from .bubblewrap import BubblewrapRunner
from .plain import PlainRunner


class Runner(Protocol):
    """Runs jobs.  ``protects`` says, for the instructor, what it keeps the code from."""

    protects: str

    def run(self, job: Job) -> RunResult:
        """Run a job to its end, whatever its code does."""

    def close(self) -> None:
        """Give up what the runner holds."""


class NoSandbox(Exception):
    """This computer offers no way to run untrusted code; the text says what to do."""


def best_runner(trust: bool = False) -> Runner:
    """The best runner that this computer offers; :class:`NoSandbox` if there is none and the instructor did not say ``trust``."""
    if trust:
        return PlainRunner()
    why = BubblewrapRunner.missing()
    if why:
        raise NoSandbox(
            f"no sandbox: {why}. With --trust the notebooks run with your own rights: they could read and "
            "change your files, the gradebook among them. Do that only with notebooks you have read"
        )
    return BubblewrapRunner()


__all__ = ["BubblewrapRunner", "NoSandbox", "PlainRunner", "Runner", "best_runner"]
