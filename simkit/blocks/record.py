"""Triggers, and a record that begins before the trigger."""

from __future__ import annotations

from ..lang import Design, Ram, Reg, bit, operation, unsigned
from ..netlist import Type, make
from .average import log2_of


class LevelTrigger(Design):
    """A signal crosses a level upwards, after it has been below the level less a hysteresis.

    ``step(x)`` returns 1 in the step of the crossing.  Latency 0 ticks.  With noise, a hysteresis larger than its
    peak-to-peak value keeps it from triggering twice.

    Parameters
    ----------
    kind : type of the samples (signed or unsigned)
    level, hysteresis : in counts; the hysteresis is 0 or more, and the level less it is still a value of ``kind``
    """

    armed = Reg(bit)

    def __init__(self, kind: Type, level: int, hysteresis: int = 0) -> None:
        if hysteresis < 0 or not kind.holds(level) or not kind.holds(level - hysteresis):
            raise ValueError(f"LevelTrigger: level {level} less {hysteresis} must be values of {kind}")
        self.level = level
        self.below = level - hysteresis

    @operation
    def step(self, x):
        fires = self.armed and x >= self.level
        if fires:
            self.armed = 0
        elif x < self.below:
            self.armed = 1
        return fires


class LineTrigger(Design):
    """Several lines take a pattern at once.

    ``step(lines)`` takes unsigned(n) and returns 1 in the step in which ``lines & mask`` becomes ``value``.  Latency 0
    ticks. The lines must have come through synchronisers of their own; they may then be one step apart.

    Parameters
    ----------
    n : number of lines, 1 to 64
    mask, value : which lines count, and their levels (bit i is line i)
    """

    before = Reg(bit, reset=1)

    def __init__(self, n: int, mask: int, value: int) -> None:
        if not 1 <= n <= 64 or not 0 < mask < 2**n or value & ~mask:
            raise ValueError(
                f"LineTrigger: of {n} lines mask {mask:#x} and value {value:#x}; the mask has 1 to n bits and the "
                "value has none outside it"
            )
        self.mask, self.value = mask, value

    @operation
    def step(self, lines):
        now = (lines & self.mask) == self.value
        fires = now and not self.before
        self.before = now
        return fires


class Recorder(Design):
    """Keeps ``depth`` samples around a trigger, ``before`` of them from before it.

    ``step(x, trigger)`` stores a sample per call; a trigger counts once ``before`` samples are there.  ``done`` is 1
    when the record is complete; further samples are then ignored until ``arm()``.  ``read(i)`` gives sample ``i`` of a
    complete record, 0 the oldest; the sample of the trigger is number ``before``.

    Latency: ``step`` 0 ticks (one memory write), ``read`` 1 tick (sequenced loops only).

    Parameters
    ----------
    kind : type of the samples
    depth : a power of two, 2 to 65536
    before : 0 to depth - 1
    """

    done = Reg(bit)
    triggered = Reg(bit)

    def __init__(self, kind: Type, depth: int, before: int) -> None:
        bits = log2_of(depth, "Recorder", 65536)
        if not 0 <= before < depth:
            raise ValueError(f"Recorder: before is {before}; 0 to {depth - 1} is possible")
        self.address = make("unsigned", bits)
        self.before, self.after = before, depth - before
        self.store = Ram(kind, depth)
        self.at = Reg(self.address)
        self.count = Reg(unsigned(bits + 1))

    @operation
    def arm(self):
        self.done = 0
        self.triggered = 0
        self.count = 0

    @operation
    def step(self, x, trigger):
        count = self.count
        begins = trigger and not self.triggered and count == self.before
        left = self.after - 1 if begins else count - 1
        if not self.done:
            self.store[self.at] = x
            self.at = self.at + 1
            if begins or self.triggered:
                self.triggered = 1
                self.count = left
                self.done = left == 0
            elif count != self.before:
                self.count = count + 1

    @operation
    def read(self, i):
        v = self.store.read(self.at + i)
        return v
