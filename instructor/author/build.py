"""Building ``labs/NN_name`` from ``solutions/NN_name``: nbgrader's own preprocessors take the solutions out.

The result depends on the source alone: the same source always gives the same bytes.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import nbformat
from nbformat.notebooknode import NotebookNode
from nbgrader.preprocessors import (
    CheckCellMetadata,
    ClearHiddenTests,
    ClearOutput,
    ClearSolutions,
    ComputeChecksums,
    LockCells,
)
from traitlets.config import Config

from ..nbgrader_config import STUB, TEXT_STUB
from .source import Source, read_source

EXTRAS = ("data", "figures")


def sources(solutions: Path) -> list[Path]:
    """The folders of labs in ``solutions``, by name."""
    return sorted(path.parent for path in solutions.glob("*/lab.md"))


def release_config() -> Config:
    """Configuration under which nbgrader's preprocessors make the learner's version."""
    config = Config()
    config.ClearSolutions.code_stub = {"python": STUB}
    config.ClearSolutions.text_stub = TEXT_STUB
    return config


def with_solutions(source: Source) -> NotebookNode:
    """The whole notebook, solutions and instructor's cells included, with nbgrader's metadata."""
    return _processed(source.notebook, [ClearOutput, CheckCellMetadata])


def for_learners(source: Source) -> NotebookNode:
    """The notebook that learners open."""
    notebook = nbformat.from_dict(source.notebook)
    notebook.cells = [cell for cell in notebook.cells if "instructor" not in cell.metadata.get("tags", [])]
    return _processed(
        notebook, [LockCells, ClearSolutions, ClearOutput, ClearHiddenTests, ComputeChecksums, CheckCellMetadata]
    )


def _processed(notebook: NotebookNode, steps: list[Any]) -> NotebookNode:
    notebook = nbformat.reads(nbformat.writes(notebook), as_version=4)  # a copy
    resources: dict[str, Any] = {}
    for step in steps:
        notebook, resources = step(config=release_config()).preprocess(notebook, resources)
    return notebook


def write_notebook(notebook: NotebookNode, path: Path) -> None:
    """Write as nbformat does, ending in one newline."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(nbformat.writes(notebook).rstrip("\n") + "\n", encoding="utf-8", newline="\n")


def built_files(source: Source) -> dict[str, bytes]:
    """What the learner's folder holds: file name to content."""
    notebook = nbformat.writes(for_learners(source)).rstrip("\n") + "\n"
    files = {f"{source.name}.ipynb": notebook.encode(), "exercises.py": (source.folder / "exercises.py").read_bytes()}
    for extra in EXTRAS:
        for path in sorted((source.folder / extra).rglob("*")):
            if path.is_file():
                files[path.relative_to(source.folder).as_posix()] = path.read_bytes()
    return files


def build_lab(folder: Path, labs: Path) -> Path:
    """Build one lab into ``labs``; what the source no longer makes is removed.  Returns the lab's folder."""
    source = read_source(folder)
    files = built_files(source)
    target = labs / source.name
    for path in sorted(target.rglob("*"), reverse=True):
        if path.is_file() and path.relative_to(target).as_posix() not in files:
            path.unlink()
        elif path.is_dir() and not any(path.iterdir()):
            shutil.rmtree(path)
    for name, content in files.items():
        path = target / name
        if not path.is_file() or path.read_bytes() != content:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
    return target


def out_of_date(folder: Path, labs: Path) -> list[str]:
    """Files of the built lab that differ from what the source makes; empty if it is up to date."""
    source = read_source(folder)
    files = built_files(source)
    target = labs / source.name
    there = {
        path.relative_to(target).as_posix()
        for path in target.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and ".ipynb_checkpoints" not in path.parts
    }
    differ = [name for name, content in files.items() if name not in there or (target / name).read_bytes() != content]
    return sorted([*differ, *(there - set(files))])
