"""A fallback for computers without user namespaces: Landlock, seccomp and limits around an ordinary process.

Landlock (Linux 6.12 or newer: with scopes for signals and abstract sockets) keeps the code from every file but Python, the kit
and a copy of the lab; seccomp from sockets, from other processes' limits and priorities, and from leaving its process group,
by which all of it is ended.  What this does not give: a process space of its own (names of processes stay hidden all the same,
as ``/proc`` cannot be read), and a limit on the scratch as a whole (each file has one).
"""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import simkit
from simkit.check.run import Cell, Job, Limits, RunResult, run_job
from simkit.check.run.live import Judge
from simkit.check.run.parent import feed

from .bubblewrap import HIDDEN, solution_folders
from .zygote.filter import NoSeccomp, program
from .zygote.runner import readable

CREATE_RULESET, ADD_RULE, RESTRICT_SELF = 444, 445, 446  # the same on every architecture
OLDEST = 6
EXECUTE, READ_FILE, READ_DIR, WRITE_FILE = 1, 4, 8, 2
EVERYTHING = (1 << 16) - 1
NETWORK, SCOPES = 3, 3  # bind and connect TCP; abstract sockets and signals
BLOCKED = (
    *("socket", "connect", "bind", "listen", "accept", "accept4", "sendmsg", "sendmmsg", "sendto", "setsid", "setpgid"),
    *("setpriority", "sched_setaffinity", "prlimit64"),
)
PRETENDED = (
    "chmod",
    "fchmod",
    "fchmodat",
    "fchown",
    "utime",
    "utimensat",
    "utimes",
)  # Landlock does not keep from these
PROCESSES = 64

libc = ctypes.CDLL(None, use_errno=True)


class LandlockRunner:
    """Runs each job in a process that Landlock and seccomp shut in."""

    protects = "files, network and system calls (Landlock, seccomp; no process space of its own)"

    def missing(self) -> str:
        """Why this runner cannot be used here; "" if it can.  Runs one trivial job: whatever is lacking shows."""
        version = libc.syscall(CREATE_RULESET, None, ctypes.c_size_t(0), 1)
        if version < OLDEST:
            return f"Landlock is too old or off (version {max(version, 0)}; {OLDEST} is needed, Linux 6.12)"
        if any(folder.startswith(root + "/") for folder in solution_folders() for root in readable()):
            return "Landlock cannot hide the solutions that are installed beside the kit"
        try:
            with tempfile.TemporaryDirectory(prefix="tickbench-") as folder:
                limits = Limits(cell_seconds=20, seconds=60, restarts=0)
                result = self.run(Job([Cell(0, "2 + 2")], folder, "nobody", limits))
        except (NoSeccomp, OSError) as error:
            return str(error)
        return "" if result.ends.get(0, ("", ""))[0] == "ok" else "a process cannot be shut in by Landlock here"

    def run(self, job: Job, judge: Judge | None = None) -> RunResult:
        with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch:
            os.chmod(scratch, 0o711)
            lab, temporary, kit = (Path(scratch) / name for name in ("lab", "tmp", "kit"))
            temporary.mkdir()
            kit.mkdir()  # where Python finds the kit, without what else lies beside it
            (kit / "simkit").symlink_to(Path(simkit.__file__).resolve().parent)
            ignored = shutil.ignore_patterns(*(f"*{name}" for name in HIDDEN), "__pycache__")
            shutil.copytree(job.folder, lab, ignore=ignored, symlinks=True)

            def launch(job: Job, message: dict[str, Any]) -> _Supervised:
                return _launch(job, message, str(lab), str(temporary), str(kit))

            return run_job(job, launch, judge)

    def close(self) -> None:
        """Nothing is held."""


class _Supervised:
    """A child below a supervisor, which ends it and all that it started when the lease is given up."""

    def __init__(self, process: subprocess.Popen[bytes], events: int, lease: int) -> None:
        assert process.stdin is not None
        self.events, self.commands = events, process.stdin.fileno()
        self._process, self._lease = process, lease

    def kill(self) -> None:
        """End the child and all that it started."""
        os.close(self._lease)
        self._process.wait()
        try:
            self._process.stdin.close()  # type: ignore[union-attr]
        except OSError:
            pass  # what was still to be said to it


def _launch(job: Job, message: dict[str, Any], lab: str, temporary: str, kit: str) -> _Supervised:
    read, write = os.pipe()
    held, lease = os.pipe()
    plan = {
        "readable": [*readable(), kit],
        "kit": kit,
        "writable": [lab, temporary],
        "filter": filter_program().hex(),
        "slot": os.getpid() % 1000,
    }
    environment = {
        "HOME": temporary,
        "TMPDIR": temporary,
        "PATH": "/usr/bin:/bin",
        "LANG": "C.UTF-8",
        "MPLCONFIGDIR": temporary,
        "XDG_CACHE_HOME": temporary,
        "PYTHONPATH": str(Path(simkit.__file__).resolve().parents[1]),
        "PYTHONWARNINGS": "ignore",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "TICKBENCH_LEARNER": job.learner,
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "instructor.run.supervisor", str(write), str(held), json.dumps(plan)],
        cwd=lab,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        pass_fds=(write, held),
        env=environment,
    )
    os.close(write)
    os.close(held)
    feed(process, message)
    return _Supervised(process, read, lease)


def filter_program() -> bytes:
    """The sandbox's filter without what a process space of its own would make harmless."""
    return program(without=(*BLOCKED, *PRETENDED), own_only=True, pretended=PRETENDED)


class _Ruleset(ctypes.Structure):
    _fields_ = [(name, ctypes.c_uint64) for name in ("files", "network", "scopes")]


class _Beneath(ctypes.Structure):
    _pack_ = 1
    _fields_ = [("allowed", ctypes.c_uint64), ("folder", ctypes.c_int32)]


def shut_in(read: list[str], write: list[str]) -> None:
    """Keep this process from all files but these, from TCP, and from signals and abstract sockets of others."""
    wanted = _Ruleset(EVERYTHING, NETWORK, SCOPES)
    rules = libc.syscall(CREATE_RULESET, ctypes.byref(wanted), ctypes.c_size_t(ctypes.sizeof(wanted)), 0)
    if rules < 0:
        raise OSError(ctypes.get_errno(), "landlock_create_ruleset")
    devices = ["/dev/null", "/dev/zero", "/dev/full", "/dev/random", "/dev/urandom"]
    for paths, folder, file in (
        (read, EXECUTE | READ_FILE | READ_DIR, EXECUTE | READ_FILE),
        (write, EVERYTHING & ~EXECUTE & ~(1 << 15), READ_FILE | WRITE_FILE),
        (devices, 0, READ_FILE | WRITE_FILE),
    ):
        for path in paths:
            _allow(rules, path, folder if os.path.isdir(path) else file)
    if libc.syscall(RESTRICT_SELF, rules, 0):
        raise OSError(ctypes.get_errno(), "landlock_restrict_self")
    os.close(rules)


def _allow(rules: int, path: str, access: int) -> None:
    if not os.path.exists(path):
        return
    handle = os.open(path, os.O_PATH | os.O_CLOEXEC)
    rule = _Beneath(access, handle)
    failed = libc.syscall(ADD_RULE, rules, 1, ctypes.byref(rule), 0)
    os.close(handle)
    if failed:
        raise OSError(ctypes.get_errno(), f"landlock_add_rule {path}")
