"""The parent's end of calls to functions in a child: within limits, trusting nothing that comes back."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator
from typing import Any

from ..judging import Answer
from ..live.call import UNREADABLE, Gone
from ..live.serve import heads
from .pipes import readable, write_all

Judge = Callable[[Answer, "ChildCaller"], Any]
"""Judges a live answer by calling it; gives the verdict."""

MAX_LINE = 24 * 1024 * 1024


class ChildCaller:
    """Calls the functions of one answer, in the copy that the child keeps of it.

    Parameters
    ----------
    commands, events : descriptors to and from the child; ``rest`` is what was read of its events already
    cell : the cell whose copy is meant
    reply_seconds : how long the child may stay silent in a call
    seconds : how long it may take in all
    """

    def __init__(self, child: Any, cell: int, reply_seconds: float, seconds: float) -> None:
        self._child, self._cell = child, cell
        self._reply_seconds, self._seconds, self._left = reply_seconds, seconds, seconds
        self._why = ""
        self._to, self._from = heads(cell)

    def carry(self, said: bytes) -> bytes:
        """Carry a message (JSON in one line) to the copy; gives what it says then, as it came.  :class:`Gone` if it says nothing.

        What comes is at most ``MAX_LINE`` long, and otherwise trusted in nothing: whoever reads it looks whether it is JSON.
        """
        if self._why:
            raise Gone(self._why)
        begun = time.monotonic()
        limit = begun + min(self._reply_seconds, max(self._left, 0.0))
        try:
            write_all(self._child.commands, self._to + said + b"}\n", limit)
            return self._reply(limit)
        except TimeoutError:
            limits = self._reply_seconds, self._seconds
            self._lost(f"took longer than {limits[0]:g} s on end, or {limits[1]:g} s in all, and was stopped")
        except (OSError, ValueError, RecursionError):
            self._lost(UNREADABLE)
        finally:
            self._left -= time.monotonic() - begun
        raise Gone(self._why)

    def _reply(self, limit: float) -> bytes:
        for line in self._child.lines(limit):
            if line.startswith(self._from) and line.endswith(b"}"):
                return line[len(self._from) : -1]
            event = json.loads(line)
            if not isinstance(event, dict) or event.get("of") != self._cell:
                continue
            if event.get("event") == "gone":
                raise OSError
            if event.get("event") == "live" and isinstance(event.get("say"), dict):
                return json.dumps(event["say"]).encode()
        raise OSError

    def _lost(self, why: str) -> None:
        self._why = why

    def close(self) -> None:
        """Let the child end the copy."""
        try:
            write_all(self._child.commands, b'{"stop": %d}\n' % self._cell, time.monotonic() + 1.0)
        except (OSError, TimeoutError):
            pass  # it is gone, or will be with the child


class Lines:
    """The lines that come from a child after its cells are done."""

    def __init__(self, events: int, commands: int, rest: bytes, room: int) -> None:
        self.events, self.commands = events, commands
        self._rest, self._room = rest, room
        self._ready: list[bytes] = []

    def lines(self, limit: float) -> Iterator[bytes]:
        """Line after line; TimeoutError when none has come by ``limit``, OSError when none will or too much came."""
        while True:
            while self._ready:
                yield self._ready.pop(0)
            if not readable(self.events, limit - time.monotonic()):
                raise TimeoutError
            block = os.read(self.events, 1 << 20)
            self._room -= len(block)
            if not block or self._room < 0 or len(self._rest) > MAX_LINE:
                raise OSError
            *self._ready, self._rest = (self._rest + block).split(b"\n")
