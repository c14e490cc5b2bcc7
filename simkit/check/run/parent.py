"""The parent of a run: starts the child, reads its events within limits, and keeps only what it may have said.

Whatever the child does (dies, hangs, floods), the answers given before that count.  A cell in which it dies is
left out and the rest is run again, so that one bad cell costs only itself.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from ..judging import Answer
from .live import MAX_LINE, ChildCaller, Judge, Lines
from .pipes import readable, start_module


@dataclass(frozen=True)
class Cell:
    """A code cell to run.

    ``exercise`` is the id of the exercise that it checks, "" for other cells; ``may_fail`` says that the lab
    lets it fail on purpose (the tag ``raises-exception``).
    """

    index: int
    source: str
    exercise: str = ""
    may_fail: bool = False


@dataclass(frozen=True)
class Limits:
    """What a run may use, in bytes and seconds; -1 for no limit in memory, cpu_seconds, file_bytes.

    ``reply_seconds``: how long a function that is judged may work without asking its host or giving a result;
    ``live_seconds``: how long it may work in all its calls together.
    """

    cell_seconds: float = 30.0
    seconds: float = 300.0
    memory: int = 4 * 1024**3
    cpu_seconds: int = 300
    file_bytes: int = 200 * 1024**2
    output_bytes: int = 48 * 1024**2
    restarts: int = 3
    reply_seconds: float = 10.0
    live_seconds: float = 25.0


@dataclass(frozen=True)
class Job:
    """A notebook's code cells and where to run them.

    ``show`` False: pictures are not drawn, only answers count.  ``every_check`` True: of several checks of an answer that is
    code each is judged, not only the last.
    """

    cells: Sequence[Cell]
    folder: str
    learner: str
    limits: Limits = field(default_factory=Limits)
    show: bool = True
    every_check: bool = False


@dataclass
class RunResult:
    """What came of a run.

    ``answers`` by index of the check cell; ``outputs`` by cell index, in nbformat's form; ``ends`` by cell index: "ok", "error",
    "timeout", "died", with a note; ``seconds`` by cell index.  ``notes`` are lines for a person.  ``live`` by index of the
    check cell: what came of judging an answer that is code.
    """

    answers: dict[int, Answer] = field(default_factory=dict)
    outputs: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    ends: dict[int, tuple[str, str]] = field(default_factory=dict)
    seconds: dict[int, float] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    live: dict[int, Any] = field(default_factory=dict)
    killed_in: int = -1  # the cell in which the child was stopped or died, -1 if it was not

    def note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)


class Child(Protocol):
    """A started child: the descriptors from which its events come and to which commands go, and how to end it."""

    events: int
    commands: int

    def kill(self) -> None:
        """End the child and all that it started."""


class ProcessChild:
    """A child that is an ordinary process, with a process group of its own."""

    def __init__(self, process: subprocess.Popen[bytes], events: int) -> None:
        assert process.stdin is not None
        self.process, self.events, self.commands = process, events, process.stdin.fileno()

    def kill(self) -> None:
        """End the child and all that it started."""
        if hasattr(os, "killpg"):
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self.process.pid, signal.SIGKILL)
        self.process.kill()  # where there are no groups, and where this one may not be ended
        self.process.wait()
        with contextlib.suppress(OSError):
            self.process.stdin.close()  # type: ignore[union-attr]


Launch = Callable[[Job, dict[str, Any]], Child]


def launch_plain(job: Job, message: dict[str, Any]) -> Child:
    """Start the child as an ordinary process, with no protection beyond limits: for a learner's own notebook."""
    environment = {**os.environ, "TICKBENCH_LEARNER": job.learner, "PYTHONWARNINGS": "ignore"}
    options = {"cwd": job.folder, "env": environment, "start_new_session": True}
    process, events = start_module("simkit.check.run.session", "1", **options)
    feed(process, message)
    return ProcessChild(process, events)


def feed(process: subprocess.Popen[bytes], message: dict[str, Any]) -> None:
    """Give the child its job; a child that is already dead is found out later."""
    assert process.stdin is not None
    try:
        process.stdin.write(json.dumps(message).encode() + b"\n")
        process.stdin.flush()
    except OSError:
        pass


def message_of(job: Job, cells: Sequence[Cell]) -> dict[str, Any]:
    """The job as the child reads it."""
    limits = job.limits
    return {
        "cells": [[cell.index, cell.source] for cell in cells],
        "cell_seconds": limits.cell_seconds,
        "show": job.show,
        "limits": {"memory": limits.memory, "cpu_seconds": limits.cpu_seconds, "file_bytes": limits.file_bytes},
    }


def run_job(job: Job, launch: Launch = launch_plain, judge: Judge | None = None) -> RunResult:
    """Run a job to its end, leaving out cells in which the child dies.

    ``judge`` judges the answers that are code, when all cells have run and nothing more of what they print is kept.
    """
    result = RunResult()
    left_out: set[int] = set()
    until = time.monotonic() + job.limits.seconds
    for _ in range(1 + job.limits.restarts):
        cells = [cell for cell in job.cells if cell.index not in left_out]
        result = _run_once(job, cells, launch, until, result.notes, judge)
        if result.killed_in < 0 or time.monotonic() >= until:
            break
        left_out.add(result.killed_in)
    for index in left_out:
        result.ends.setdefault(index, ("died", f"cell {index + 1} ended the whole program; it was left out"))
    return result


