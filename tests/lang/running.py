"""Runs a small design in both engines and says in which ticks it did what."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from simkit import compile_design
from simkit.engines import Events, Recording, make_engine
from simkit.netlist import Netlist

Change = tuple[int, int]


class Run:
    """What both engines recorded, which is the same.

    Parameters
    ----------
    design : a design (class or instance) or a netlist
    ticks : int, ticks of the fabric clock
    events : ``(tick, input, raw value)`` in any order
    """

    def __init__(self, design: Any, ticks: int, events: Iterable[tuple[int, str, int]] = (), seed: int = 1) -> None:
        self.netlist = design if isinstance(design, Netlist) else compile_design(design)
        self.length = ticks
        inputs = Events.of(self.netlist, events)
        by_engine = {kind: self._record(kind, inputs, ticks, seed) for kind in ("reference", "native")}
        self.recorded = by_engine["reference"]
        assert by_engine["native"] == self.recorded, "the engines differ"

    def _record(self, kind: str, events: Events, ticks: int, seed: int) -> dict[str, list[Change]]:
        engine = make_engine(self.netlist, seed, kind)
        recording = Recording(list(self.netlist.signals()))
        engine.record(recording)
        engine.run(ticks, events)
        traces = {name: recording.trace(name) for name in recording.names}
        return {name: list(zip(t.ticks.tolist(), t.values.tolist(), strict=True)) for name, t in traces.items()}

    def seen(self, name: str) -> list[Change]:
        """``(tick, value)``: the first value, then each change, in the tick in which it is first seen."""
        return self.recorded[name]

    def done(self, name: str) -> list[Change]:
        """``(tick, value)``: in which tick a loop assigned a register a new value; seen one tick later."""
        return [(tick - 1, value) for tick, value in self.recorded[name][1:]]

    def at(self, name: str, tick: int) -> int:
        """The value in a tick."""
        return [value for start, value in self.recorded[name] if start <= tick][-1]

    def values(self, name: str) -> list[int]:
        """The value in each tick (of a signal of the fabric clock)."""
        return [self.at(name, tick) for tick in range(self.length)]
