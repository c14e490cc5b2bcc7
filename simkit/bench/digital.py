"""Digital channels: lines in and out, a switch whose contact bounces, the once-per-turn pulse of a fan."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from ..netlist import BIT, Endpoint, Type
from .rotor import Rotor
from .terminals import Change, Input, Level, Output, Stream
from .timebase import Block, Timebase


class DigitalOutput(Output):
    """A line that the design drives: a lamp, a relay, a valve."""

    kind = "digital_out"
    faults = ("stuck",)

    def __init__(self, name: str, text: str, type: Type = BIT) -> None:
        super().__init__(name, type, text)

    @property
    def share(self) -> float:
        """Part of the last block during which the line was 1; a stuck one stays where it was."""
        return self._held if self.fault == "stuck" else self.level.mean()

    def take(self, level: Level) -> None:
        if self.fault != "stuck":
            self._held = float(self.level.last)
        super().take(level)

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self._held = 0.0


class DigitalInput(Input):
    """A line that the bench drives, asynchronous to the design's clock.

    Parameters
    ----------
    idle : raw value until something happens; 1 for a line that is active low
    """

    kind = "digital_in"

    def __init__(self, name: str, text: str, type: Type = BIT, idle: int = 0) -> None:
        super().__init__(name, type, text)
        self.idle = idle

    def changes(self, block: Block) -> Iterable[Change]:
        yield from self.at_rest(block)
        yield from self.edges(block)

    def at_rest(self, block: Block) -> Iterable[Change]:
        if block.index == 0 and self.idle:
            yield "value", np.zeros(1, np.int64), np.array([self.idle], np.int64)

    def edges(self, block: Block) -> Iterable[Change]:
        """Changes that the plant makes during the block."""
        return ()


class Switch(DigitalInput):
    """A push button with a contact that bounces.

    Each time it closes or opens, the contact chatters for ``bounce_ms`` before it rests: 3 to 8 extra pairs of
    edges, closer together at first (common practice: a few milliseconds; no source).

    Parameters
    ----------
    active_low : the line is 0 while pressed
    bounce_ms : longest chatter in ms; 0 for a contact that does not bounce
    """

    def __init__(self, name: str, text: str, *, active_low: bool = False, bounce_ms: float = 4.0) -> None:
        super().__init__(name, text, idle=int(active_low))
        self.bounce_ms = bounce_ms

    def chatter(
        self, at: Fraction, level: int, random: np.random.Generator, bounce: bool
    ) -> list[tuple[Fraction, int]]:
        """Instants (seconds) and line values of one change to ``level``, chatter included; the first is at ``at``."""
        edges = [(at, level)]
        if bounce and self.bounce_ms > 0:
            pairs = int(random.integers(3, 9))
            where = np.sort(random.uniform(0.01, 1.0, 2 * pairs) ** 1.5) * self.bounce_ms * 1e6
            for i, nanoseconds in enumerate(where.tolist()):
                edges.append((at + Fraction(round(nanoseconds), 10**9), level if i % 2 else 1 - level))
        return edges


class TurnPulse(DigitalInput):
    """A pulse sensor that sees one mark on a fan's hub: 1 while the mark is in front of it.

    Parameters
    ----------
    width_turns : width of the mark, as a part of a turn
    jitter_s : r.m.s. scatter of each edge in seconds; edges then also come four times that later
    """

    faults = ("missing",)

    def __init__(
        self, name: str, text: str, rotor: Rotor, random: Stream, *, width_turns: float = 0.05, jitter_s: float = 0.0
    ) -> None:
        super().__init__(name, text)
        self.rotor = rotor
        self._stream = random
        self._random = random(name)
        self.width = Fraction(round(width_turns * 2**20), 2**20)
        self.jitter_s = jitter_s
        self._hidden = False

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self._random = self._stream(self.name)
        self._hidden = False

    def edges(self, block: Block) -> Iterable[Change]:
        marks = [(at, 1) for at in self.rotor.passings(Fraction(0))]
        marks += [(at, 0) for at in self.rotor.passings(self.width)]
        seen = [(at, value) for at, value in sorted(marks) if self._sees(value)]
        if seen:
            ticks = [block.timebase.tick_at(block.start_s + at + self._scatter()) for at, _ in seen]
            yield "value", np.array(ticks, np.int64), np.array([value for _, value in seen], np.int64)

    def _sees(self, value: int) -> bool:
        if value:
            self._hidden = self.fault == "missing"
        return not self._hidden

    def _scatter(self) -> Fraction:
        if not self.jitter_s:
            return Fraction(0)
        return Fraction(float(np.clip(self._random.normal(), -4, 4) + 4) * self.jitter_s)
