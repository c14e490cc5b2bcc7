"""What a bench panel shows: what is there (once), and how it stands (again and again), as plain data for the page."""

from __future__ import annotations

import math
from collections import deque
from typing import Any

import numpy as np

from ..bench.analog import AnalogInput, AnalogOutput
from ..bench.digital import DigitalOutput, Switch
from ..bench.timebase import BLOCKS_PER_S
from ..netlist.types import Type

MEAN_S = 0.2
"""Time over which the r.m.s. of an accelerometer is taken, s."""


class Readings:
    """Reads a rig and its bench.

    Gauges are dictionaries of ``key``, ``label``, ``unit``, ``low``, ``high``; their values come by key.
    """

    def __init__(self, rig: Any) -> None:
        self.rig, self.bench = rig, rig.bench
        self.fans = dict(getattr(self.bench, "fans", {}))
        self._seen: dict[str, np.ndarray] = {}
        self._power: dict[str, deque[tuple[float, int]]] = {
            name: deque(maxlen=round(MEAN_S * BLOCKS_PER_S))
            for name, one in self._terminals(AnalogInput)
            if one.sensor.unit == "m/s2"
        }

    # --- what is there ---

    def plan(self) -> dict[str, Any]:
        """Fans, lamps, switches, faults, registers and gauges of the bench and of the design on it."""
        return {
            "design": self.rig.netlist.name,
            "hz": float(self.rig.timebase.hz),
            "fans": [{"name": n, "blades": f.blades, "top": f.rotor.drive.top_rpm} for n, f in self.fans.items()],
            "lamps": [{"name": n, "text": one.text} for n, one in self._terminals(DigitalOutput)],
            "switches": [{"name": n, "text": one.text} for n, one in self._terminals(Switch)],
            "faults": [
                {"terminal": n, "kind": kind}
                for n, one in self.bench.terminals.items()
                if one.bound
                for kind in one.faults
            ],
            "registers": [self._register(r) for r in self.registers()],
            "gauges": self.gauges(),
        }

    def registers(self) -> list[Any]:
        """The design's host registers."""
        return [e for e in self.rig.netlist.endpoints if e.kind == "host_reg"]

    def gauges(self) -> list[dict[str, Any]]:
        """Everything that has a number."""
        found = [_gauge(f"rpm {n}", f"fan {n} speed", "1/min", 0, f.rotor.drive.top_rpm) for n, f in self.fans.items()]
        found += [_gauge(f"rms {n}", f"{n}, r.m.s.", "m/s²", 0, 20) for n in self._power]
        found += [_gauge(f"volt {n}", f"{n} output", "V", 0, one.range_v) for n, one in self._terminals(AnalogOutput)]
        if hasattr(self.bench, "air"):
            found += [_gauge("plenum", "plenum air", "°C", 0, 120), _gauge("grain", "grain bed", "°C", 0, 120)]
        return found

    def _terminals(self, kind: type) -> list[tuple[str, Any]]:
        """Wired terminals of a kind."""
        return [(name, one) for name, one in self.bench.terminals.items() if one.bound and isinstance(one, kind)]

    def _register(self, endpoint: Any) -> dict[str, Any]:
        kind: Type = endpoint.type
        return {
            "name": endpoint.name,
            "type": str(kind),
            "writable": endpoint.options.get("access", "rw") == "rw",
            "low": float(kind.number(kind.low)),
            "high": float(kind.number(kind.high)),
            "step": float(kind.step),
            "unit": str(endpoint.options.get("unit", "")),
        }

    # --- how it stands ---

    def forget(self) -> None:
        """Begin again: what was taken in is over."""
        for power in self._power.values():
            power.clear()

    def look(self) -> None:
        """Take in the last block of the bench; call it at least once in each."""
        for name, power in self._power.items():
            terminal = self.bench.terminals[name]
            if terminal.latest is self._seen.get(name):
                continue
            self._seen[name] = terminal.latest
            volts = terminal.calibration.volts(terminal.latest)
            power.append((float(np.sum(volts**2)), len(volts)))

    def state(self) -> dict[str, Any]:
        """All values of this moment."""
        rig = self.rig
        return {
            "tick": rig.ticks,
            "seconds": rig.ticks / float(rig.timebase.hz),
            "fans": {
                n: {"rpm": f.speed_rpm, "turns": float(f.rotor.end), "held": f.rotor.held_rpm is not None}
                for n, f in self.fans.items()
            },
            "lamps": {n: one.share for n, one in self._terminals(DigitalOutput)},
            "faults": {n: one.fault for n, one in self.bench.terminals.items() if one.bound},
            "registers": {e.name: rig.host[e.name] for e in self.registers()},
            "gauges": self.values(),
            "late": rig.late,
            "missed": rig.missed,
        }

    def values(self) -> dict[str, float]:
        """Values of the gauges by key."""
        found = {f"rpm {n}": f.speed_rpm for n, f in self.fans.items()}
        found.update({f"rms {n}": self._rms(n) for n in self._power})
        found.update({f"volt {n}": one.mean_volts for n, one in self._terminals(AnalogOutput)})
        if hasattr(self.bench, "air"):
            found.update(plenum=self.bench.air.plenum_c, grain=self.bench.air.grain_c)
        return found

    def _rms(self, name: str) -> float:
        """Root of the mean square of the last 0.2 s, in the sensor's unit."""
        total, count = sum(p for p, _ in self._power[name]), sum(n for _, n in self._power[name])
        return math.sqrt(total / count) / self.bench.terminals[name].sensor.volts_per_unit if count else 0.0


def _gauge(key: str, label: str, unit: str, low: float, high: float) -> dict[str, Any]:
    return {"key": key, "label": label, "unit": unit, "low": low, "high": high}
