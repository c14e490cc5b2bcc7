"""For judges: run a design on exactly driven inputs and look at what it put out, tick by tick.

    played = drive(netlist, 2000, [(100, "fan A pulse", 1), (150, "fan A pulse", 0)])
    played.at("width", 170)        # what the host reads in tick 170
    played.changes("lamp")         # ticks in which the lamp changed

Names are those of terminals, channels or host registers.  Nothing of the bench takes part, so a check needs only the
ticks in which something happens.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..engines import EngineFault, Events, Recording, Trace, make_engine
from ..netlist import Endpoint, Netlist
from ..netlist.passes import expose
from .model import AnswerFault

Change = tuple[int, str, int]


@dataclass
class Played:
    """A run of ``ticks`` ticks.  ``late`` maps each paced loop to the number of its late turns."""

    netlist: Netlist
    ticks: int
    recording: Recording
    late: dict[str, int]

    def trace(self, name: str) -> Trace:
        """Everything that an output, or a register of the host, did."""
        return self.recording.trace(endpoint(self.netlist, name).ports["value"])

    def at(self, name: str, tick: int) -> int:
        """Raw value in a tick."""
        return self.trace(name).at(tick)

    def changes(self, name: str, to: int | None = None) -> np.ndarray:
        """Ticks in which the value changed (to ``to``); the value of tick 0 is no change."""
        trace = self.trace(name)
        return trace.ticks[1:] if to is None else trace.ticks[1:][trace.values[1:] == to]


def endpoint(netlist: Netlist, name: str) -> Endpoint:
    """The endpoint called ``name`` or wired to the terminal ``name``; :class:`AnswerFault` if there is none."""
    for found in netlist.endpoints:
        if name in (found.name, found.terminal):
            return found
    there = ", ".join(one.terminal or one.name for one in netlist.endpoints) or "nothing"
    raise AnswerFault(f"the design has no {name!r}; it has {there}")


def drive(netlist: Netlist, ticks: int, changes: Iterable[Change] = (), seed: int = 0) -> Played:
    """Run ``ticks`` ticks from reset.

    Parameters
    ----------
    changes : ``(tick, name, raw value)``: what an input line, a channel or a host register gets from that tick on.
        A change of an analog input is a sample that arrives; one of an analog output is a tick in which its converter
        takes the code (the value does not count); a change of a host register is a write by the host
    seed : decides how metastable bits settle

    Raises
    ------
    AnswerFault
        If the design lacks the name, or cannot hold the value or run.
    """
    netlist = expose(netlist)
    shown = [port.name for port in netlist.outputs]
    recording = Recording(shown)
    try:
        events = Events.of(netlist, [row for change in changes for row in _rows(netlist, *change)])
        engine = make_engine(netlist, seed)
        engine.record(recording)
        engine.run(ticks, events)
    except EngineFault as error:
        raise AnswerFault(f"the design cannot be run: {error}") from error
    late = {loop.name: engine.peek(loop.late) for loop in netlist.loops if loop.late}
    return Played(netlist, ticks, recording, late)


def _rows(netlist: Netlist, tick: int, name: str, value: int) -> list[Change]:
    found = endpoint(netlist, name)
    ports = found.ports
    if found.kind == "analog_out":
        return [(tick, ports["ready"], 1)]
    if "write" in ports:
        return [(tick, ports["write"], 1), (tick, ports["data"], value)]
    return [(tick, ports["value"], value)] + ([(tick, ports["valid"], 1)] if "valid" in ports else [])


def flip_flops(netlist: Netlist) -> int:
    """Bits of state in registers and timers, without synchronisers and the counts that the kit adds by itself."""
    regs = sum(reg.type.width for reg in netlist.regs if reg.kind not in ("sync", "count"))
    return regs + sum(timer.width for timer in netlist.timers)
