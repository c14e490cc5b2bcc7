"""Runs notebooks inside bubblewrap: own namespaces, no network, read-only Python and kit, private scratch in memory.

Inside there are the system's libraries, this Python with its packages, the kit, the lab's ``exercises.py`` and data
files, and nothing else: no home, no course, no other learner.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

import simkit
from simkit.check.run import Cell, Job, Limits, RunResult, run_job
from simkit.check.run.live import Judge
from simkit.check.run.parent import ProcessChild, feed

SCRATCH = 256 * 1024**2
HIDDEN = (".ipynb", "lab.md", "wrong_answers.py")  # of the lab's folder: what could hold solutions
INSIDE = "/lab"


class BubblewrapRunner:
    """A sandbox for each job."""

    protects = "files, network and other processes (bubblewrap: own namespaces, read-only Python, scratch in memory)"

    def missing(self) -> str:
        """Why this runner cannot be used here; "" if it can."""
        return _missing()

    def run(self, job: Job, judge: Judge | None = None) -> RunResult:
        return run_job(job, launch, judge)

    def close(self) -> None:
        """Nothing is held."""


@lru_cache(maxsize=1)
def _missing() -> str:
    if shutil.which("bwrap") is None:
        return "bubblewrap is not installed (Debian: apt install bubblewrap)"
    trial = subprocess.run([*sandbox(Path("/nonexistent")), "true"], capture_output=True, text=True, check=False)
    if trial.returncode:
        return f"bubblewrap does not work here ({trial.stderr.strip()[:200]})"
    with tempfile.TemporaryDirectory(prefix="tickbench-") as folder:
        limits = Limits(cell_seconds=20, seconds=60, restarts=0)
        result = run_job(Job([Cell(0, "2 + 2")], folder, "nobody", limits), launch)
    works = result.ends.get(0, ("", ""))[0] == "ok"
    return "" if works else f"Python ({sys.executable}) or its packages cannot be run inside bubblewrap"


def python_roots() -> list[str]:
    """The folders that hold this Python, its packages and the kit, none inside another."""
    found = {str(Path(p).resolve()) for p in (sys.prefix, sys.base_prefix)} | {sys.prefix}
    found |= {str(Path(simkit.__file__).resolve().parent)}
    return sorted(
        p for p in found if p not in ("/usr", "/") and not any(p != q and p.startswith(q + "/") for q in found)
    )


def solution_folders() -> list[str]:
    """Folders with solutions among the installed packages: they must not be seen inside."""
    spec = importlib.util.find_spec("tickbench_solutions")
    return [] if spec is None else [str(Path(p).resolve()) for p in spec.submodule_search_locations or []]


def sandbox(lab: Path) -> list[str]:
    """The command line up to the program."""
    command = [
        "bwrap",
        "--unshare-all",
        "--die-with-parent",
        "--new-session",
        "--cap-drop",
        "ALL",
        "--clearenv",
        "--proc",
        "/proc",
        "--dev",
        "/dev",
        "--size",
        str(SCRATCH),
        "--perms",
        "1777",
        "--tmpfs",
        "/tmp",
    ]
    for path in ("/usr", "/bin", "/lib", "/lib64", "/etc/ld.so.cache", "/etc/fonts", "/etc/alternatives"):
        if os.path.islink(path):
            command += ["--symlink", os.readlink(path), path]
        elif os.path.exists(path):
            command += ["--ro-bind", path, path]
    for path in python_roots():
        command += ["--ro-bind", path, path]
    for path in solution_folders():
        command += ["--tmpfs", path]
    command += ["--size", str(SCRATCH), "--tmpfs", INSIDE]
    for entry in sorted(lab.iterdir()) if lab.is_dir() else []:
        if not entry.is_symlink() and not entry.name.endswith(HIDDEN) and entry.name != "__pycache__":
            command += ["--ro-bind", str(entry), f"{INSIDE}/{entry.name}"]
    for name, value in {
        "HOME": "/tmp",
        "PATH": "/usr/bin:/bin",
        "LANG": "C.UTF-8",
        "MPLCONFIGDIR": "/tmp/mpl",
        "XDG_CACHE_HOME": "/tmp/cache",
        "PYTHONPATH": str(Path(simkit.__file__).resolve().parents[1]),
        "PYTHONWARNINGS": "ignore",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }.items():
        command += ["--setenv", name, value]
    return [*command, "--chdir", INSIDE if lab.is_dir() else "/"]


def launch(job: Job, message: dict[str, Any]) -> ProcessChild:
    """Start a job's child inside the sandbox."""
    read, write = os.pipe()
    command = [
        *sandbox(Path(job.folder)),
        "--setenv",
        "TICKBENCH_LEARNER",
        job.learner,
        sys.executable,
        "-m",
        "simkit.check.run.session",
        str(write),
    ]
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        pass_fds=(write,),
        start_new_session=True,
    )
    os.close(write)
    feed(process, message)
    return ProcessChild(process, read)
