"""The child: runs cells in an IPython shell and reports what happens as lines of JSON on one file descriptor.

Everything in this process after the first cell is in the learner's hands, so nothing here protects anything: the
limits kept here (time of a cell, size of its output) only make the common accidents end well.  The parent keeps
its own.

Each event has the name ``event`` and the number ``cell`` (-1 outside cells): ``ready``; ``start``; ``output`` with an
``output`` in nbformat's form; ``answer`` with ``exercise, status, data, message``; ``end`` with ``status, note,
dropped, seconds``; ``done``; after that ``live`` and ``gone`` (see :mod:`..live.serve`).
"""

from __future__ import annotations

import _thread
import contextlib
import json
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from typing import Any

from .pipes import own_line

# More than this of printed text in a cell is dropped, and a single picture or page larger than this too.
MAX_PRINTED = 200_000
MAX_DISPLAY = 2_000_000


class CellTimeout(BaseException):
    """A cell ran out of time.  Not an Exception, so that ``except Exception`` does not swallow it."""


class Reporter:
    """Writes events to the parent."""

    def __init__(self, fd: int) -> None:
        self.fd = fd
        self.cell = -1
        self.dropped = 0

    def send(self, event: str, **fields: Any) -> None:
        data = (json.dumps({"event": event, "cell": self.cell, **fields}) + "\n").encode()
        view = memoryview(data)
        while view:
            view = view[os.write(self.fd, view) :]

    def output(self, output: dict[str, Any]) -> None:
        if len(json.dumps(output)) > MAX_DISPLAY:
            self.dropped += MAX_DISPLAY
            return
        self.send("output", output=output)


class Printed:
    """Stands for ``sys.stdout`` and ``sys.stderr``: collects text up to a limit."""

    encoding, errors = "utf-8", "replace"

    def __init__(self, reporter: Reporter, name: str) -> None:
        self._reporter, self._name = reporter, name
        self._parts: list[str] = []
        self._size = 0

    def write(self, text: str) -> int:
        if not isinstance(text, str):
            raise TypeError(f"write() argument must be str, not {type(text).__name__}")
        room = MAX_PRINTED - self._size
        if room > 0:
            self._parts.append(text[:room])
        self._size += len(text)
        return len(text)

    def writelines(self, lines: Any) -> None:
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        """Nothing to do: the text goes out when the cell ends or displays something."""

    def isatty(self) -> bool:
        return False

    def writable(self) -> bool:
        return True

    def readable(self) -> bool:
        return False

    def release(self) -> None:
        """Send what was collected as one output."""
        if self._parts:
            text, self._parts = "".join(self._parts), []
            self._reporter.send("output", output={"output_type": "stream", "name": self._name, "text": text})

    def end_cell(self) -> None:
        self.release()
        self._reporter.dropped += max(0, self._size - MAX_PRINTED)
        self._size = 0


def make_shell(reporter: Reporter) -> Any:
    """An IPython shell without a terminal or kernel whose displays become events."""
    from IPython.core.displayhook import DisplayHook
    from IPython.core.displaypub import DisplayPublisher
    from IPython.core.interactiveshell import InteractiveShell
    from traitlets.config import Config

    class Hook(DisplayHook):
        def __call__(self, result: Any = None) -> None:
            if result is None or self.quiet():
                return
            data, _ = shell.display_formatter.format(result)
            self.update_user_ns(result)
            _release()
            reporter.output(
                {"output_type": "execute_result", "data": _texts(data), "metadata": {}, "execution_count": None}
            )

    class Publisher(DisplayPublisher):
        def publish(self, data: Any, metadata: Any = None, *args: Any, **options: Any) -> None:  # type: ignore[override]
            _release()
            reporter.output({"output_type": "display_data", "data": _texts(data), "metadata": {}})

    class Shell(InteractiveShell):
        def enable_gui(self, gui: Any = None) -> None:
            """``%matplotlib`` asks for this; there is no window to open."""

        def _showtraceback(self, etype: Any, evalue: Any, stb: list[str]) -> None:
            _release()
            reporter.output(
                {
                    "output_type": "error",
                    "ename": getattr(etype, "__name__", str(etype)),
                    "evalue": str(evalue)[:2000],
                    "traceback": [line[:4000] for line in stb[-12:]],
                }
            )

    config = Config()
    config.HistoryManager.enabled = False
    config.InteractiveShell.colors = "nocolor"
    config.InteractiveShell.history_length = 0
    shell: Any = Shell.instance(config=config, displayhook_class=Hook, display_pub_class=Publisher)
    shell.displayhook_class, shell.display_pub_class = Hook, Publisher
    return shell


def _release() -> None:
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, Printed):
            stream.release()


def _texts(data: dict[str, Any]) -> dict[str, Any]:
    """A display's data as JSON can hold it; bytes (pictures) are base64 text already or are dropped."""
    kept = {}
    for mime, value in data.items():
        if isinstance(value, bytes):
            import base64

            value = base64.b64encode(value).decode()
        if isinstance(value, (str, list, dict)):
            kept[mime] = value
    return kept


@contextlib.contextmanager
def _time_limit(seconds: float) -> Iterator[None]:
    def over(signum: int, frame: Any) -> None:
        raise CellTimeout(f"stopped after {seconds:g} s")

    again = 0.5  # in case the learner's code caught it
    if not hasattr(signal, "setitimer"):
        with _interrupted(over, seconds, again):
            yield
        return
    signal.signal(signal.SIGALRM, over)
    signal.setitimer(signal.ITIMER_REAL, seconds, again)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)


