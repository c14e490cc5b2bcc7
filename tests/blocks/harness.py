"""Runs a block's ``step`` once per tick, in both engines, which must agree."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from simkit import Design, DigitalIn, DigitalOut, bit, clocked
from simkit.netlist import Type
from tests.lang.running import Run


def stepped(block: Design, inputs: Sequence[int], kind: Type = bit, result: Type = bit) -> tuple[list[int], Run]:
    """What ``block.step(x)`` returns for each raw input, one per tick."""

    class Top(Design):
        x = DigitalIn("x", kind, sync=0)
        y = DigitalOut("y", result)

        def __init__(self) -> None:
            self.block = block

        @clocked
        def go(self):
            v = self.block.step(self.x)
            self.y = v

    run = Run(Top(), len(inputs) + 1, [(tick, "x", int(value)) for tick, value in enumerate(inputs)])
    return run.values("y")[1:], run


def per_sample(make: Callable[[], Any], inputs: Sequence[int], gap: int) -> Run:
    """Runs a design that reads ``AnalogIn`` ``x``: a raw sample every ``gap`` ticks."""
    events = [
        row
        for i, value in enumerate(inputs)
        for row in ((1 + i * gap, "x.value", int(value)), (1 + i * gap, "x.valid", 1))
    ]
    return Run(make(), 1 + len(inputs) * gap + gap, events)
