"""A bench: terminals, a plant behind them, and scripted hands that press switches, drive lines and break things.

The rig (:mod:`simkit.bench.rig`) runs a design on it.  Same seed, same stimuli: the same changes in the same ticks.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from typing import Protocol

import numpy as np

from ..netlist import Endpoint
from ..units import Duration, ms, s
from .analog import AnalogInput, AnalogOutput
from .converter import Calibration
from .digital import DigitalInput, Switch
from .sensors import Generator, Sensor, Tone
from .terminals import BenchFault, Input, Level, Output, Terminal, find
from .timebase import BLOCKS_PER_S, Block, Timebase

Time = Duration | int
"""An instant since reset: ``ms(3)``, or a whole number of ticks."""


class Runner(Protocol):
    """What a bench needs of the rig that runs a design on it."""

    def schedule(self, rows: Iterable[tuple[str, Time, int]]) -> None: ...

    @property
    def now(self) -> Duration: ...

    @property
    def ahead(self) -> int: ...


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
        self.rig: Runner | None = None
        self._script: list[tuple[str, Time, int]] = []
        self._presses = 0
        self._faults: list[tuple[int, int, str, str]] = []

    # --- what hands do ---

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
        low, high = target.type.low, target.type.high
        rows = [
            (terminal, at, value if type(value) is int and low <= value <= high else _fitting(target, value))
            for at, value in changes
        ]
        self._add_script(rows)
        target.driven = True

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
        random = self.random(f"{terminal} press {self._presses}")
        rows: list[tuple[str, Time, int]] = []
        for instant, value in ((at, level), (at + (ms(80) if hold is None else hold), 1 - level)):
            edges = target.chatter(instant.ps / 10**12, value, random, bounce)
            rows += [(terminal, Duration(when * 10**12), raw) for when, raw in edges]
        self._add_script(rows)
        self._presses += 1

    def send(self, terminal: str, data: bytes, at: Duration, baud: float = 9600) -> None:
        """Send bytes on a serial line, 8 data bits, lowest first, no parity, one stop bit, without pauses."""
        bits = [1]
        for byte in data:
            bits += [0, *((byte >> i) & 1 for i in range(8)), 1]
        self._line(terminal)
        period = s(1) / baud
        self.drive(terminal, [(at + period * (i - 1), bit) for i, bit in enumerate(bits) if i and bit != bits[i - 1]])

    def generate(self, terminal: str, *tones: Tone | tuple[float, ...], offset_v: float = 0.0) -> None:
        """Put a signal generator in the place of an analog terminal's sensor: sines of (hz, volts peak, phase in
        degrees).
        """
        target = self._input(terminal)
        if not isinstance(target, AnalogInput):
            raise BenchFault(f'terminal "{terminal}" is a digital line; use drive() or pulse()')
        target.sensor = Generator([Tone(*tone) for tone in tones], offset_v)
        target.faults = ()
        if target.bound is not None:
            target.sensor.begin(target.converter, self.random(f"{terminal} generator"))

    def fault(self, terminal: str, kind: str, at: Duration | None = None, until: Duration | None = None) -> None:
        """Break something at ``at`` (default: from the start), and mend it at ``until`` (default: never).

        Faults take effect at the next multiple of 10 ms.  Which kinds there are depends on the terminal: ``open`` (a
        broken wire), ``loose`` (an accelerometer on its stud), ``missing`` (pulses), ``stuck`` (a relay or valve that
        stays as it is), ``dead`` (a drive without power).
        """
        target = find(terminal, self.terminals)
        if kind not in target.faults:
            raise BenchFault(
                f'terminal "{terminal}" cannot have the fault {kind!r}; '
                f"faults here: {', '.join(target.faults) or 'none'}"
            )
        start = _block_of(ms(0) if at is None else at)
        if self.rig is not None and start < self.rig.now.ps * BLOCKS_PER_S / 10**12:
            raise BenchFault(f"fault: {at or ms(0)} is over, the rig is at {self.rig.now}")
        late = 0 if self.rig is None else max(self.rig.ahead - start, 0)  # after an interrupt the plant may be ahead
        self._faults.append((start + late, -1 if until is None else _block_of(until) + late, terminal, kind))

    # --- what a person reads ---

    def calibration(self, terminal: str) -> Calibration:
        """The constants stored with an analog channel: volts per code and the code of 0 V."""
        target = find(terminal, self.terminals)
        if not isinstance(target, AnalogInput | AnalogOutput):
            raise BenchFault(f'terminal "{terminal}" is digital and has no calibration')
        return target.calibration

    def sensor(self, terminal: str) -> Sensor:
        """The sensor at an analog input: ``volts_per_unit``, ``unit``."""
        target = self._input(terminal)
        if not isinstance(target, AnalogInput):
            raise BenchFault(f'terminal "{terminal}" is digital and has no sensor with a scale')
        return target.sensor

    def describe(self) -> str:
        """The terminals as a Markdown table: name, kind, type, what is there, faults that can be injected."""
        rows = [
            f"| {t.name} | {t.kind.replace('_', ' ')} | {t.type} | {t.text} | {', '.join(t.faults)} |"
            for t in self.terminals.values()
        ]
        return "\n".join(
            ["| terminal | kind | values | what is there | faults |", "| --- | --- | --- | --- | --- |", *rows]
        )

    def _repr_markdown_(self) -> str:
        return self.describe()

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
        for start, stop, name, kind in self._faults:
            if start == block.index:
                self.terminals[name].fault = kind
            elif stop == block.index:
                self.terminals[name].fault = ""
        for name, level in levels.items():
            terminal = self.terminals[name]
            if isinstance(terminal, Output):
                terminal.take(level)

    def script(self) -> list[tuple[str, Time, int]]:
        """All scripted changes so far, in the order in which they were asked for."""
        return self._script

    # --- helpers ---

    def _add(self, terminal: Terminal) -> None:
        self.terminals[terminal.name] = terminal

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

    def _add_script(self, rows: list[tuple[str, Time, int]]) -> None:
        if self.rig is not None:
            self.rig.schedule(rows)
        self._script += rows


def _fitting(target: Input, value: int) -> int:
    if isinstance(value, bool | np.bool_):
        value = int(value)
    if not isinstance(value, int | np.integer) or not target.type.holds(int(value)):
        raise BenchFault(
            f'terminal "{target.name}" takes raw {target.type} values from {target.type.low} to '
            f"{target.type.high}, not {value!r}"
        )
    return int(value)


def _block_of(at: Duration) -> int:
    """The first block that begins at or after an instant."""
    scaled = at.ps * BLOCKS_PER_S / 10**12
    return -(-scaled.numerator // scaled.denominator)


def _later(at: Time, step: Time, times: int) -> Time:
    if not times or not step:
        return at
    if isinstance(at, Duration) != isinstance(step, Duration):
        raise BenchFault("give all times as durations (ms(3)) or all as whole numbers of ticks")
    return at + step * times  # type: ignore[operator]
