"""Starts a shut-in child and ends it, with all that it started, when the grader hangs up or the child ends.

    python -m instructor.run.supervisor EVENTS LEASE PLAN

The child inherits the standard input (its job) and EVENTS (what it says); LEASE closes when the grader has had enough.
"""

from __future__ import annotations

import ctypes
import json
import os
import select
import signal
import sys
from typing import Any

from .landlock import PROCESSES, libc, shut_in
from .zygote.isolate import PR_SET_NO_NEW_PRIVS, _check, _load, die_with_parent, first_to_go

PR_SET_KEEPCAPS, PR_CAP_AMBIENT, DAC_READ_SEARCH = 8, 47, 2
FIRST_UID = 65_700  # of children when the grader is root: an id that owns nothing


def main() -> None:
    events, lease, plan = int(sys.argv[1]), int(sys.argv[2]), json.loads(sys.argv[3])
    child = os.fork()
    if child == 0:
        os.close(lease)
        _become(events, plan)
    os.close(events)
    poll = select.poll()
    poll.register(os.pidfd_open(child), select.POLLIN)
    poll.register(lease, select.POLLHUP)
    poll.poll()
    try:
        os.killpg(child, signal.SIGKILL)
    except ProcessLookupError:
        pass  # it had no time to make its group, or all of it has ended
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def _become(events: int, plan: dict[str, Any]) -> None:
    """Never returns: gives up every right and becomes the process that runs the cells."""
    try:
        os.setsid()
        die_with_parent()
        first_to_go()
        _limit(PROCESSES)
        if os.geteuid() == 0:
            _own_id(FIRST_UID + plan["slot"], plan["writable"])
        _check(libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0), "no_new_privs")
        die_with_parent()  # a change of user id had cleared it
        shut_in(plan["readable"], plan["writable"])
        _load(bytes.fromhex(plan["filter"]))
        os.environ["PYTHONPATH"] = plan["kit"]
        os.execv(sys.executable, [sys.executable, "-m", "simkit.check.run.session", str(events)])
    finally:
        os._exit(1)


def _own_id(uid: int, folders: list[str]) -> None:
    for folder in folders:
        for place, _, files in os.walk(folder):
            for path in (place, *(os.path.join(place, name) for name in files)):
                os.chown(path, uid, uid, follow_symlinks=False)
    os.setgroups([])
    os.setresgid(uid, uid, uid)
    _check(libc.prctl(PR_SET_KEEPCAPS, 1, 0, 0, 0), "keep capabilities")
    os.setresuid(uid, uid, uid)
    # Python may lie in a folder that only root may enter.  Landlock still decides what can be read.
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)
    bit = 1 << DAC_READ_SEARCH
    _check(libc.capset(header, (ctypes.c_uint32 * 6)(bit, bit, bit, 0, 0, 0)), "capset")
    _check(libc.prctl(PR_CAP_AMBIENT, 2, DAC_READ_SEARCH, 0, 0), "ambient capability")


def _limit(processes: int) -> None:
    """The kernel counts all processes of a user, so those that are there already come on top."""
    import resource

    mine = os.geteuid()
    there = sum(1 for name in os.listdir("/proc") if name.isdigit() and _owner(name) == mine) if mine else 0
    resource.setrlimit(resource.RLIMIT_NPROC, (processes + there, processes + there))
    resource.setrlimit(resource.RLIMIT_NOFILE, (256, 256))


def _owner(process: str) -> int:
    try:
        return os.stat(f"/proc/{process}").st_uid
    except OSError:
        return -1


if __name__ == "__main__":
    main()
