"""A rig that runs in a thread of its own, so that the page stays alive: start, pause, step, stop, a chosen pace."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from types import TracebackType
from typing import Any

from ..bench.timebase import BLOCKS_PER_S

SLICE_S = 0.04
"""Longest real time between two looks at the controls, s."""

LONGEST_S = 600.0
"""Longest simulated time of one run, s; an endless one pauses there, before its recording fills the memory."""

UPDATE_S = 0.08
"""Real time between two reports while running, s."""

FAR_BEHIND_S = 0.25
"""A run that falls this far behind its pace gives up catching up and tells the pace it reaches, s."""


class Runner:
    """Runs a rig piece by piece.

    Parameters
    ----------
    rig : made by :func:`simkit.bench.load`
    report : called after each piece and when the run ends, from the running thread
    look : called after each block of the bench, from the running thread

    ``pace`` is simulated seconds per real second, 0 for as fast as it goes.  ``reached`` is the pace of late.
    ``lock`` is held while the rig moves; hold it to write registers or read recordings.
    """

    def __init__(self, rig: Any, report: Callable[[], None], look: Callable[[], None] = lambda: None) -> None:
        self.rig, self.report, self.look = rig, report, look
        self.lock = threading.RLock()
        self.pace = 1.0
        self.reached = 0.0
        self.until: int | None = None
        self.begun = 0
        self.trouble = ""
        self._halt = threading.Event()
        self._run: Future[None] | None = None

    @property
    def hz(self) -> float:
        """Ticks per simulated second."""
        return float(self.rig.timebase.hz)

    @property
    def running(self) -> bool:
        """True while the thread moves the rig."""
        return self._run is not None and not self._run.done()

    @property
    def remaining_s(self) -> float | None:
        """Real seconds until a limited run ends, from the pace reached; None for an endless run or one not begun."""
        if self.until is None or not self.reached:
            return None
        return max(self.until - self.rig.ticks, 0) / self.hz / self.reached

    @property
    def done_part(self) -> float | None:
        """Part of a limited run that is over, 0 to 1; None for an endless run."""
        if self.until is None:
            return None
        return (self.rig.ticks - self.begun) / max(self.until - self.begun, 1)

    def start(self, ticks: int | None = None) -> None:
        """Run on for a number of ticks, or until :meth:`pause`.  No effect while running."""
        if self.running:
            return
        self.begun = self.rig.ticks
        self.longest = self.begun + int(LONGEST_S * self.hz)
        self.until = None if ticks is None else self.begun + ticks
        self.trouble = ""
        self._halt.clear()
        self._run = Future()
        self._run.add_done_callback(self._ended)
        # A thread of its own and not a pool: Python waits for the threads of a pool before it ends.
        threading.Thread(target=self._carry, args=(self._run,), name="rig", daemon=True).start()

    def pause(self) -> None:
        """Stop after the piece at hand (a few hundredths of a second) and wait until it has stopped."""
        self._halt.set()
        if self._run is not None:
            self._run.exception(timeout=30)

    def stop(self) -> None:
        """Stop, and forget how far the run was to go."""
        self.pause()
        self.until = None
        self.report()

    def step(self, ticks: int) -> None:
        """Pause, then run exactly this many ticks in the calling thread."""
        self.pause()
        self._halt.clear()
        self._advance(self.rig.ticks + ticks, float("inf"))
        self.report()

    def wait(self, timeout_s: float) -> None:
        """Wait until the run has ended; TimeoutError after so many seconds."""
        if self._run is not None:
            self._run.exception(timeout_s)

    # --- the thread ---

    def _carry(self, run: Future[None]) -> None:
        with _OutcomeTo(run):
            self.rig.runs_in = threading.get_ident()
            try:
                self._loop()
            finally:
                self.rig.runs_in = None

    def _loop(self) -> None:
        began, origin = time.monotonic(), self.rig.ticks
        told, told_ticks = began, origin
        while not self._halt.is_set():
            now = time.monotonic()
            wanted = self._wanted(origin, now - began)
            self._advance(wanted, now + SLICE_S)
            if self.rig.ticks >= (self.longest if self.until is None else self.until):
                break
            now = time.monotonic()
            if now - told >= UPDATE_S:
                self.reached = (self.rig.ticks - told_ticks) / self.hz / (now - told)
                told, told_ticks = now, self.rig.ticks
                self.report()
            if not self.pace or wanted - self.rig.ticks > FAR_BEHIND_S * self.pace * self.hz:
                began, origin = now, self.rig.ticks
            elif self.rig.ticks >= wanted:
                self._halt.wait(0.01)

    def _wanted(self, origin: int, elapsed_s: float) -> int:
        """The tick in which the rig should be by now."""
        if not self.pace:
            wanted = self.rig.ticks + int(self.hz)
        else:
            wanted = origin + int(elapsed_s * self.pace * self.hz)
        return wanted if self.until is None else min(wanted, self.until)

    def _advance(self, tick: int, deadline: float) -> None:
        """Run to a tick, a block of the bench at a time, but not past a moment of real time or a wish to stop."""
        block = max(int(self.hz / BLOCKS_PER_S), 1)
        while self.rig.ticks < tick and time.monotonic() < deadline and not self._halt.is_set():
            with self.lock:
                self.rig.advance_to(min(tick, (self.rig.ticks // block + 1) * block))
                self.look()

    def _ended(self, run: Future[None]) -> None:
        error = run.exception()
        if error is not None:
            self.trouble = f"{type(error).__name__}: {error}"
        elif self.until is None and self.rig.ticks >= self.longest:
            self.trouble = f"paused after {LONGEST_S:g} s of the bench, so that the recording does not fill the memory"
        if self.until is not None and self.rig.ticks >= self.until:
            self.until = None
        self.report()


class _OutcomeTo:
    """Puts the outcome of a block, any failure included, into a future, where the waiting side finds it."""

    def __init__(self, run: Future[None]) -> None:
        self.run = run

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        if error is None:
            self.run.set_result(None)
        else:
            self.run.set_exception(error)
        return True
