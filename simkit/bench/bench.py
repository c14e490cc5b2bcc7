"""A bench: terminals, a plant behind them, and scripted hands that press switches and drive lines.

The rig (:mod:`simkit.bench.rig`) runs a design on it.  Same seed, same stimuli: the same changes in the same ticks.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping

import numpy as np

from ..netlist import Endpoint
from ..units import Duration, ms
from .digital import DigitalInput, Switch
from .terminals import BenchFault, Input, Level, Output, Terminal, find
from .timebase import Block, Timebase

Time = Duration | int
"""An instant since reset: ``ms(3)``, or a whole number of ticks."""


class Bench:
    """Base of all benches.

    Parameters
    ----------
    seed : decides everything that is random; each channel draws from a stream of its own, so that wiring one more
        channel changes nothing in the others
    """

    def __init__(self, seed: int = 0) -> None:
        if isinstance(seed, bool) or not isinstance(seed, int | np.integer) or seed < 0:
            raise BenchFault(f"seed: a whole number of 0 or more is wanted, not {seed!r}")
        self.seed = int(seed)
        self.terminals: dict[str, Terminal] = {}
        self._script: list[tuple[str, Time, int]] = []
        self._presses = 0
        self.rig: object | None = None

    # --- what a person calls ---

    def drive(self, terminal: str, changes: Iterable[tuple[Time, int]]) -> None:
        """Put raw values on an input terminal at exact times; what the plant does there no longer counts.

        Parameters
        ----------
        terminal : name of an input terminal
        changes : pairs (time since reset, raw value).  On an analog channel each pair is one sample that arrives then.

        Raises
        ------
        BenchFault
            Unknown terminal, an output, a value that the channel cannot deliver, or a time that is over.
        """
        target = self._input(terminal)
        rows = [(terminal, at, self._fitting(target, value)) for at, value in changes]
        target.driven = True
        self._add(rows)

    def pulse(self, terminal: str, at: Time, width: Time, *, count: int = 1, every: Time = 0) -> None:
        """Pulse an input line: away from its idle level at ``at`` for ``width``, ``count`` times, ``every`` apart."""
        target = self._line(terminal)
        changes: list[tuple[Time, int]] = []
        for i in range(count):
            begin = _later(at, every, i)
            changes += [(begin, 1 - target.idle), (_later(begin, width, 1), target.idle)]
        self.drive(terminal, changes)

    def press(self, terminal: str, at: Duration, hold: Duration | None = None, *, bounce: bool = True) -> None:
        """Press a switch at ``at`` and let it go ``hold`` later (default 80 ms).  The contact bounces unless told not."""
        target = self._input(terminal)
        if not isinstance(target, Switch):
            switches = [name for name, one in self.terminals.items() if isinstance(one, Switch)]
            raise BenchFault(f'terminal "{terminal}" is no switch; switches: {", ".join(switches)}')
        level = 1 - target.idle
        hold = ms(80) if hold is None else hold
        random = self.random(f"{terminal} press {self._presses}")
        self._presses += 1
        rows = []
        for instant, value in ((at, level), (at + hold, 1 - level)):
            edges = target.chatter(instant.ps / 10**12, value, random, bounce)
            rows += [(terminal, Duration(when * 10**12), raw) for when, raw in edges]
        self._add(rows)

    def random(self, name: str) -> np.random.Generator:
        """The stream of random numbers that belongs to a name on this bench."""
        return np.random.Generator(np.random.PCG64([self.seed, zlib.crc32(name.encode())]))

    # --- what a rig calls ---

    def wire(self, endpoints: Mapping[str, Endpoint], timebase: Timebase) -> None:
        """Wire a design's endpoints to the terminals they name, all of them checked first, and go back to reset."""
        for endpoint in endpoints.values():
            find(endpoint.terminal, self.terminals).accept(endpoint)
        self.reset()
        for name, terminal in self.terminals.items():
            terminal.bind(endpoints.get(name), timebase)

    def reset(self) -> None:
        """The plant back to its state at reset; benches with a plant extend this."""

    def advance(self, block: Block, levels: Mapping[str, Level]) -> None:
        """Move the plant through a block, given what the design put out during the one before; benches extend this."""
        for name, level in levels.items():
            terminal = self.terminals[name]
            if isinstance(terminal, Output):
                terminal.take(level)

    def script(self) -> list[tuple[str, Time, int]]:
        """All scripted changes so far, in the order in which they were asked for."""
        return self._script

    # --- helpers ---

    def _input(self, name: str) -> Input:
        target = find(name, self.terminals)
        if not isinstance(target, Input):
            raise BenchFault(f'terminal "{name}" is an output of the design: the bench cannot drive it')
        return target

    def _line(self, name: str) -> DigitalInput:
        target = self._input(name)
        if not isinstance(target, DigitalInput):
            raise BenchFault(f'terminal "{name}" is an analog channel; use drive() with sample codes')
        return target

    def _fitting(self, target: Input, value: int) -> int:
        if isinstance(value, bool | np.bool_):
            value = int(value)
        if not isinstance(value, int | np.integer) or not target.type.holds(int(value)):
            raise BenchFault(f'terminal "{target.name}" takes raw {target.type} values from {target.type.low} to '
                             f"{target.type.high}, not {value!r}")
        return int(value)

    def _add(self, rows: list[tuple[str, Time, int]]) -> None:
        if self.rig is not None:
            self.rig.schedule(rows)  # type: ignore[attr-defined]
        self._script += rows


def _later(at: Time, step: Time, times: int) -> Time:
    if not times or not step:
        return at
    if isinstance(at, Duration) != isinstance(step, Duration):
        raise BenchFault("give all times as durations (ms(3)) or all as whole numbers of ticks")
    return at + step * times  # type: ignore[operator]

