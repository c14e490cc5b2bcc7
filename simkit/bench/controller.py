"""The bench turned round: a fan controller on the table, and the design plays the fan (hardware in the loop).

The controller is invented.  It works in cycles of 10 ms, like a small programmable controller:

* it counts the time from one rising edge of ``pulse`` to the next and from that the speed;
* a PI rule (with the integral held at the limits) makes the speed command, 0 to 10 V at ``command``;
* it trips (``trip`` goes to 1 and stays, the command to 0) when the r.m.s. voltage at ``vibration`` has been above
  ``limit_v`` for ``hold_s``, or when, with a command of 1 V or more, no pulse has come for ``stall_s``;
* ``run`` at 0 stops it and forgets a trip.

``fault`` breaks one of these promises, so that a test of the controller has something to find.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from fractions import Fraction

import numpy as np

from ..dsp import Pid
from .analog import AnalogInput, AnalogOutput
from .bench import Bench
from .converter import Converter
from .digital import DigitalInput, DigitalOutput
from .sensors import Sensor
from .terminals import BenchFault, Change, Level
from .timebase import BLOCK_S, Block

FAULTS = {
    "": "keeps every promise",
    "deaf": "does not listen to the vibration",
    "late": "trips ten times as late as promised",
    "blind": "does not notice that pulses have stopped",
    "forgetful": "leaves the tripped state when the vibration is gone",
    "winding": "lets its integral run on while the command is at its limit",
}
"""What can be wrong with the controller."""

AVERAGE_BLOCKS = 2
"""Over how many cycles the vibration is averaged."""


class Controller:
    """The controller's program, one call a cycle."""

    def __init__(self, setpoint_rpm: float, limit_v: float, hold_s: float, stall_s: float, fault: str) -> None:
        if fault not in FAULTS:
            raise BenchFault(f"the controller has no fault {fault!r}; faults: {', '.join(f for f in FAULTS if f)}")
        self.setpoint_rpm, self.limit_v, self.fault = setpoint_rpm, limit_v, fault
        self.hold_s = hold_s * (10 if fault == "late" else 1)
        self.stall_s = stall_s
        self.reset()

    def reset(self) -> None:
        """As after power-on."""
        self.tripped = False
        self.command_v = 0.0
        self.speed_rpm = 0.0
        self._pid = Pid(2e-3, 15e-3, 0.0, BLOCK_S, 0.0, 10.0, "none" if self.fault == "winding" else "hold")
        self._squares: deque[float] = deque(maxlen=AVERAGE_BLOCKS)
        self._over_s = 0.0
        self._edge_s: float | None = None
        self._silent_s = 0.0

    def cycle(self, run: bool, edges_s: Iterable[float], mean_square: float) -> None:
        """One cycle: whether it shall run, instants of rising pulse edges since the last one, mean of vibration
        squared.
        """
        if not run:
            self.reset()
            return
        self._count(list(edges_s))
        self._squares.append(mean_square)
        shakes = sum(self._squares) / len(self._squares) > self.limit_v**2 and self.fault != "deaf"
        self._over_s = self._over_s + BLOCK_S if shakes else 0.0
        stalled = self._silent_s >= self.stall_s and self.fault != "blind"
        if self._over_s >= self.hold_s or stalled:
            self.tripped = True
        elif self.fault == "forgetful" and not shakes:
            self.tripped = False
        self.command_v = 0.0 if self.tripped else self._pid.step(self.setpoint_rpm - self.speed_rpm)

    def _count(self, edges_s: list[float]) -> None:
        for at in edges_s:
            if self._edge_s is not None and at > self._edge_s:
                self.speed_rpm = 60.0 / (at - self._edge_s)
            self._edge_s = at
        waits = self.command_v >= 1.0 and not edges_s
        self._silent_s = self._silent_s + BLOCK_S if waits else 0.0
        if self._silent_s > 0.5 * self.stall_s:
            self.speed_rpm = 0.0


class _CommandSensor(Sensor):
    """The controller's output voltage."""

    def __init__(self, controller: Controller) -> None:
        self.controller = controller

    def volts(self, block: Block, seconds: np.ndarray, fault: str) -> np.ndarray:
        return np.full(len(seconds), self.controller.command_v)


class _TripLine(DigitalInput):
    """The controller's trip contact; it changes at the beginning of a cycle."""

    def __init__(self, controller: Controller) -> None:
        super().__init__("trip", "the controller has tripped")
        self.controller = controller

    def edges(self, block: Block) -> Iterable[Change]:
        yield "value", np.array([block.start], np.int64), np.array([int(self.controller.tripped)], np.int64)


class ControllerBench(Bench):
    """A fan controller under test.  The design plays the fan.

    Terminals: ``run`` (digital output), ``pulse`` (digital output: the once-per-turn pulse that the design makes),
    ``vibration`` (analog output: the accelerometer's voltage), ``command`` (analog input, 0 to 10 V), ``trip`` (digital
    input).

    Parameters
    ----------
    seed : decides noise and calibration
    setpoint_rpm : speed that the controller shall hold, r/min
    limit_v, hold_s : it trips above this vibration (V r.m.s.), held for so long (s)
    stall_s : it trips after so long without a pulse (s)
    fault : what is wrong with it, see ``FAULTS``; empty for nothing
    """

    def __init__(
        self,
        seed: int = 0,
        *,
        setpoint_rpm: float = 1480.0,
        limit_v: float = 0.5,
        hold_s: float = 0.05,
        stall_s: float = 0.5,
        fault: str = "",
    ) -> None:
        super().__init__(seed)
        self.controller = Controller(setpoint_rpm, limit_v, hold_s, stall_s, fault)
        self._add(DigitalOutput("run", "lets the controller run"))
        self._add(DigitalOutput("pulse", "the controller's pulse input"))
        self._add(AnalogOutput("vibration", "the controller's vibration input", self.random("vibration")))
        slow = Converter(16, 10.0, Fraction(1000), 0, 200e-6, 1e-3, 1e-3, False, 0.0)
        self._add(
            AnalogInput(
                "command",
                "the controller's speed command, 0 to 10 V",
                _CommandSensor(self.controller),
                slow,
                self.random,
            )
        )
        self._add(_TripLine(self.controller))

    def reset(self) -> None:
        self.controller.reset()

    def advance(self, block: Block, levels: Mapping[str, Level]) -> None:
        super().advance(block, levels)
        run, pulse, shake = (self.terminals[name] for name in ("run", "pulse", "vibration"))
        assert isinstance(run, DigitalOutput) and isinstance(pulse, DigitalOutput) and isinstance(shake, AnalogOutput)
        level = pulse.level
        rising = level.ticks[(level.values == 1) & (np.concatenate(([level.first], level.values[:-1])) == 0)]
        square = float(np.mean(shake.volts_at(np.arange(1, 50) * (BLOCK_S / 50)) ** 2)) if shake.bound else 0.0
        self.controller.cycle(run.share > 0.5, (rising / float(block.timebase.hz)).tolist(), square)
