"""A lab's notebook with its outputs, for pages that are read and not run."""

from __future__ import annotations

import tempfile
from pathlib import Path

from nbformat.notebooknode import NotebookNode

from simkit.check import AuthorError
from simkit.check.cells import checked_exercise, code_cells
from simkit.check.run import Job, Limits, run_job

from ..grading.display import put_outputs
from .build import build_lab

LIMITS = Limits(cell_seconds=120.0, seconds=1200.0, cpu_seconds=-1, restarts=0)


def executed(notebook: NotebookNode, folder: Path, learner: str = "learner") -> NotebookNode:
    """The notebook, run from top to bottom in a freshly built copy of the lab in ``folder``; outputs are put into it,
    those of checks excepted.

    Raises
    ------
    AuthorError
        If a cell fails that is not tagged ``raises-exception``.
    """
    with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch:
        place = build_lab(folder, Path(scratch))
        cells = code_cells(notebook)
        result = run_job(Job(cells, str(place), learner, LIMITS))
    for cell in cells:
        status, note = result.ends.get(cell.index, ("not run", "did not run"))
        if status != "ok" and not cell.may_fail:
            raise AuthorError(
                f"the cell {cell.source.strip().splitlines()[0][:60]!r} fails: {note}", str(folder / "lab.md")
            )
    put_outputs(notebook, result.outputs)
    for cell in notebook.cells:
        if cell.cell_type == "code" and checked_exercise(cell.source):
            cell.outputs = []  # points; the verdict itself belongs to whoever does the lab
    return notebook
