"""Do two designs do the same?  An answer by simulation: many stimuli, of many time scales, and not one difference.

It proves nothing, so a pair found alike is called "no difference seen".  Inputs that a design shares by name and
type are driven alike; everything that the outside can see of it is compared in every tick.
"""

from __future__ import annotations

import random

import numpy as np

from simkit.build.cache import without_places
from simkit.engines import Events, Recording
from simkit.engines.native import NativeEngine
from simkit.netlist import Input, Netlist

TICKS = 30_000
SEEDS = (1, 2, 3, 4)
GAPS = (1, 2, 3, 7, 20, 100, 700, 4000)


def same_circuit(one: Netlist, other: Netlist) -> bool:
    """True if the two are the same circuit, apart from the places in the source."""
    return without_places(one) == without_places(other)


def no_difference_seen(one: Netlist, other: Netlist, ticks: int = TICKS) -> bool:
    """True if no stimulus showed a difference in an output or host register between the two."""
    if _faces(one) != _faces(other):
        return False
    names = sorted(_seen(one) & _seen(other))
    return all(_traces(one, names, seed, ticks) == _traces(other, names, seed, ticks) for seed in SEEDS)


def _faces(netlist: Netlist) -> tuple[object, ...]:
    return (
        [(clock.hz_num, clock.hz_den) for clock in netlist.clocks],
        sorted((port.name, str(port.type), port.clock) for port in netlist.inputs),
        sorted((port.name, str(port.type)) for port in netlist.outputs),
    )


def _seen(netlist: Netlist) -> set[str]:
    """What the outside can see: outputs, and registers that an endpoint shows."""
    shown = {port.name for port in netlist.outputs}
    for endpoint in netlist.endpoints:
        shown |= set(endpoint.ports.values())
    return (shown & set(netlist.signals())) - {port.name for port in netlist.inputs}


def _traces(netlist: Netlist, names: list[str], seed: int, ticks: int) -> list[tuple[bytes, bytes]]:
    engine, recording = NativeEngine(netlist, seed), Recording(names)
    engine.record(recording)
    engine.run(ticks, stimuli(netlist, seed, ticks))
    return [(np.asarray(t.ticks).tobytes(), repr(list(t.values)).encode()) for t in map(recording.trace, names)]


def stimuli(netlist: Netlist, seed: int, ticks: int) -> Events:
    """Changes of every input, at gaps from one tick to thousands, of values small, ordinary and extreme."""
    changes: list[tuple[int, str, int]] = []
    for port in netlist.inputs:
        rng = random.Random(f"{seed} {port.name}")
        scale = rng.choice(GAPS)
        tick = rng.randrange(scale + 1)
        value = 0
        while tick < ticks:
            value = _value(rng, port, value)
            changes.append((tick, port.name, value))
            if rng.random() < 0.02:
                scale = rng.choice(GAPS)
            tick += rng.randrange(1, 2 * scale + 1)
    return Events.of(netlist, changes)


def _value(rng: random.Random, port: Input, before: int) -> int:
    if port.strobe:
        return 1
    kind = port.type
    if kind.width == 1:
        return 1 - before
    low, high = kind.low, kind.high
    choices = (
        lambda: rng.choice((low, high, 0, 1)),
        lambda: rng.randint(low, high),
        lambda: before + rng.randint(-3, 3),
        lambda: rng.randint(0, 40),
        lambda: before + rng.randint(low, high) // 16,
    )
    return min(high, max(low, rng.choice(choices)()))
