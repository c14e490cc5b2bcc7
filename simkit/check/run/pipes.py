"""Pipes to and from child processes: where ``select`` knows pipes (Linux, macOS), and where it does not (Windows)."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from typing import Any

PATIENCE_S = 0.005
"""Between two looks at a pipe where the system cannot wait for one, s."""


SAYS = b"="
"""Before what a function says that a judge has called.  A line without it says why the function is gone: nothing that comes from
a learner's process can pass for one."""


def start_module(name: str, *arguments: str, **options: Any) -> tuple[subprocess.Popen[bytes], int]:
    """Start a module of Python whose standard output is the line for its events; gives the process and our end of that line."""
    process = subprocess.Popen(
        [sys.executable, "-m", name, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        **options,
    )
    assert process.stdout is not None
    with process.stdout as line:
        return process, os.dup(line.fileno())


def own_line(fd: int) -> int:
    """In the child: the descriptor for events, out of the way of what is printed."""
    return os.dup(fd) if fd < 3 else fd


def readable(fd: int, seconds: float) -> bool:
    """Wait until there is something to read, or the other side has closed; False if that did not happen in time."""
    if os.name == "posix":
        return bool(select.select([fd], [], [], max(0.0, seconds))[0])
    end = time.monotonic() + seconds
    while not _has_bytes(fd):
        if time.monotonic() >= end:
            return False
        time.sleep(PATIENCE_S)
    return True


def _has_bytes(fd: int) -> bool:
    import _winapi
    import msvcrt

    try:
        return bool(_winapi.PeekNamedPipe(msvcrt.get_osfhandle(fd), 0)[0])  # type: ignore[attr-defined]
    except OSError:  # closed: reading gives the end
        return True


def write_all(fd: int, data: bytes, limit: float) -> None:
    """Write to a process that may not read; TimeoutError if it has not taken all by the time ``limit`` (where pipes can be waited for)."""
    view = memoryview(data)
    if os.name == "posix":
        os.set_blocking(fd, False)
    while view:
        try:
            view = view[os.write(fd, view) :]
        except BlockingIOError:
            if not select.select([], [fd], [], max(0.0, limit - time.monotonic()))[1]:
                raise TimeoutError from None
