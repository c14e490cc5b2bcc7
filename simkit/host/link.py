"""The link between host and design: how long an access takes, and when it is interrupted."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from ..units import Duration, s
from .faults import LinkDown
from .models import HostModel

ACCESS_TIMEOUT_S = 0.5
"""After this time without an answer an access gives up."""


class Runner(Protocol):
    """What the host side needs of whatever runs the design."""

    @property
    def ticks(self) -> int: ...

    @property
    def now(self) -> Duration: ...

    def ask(self, tick: int, port: str, value: int) -> None: ...

    def peek(self, name: str) -> int: ...

    def rests_until(self) -> int: ...

    def advance_to(self, tick: int) -> None: ...

    def tick_of(self, at: Duration) -> int: ...

    @property
    def tick_length(self) -> Duration: ...


class Link:
    """Accesses take the host model's time; while the link is down they fail.

    Parameters
    ----------
    runner : what runs the design
    model : the host's times
    random : where their chance comes from
    """

    def __init__(self, runner: Runner, model: HostModel, random: np.random.Generator) -> None:
        self.runner = runner
        self.model = model
        self.random = random
        self.accesses = 0
        self.dropped = 0
        self._outages: list[tuple[Duration, Duration | None]] = []

    def drop(self, at: Duration | None = None, until: Duration | None = None) -> None:
        """Interrupt the link from ``at`` (default: now) to ``until`` (default: until :meth:`restore`)."""
        self._outages.append((self.runner.now if at is None else at, until))

    def restore(self) -> None:
        """Mend every interruption, from now on."""
        now = self.runner.now
        self._outages = [(start, min(stop or now, now)) for start, stop in self._outages if start < now]

    def up(self, at: Duration | None = None) -> bool:
        """True if the link works at an instant (default: now)."""
        if not self._outages:
            return True
        at = self.runner.now if at is None else at
        return not any(start <= at and (stop is None or at < stop) for start, stop in self._outages)

    def up_in(self, tick: int) -> bool:
        """True if the link works when a tick begins."""
        return not self._outages or self.up(tick * self.runner.tick_length)

    def one_way(self) -> None:
        """Let the time pass that half an access takes; :class:`LinkDown` if the link is (or goes) down."""
        self.pass_time(self.model.delay(self.random) / 2)
        if not self.up():
            self.dropped += 1
            self.pass_time(ACCESS_TIMEOUT_S)
            raise LinkDown(
                f"no answer from the design within {ACCESS_TIMEOUT_S:g} s: the link is down (now {self.runner.now})"
            )

    def react(self) -> None:
        """Let the time pass that the host takes to notice something."""
        self.pass_time(self.model.delay(self.random))

    def pass_time(self, seconds: float) -> None:
        """Run the design on for a while."""
        if seconds > 0:
            self.runner.advance_to(self.runner.ticks + self.ticks_in(seconds))

    def ticks_in(self, seconds: float) -> int:
        """The first tick at or after a time, which counts to the nearest picosecond."""
        if seconds >= 1000:  # from there on floats do not tell picoseconds apart
            return self.runner.tick_of(s(round(seconds, 12)))
        ps, tick = round(round(seconds, 12) * 1e12), self.runner.tick_length.ps  # whole numbers: each access asks
        return -(-ps * tick.denominator // tick.numerator)
