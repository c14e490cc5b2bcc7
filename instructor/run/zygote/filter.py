"""The system calls that a sandboxed child may make, as a seccomp program made by libseccomp.

An allow list: what is not named fails with EPERM.  ``clone3`` fails with ENOSYS, so that the C library falls back to
``clone``, whose flags can be looked at.  Sockets are local ones only.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import errno
import os
from collections.abc import Sequence

ALLOWED = """
access alarm arch_prctl brk capget chdir chmod clock_getres clock_gettime clock_nanosleep close close_range copy_file_range
creat dup dup2 dup3 epoll_create epoll_create1 epoll_ctl epoll_pwait epoll_pwait2 epoll_wait eventfd eventfd2 execve execveat
exit exit_group faccessat faccessat2 fadvise64 fallocate fchdir fchmod fchmodat fchown fcntl fdatasync fgetxattr flistxattr
flock fork fstat fstatfs fsync ftruncate futex futex_waitv get_mempolicy get_robust_list getcpu getcwd getdents getdents64
getegid geteuid getgid getgroups getitimer getpeername getpgid getpgrp getpid getppid getpriority getrandom getresgid
getresuid getrlimit getrusage getsid getsockname getsockopt gettid gettimeofday getuid getxattr inotify_add_watch
inotify_init inotify_init1 inotify_rm_watch ioctl kill lgetxattr link linkat listxattr llistxattr lseek lstat madvise
membarrier memfd_create mincore mkdir mkdirat mlock mlock2 mlockall mmap mprotect mremap msync munlock munlockall munmap
nanosleep newfstatat open openat openat2 pause pidfd_open pidfd_send_signal pipe pipe2 poll ppoll prctl pread64 preadv
preadv2 prlimit64 pselect6 pwrite64 pwritev pwritev2 read readahead readlink readlinkat readv recvfrom recvmmsg recvmsg
rename renameat renameat2 restart_syscall rmdir rseq rt_sigaction rt_sigpending rt_sigprocmask rt_sigqueueinfo
rt_sigreturn rt_sigsuspend rt_sigtimedwait rt_tgsigqueueinfo sched_get_priority_max sched_get_priority_min
sched_getaffinity sched_getattr sched_getparam sched_getscheduler sched_rr_get_interval sched_setaffinity sched_yield
select sendfile sendmmsg sendmsg sendto set_robust_list set_tid_address setitimer setpgid setpriority setrlimit setsid
setsockopt shutdown sigaltstack socketpair splice stat statfs statx symlink symlinkat sync_file_range tee tgkill time
timer_create timer_delete timer_getoverrun timer_gettime timer_settime timerfd_create timerfd_gettime timerfd_settime
times tkill truncate umask uname unlink unlinkat utime utimensat utimes vfork wait4 waitid write writev
bind listen accept accept4 connect
""".split()

ALLOW, ERRNO, KILL = 0x7FFF0000, 0x00050000, 0x80000000
NEW_NAMESPACES = 0x7E020080  # all CLONE_NEW* flags together
MASKED_EQ = 7
AF_UNIX = 1


class NoSeccomp(OSError):
    """libseccomp is not there, or does not know this kind of computer."""


class _Compare(ctypes.Structure):
    _fields_ = [("arg", ctypes.c_uint), ("op", ctypes.c_int), ("a", ctypes.c_uint64), ("b", ctypes.c_uint64)]


def program(without: Sequence[str] = (), own_only: bool = False, pretended: Sequence[str] = ()) -> bytes:
    """The filter as the kernel takes it: an array of 8-byte instructions.  Raises :class:`NoSeccomp`.

    ``without`` names calls that are not to be allowed; ``own_only`` lets a process set only its own limits, send only over
    sockets that are connected already, and make none but pairs of them; ``pretended`` do nothing and say that they did.
    """
    name = ctypes.util.find_library("seccomp") or "libseccomp.so.2"
    try:
        library = ctypes.CDLL(name, use_errno=True)
    except OSError:
        raise NoSeccomp("libseccomp is not installed (Debian: apt install libseccomp2)") from None
    library.seccomp_init.restype = ctypes.c_void_p
    library.seccomp_init.argtypes = [ctypes.c_uint32]
    context = library.seccomp_init(ERRNO | errno.EPERM)
    if not context:
        raise NoSeccomp("libseccomp cannot make a filter here")
    try:
        for call in ALLOWED:
            if call not in without:
                _rule(library, context, ALLOW, call)
        for call in pretended:
            _rule(library, context, ERRNO, call)
        if own_only:
            _rule(library, context, ALLOW, "prlimit64", _Compare(0, MASKED_EQ, 0xFFFFFFFF, 0))
            _rule(library, context, ALLOW, "sendto", _Compare(4, MASKED_EQ, (1 << 64) - 1, 0))
        _rule(library, context, ERRNO | errno.ENOSYS, "clone3")
        _rule(library, context, ALLOW, "clone", _Compare(0, MASKED_EQ, NEW_NAMESPACES, 0))
        if "socket" not in without:
            _rule(library, context, ALLOW, "socket", _Compare(0, MASKED_EQ, 0xFFFFFFFF, AF_UNIX))
        return _exported(library, context)
    finally:
        library.seccomp_release(ctypes.c_void_p(context))


def _rule(library: ctypes.CDLL, context: int, action: int, call: str, compare: _Compare | None = None) -> None:
    """Add a rule; a call that this kind of computer does not have is left out."""
    number = library.seccomp_syscall_resolve_name(call.encode())
    if number < 0:
        return
    comparisons = (_Compare * 1)(compare) if compare is not None else None
    failed = library.seccomp_rule_add_array(
        ctypes.c_void_p(context),
        ctypes.c_uint32(action),
        ctypes.c_int(number),
        ctypes.c_uint(0 if compare is None else 1),
        comparisons,
    )
    if failed:
        raise NoSeccomp(f"libseccomp refuses a rule for {call} ({os.strerror(-failed)})")


def _exported(library: ctypes.CDLL, context: int) -> bytes:
    file = os.memfd_create("filter", 0)
    try:
        if library.seccomp_export_bpf(ctypes.c_void_p(context), ctypes.c_int(file)):
            raise NoSeccomp("libseccomp cannot write its filter")
        os.lseek(file, 0, os.SEEK_SET)
        return os.read(file, 1 << 20)
    finally:
        os.close(file)
