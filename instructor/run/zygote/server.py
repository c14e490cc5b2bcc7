"""The warmed process: imports what labs import, once, then forks a child for each job that comes over a socket.

Between the grader and each child stands a monitor, a fork of this process: it waits for the child to end, or for the
grader to hang up, and then kills the child's whole process space.  Nothing outlives the grader.
"""

from __future__ import annotations

import array
import gc
import importlib
import json
import os
import py_compile
import random
import select
import signal
import socket
import sys
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import Any

from simkit.check.run.session import Reporter, limit_resources, make_shell, run_cells
from simkit.engines.native.jit import expect_short_runs

from .isolate import Plan, die_with_parent, enter, first_to_go, leave_namespaces
from .pages import gather_pages

WARM = (
    "numpy",
    "scipy.signal",
    "scipy.fft",
    "matplotlib.pyplot",
    "matplotlib_inline.backend_inline",
    "ipywidgets",
    "simkit",
    "simkit.check",
    "simkit.bench",
    "simkit.host",
    "simkit.view",
    "simkit.dsp",
    "simkit.blocks",
    "simkit.engines.native",
    "simkit.build",
    "simkit.build.pictures",
)

MESSAGE = 8192  # bytes of a request: a slot and a lab's folder
STAMPED = py_compile.PycInvalidationMode.TIMESTAMP


def warm_up(control: socket.socket) -> tuple[Any, Reporter]:
    """Import, draw one figure (which finds the fonts), make the shell.  The process must still have one thread.

    It takes seconds, in which the grader may be killed: then this process ends too.
    """
    expect_short_runs()
    reporter = Reporter(-1)
    shell = make_shell(reporter)  # before matplotlib, which hooks into the shell that it finds
    for name in WARM:
        hung_up, _, _ = select.select([control], [], [], 0)  # nothing is asked of a process that is not ready
        if hung_up:
            raise SystemExit
        try:
            module = importlib.import_module(name)
        except ImportError:
            continue  # not in this version of the kit
        for part in getattr(module, "__all__", ()) if name.startswith("simkit.") else ():
            getattr(module, part)  # some packages load their parts only when these are asked for
    import io

    import matplotlib.pyplot as plt

    figure = plt.figure()
    figure.gca().plot([0, 1], label="a")
    figure.gca().legend()
    figure.savefig(io.BytesIO())
    plt.close(figure)
    shell.run_cell("1", store_history=False)
    threads = len(os.listdir("/proc/self/task"))
    if threads != 1:
        raise RuntimeError(f"the warmed process has {threads} threads; it must have one, to be forked")
    gc.collect()
    gc.freeze()
    gather_pages()
    return shell, reporter


def serve(control: socket.socket, plan: Plan) -> None:
    """Fork a monitor for each socket that arrives over ``control``, until it is closed."""
    shell, reporter = warm_up(control)
    control.send(b"ready")
    while True:
        data, ancillary, _, _ = control.recvmsg(MESSAGE, socket.CMSG_SPACE(4))
        _bury()
        if not data:
            return
        if not ancillary:
            continue
        lease = socket.socket(fileno=array.array("i", ancillary[0][2][:4])[0])
        slot, _, folder = data.partition(b" ")
        compiled = _compiled(os.fsdecode(folder))
        if os.fork() == 0:
            _monitor(control, lease, plan, int(slot), compiled, shell, reporter)
        lease.close()


_kept: dict[str, tuple[tuple[int, int], bytes]] = {}


def _compiled(folder: str) -> bytes:
    """The lab's ``exercises.py``, compiled once for all children that will import it; b"" if it cannot be.

    Nothing of it runs here.
    """
    path = os.path.join(folder, "exercises.py")
    try:
        state = os.stat(path)
        if _kept.get(path, (None, b""))[0] != (state.st_mtime_ns, state.st_size):
            with tempfile.NamedTemporaryFile(suffix=".pyc") as place:
                py_compile.compile(path, place.name, "/lab/exercises.py", doraise=True, invalidation_mode=STAMPED)
                _kept[path] = (state.st_mtime_ns, state.st_size), Path(place.name).read_bytes()
    except (OSError, py_compile.PyCompileError, ValueError, RecursionError):
        return b""  # its import will say what is wrong
    return _kept[path][1]


