"""Area and clock rate of a design at once, without the tools.

The netlist is covered with look-up tables (:mod:`simkit.build.mapping`); chains, multipliers and memories are counted by size;
delays are added up along the slowest way between registers.  The constants stand in ``model.json``; they were fitted to builds of
a corpus of designs by :mod:`simkit.build.calibrate`, which also says how far off the estimate is.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from ..netlist import Netlist
from .area import Area, area_of
from .mapping import Mapper
from .suited import suited
from .timing import arrivals


@lru_cache(maxsize=1)
def model() -> dict[str, Any]:
    """The fitted constants: ``area`` (tables per unit counted) and ``delay`` (nanoseconds)."""
    found: dict[str, Any] = json.loads(resources.files(__package__).joinpath("model.json").read_text(encoding="utf-8"))
    return found


@dataclass(frozen=True)
class Estimate:
    """What a design will take and how fast it will run, about.

    ``usage`` has the resources of :data:`simkit.build.parts.RESOURCES`; ``rates_mhz`` each clock's reachable rate (``inf`` if nothing
    limits it); ``asked_mhz`` what the design asks.
    """

    name: str
    usage: dict[str, int]
    rates_mhz: dict[str, float]
    asked_mhz: dict[str, float]

    def __str__(self) -> str:
        counts = ", ".join(f"{count} {resource}" for resource, count in self.usage.items())
        rates = "; ".join(
            f"clock {c}: about {rate:.0f} MHz, {self.asked_mhz[c]:g} MHz asked" for c, rate in self.rates_mhz.items()
        )
        return f"{self.name}, estimated: {counts}; {rates}"

    __repr__ = __str__


def estimate(design: Any) -> Estimate:
    """Estimate a design (class, instance, or checked netlist)."""
    from .flow import netlist_of

    net = suited(netlist_of(design))
    mapper = Mapper(net)
    area = area_of(mapper)
    periods = arrivals(mapper, area, model()["delay"])
    rates = {c.name: 1e3 / periods[i] if periods[i] else float("inf") for i, c in enumerate(net.clocks)}
    return Estimate(net.name, usage_of(area), rates, {c.name: c.hz_num / c.hz_den / 1e6 for c in net.clocks})


def usage_of(area: Area) -> dict[str, int]:
    """Counts by resource, with the fitted weights of the area model."""
    weights = model()["area"]
    luts = sum(weights[part] * count for part, count in area.tables.items())
    return {
        "LUTs": round(luts),
        "flip-flops": area.flip_flops,
        "block RAM": area.block_rams,
        "multipliers": area.multipliers,
    }


def node_delays(netlist: Netlist) -> list[float]:
    """About how long each node takes, in ns; 0 for what costs no logic (for choosing the slowest of several ways)."""
    delay = model()["delay"]
    table = delay["table"] + delay["wire"]
    fixed = {
        "mul": delay["multiplier"],
        "and": table,
        "or": table,
        "xor": table,
        "not": 0.05,
        "mux": table,
        "eq": table,
        "ne": table,
        "parity": table,
        "shl": 2 * table,
        "shr": 2 * table,
    }
    chain = {op: delay["chain"] for op in ("add", "sub", "neg", "lt", "le")}
    division = dict.fromkeys(("div", "rem", "mod"), 10 * delay["chain"])
    costs = {**fixed, **chain, **division}
    return [costs.get(node.op, 0.0) for node in netlist.nodes]
