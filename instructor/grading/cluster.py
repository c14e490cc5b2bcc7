"""Grading on many machines: the tasks of a batch go to a Dask cluster, the results come back to the one writer.

Every machine of the cluster has this kit installed, and a sandbox of its own.  The lab travels with the first task, so
nothing need be shared.  A machine that is lost has its tasks done by another.  Use a scheduler that only you can reach
(``tls://``): what passes between it and its workers is trusted, and holds the secret from which private seeds follow.
"""

from __future__ import annotations

import hashlib
import tempfile
import threading
from concurrent.futures import Future
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from simkit.check import load_lab
from simkit.check.cells import parse_notebook

from ..judge import Judges
from ..run import Runner, best_runner
from .course import Course, CourseFault
from .engine import LIMITS, Graded, grade_notebook
from .hands import Task

HIDDEN = (".ipynb", "lab.md", "wrong_answers.py")


@dataclass(frozen=True)
class Package:
    """A lab as it travels: the trusted files of its folder, and the notebook that was handed out."""

    name: str
    files: tuple[tuple[str, bytes], ...]
    release: str

    @classmethod
    def of(cls, course: Course, lab: str) -> Package:
        folder = course.lab_folder(lab)
        files = tuple(
            (path.relative_to(folder).as_posix(), path.read_bytes())
            for path in sorted(folder.rglob("*"))
            if path.is_file()
            and not path.is_symlink()
            and not path.name.endswith(HIDDEN)
            and "__pycache__" not in path.parts
        )
        return cls(lab, files, course.release_path(lab).read_text(encoding="utf-8"))

    @property
    def digest(self) -> str:
        whole = hashlib.sha256(self.release.encode())
        for name, content in self.files:
            whole.update(name.encode() + b"\0" + hashlib.sha256(content).digest())
        return whole.hexdigest()


class ClusterHands:
    """Works on the workers of a Dask scheduler.

    Raises
    ------
    CourseFault
        If dask.distributed is not installed, or no scheduler answers.
    """

    def __init__(self, address: str, trust: bool = False, timeout: float = 20.0) -> None:
        try:
            import distributed
        except ImportError:
            raise CourseFault("--scheduler needs dask.distributed: pip install 'tickbench[cluster]'") from None
        try:
            self._client = distributed.Client(address, timeout=timeout, set_as_default=False)
        except (OSError, ValueError) as error:
            raise CourseFault(f"no Dask scheduler answers at {address}: {error}") from None
        self.width = max(1, sum(self._client.nthreads().values()))
        self.faults: tuple[type[Exception], ...] = (distributed.KilledWorker, distributed.client.FutureCancelledError)
        self._executor = self._client.get_executor(retries=3, pure=False)
        self._packages: dict[str, Any] = {}
        self._trust = trust

    def submit(self, course: Course, task: Task) -> Future[Graded]:
        if task.lab not in self._packages:
            self._packages[task.lab] = self._client.scatter(Package.of(course, task.lab), broadcast=True, hash=False)
        return self._executor.submit(grade_here, self._packages[task.lab], task, course.secret, self._trust)

    def close(self) -> None:
        self._executor.shutdown(wait=False)
        self._client.close()


# --- on a worker ---

_local = threading.local()
_lock = threading.Lock()


def grade_here(package: Package, task: Task, secret: bytes, trust: bool) -> Graded:
    """Grade one task on the worker that this is called on."""
    with _lock:
        folder, runner = _unpacked(package), _runner(trust)
    if getattr(_local, "secret", None) != secret:
        _local.secret, _local.judges = secret, Judges(secret)
    lab, release = load_lab(folder), parse_notebook(package.release)
    return grade_notebook(lab, folder, release, task.notebook, task.learner, runner, _local.judges, LIMITS)


@lru_cache(maxsize=1)
def _runner(trust: bool) -> Runner:
    return best_runner(trust)


_unpacked_here: dict[str, Path] = {}


def _unpacked(package: Package) -> Path:
    """The folder on this machine that holds the lab's files."""
    digest = package.digest
    if digest not in _unpacked_here:
        folder = Path(tempfile.mkdtemp(prefix="tickbench-lab-")) / package.name
        for name, content in package.files:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
        folder.parent.chmod(0o755)
        _unpacked_here[digest] = folder
    return _unpacked_here[digest]
