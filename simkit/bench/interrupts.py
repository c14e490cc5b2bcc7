"""Ctrl-C (a notebook's stop button) must not leave the plant half-way through a step."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Hold back a KeyboardInterrupt until the block of code is done."""
    handler = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(handler):
        yield  # nobody turns Ctrl-C into a KeyboardInterrupt here
        return
    asked: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        asked.append(number)

    signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, handler)
    if asked:
        handler(asked[0], None)
