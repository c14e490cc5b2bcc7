"""What a bench offers to be wired: named terminals, each with the kind and the width of its channel."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from ..netlist import Endpoint, Type
from .timebase import Block, Timebase


class BenchFault(ValueError):
    """A request that a bench cannot serve: an unknown terminal, a design wired wrongly, a value out of range."""


Stream = Callable[[str], np.random.Generator]
"""Gives the random numbers that belong to a name, from their beginning."""

Change = tuple[str, np.ndarray, np.ndarray]
"""Changes of one port of a channel: role ("value", "valid", "ready"), ticks (int64), raw values (int64)."""


_NOTHING = np.empty(0, np.int64)


@dataclass(slots=True)
class Level:
    """What an output did during block ``block``: ``first`` raw value, then ``values[i]`` from ``ticks[i]`` on."""

    block: int
    first: int
    start: int
    stop: int
    ticks: np.ndarray
    values: np.ndarray

    @classmethod
    def still(cls, value: int, block: int = -1) -> Level:
        """An output that did nothing."""
        return cls(block, value, 0, 1, _NOTHING, _NOTHING)

    @property
    def last(self) -> int:
        """Raw value at the end of the block."""
        return int(self.values[-1]) if len(self.values) else self.first

    def mean(self) -> float:
        """Average over the block: what a pulse-width modulated line amounts to."""
        if not len(self.ticks):
            return float(self.first)
        edges = np.concatenate(([self.start], self.ticks, [self.stop]))
        levels = np.concatenate(([self.first], self.values))
        return float(np.dot(np.diff(edges), levels)) / (self.stop - self.start)

    def at(self, ticks: np.ndarray) -> np.ndarray:
        """Raw values in the given ticks of the block."""
        levels = np.concatenate(([self.first], self.values))
        return levels[np.searchsorted(self.ticks, ticks, side="right")]


class Terminal:
    """One terminal: its name, its channel's kind (as in :class:`simkit.netlist.Endpoint`) and number type.

    A channel that the design is wired to is *bound*; only bound channels are asked for changes.
    """

    kind = ""
    faults: tuple[str, ...] = ()
    """Faults that can be injected here."""

    def __init__(self, name: str, type: Type, text: str) -> None:
        self.name = name
        self.type = type
        self.text = text
        self.bound: Endpoint | None = None
        self.driven = False
        self.fault = ""
        """The fault that is there now; empty for none."""

    def accept(self, endpoint: Endpoint) -> None:
        """Refuse a design's endpoint that does not fit this channel."""
        if endpoint.kind != self.kind:
            raise BenchFault(
                f'terminal "{self.name}" is {spoken(self.kind)}; {endpoint.name} ({endpoint.loc}) '
                f"is declared as {spoken(endpoint.kind)}"
            )

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        """Wire the design's endpoint (None: nothing) and go back to the state at reset."""
        self.bound = endpoint
        self.fault = ""

    def changes(self, block: Block) -> Iterable[Change]:
        """Changes that this channel makes to the design's inputs, from this block on."""
        return ()

    def at_rest(self, block: Block) -> Iterable[Change]:
        """The changes that are left when a script drives the terminal instead of the plant."""
        return ()


class Input(Terminal):
    """A channel that delivers raw values to the design."""

    def accept(self, endpoint: Endpoint) -> None:
        super().accept(endpoint)
        low, high = self.type.low, self.type.high
        if not (endpoint.type.holds(low) and endpoint.type.holds(high)):
            raise BenchFault(
                f'terminal "{self.name}" delivers {self.type} values, {low} to {high}; '
                f"{endpoint.name} ({endpoint.loc}) is {endpoint.type} and cannot hold them all"
            )


class Output(Terminal):
    """A channel that takes raw values from the design; ``level`` is what it was given during the last block."""

    def __init__(self, name: str, type: Type, text: str) -> None:
        super().__init__(name, type, text)
        self.level = Level.still(0)

    def take(self, level: Level) -> None:
        """Take what the design put out during the block before."""
        self.level = level

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self.level = Level.still(0)


def spoken(kind: str) -> str:
    """An endpoint's kind in words: ``an analog input``."""
    words = kind.replace("_", " ")
    words += "put" if words.endswith((" in", " out")) else ""
    return f"{'an' if words[:1] in 'aeiou' else 'a'} {words}"


def find(name: str, terminals: Mapping[str, Terminal]) -> Terminal:
    """The terminal of a name; :class:`BenchFault` that says which ones there are."""
    if name in terminals:
        return terminals[name]
    close = difflib.get_close_matches(name, terminals, 1)
    guess = f'; did you mean "{close[0]}"?' if close else "."
    raise BenchFault(f'there is no terminal "{name}" on this bench{guess} Terminals: {", ".join(terminals)}')
