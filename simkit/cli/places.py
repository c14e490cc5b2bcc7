"""Where the labs and their sources are: in a checkout (the present folder, or around the packages), else installed."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1]


def checkout() -> Path | None:
    """The checkout that is meant: the present folder if it is one, else the one that the packages lie in; None if neither."""
    for folder in (Path.cwd(), PACKAGE.parent):
        if all((folder / name).exists() for name in ("pyproject.toml", "labs", "solutions", "simkit/check")):
            return folder
    return None


class NotFound(Exception):
    """A folder that the command needs is not there; the text says which and what to do."""


def labs_folder() -> Path:
    """The folder of generated labs (``TICKBENCH_LABS`` may name another)."""
    if os.environ.get("TICKBENCH_LABS"):
        return Path(os.environ["TICKBENCH_LABS"])
    source = checkout()
    if source is not None:
        return source / "labs"
    if (PACKAGE / "_labs").is_dir():
        return PACKAGE / "_labs"
    raise NotFound("the labs are not where they were installed: install tickbench again")


def solutions_folder() -> Path:
    """The folder of the labs' sources (``TICKBENCH_SOLUTIONS`` may name another); learners do not install them."""
    if os.environ.get("TICKBENCH_SOLUTIONS"):
        return Path(os.environ["TICKBENCH_SOLUTIONS"])
    source = checkout()
    if source is not None:
        return source / "solutions"
    spec = importlib.util.find_spec("tickbench_solutions")
    if spec is not None and spec.submodule_search_locations:
        return Path(next(iter(spec.submodule_search_locations)))
    raise NotFound("the labs' sources are not installed: use a checkout, or install tickbench-solutions")


def lab_folders(labs: Path) -> list[Path]:
    """The labs in a folder, by name: those with an ``exercises.py``."""
    return sorted(path.parent for path in labs.glob("*/exercises.py"))
