"""Takes from simkit and instructor what only POSIX systems have, in every process that has this folder on its path.

What they import gets neither the modules nor the functions that Windows lacks; ``select`` knows no pipes; ``msvcrt`` and ``_winapi`` are
there, as thin stand-ins.  Other packages see the system as it is: whether they run on Windows is their makers' matter.
"""

import builtins
import os
import subprocess
import sys
import types

OURS = ("simkit", "instructor", "tickbench_lab")
MODULES = {"fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "syslog", "readline"}
LACKS = {
    "os": """fork forkpty killpg setsid getpgid geteuid getuid getgid getegid getppgid uname nice sched_getaffinity
        set_blocking mkfifo sysconf waitid wait WNOHANG chown getloadavg statvfs pidfd_open memfd_create pipe2
        O_NOFOLLOW O_DIRECTORY O_CLOEXEC O_NONBLOCK""".split(),
    "signal": "SIGKILL SIGALRM SIGHUP SIGUSR1 SIGUSR2 SIGCHLD SIGPIPE setitimer ITIMER_REAL alarm pause pthread_sigmask".split(),
    "select": ["poll", "epoll"],
    "socket": ["AF_UNIX", "SCM_RIGHTS"],
    "sys": [],
    "subprocess": [],
}
REFUSED = []


class Lacking(types.ModuleType):
    """A module without some of its names."""

    def __init__(self, real, **instead):
        super().__init__(real.__name__)
        self._real, self._instead = real, instead

    def __getattr__(self, name):
        if name in LACKS[self.__name__]:
            raise AttributeError(f"module {self.__name__!r} has no attribute {name!r} on this system")
        return self._instead[name] if name in self._instead else getattr(self._real, name)

    def __setattr__(self, name, value):
        if name.startswith("_"):
            super().__setattr__(name, value)
        else:
            setattr(self._real, name, value)

    def __delattr__(self, name):
        delattr(self._real, name)


class Popen(subprocess.Popen):
    """Passes no descriptors and knows no sessions."""

    def __init__(self, *arguments, pass_fds=(), start_new_session=False, preexec_fn=None, **options):
        assert not pass_fds and preexec_fn is None, "not supported on this system"
        super().__init__(*arguments, **options)


def select(readers, writers, odd, timeout=None):
    import select as real

    if any(isinstance(one, int) for one in (*readers, *writers)):
        raise OSError(10038, "an operation was attempted on something that is not a socket")
    return real.select(readers, writers, odd, timeout)


def execv(path, arguments):
    raise AssertionError("a program that becomes another one loses spaces on this system")


def made():
    import importlib

    instead = {
        "os": {"name": "nt", "execv": execv},
        "select": {"select": select},
        "sys": {"platform": "win32"},
        "subprocess": {"Popen": Popen},
    }
    return {name: Lacking(importlib.import_module(name), **instead.get(name, {})) for name in LACKS}


def without(real_import, lacking):
    def find(name, globals=None, locals=None, fromlist=(), level=0):
        asker = (globals or {}).get("__name__", "")
        file = (globals or {}).get("__file__") or ""
        ours = asker.split(".")[0] in OURS or (asker == "__main__" and os.sep + "simkit" + os.sep in file)
        if not ours or level:
            return real_import(name, globals, locals, fromlist, level)
        if name in MODULES:
            raise ImportError(f"No module named {name!r}", name=name)
        return lacking.get(name) or real_import(name, globals, locals, fromlist, level)

    return find


def stand_ins():
    import fcntl
    import struct
    import termios

    msvcrt, winapi = types.ModuleType("msvcrt"), types.ModuleType("_winapi")
    msvcrt.LK_LOCK, msvcrt.LK_NBLCK, msvcrt.LK_UNLCK = 1, 2, 0
    ways = {1: fcntl.LOCK_EX, 2: fcntl.LOCK_EX | fcntl.LOCK_NB, 0: fcntl.LOCK_UN}
    msvcrt.locking = lambda fd, mode, count: fcntl.flock(fd, ways[mode])
    msvcrt.get_osfhandle = lambda fd: ("handle", fd)

    def peek(handle, size):
        import select as real

        count = struct.unpack("i", fcntl.ioctl(handle[1], termios.FIONREAD, b"\0" * 4))[0]
        if not count and real.select([handle[1]], [], [], 0)[0]:
            raise BrokenPipeError(109, "the pipe has been ended")
        return count, count

    winapi.PeekNamedPipe = peek
    sys.modules |= {"msvcrt": msvcrt, "_winapi": winapi}


# Others choose by these modules whether they are on Windows: they decide it before the stand-ins are there.
import asyncio  # noqa: E402,F401
import getpass  # noqa: E402,F401
import multiprocessing.connection  # noqa: E402,F401
import multiprocessing.context  # noqa: E402,F401

builtins.__import__ = without(builtins.__import__, made())
stand_ins()
