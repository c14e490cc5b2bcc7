"""The grading engine as steps of ``nbgrader autograde``; ``instructor/nbgrader_config.py`` puts them in.

Labs of this kit are rebuilt, run in the sandbox and judged.  Any other assignment of the course goes through
nbgrader's own steps, as if these were not there.
"""

from __future__ import annotations

import atexit
from functools import lru_cache
from pathlib import Path
from typing import Any

from nbgrader.converters import Autograde
from nbgrader.preprocessors import NbGraderPreprocessor

from simkit.check.rebuild import rebuild

from ..judge import Judges
from ..run import Runner, best_runner
from .course import Course, CourseFault
from .display import sound_outputs
from .engine import grade_rebuilt, numbers_of, seen_of

NOTE = "tickbench"  # where the first pass leaves word for the second, in the notebook's own metadata


class _Step(NbGraderPreprocessor):
    """What both steps share."""

    def _course(self) -> Course:
        root = self.config.CourseDirectory.root if "root" in self.config.CourseDirectory else "."
        return Course(Path(root), self.config)

    def _stock(self, name: str, notebook: Any, resources: Any) -> tuple[Any, Any]:
        """nbgrader's own list of steps, for an assignment that is not of this kit."""
        for step in Autograde.class_traits()[name].default_args[0]:
            if step.__name__ not in ("SaveAutoGrades", "AssignLatePenalties", "CheckCellMetadata"):
                notebook, resources = step(parent=self).preprocess(notebook, resources)
        return notebook, resources


def _is_ours(course: Course, names: dict[str, str]) -> bool:
    try:
        course.lab_folder(names["assignment"])
    except CourseFault:
        return False
    return names["notebook"] == names["assignment"]


class Rebuild(_Step):
    """First pass: the submission in the form of the notebook that was handed out."""

    def preprocess(self, nb: Any, resources: Any) -> tuple[Any, Any]:
        course, names = self._course(), resources["nbgrader"]
        if not _is_ours(course, names):
            return self._stock("sanitize_preprocessors", nb, resources)
        rebuilt, notes = rebuild(course.release(names["assignment"]), nb)
        rebuilt.metadata[NOTE] = {"notes": notes, "numbers": numbers_of(nb, names["student"]), "seen": seen_of(nb)}
        for cell in rebuilt.cells:
            if cell.cell_type == "code":
                cell.outputs = sound_outputs(cell.outputs)
        return rebuilt, resources


class RunAndJudge(_Step):
    """Second pass: run the cells in the sandbox, judge the answers, write the verdicts into the check cells."""

    def preprocess(self, nb: Any, resources: Any) -> tuple[Any, Any]:
        course, names = self._course(), resources["nbgrader"]
        if not _is_ours(course, names):
            return self._stock("autograde_preprocessors", nb, resources)
        name = names["assignment"]
        left = nb.metadata.pop(NOTE)
        graded = grade_rebuilt(
            course.lab(name),
            course.lab_folder(name),
            course.release(name),
            nb,
            list(left["notes"]),
            names["student"],
            left["numbers"],
            _runner(),
            _judges(course.secret),
            seen=left["seen"],
        )
        for note in graded.notes:
            self.log.warning("%s %s: %s", names["student"], name, note)
        return graded.notebook, resources


@lru_cache(maxsize=1)
def _runner() -> Runner:
    runner = best_runner()
    atexit.register(runner.close)
    return runner


@lru_cache(maxsize=4)
def _judges(secret: bytes) -> Judges:
    judges = Judges(secret)
    atexit.register(judges.__exit__)
    return judges
