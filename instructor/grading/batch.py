"""Grading many submissions: workers run and judge, this process alone writes.  A killed run can be run again.

A submission counts as graded when its record says so: the record is written after the gradebook's transaction, and
names the attempt and the edition of the lab.  If an exercise was mended, only its verdict changes; earlier scores are kept
in a history, with the reason.  A run killed between the two grades that submission once more, to the
same result.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simkit.check import AuthorError, KitFault, Verdict

from ..run import NoSandbox, ZygoteFault
from .course import KIT, Course, CourseFault
from .display import put_verdicts
from .editions import Edition, edition_of, keep_history, scores_of
from .engine import Graded
from .hands import Hands, Task
from .store import Store
from .submissions import choose_notebook, find_submissions, read_submission
from .writer import Writer


@dataclass
class Outcome:
    """One submission's outcome.  ``error`` is one line, "" for none; ``fresh`` is False if an earlier run had graded it."""

    learner: str
    lab: str
    verdicts: list[Verdict] = field(default_factory=list)
    error: str = ""
    graded: bool = True
    fresh: bool = True

    @property
    def score(self) -> float:
        return sum(verdict.score for verdict in self.verdicts)

    @property
    def max_score(self) -> float:
        return sum(verdict.max_score for verdict in self.verdicts)

    def as_json(self) -> dict[str, Any]:
        return {
            "learner": self.learner,
            "lab": self.lab,
            "score": self.score,
            "max_score": self.max_score,
            "graded": self.graded,
            "error": self.error or None,
            "exercises": [v.as_json() for v in self.verdicts],
        }


