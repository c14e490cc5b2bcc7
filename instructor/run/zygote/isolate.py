"""A sandbox for the calling process, made with the kernel's own calls: namespaces, mounts, identity, seccomp.

Two steps.  :func:`leave_namespaces` is called before the fork that makes the child, :func:`enter` in the child.  As root
the child gets a user id of its own that owns nothing; as an ordinary user it gets a user namespace.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

libc = ctypes.CDLL(None, use_errno=True)

NEWNS, NEWUTS, NEWIPC, NEWUSER, NEWPID, NEWNET = 0x20000, 0x4000000, 0x8000000, 0x10000000, 0x20000000, 0x40000000
MS_RDONLY, MS_NOSUID, MS_NODEV, MS_REMOUNT, MS_BIND, MS_REC, MS_PRIVATE = 1, 2, 4, 32, 4096, 16384, 1 << 18
MNT_DETACH = 2
AT_FDCWD, AT_RECURSIVE = -100, 0x8000
MOUNT_ATTR_RDONLY, MOUNT_ATTR_NOSUID, MOUNT_ATTR_NODEV = 1, 2, 4
SYS_MOUNT_SETATTR = 442  # the same number on every architecture; Linux 5.12
PR_SET_PDEATHSIG, PR_CAPBSET_DROP, PR_SET_NO_NEW_PRIVS, PR_SET_SECCOMP, PR_SET_DUMPABLE = 1, 24, 38, 22, 4
DEVICES = ("null", "zero", "full", "random", "urandom")
FIRST_UID = 64_100  # ids of children when the grader is root; each slot has its own, so that process limits are its own


@dataclass(frozen=True)
class Plan:
    """What a child sees: read-only folders at their own places, empty folders over what must not be seen, a lab."""

    base: str
    readable: Sequence[str]
    hidden: Sequence[str]
    scratch: int
    filter: bytes


def _check(result: int, what: str) -> None:
    if result != 0:
        code = ctypes.get_errno()
        raise OSError(code, f"{what}: {os.strerror(code)}")


def mount(source: str, target: str, kind: str, flags: int, options: str = "") -> None:
    """mount(2)"""
    arguments = [text.encode() if text else None for text in (source, target, kind)]
    _check(libc.mount(*arguments, ctypes.c_ulong(flags), options.encode() if options else None), f"mount {target}")


def die_with_parent() -> None:
    """Be killed when the parent dies."""
    _check(libc.prctl(PR_SET_PDEATHSIG, 9, 0, 0, 0), "prctl")


def first_to_go() -> None:
    """If this computer's memory runs out, this process and its children are ended before any other."""
    Path("/proc/self/oom_score_adj").write_text("1000")


def leave_namespaces() -> None:
    """Leave all namespaces; the next fork makes the first process of a new process space."""
    flags = NEWNS | NEWUTS | NEWIPC | NEWPID | NEWNET
    uid, gid = os.geteuid(), os.getegid()
    if uid == 0:
        _check(libc.unshare(flags), "unshare")
        return
    _check(libc.unshare(flags | NEWUSER), "unshare")
    Path("/proc/self/setgroups").write_text("deny")
    Path("/proc/self/uid_map").write_text(f"{uid} {uid} 1")
    Path("/proc/self/gid_map").write_text(f"{gid} {gid} 1")


def enter(plan: Plan, lab: str, slot: int, compiled: bytes = b"") -> None:
    """Build the file tree, go into it, and give up every right.  The present folder is then ``/lab``.

    ``compiled`` is the lab's ``exercises.py`` as Python keeps it beside its source, b"" if there is none.
    """
    _build_tree(plan, lab, compiled)
    os.chdir(plan.base)
    _check(libc.syscall(_SYS_PIVOT_ROOT, b".", b"."), "pivot_root")
    _check(libc.umount2(b".", MNT_DETACH), "umount")
    os.chdir("/lab")
    libc.sethostname(b"lab", 3)
    _drop_rights(slot)
    _load(plan.filter)


