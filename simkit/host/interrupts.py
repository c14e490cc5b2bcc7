"""Interrupts: the design calls, the host notices, acts and acknowledges."""

from __future__ import annotations

from ..netlist import Endpoint
from ..units import Duration, s
from .faults import HostTimeout
from .link import Link
from .streams import POLL_S


class Interrupt:
    """One interrupt of the design, seen from the host."""

    def __init__(self, endpoint: Endpoint, link: Link) -> None:
        self.endpoint = endpoint
        self.link = link
        self.name = endpoint.name

    @property
    def pending(self) -> bool:
        """True while the design asks and has not been acknowledged."""
        return bool(self.link.runner.peek(self.endpoint.ports["request"]))

    def wait(self, timeout: Duration | None = None) -> Duration:
        """Wait until the design asks; gives the instant at which the host program goes on.

        The host looks every 0.2 ms or sooner and then takes its reaction time.

        Raises
        ------
        HostTimeout
            If nothing was asked within ``timeout`` (default 1 s of simulated time).
        """
        runner = self.link.runner
        limit = runner.now + (s(1) if timeout is None else timeout)
        last = runner.tick_of(limit)
        step = self.link.ticks_in(min(POLL_S, max(self.link.model.typical_s * 4, 20e-6)))
        while not ((pending := self.pending) and self.link.up()):
            before = runner.ticks
            if before >= last:
                raise HostTimeout(f"interrupt {self.name}: nothing was asked by {limit}")
            idle = 0 if pending else (runner.rests_until() - before) // step  # looks that would see what this one saw
            runner.advance_to(min(before + (idle + 1) * step, last))
        self.link.react()
        return runner.now

    def acknowledge(self) -> None:
        """Tell the design that the host has seen it; its request ends in the next tick unless it asks again."""
        self.link.accesses += 1
        self.link.one_way()
        runner = self.link.runner
        runner.ask(runner.ticks, self.endpoint.ports["acknowledge"], 1)
        self.link.one_way()