def _run_once(
    job: Job, cells: Sequence[Cell], launch: Launch, until: float, notes: list[str], judge: Judge | None
) -> RunResult:
    result = RunResult(notes=notes)
    reader = _Reader(job, cells, result, until)
    child = launch(job, message_of(job, cells))
    try:
        reader.read(child)
        if judge is not None and reader.done:
            reader.call_functions(child, judge)
    finally:
        os.close(child.events)
        child.kill()
    return result


class _Reader:
    """Reads one child's events until it is done, dead, or over a limit."""

    def __init__(self, job: Job, cells: Sequence[Cell], result: RunResult, until: float) -> None:
        self.job, self.result, self.until = job, result, until
        self.cells = {cell.index: cell for cell in cells}
        self.current = -1
        self.since = time.monotonic()
        self.taken = 0
        self.done = False
        self.live: dict[int, str] = {}  # check cells that gave code, with their exercises
        self.rest = b""

    def read(self, child: Child) -> None:
        buffer = b""
        while not self.done:
            if not readable(child.events, self._patience()):
                return self._stopped("took too long and was stopped")
            block = os.read(child.events, 1 << 20)
            if not block:
                return self._stopped("ended the whole program")
            self.taken += len(block)
            *lines, buffer = (buffer + block).split(b"\n")
            for line in lines:
                self._take(line)
            if self.taken > self.job.limits.output_bytes or len(buffer) > MAX_LINE:
                return self._stopped("gave out too much and was stopped")
        self.rest = buffer

    def call_functions(self, child: Child, judge: Judge) -> None:
        """Judge the answers that are code."""
        limits = self.job.limits
        lines = Lines(child.events, child.commands, self.rest, limits.output_bytes)
        last = {exercise: cell for cell, exercise in self.live.items()}
        for cell in self.live if self.job.every_check else last.values():
            caller = ChildCaller(lines, cell, limits.reply_seconds, limits.live_seconds)
            self.result.live[cell] = judge(self.result.answers[cell], caller)
            caller.close()

    def _patience(self) -> float:
        """Seconds that the child may stay silent: a little more than it allows a cell."""
        now = time.monotonic()
        cell = self.since + self.job.limits.cell_seconds + 5.0 - now
        return max(0.0, min(cell, self.until - now))

    def _stopped(self, why: str) -> None:
        where = f"cell {self.current + 1}" if self.current >= 0 else "the program"
        self.result.note(f"{where} {why}")
        self.result.killed_in = self.current
        if self.current >= 0:
            self.result.ends[self.current] = ("died", f"cell {self.current + 1} {why}")

    def _take(self, line: bytes) -> None:
        try:
            event = json.loads(line)
        except (ValueError, RecursionError):
            return
        if not isinstance(event, dict):
            return
        handler = {
            "start": self._start,
            "output": self._output,
            "answer": self._answer,
            "end": self._end,
            "done": self._finish,
        }.get(str(event.get("event")))
        if handler is not None:
            handler(event)

    def _finish(self, event: dict[str, Any]) -> None:
        self.done = True

    def _start(self, event: dict[str, Any]) -> None:
        index = event.get("cell")
        if isinstance(index, int) and index in self.cells:
            self.current, self.since = index, time.monotonic()

    def _output(self, event: dict[str, Any]) -> None:
        output = event.get("output")
        if isinstance(output, dict) and self.current >= 0:
            self.result.outputs.setdefault(self.current, []).append(output)

    def _answer(self, event: dict[str, Any]) -> None:
        """An answer counts for the exercise that the present cell checks, and for no other."""
        cell = self.cells.get(self.current)
        status, message = event.get("status"), event.get("message")
        if cell is None or event.get("exercise") != cell.exercise or not isinstance(message, str):
            return
        if isinstance(status, str) and status in ("given", "todo", "refused"):
            self.result.answers[cell.index] = Answer(cell.exercise, status, event.get("data"), message[:4000])
            self.live.pop(cell.index, None)
            if status == "given" and event.get("live") is True:
                self.live[cell.index] = cell.exercise

    def _end(self, event: dict[str, Any]) -> None:
        status, note = event.get("status"), event.get("note")
        if self.current < 0 or status not in ("ok", "error", "timeout") or not isinstance(note, str):
            return
        self.result.ends[self.current] = (status, note[:1000])
        self.result.seconds[self.current] = time.monotonic() - self.since
        if status == "timeout":
            self.result.note(
                f"cell {self.current + 1} took longer than {self.job.limits.cell_seconds:g} s and was stopped"
            )
        if event.get("dropped"):
            self.result.note(f"cell {self.current + 1} printed too much: the rest was dropped")