def _build_tree(plan: Plan, lab: str, compiled: bytes) -> None:
    mount("", "/", "", MS_REC | MS_PRIVATE)
    mount("tmpfs", plan.base, "tmpfs", MS_NOSUID | MS_NODEV, "size=4m,mode=755")
    # The scratch first: what is shown read-only may lie below /tmp, and would be covered by it.
    for folder in ("/lab", "/tmp", "/dev/shm"):
        os.makedirs(plan.base + folder)
        mount(
            "tmpfs", plan.base + folder, "tmpfs", MS_NOSUID | MS_NODEV, f"size={plan.scratch},nr_inodes=20000,mode=1777"
        )
    for path in plan.readable:
        bind(path, plan.base + path)
    for path in plan.hidden:
        mount("tmpfs", plan.base + path, "tmpfs", MS_RDONLY | MS_NOSUID | MS_NODEV, "size=4k,mode=755")
    for name in DEVICES:
        bind(f"/dev/{name}", f"{plan.base}/dev/{name}", device=True)
    os.makedirs(plan.base + "/proc")
    try:
        mount("proc", plan.base + "/proc", "proc", MS_NOSUID | MS_NODEV)
    except PermissionError:
        pass  # refused inside some containers; nothing that a lab does needs it
    _show_lab(lab, plan.base + "/lab", compiled)


def bind(source: str, target: str, device: bool = False) -> None:
    """Show ``source`` at ``target``, read-only, with all that is mounted below it; links are made anew as links."""
    os.makedirs(os.path.dirname(target), exist_ok=True)
    if os.path.islink(source):
        os.symlink(os.readlink(source), target)
        return
    if os.path.isdir(source):
        os.makedirs(target, exist_ok=True)
    else:
        os.close(os.open(target, os.O_CREAT | os.O_WRONLY, 0o644))
    mount(source, target, "", MS_BIND | MS_REC)
    if not device:
        _read_only(target)


class _MountAttributes(ctypes.Structure):
    _fields_ = [(name, ctypes.c_uint64) for name in ("attr_set", "attr_clr", "propagation", "userns_fd")]


def _read_only(target: str) -> None:
    wanted = _MountAttributes(MOUNT_ATTR_RDONLY | MOUNT_ATTR_NOSUID | MOUNT_ATTR_NODEV, 0, 0, 0)
    _check(
        libc.syscall(
            SYS_MOUNT_SETATTR,
            AT_FDCWD,
            target.encode(),
            AT_RECURSIVE,
            ctypes.byref(wanted),
            ctypes.c_size_t(ctypes.sizeof(wanted)),
        ),
        f"read-only {target}",
    )


HIDDEN_NAMES = (".ipynb", "lab.md", "wrong_answers.py")  # of a lab's folder: what could hold solutions


def _show_lab(lab: str, target: str, compiled: bytes) -> None:
    for entry in os.scandir(lab):
        if not entry.is_symlink() and not entry.name.endswith(HIDDEN_NAMES) and entry.name != "__pycache__":
            bind(entry.path, f"{target}/{entry.name}")
    if compiled:
        folder = Path(target, "__pycache__")
        folder.mkdir()
        folder.chmod(0o755)
        place = folder / f"exercises.{sys.implementation.cache_tag}.pyc"
        place.write_bytes(compiled)
        place.chmod(0o644)


def _drop_rights(slot: int) -> None:
    for capability in range(64):
        if libc.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0) != 0:
            break  # beyond the last that this kernel knows
    if os.geteuid() == 0:
        os.setgroups([])
        os.setresgid(FIRST_UID + slot, FIRST_UID + slot, FIRST_UID + slot)
        os.setresuid(FIRST_UID + slot, FIRST_UID + slot, FIRST_UID + slot)
    else:
        header = (ctypes.c_uint32 * 2)(0x20080522, 0)
        _check(libc.capset(header, (ctypes.c_uint32 * 6)()), "capset")
    _check(libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0), "no_new_privs")
    die_with_parent()  # a change of user id had cleared it


class _Program(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("instructions", ctypes.c_char_p)]


def _load(instructions: bytes) -> None:
    program = _Program(len(instructions) // 8, instructions)
    _check(libc.prctl(PR_SET_SECCOMP, 2, ctypes.byref(program), 0, 0), "seccomp")


_SYS_PIVOT_ROOT = {"x86_64": 155, "aarch64": 41}.get(os.uname().machine, -1)