def _bury() -> None:
    """Take note of monitors that have ended: their processor time then counts as the grader's."""
    try:
        while os.waitpid(-1, os.WNOHANG) != (0, 0):
            pass
    except ChildProcessError:
        return


def _monitor(
    control: socket.socket,
    lease: socket.socket,
    plan: Plan,
    slot: int,
    compiled: bytes,
    shell: Any,
    reporter: Reporter,
) -> None:
    """Never returns."""
    try:
        die_with_parent()
        control.close()
        job = _read_job(lease)
        leave_namespaces()
        child = os.fork()
        if child == 0:
            _child(lease, plan, slot, compiled, job, shell, reporter)
        _watch(lease, child)
    finally:
        os._exit(0)


def _read_job(lease: socket.socket) -> dict[str, Any]:
    file = lease.makefile("rb")
    length = int(file.readline())
    return json.loads(file.read(length))


def _watch(lease: socket.socket, child: int) -> None:
    """Wait for the child's end or the grader's; then nothing of the child is left."""
    handle = os.pidfd_open(child)
    poll = select.poll()
    poll.register(handle, select.POLLIN)
    poll.register(lease, select.POLLHUP | select.POLLRDHUP)
    poll.poll()
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def _child(
    lease: socket.socket,
    plan: Plan,
    slot: int,
    compiled: bytes,
    job: dict[str, Any],
    shell: Any,
    reporter: Reporter,
) -> None:
    """Never returns."""
    try:
        die_with_parent()
        os.dup2(lease.fileno(), 3)
        os.closerange(4, 4096)
        null = os.open(os.devnull, os.O_RDWR)
        for target in (0, 1, 2):
            os.dup2(null, target)
        os.close(null)
        os.setsid()
        first_to_go()
        enter(plan, job["folder"], slot, compiled)
        limit_resources(**job["limits"])
        _limit_processes(job["processes"])
        _settle(job)
        run_cells(job, 3, 3, shell, reporter)
    finally:
        os._exit(0)


def _limit_processes(count: int) -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_NPROC, (count, count))
    resource.setrlimit(resource.RLIMIT_NOFILE, (256, 256))


def _settle(job: dict[str, Any]) -> None:
    """What would else be the same in every child, or left from the warmed process."""
    os.environ.clear()
    os.environ.update(
        {
            "HOME": "/tmp",
            "PATH": "/usr/bin:/bin",
            "LANG": "C.UTF-8",
            "MPLCONFIGDIR": "/tmp",
            "XDG_CACHE_HOME": "/tmp",
            "MPLBACKEND": "module://matplotlib_inline.backend_inline",
            "OMP_NUM_THREADS": "1",
            "OPENBLAS_NUM_THREADS": "1",
            "TICKBENCH_LEARNER": job["learner"],
        }
    )
    seed = int.from_bytes(sha256(job["stream"].encode()).digest()[:4], "big")
    random.seed(seed)
    numpy = sys.modules.get("numpy")
    if numpy is not None:
        numpy.random.seed(seed)
    sys.path.insert(0, "/lab")
    sys.pycache_prefix = None  # what is compiled lies beside its source
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)


def main() -> None:
    """``python -m instructor.run.zygote.server FD PLAN``: the plan as JSON, its filter in hex."""
    plan = json.loads(sys.argv[2])
    plan["filter"] = bytes.fromhex(plan["filter"])
    serve(socket.socket(fileno=int(sys.argv[1])), Plan(**plan))


if __name__ == "__main__":
    main()
