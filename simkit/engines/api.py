"""What every engine offers, so that benches, checks and pictures need not know which one runs.

An engine runs a checked netlist from reset, tick by tick, fed by :class:`Events` and watched by a
:class:`Recording`.  :mod:`simkit.engines.reference` is the meaning; :mod:`simkit.engines.native` is the
speed; both give the same changes at the same ticks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from ..netlist import Netlist


class EngineFault(ValueError):
    """A request that an engine cannot serve: an unknown signal, an event in the past, a value that does not fit."""


@dataclass(frozen=True)
class Events:
    """Changes of inputs, as three arrays of equal length.

    Parameters
    ----------
    tick : int64 array, ticks of the input's own clock, counted from reset; the change is there from the start of that tick
    port : int32 array, index into ``netlist.inputs``
    value : int64 array (object array if an input is wider than 63 bits), raw value

    For each clock the ticks must not decrease.  Two events of one port in one tick: the later one counts.
    """

    tick: np.ndarray
    port: np.ndarray
    value: np.ndarray

    @classmethod
    def of(cls, netlist: Netlist, changes: Iterable[tuple[int, str, int]]) -> Events:
        """Events from ``(tick, input name, raw value)`` in any order; raises :class:`EngineFault` for an unknown name or a value that does not fit."""
        known = {port.name: (i, port.type.low, port.type.high) for i, port in enumerate(netlist.inputs)}
        rows = []
        for tick, name, value in changes:
            if name not in known:
                raise EngineFault(f"there is no input {name!r}; inputs: {', '.join(known) or 'none'}")
            index, low, high = known[name]
            if not low <= value <= high:
                raise EngineFault(f"{value} does not fit input {name!r}, which is {netlist.inputs[index].type}")
            rows.append((tick, index, value))
        rows.sort(key=lambda row: row[0])
        wide = any(port.type.width > 63 for port in netlist.inputs)
        return cls(
            np.array([r[0] for r in rows], np.int64),
            np.array([r[1] for r in rows], np.int32),
            np.array([r[2] for r in rows], object if wide else np.int64),
        )


NO_EVENTS = Events(np.empty(0, np.int64), np.empty(0, np.int32), np.empty(0, np.int64))


@dataclass
class Trace:
    """One recorded signal: its value changed to ``values[i]`` in tick ``ticks[i]`` (of its clock) and held from there on.

    The first entry is the value in tick 0, or in the first tick after the recording began.
    """

    name: str
    ticks: np.ndarray
    values: np.ndarray

    def at(self, tick: int) -> int:
        """Raw value in the given tick; :class:`EngineFault` if the recording begins later."""
        index = int(np.searchsorted(self.ticks, tick, side="right")) - 1
        if index < 0:
            raise EngineFault(f"{self.name!r} was not recorded in tick {tick}")
        return int(self.values[index])


@dataclass
class Recording:
    """Collects the changes of chosen signals.  Engines call :meth:`add`; readers call :meth:`trace`.

    ``add`` may be replaced by a subclass that streams to disk, so that a recording takes bounded memory.
    """

    names: Sequence[str]
    chunks: dict[str, list[tuple[np.ndarray, np.ndarray]]] = field(default_factory=dict)

    def add(self, name: str, ticks: np.ndarray, values: np.ndarray) -> None:
        """Take a block of changes of one signal, later than all before."""
        self.chunks.setdefault(name, []).append((ticks, values))

    def trace(self, name: str) -> Trace:
        """Everything recorded so far of one signal."""
        if name not in self.names:
            raise EngineFault(f"{name!r} was not recorded; recorded: {', '.join(self.names) or 'nothing'}")
        blocks = self.chunks.get(name) or [(np.empty(0, np.int64), np.empty(0, np.int64))]
        if len(blocks) > 1:
            blocks = [(np.concatenate([b[0] for b in blocks]), np.concatenate([b[1] for b in blocks]))]
            self.chunks[name] = blocks
        return Trace(name, *blocks[0])


class Engine(Protocol):
    """A netlist in motion."""

    netlist: Netlist
    seed: int

    def reset(self) -> None:
        """Back to tick 0: every register at its reset value, every input 0."""

    def ticks(self, clock: int = 0) -> int:
        """Ticks of a clock completed since reset."""

    def run(self, ticks: int, events: Events = NO_EVENTS) -> None:
        """Complete ``ticks`` more ticks of clock 0, and every edge of the other clocks up to that edge, coinciding ones included.

        Events not yet due are kept for later runs.  Raises :class:`EngineFault` for an event in the past.
        """

    def rests_until(self) -> int:
        """Ticks of clock 0 up to which every signal keeps the value that it has now, unless an event comes: a safe guess, at least
        the present tick.  For designs of one clock; with several the present tick."""

    def record(self, recording: Recording | None) -> None:
        """Send changes of the recording's signals to it from now on (None: stop).  :class:`EngineFault` for an unknown name."""

    def peek(self, name: str) -> int:
        """Raw value of a signal as the next tick will begin with it (inputs hold, strobes are 0)."""
