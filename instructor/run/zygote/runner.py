"""The grader's handle of the warmed process."""

from __future__ import annotations

import array
import itertools
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

import simkit
from simkit.check.run import Cell, Job, Limits, RunResult, run_job
from simkit.check.run.live import Judge

from ..bubblewrap import python_roots, solution_folders
from .filter import NoSeccomp, program

SYSTEM = ("/usr", "/bin", "/lib", "/lib64", "/etc/ld.so.cache", "/etc/fonts", "/etc/alternatives")
SCRATCH = 256 * 1024**2
PROCESSES = 64
SLOTS = 512
START_SECONDS = 60.0


class ZygoteFault(RuntimeError):
    """The warmed process cannot be started here, or is gone."""


class _Lease:
    """A running child: its events come over the socket and commands go over it; closing the socket kills it."""

    def __init__(self, lease: socket.socket) -> None:
        self._lease, self.commands = lease, lease.fileno()
        self.events = os.dup(lease.fileno())

    def kill(self) -> None:
        """End the child and all that it started."""
        try:
            self._lease.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass  # it has hung up already
        self._lease.close()


class ZygoteRunner:
    """Runs each job in a child forked from one warmed process.  May be used from several threads."""

    protects = (
        "files, network, processes and system calls (own namespaces, read-only Python, seccomp, scratch in memory)"
    )

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._slots = itertools.cycle(range(SLOTS))
        self._process: subprocess.Popen[bytes] | None = None
        self._control: socket.socket | None = None
        self._base = tempfile.TemporaryDirectory(prefix="tickbench-")

    def missing(self) -> str:
        """Why this runner cannot be used here; "" if it can.  Runs one trivial job: whatever is lacking shows."""
        try:
            with tempfile.TemporaryDirectory(prefix="tickbench-") as folder:
                os.chmod(folder, 0o755)
                limits = Limits(cell_seconds=20, seconds=60, restarts=0)
                result = self.run(Job([Cell(0, "2 + 2")], folder, "nobody", limits))
        except (NoSeccomp, ZygoteFault, OSError) as error:
            return str(error)
        works = result.ends.get(0, ("", ""))[0] == "ok"
        return "" if works else "a process cannot be shut in here (no namespaces, or a kernel older than 5.12)"

    def run(self, job: Job, judge: Judge | None = None) -> RunResult:
        return run_job(job, self._launch, judge)

    def close(self) -> None:
        """End the warmed process and every child."""
        if self._control is not None:
            self._control.close()
        if self._process is not None:
            try:
                self._process.wait(timeout=5)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()
        self._control = self._process = None
        self._base.cleanup()

    def _launch(self, job: Job, message: dict[str, Any]) -> _Lease:
        stream = f"{job.learner}\x1f{job.folder}"
        message = {
            **message,
            "folder": str(Path(job.folder).resolve()),
            "learner": job.learner,
            "processes": PROCESSES,
            "stream": stream,
        }
        ours, theirs = socket.socketpair()
        with theirs:
            self._send(theirs, message["folder"])
        data = json.dumps(message).encode()
        try:
            ours.sendall(b"%d\n" % len(data) + data)
        except OSError:
            pass  # the child is dead already; reading its events will say so
        return _Lease(ours)

    def _send(self, theirs: socket.socket, folder: str) -> None:
        """Hand a socket to the warmed process, for a job in a lab's folder; a dead process is replaced once."""
        with self._lock:
            for attempt in (0, 1):
                if self._control is None:
                    self._start()
                assert self._control is not None
                rights = array.array("i", [theirs.fileno()])
                try:
                    request = b"%d %s" % (next(self._slots), os.fsencode(folder))
                    self._control.sendmsg([request], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, rights)])
                    return
                except OSError as error:
                    if attempt:
                        raise ZygoteFault(f"the warmed process is gone: {error}") from None
                    self._control = None

    def _start(self) -> None:
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        plan = {
            "base": self._base.name,
            "readable": readable(),
            "hidden": solution_folders(),
            "scratch": SCRATCH,
            "filter": program().hex(),
        }
        environment = {
            **os.environ,
            "PYTHONHASHSEED": "0",
            "OMP_NUM_THREADS": "1",
            "OPENBLAS_NUM_THREADS": "1",
            "MPLBACKEND": "module://matplotlib_inline.backend_inline",
            "PYTHONWARNINGS": "ignore",
            "PYTHONPATH": os.pathsep.join([_place_of_kit(), os.environ.get("PYTHONPATH", "")]),
        }
        with theirs, tempfile.TemporaryFile() as errors:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "instructor.run.zygote.server", str(theirs.fileno()), json.dumps(plan)],
                pass_fds=(theirs.fileno(),),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=errors,
                env=environment,
                cwd="/",
            )
            theirs.close()
            ours.settimeout(START_SECONDS)
            try:
                ready = ours.recv(16)
            except TimeoutError:
                ready = b""
            if ready != b"ready":
                self._process.kill()
                self._process.wait()
                errors.seek(0)
                raise ZygoteFault(
                    f"the warmed process did not start: {errors.read()[-500:].decode('utf-8', 'replace').strip()}"
                )
        ours.settimeout(None)
        self._control = ours


def readable() -> list[str]:
    """What a child may read: the system's programs and libraries, this Python, its packages, the kit."""
    return [path for path in (*SYSTEM, *python_roots()) if os.path.lexists(path)]


def _place_of_kit() -> str:
    return str(Path(simkit.__file__).resolve().parents[1])
