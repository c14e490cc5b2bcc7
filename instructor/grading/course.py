"""A course folder in nbgrader's layout, and what grading needs to know of it.  Everything in it is the instructor's."""

from __future__ import annotations

import os
import secrets
from functools import lru_cache
from pathlib import Path
from typing import Any

from nbgrader.coursedir import CourseDirectory
from traitlets.config import Config, PyFileConfigLoader

from simkit.check import Lab, load_lab
from simkit.check.cells import Unreadable, parse_notebook
from simkit.cli.places import labs_folder

KIT = Path(".tickbench")


class CourseFault(Exception):
    """The course folder is not as grading needs it; one line says what and what to do.  No mark changes."""


class Course:
    """A course folder.

    Parameters
    ----------
    root : holds ``submitted/`` and, once nbgrader or this kit made them, ``source/``, ``release/``, ``gradebook.db``
    config : nbgrader's configuration; None reads ``nbgrader_config.py`` in ``root`` if there is one
    """

    def __init__(self, root: Path, config: Config | None = None) -> None:
        self.root = Path(root).resolve()
        self.config = config if config is not None else _read_config(self.root)
        self.directory = CourseDirectory(config=self.config)
        self.directory.root = str(self.root)

    @property
    def db_url(self) -> str:
        """The gradebook's address; sqlite waits a minute for a lock instead of five seconds."""
        url = str(self.directory.db_url)
        return url if not url.startswith("sqlite:") or "timeout=" in url else f"{url}?timeout=60"

    @property
    def course_id(self) -> str:
        return str(self.directory.course_id)

    def folder(self, kind: str, learner: str = ".", lab: str = "") -> Path:
        """A folder of nbgrader's layout; ``kind`` is "source", "release", "submitted", "autograded" or "feedback"."""
        name = getattr(self.directory, f"{kind}_directory")
        return Path(self.directory.format_path(name, learner, lab or "."))

    def lab_folder(self, lab: str) -> Path:
        """Where the trusted ``exercises.py`` of a lab lies: ``source/`` of the course, else the installed labs."""
        for folder in (self.folder("source", lab=lab), labs_folder() / lab):
            if (folder / "exercises.py").is_file():
                return folder
        raise CourseFault(f"there is no lab {lab!r}: neither in {self.folder('source')} nor among the installed labs")

    def lab(self, lab: str) -> Lab:
        return load_lab(self.lab_folder(lab))

    def release_path(self, lab: str) -> Path:
        """The notebook as it was handed out: ``release/`` of the course, else the installed lab."""
        for folder in (self.folder("release", lab=lab), labs_folder() / lab):
            if (folder / f"{lab}.ipynb").is_file():
                return folder / f"{lab}.ipynb"
        raise CourseFault(f"{lab}: no notebook was handed out yet: run nbgrader generate_assignment {lab}")

    def release(self, lab: str) -> Any:
        """The notebook as it was handed out."""
        return _release(self.release_path(lab), self.release_path(lab).stat().st_mtime_ns)

    @property
    def secret(self) -> bytes:
        """The secret from which private seeds follow; made once, readable by its owner only."""
        path = self.root / KIT / "secret"
        if not path.is_file():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f"secret.{os.getpid()}.{secrets.token_hex(4)}")  # two threads may be the first
            with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
                file.write(secrets.token_hex(32))
            try:
                os.link(part, path)  # the first process wins
            except FileExistsError:
                pass
            part.unlink()
        return bytes.fromhex(path.read_text(encoding="ascii"))


def _read_config(root: Path) -> Config:
    if not (root / "nbgrader_config.py").is_file():
        config = Config()
        config.CourseDirectory.course_id = "tickbench"
        return config
    try:
        return PyFileConfigLoader("nbgrader_config.py", path=str(root)).load_config()
    except Exception as error:
        raise CourseFault(f"{root / 'nbgrader_config.py'}: {type(error).__name__}: {error}") from error


@lru_cache(maxsize=64)
def _release(path: Path, changed: int) -> Any:
    try:
        return parse_notebook(path.read_text(encoding="utf-8"))
    except (Unreadable, UnicodeDecodeError) as error:
        raise CourseFault(f"{path}: {error}") from None
