"""One random design through everything that can run it: the oracle, both engines, Icarus Verilog."""

from __future__ import annotations

from collections.abc import Callable

from simkit.engines import Events
from simkit.engines.native import NativeEngine
from simkit.engines.reference import ReferenceEngine
from simkit.netlist import Netlist
from tests.designs.generate import TICKS, Program
from tests.designs.oracle import Machine
from tests.designs.run import netlist_of

Traces = dict[str, list[tuple[int, int]]]
COMPARED = ("user", "port", "count")
"""Kinds of register that the oracle speaks of; the others are the compiler's own."""


def engine_traces(net: Netlist, events: Events, seed: int, engine: Callable[[Netlist, int], object]) -> Traces:
    from simkit.engines import Recording

    running, recording = engine(net, seed), Recording(list(net.signals()))
    running.record(recording)  # type: ignore[attr-defined]
    running.run(TICKS, events)  # type: ignore[attr-defined]
    traces = {name: recording.trace(name) for name in recording.names}
    return {name: list(zip(t.ticks.tolist(), t.values.tolist(), strict=True)) for name, t in traces.items()}


def difference(wanted: Traces, got: Traces) -> str:
    """Where two sets of traces first part, or "" """
    worst: tuple[int, str] | None = None
    for name in wanted:
        for mine, theirs in zip([*wanted[name], None], [*got.get(name, []), None], strict=False):
            if mine != theirs:
                tick = min(row[0] for row in (mine, theirs) if row is not None)
                if worst is None or tick < worst[0]:
                    worst = tick, f"{name}: {mine} against {theirs}"
                break
    return f"tick {worst[0]}: {worst[1]}" if worst else ""


def oracle_traces(machine: Machine, net: Netlist) -> Traces:
    known = {reg.name for reg in net.regs if reg.kind in COMPARED}
    return {name: changes for name, changes in machine.seen.items() if name in known}


def disagreements(program: Program, with_icarus: bool = True) -> list[str]:
    """What does not agree on a program, a line each.

    Raises
    ------
    HardwareError
        If the compiler refuses the program: then one of the two, generator or compiler, is wrong too.
    """
    net = netlist_of(program.source())
    events = Events.of(net, program.stimuli())
    wanted = engine_traces(net, events, program.seed, ReferenceEngine)
    found = {"native": difference(wanted, engine_traces(net, events, program.seed, NativeEngine))}
    if program.clocks == 1:
        expected = oracle_traces(program.machine(), net)
        found["oracle"] = difference(expected, wanted)
    if with_icarus:
        from simkit.engines.icarus import run_icarus

        recording = run_icarus(net, TICKS, events, list(wanted), program.seed)
        shown = {name: recording.trace(name) for name in wanted}
        found["Icarus Verilog"] = difference(wanted, {name: list(zip(t.ticks.tolist(), t.values.tolist(), strict=True)) for name, t in shown.items()})
    return [f"{who}: {where}" for who, where in found.items() if where]