@contextlib.contextmanager
def _interrupted(over: Any, seconds: float, again: float) -> Iterator[None]:
    """Call ``over`` in the main thread after a time, and again and again, on a system without timers that give a signal."""
    ended = threading.Event()

    def watch() -> None:
        late = ended.wait(seconds)
        while not late:
            _thread.interrupt_main(signal.SIGINT)
            late = ended.wait(again)

    before = signal.signal(signal.SIGINT, over)
    threading.Thread(target=watch, daemon=True).start()
    try:
        yield
    finally:
        ended.set()
        signal.signal(signal.SIGINT, before)


def run_cell(shell: Any, reporter: Reporter, index: int, source: str, seconds: float) -> None:
    """Run one cell and report how it ended: "ok", "error" or "timeout"."""
    reporter.cell, reporter.dropped = index, 0
    reporter.send("start")
    out, err = Printed(reporter, "stdout"), Printed(reporter, "stderr")
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = out, err  # type: ignore[assignment]
    begun = time.monotonic()
    status, note = "ok", ""
    try:
        with _time_limit(seconds):
            result = shell.run_cell(source, store_history=False)
        fault = result.error_before_exec or result.error_in_exec
        if fault is not None:
            status = "timeout" if isinstance(fault, CellTimeout) else "error"
            note = f"{type(fault).__name__}: {str(fault)[:500]}"
    except CellTimeout as fault:
        status, note = "timeout", f"CellTimeout: {fault}"
    finally:
        sys.stdout, sys.stderr = before
        out.end_cell()
        err.end_cell()
    reporter.send("end", status=status, note=note, dropped=reporter.dropped, seconds=round(time.monotonic() - begun, 3))


def draw_nothing(shell: Any) -> None:
    """Displays keep their text only; figures are thrown away at the end of the cell that made them."""
    import matplotlib

    matplotlib.use("agg")
    shell.display_formatter.active_types = ["text/plain"]
    shell.enable_matplotlib = lambda *names, **options: (None, "agg")
    for hook in list(shell.events.callbacks["post_execute"]):
        if hook.__name__ == "flush_figures":
            shell.events.unregister("post_execute", hook)

    def throw_away() -> None:
        if "matplotlib.pyplot" in sys.modules:
            sys.modules["matplotlib.pyplot"].close("all")

    shell.events.register("post_execute", throw_away)


def run_cells(job: dict[str, Any], fd: int, commands: int, shell: Any = None, reporter: Reporter | None = None) -> None:
    """Run a job: ``{"cells": [[index, source], ...], "cell_seconds": s}``; the present folder is the lab's.

    Afterwards calls to answers that are code are taken from the descriptor ``commands``, until it is closed.  ``shell`` and ``reporter`` may have been made beforehand by a process that this one was forked from.
    """
    from simkit.check import notebook
    from simkit.check.live import serve

    os.environ.setdefault("MPLBACKEND", "module://matplotlib_inline.backend_inline")
    reporter = reporter or Reporter(fd)
    reporter.fd = fd
    shell = shell or make_shell(reporter)
    copies = serve.Copies() if hasattr(os, "fork") else serve.Here()

    def hand_out(answer: Any) -> None:
        live = bool(answer.functions) and copies.make(reporter.cell, answer.functions)
        fields = {"status": answer.status, "data": answer.data, "message": answer.message, "live": live}
        reporter.send("answer", exercise=answer.exercise, **fields)

    notebook.collect_into(hand_out)
    if not job["show"]:
        draw_nothing(shell)
    reporter.send("ready")
    for index, source in job["cells"]:
        run_cell(shell, reporter, index, source, job["cell_seconds"])
    reporter.cell = -1
    reporter.send("done")
    if copies:
        copies.serve(commands, reporter.fd, reporter.send)


# Address space that may be reserved beyond what may be written: the build tools' WebAssembly reserves several gigabytes.
RESERVE = 10 * 1024**3


def limit_resources(memory: int, cpu_seconds: int, file_bytes: int) -> None:
    """Limits that the kernel keeps from here on, for this process and its children; -1 sets none.

    Windows has no such limits.  macOS refuses some of them; grading happens in a sandbox, which only Linux has.
    """
    try:
        import resource
    except ImportError:
        return
    limits = {
        resource.RLIMIT_DATA: memory,
        resource.RLIMIT_AS: memory + RESERVE if memory >= 0 else -1,
        resource.RLIMIT_CPU: cpu_seconds,
        resource.RLIMIT_FSIZE: file_bytes,
        resource.RLIMIT_CORE: 0,
    }
    for what, value in limits.items():
        if value >= 0:
            hard = resource.getrlimit(what)[1]
            value = value if hard == resource.RLIM_INFINITY else min(value, hard)
            with contextlib.suppress(*(() if sys.platform == "linux" else (ValueError, OSError))):
                resource.setrlimit(what, (value, value))


def main() -> None:
    """``python -m simkit.check.run.session FD``: the job is the first line of the standard input."""
    fd, commands = own_line(int(sys.argv[1])), os.dup(0)
    with os.fdopen(os.dup(0), "rb") as given:
        job = json.loads(given.readline())
    null = os.open(os.devnull, os.O_RDWR)
    for target in (0, 1, 2):  # what C code or a child process writes goes nowhere
        os.dup2(null, target)
    limit_resources(**job["limits"])
    sys.path.insert(0, os.getcwd())
    run_cells(job, fd, commands)
    os._exit(0)


if __name__ == "__main__":
    main()
