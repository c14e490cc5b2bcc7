"""Copies of the learner's process that wait until the judge calls a function in them.

A copy is forked when the check's cell runs, so it holds the function as it was then, and what it learns from a call (private
inputs) cannot get into the notebook's outputs.  The process that runs the cells passes lines between its parent and the
copies, and outlives a copy that dies, stalls or floods.

Lines from the parent: ``{"to": cell, "say": message}`` and ``{"stop": cell}``.  Events to the parent: ``live`` with ``of`` (the
cell) and ``say``; ``gone`` with ``of``.  What is said passes as it came, between :func:`heads`: hundreds of lines go through
here in a call, and reading each of them twice would cost more than the calls.
"""

from __future__ import annotations

import functools
import json
import os
import select
import signal
import socket
import sys
from collections.abc import Callable, Mapping
from typing import BinaryIO

from .call import Function, Message, run_call

MAX_LINE = 24 * 1024 * 1024


class Here:
    """The functions themselves, on a system that cannot fork (Windows): for a learner's own notebook that is enough."""

    def __init__(self) -> None:
        self._there: dict[int, Mapping[str, Function]] = {}

    def __bool__(self) -> bool:
        return bool(self._there)

    def make(self, cell: int, functions: Mapping[str, Function]) -> bool:
        """Keep the functions of a cell."""
        self._there[cell] = functions
        return True

    def serve(self, commands: int, events: int, send: Callable[..., None]) -> None:
        """Answer calls until the parent hangs up."""
        with open(commands, "rb") as lines:
            for text in lines:
                command = json.loads(text)
                if "stop" in command:
                    self._there.pop(command["stop"], None)
                elif command["to"] in self._there:
                    self._answer(command["to"], command["say"], lines, send)
                else:
                    send("gone", of=command["to"])

    def _answer(self, cell: int, message: Message, lines: BinaryIO, send: Callable[..., None]) -> None:
        def ask(question: Message) -> Message:
            send("live", of=cell, say={"ask": question})
            return json.loads(lines.readline())["say"]

        send("live", of=cell, say=run_call(self._there[cell], message, ask))


class Copies:
    """The waiting copies, by the cell in which each was made."""

    def __init__(self) -> None:
        self._there: dict[int, tuple[int, socket.socket]] = {}

    def __bool__(self) -> bool:
        return bool(self._there)

    def make(self, cell: int, functions: Mapping[str, Function]) -> bool:
        """Fork one; an older one of the same cell ends.  False if there can be no more processes."""
        self.stop(cell)
        ours, theirs = socket.socketpair()
        try:
            pid = os.fork()
        except OSError:
            ours.close()
            theirs.close()
            return False
        if pid == 0:
            ours.close()
            _be_copy(theirs, functions)
        theirs.close()
        self._there[cell] = (pid, ours)
        return True

    def stop(self, cell: int) -> None:
        """End a copy, if it is there."""
        pid, line = self._there.pop(cell, (0, None))
        if line is not None:
            line.close()
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)

    def serve(self, commands: int, events: int, send: Callable[..., None]) -> None:
        """Pass lines on until the parent hangs up."""
        waiting = {commands: b""}
        while True:
            lines = {line.fileno(): cell for cell, (_, line) in self._there.items()}
            for fd in select.select([commands, *lines], [], [])[0]:
                block = _read(fd)
                if not block and fd == commands:
                    return
                whole, waiting[fd] = _cut(waiting.get(fd, b"") + block)
                for text in whole:
                    if fd == commands:
                        self._obey(text, send)
                    else:
                        write(events, heads(lines[fd])[1] + text + b"}\n")
                if not block or len(waiting[fd]) > MAX_LINE:
                    waiting.pop(fd)
                    self._lose(lines[fd], send)

    def _obey(self, command: bytes, send: Callable[..., None]) -> None:
        for cell, (_, line) in self._there.items():
            head = heads(cell)[0]
            if command.startswith(head):
                try:
                    line.sendall(command[len(head) : -1] + b"\n")
                except OSError:
                    self._lose(cell, send)
                return
        order = json.loads(command)
        self.stop(order["stop"]) if "stop" in order else send("gone", of=order["to"])

    def _lose(self, cell: int, send: Callable[..., None]) -> None:
        self.stop(cell)
        send("gone", of=cell)


@functools.lru_cache(maxsize=64)
def heads(cell: int) -> tuple[bytes, bytes]:
    """How a line begins that says something to the copy of a cell, and one that tells what it says; each ends with ``}``."""
    return b'{"to": %d, "say": ' % cell, b'{"event": "live", "of": %d, "say": ' % cell


def write(fd: int, data: bytes) -> None:
    """Write all of it."""
    view = memoryview(data)
    while view:
        view = view[os.write(fd, view) :]


def _read(fd: int) -> bytes:
    try:
        return os.read(fd, 1 << 20)
    except OSError:
        return b""


def _cut(data: bytes) -> tuple[list[bytes], bytes]:
    *whole, rest = data.split(b"\n")
    return whole, rest


def _be_copy(line: socket.socket, functions: Mapping[str, Function]) -> None:
    """Answer calls until the line is cut.  Never returns."""
    try:
        signal.setitimer(signal.ITIMER_REAL, 0)
        _keep_only(line.fileno())
        null = open(os.devnull, "w")  # noqa: SIM115  stands for the streams of a process that says nothing
        sys.stdout = sys.stderr = null
        file = line.makefile("rb")

        def ask(question: Message) -> Message:
            line.sendall(json.dumps({"ask": question}).encode() + b"\n")
            return json.loads(file.readline())

        for text in file:
            line.sendall(json.dumps(run_call(functions, json.loads(text), ask)).encode() + b"\n")
    finally:
        os._exit(0)


def _keep_only(fd: int) -> None:
    """Close the descriptors on which the notebook's own process talks to its parent."""
    os.closerange(3, fd)
    os.closerange(fd + 1, 4096)