class Batch:
    """Grades the submissions of a course.

    Parameters
    ----------
    hands : who runs and judges; closed at the end of a run
    again : grade also what is graded already
    reason : why, for the history of scores that change; "" finds one
    """

    def __init__(self, course: Course, hands: Hands, again: bool = False, reason: str = "") -> None:
        self.course, self.hands, self.again, self.reason = course, hands, again, reason
        self.total = 0  # submissions of the present run, known when its first outcome is there
        self.store = Store(course.root)
        self._labs: dict[str, tuple[Edition | None, str]] = {}  # edition, and why it cannot be graded

    def run(
        self, submissions: Path, learners: set[str] | None = None, labs: set[str] | None = None
    ) -> Iterator[Outcome]:
        """Grade, yielding each outcome as soon as it is written."""
        found = find_submissions(submissions, learners, labs)
        self.total = len(found)
        try:
            with Writer(self.course) as writer:
                yield from self._drive(found, writer)
        finally:
            self.hands.close()

    def _drive(self, found: list[tuple[str, str, Path]], writer: Writer) -> Iterator[Outcome]:
        """Keep a few more submissions in work than there are workers; write whatever is ready."""
        running: dict[Future[Graded], Task] = {}
        todo = iter(found)
        more = True
        while more or running:
            while more and len(running) < 2 * self.hands.width:
                entry = next(todo, None)
                more = entry is not None
                task = self._task(*entry, writer) if entry is not None else None
                if isinstance(task, Outcome):
                    yield task
                elif task is not None:
                    running[self.hands.submit(self.course, task)] = task
            for future in wait(running, return_when=FIRST_COMPLETED).done if running else ():
                yield self._finish(running.pop(future), future, writer)

    def _task(self, learner: str, lab: str, folder: Path, writer: Writer) -> Task | Outcome:
        """The task for a submission, or its outcome at once: graded before, or of no lab that can be graded."""
        if lab not in self._labs:
            self._labs[lab] = self._prepare(lab, writer)
        edition, fault = self._labs[lab]
        if edition is None:
            return Outcome(learner, lab, error=fault, graded=False)
        try:
            submitted = read_submission(learner, lab, folder)
            attempt = self.store.keep(submitted)
        except OSError as error:
            return Outcome(learner, lab, error=f"cannot be read or kept: {error.strerror or error}", graded=False)
        key = f"{attempt} {edition.digest()}"
        record = self._record(learner, lab)
        if not self.again and writer.has(learner, lab) and record.get("attempt") == attempt:
            if edition.changed(record.get("edition")) == set():
                return Outcome(
                    learner, lab, [Verdict.from_plain(v) for v in record["verdicts"]], record["error"], fresh=False
                )
        notebook, notes = choose_notebook(submitted, self.course.release(lab))
        return Task(learner, lab, notebook, tuple(notes), _timestamp(submitted.files), key)

    def _prepare(self, lab: str, writer: Writer) -> tuple[Edition | None, str]:
        """The lab's edition, and why it cannot be graded ("" if it can)."""
        try:
            self.course.lab(lab)
            writer.prepare(lab)
            return edition_of(self.course, lab), ""
        except (CourseFault, AuthorError, KitFault) as error:
            return None, str(error)

    def _finish(self, task: Task, future: Future[Graded], writer: Writer) -> Outcome:
        faults: tuple[type[Exception], ...] = (
            KitFault,
            CourseFault,
            NoSandbox,
            ZygoteFault,
            OSError,
            *self.hands.faults,
        )
        try:
            graded = future.result()
            graded.notes[:0] = task.notes
            before = self._record(task.learner, task.lab)
            self._keep_verdicts(task, graded, before)
            writer.write(task.learner, task.lab, graded, task.timestamp)
            outcome = Outcome(task.learner, task.lab, list(graded.verdicts.values()), "; ".join(graded.notes))
            self._keep_history(task, outcome, before)
            self._keep_record(task, outcome, graded.prints)
        except faults as error:
            return Outcome(
                task.learner, task.lab, error=f"not graded: {error}; run the same command again", graded=False
            )
        except Exception as error:  # noqa: BLE001  a fault of the kit in one submission must not stop the others
            what = f"not graded, a fault of tickbench: {type(error).__name__}: {error}"
            return Outcome(task.learner, task.lab, error=what, graded=False)
        return outcome

    # --- what changes when something is graded once more ---

    def _keep_verdicts(self, task: Task, graded: Graded, before: dict[str, Any]) -> None:
        """Of an attempt that was graded before, only what the new edition judges in another way gets a new verdict."""
        edition, _ = self._labs[task.lab]
        assert edition is not None
        changed = edition.changed(before.get("edition"))
        if self.again or before.get("attempt") != task.key.split()[0] or changed is None:
            return
        for plain in before["verdicts"]:
            if plain["id"] in graded.verdicts and plain["id"] not in changed:
                graded.verdicts[plain["id"]] = Verdict.from_plain(plain)
        put_verdicts(graded.notebook, graded.verdicts, graded.notes)

    def _keep_history(self, task: Task, outcome: Outcome, before: dict[str, Any]) -> None:
        """Scores that are about to be replaced by others are kept, with the reason."""
        if not before or scores_of(before) == {verdict.id: verdict.score for verdict in outcome.verdicts}:
            return
        edition, _ = self._labs[task.lab]
        assert edition is not None
        changed = edition.changed(before.get("edition"))
        if before.get("attempt") != task.key.split()[0]:
            found = "another attempt was handed in"
        elif changed:
            found = f"judged in another way: {', '.join(sorted(changed))}"
        else:
            found = "the kit or the notebook that was handed out changed" if changed is None else "graded again"
        keep_history(self.course.root / KIT / "history", task.learner, task.lab, before, self.reason or found)

    # --- records of what is graded ---

    def _path(self, learner: str, lab: str) -> Path:
        return self.course.root / KIT / "graded" / learner / f"{lab}.json"

    def _record(self, learner: str, lab: str) -> dict[str, Any]:
        try:
            record = json.loads(self._path(learner, lab).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return record if isinstance(record, dict) else {}

    def _keep_record(self, task: Task, outcome: Outcome, prints: dict[str, str]) -> None:
        edition, _ = self._labs[task.lab]
        assert edition is not None
        path = self._path(task.learner, task.lab)
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f"{path.name}.{os.getpid()}.part")
        part.write_text(
            json.dumps(
                {
                    "key": task.key,
                    "attempt": task.key.split()[0],
                    "edition": edition.plain(),
                    "error": outcome.error,
                    "verdicts": [v.as_plain() for v in outcome.verdicts],
                    "prints": prints,
                }
            ),
            encoding="utf-8",
        )
        part.rename(path)


def _timestamp(files: dict[str, bytes]) -> str | None:
    """The time of submission that nbgrader's collect put beside the notebook."""
    from nbgrader.utils import parse_utc

    text = files.get("timestamp.txt", b"").decode("utf-8", "replace").strip()
    try:
        parse_utc(text)
    except (ValueError, OverflowError, TypeError):
        return None
    return text or None
