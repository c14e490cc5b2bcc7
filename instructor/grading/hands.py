"""Who does the work of a batch: threads of this process, each with a judge of its own, over one sandbox runner."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol

from ..judge import Judges
from ..run import Runner
from .course import Course
from .engine import LIMITS, Graded, grade_notebook


@dataclass(frozen=True)
class Task:
    """A submission to grade, and the key under which it will count as graded."""

    learner: str
    lab: str
    notebook: Any
    notes: tuple[str, ...]
    timestamp: str | None
    key: str


class Hands(Protocol):
    """Grades tasks, ``width`` at a time.  ``faults`` are the exceptions by which it says that it could not."""

    width: int
    faults: tuple[type[Exception], ...]

    def submit(self, course: Course, task: Task) -> Future[Graded]:
        """Start on a task."""

    def close(self) -> None:
        """Stop; what has not begun is not done."""


class LocalHands:
    """Works on this computer; ``runner`` belongs to the caller."""

    faults: tuple[type[Exception], ...] = ()

    def __init__(self, runner: Runner, jobs: int = 1) -> None:
        self.width = jobs
        self._runner = runner
        self._pool = ThreadPoolExecutor(jobs)
        self._local = threading.local()
        self._close: list[Callable[[], None]] = []

    def submit(self, course: Course, task: Task) -> Future[Graded]:
        return self._pool.submit(self._grade, course, task)

    def close(self) -> None:
        self._pool.shutdown(cancel_futures=True)
        for close in self._close:
            close()

    def _grade(self, course: Course, task: Task) -> Graded:
        if not hasattr(self._local, "judges"):
            self._local.judges = Judges(course.secret)
            self._close.append(self._local.judges.__exit__)
        folder, release = course.lab_folder(task.lab), course.release(task.lab)
        lab = course.lab(task.lab)
        return grade_notebook(
            lab, folder, release, task.notebook, task.learner, self._runner, self._local.judges, LIMITS
        )
