"""Recordings of a rig: what was kept, in seconds and in the numbers that people mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..engines.api import Recording, Trace
from ..netlist import Type
from .converter import Calibration


@dataclass
class Waveform(Trace):
    """A :class:`simkit.engines.api.Trace` that knows its clock and its number type."""

    type: Type
    hz: Fraction

    @property
    def seconds(self) -> np.ndarray:
        """When each change happened, in seconds since reset."""
        return self.ticks * float(1 / self.hz)

    @property
    def numbers(self) -> np.ndarray:
        """The values as numbers: raw integers, or scaled for fixed point."""
        return self.values * 2.0**self.type.right if self.type.fixed else self.values

    def edges(self, to: int) -> np.ndarray:
        """Ticks in which the value changed to ``to`` (the value that the recording began with is no change)."""
        return self.ticks[1:][self.values[1:] == to]


@dataclass
class Samples:
    """What an analog channel has delivered: one entry per sample, equal codes included.

    ``seconds`` are the instants that the samples tell about, ``codes`` the raw values, ``volts`` what they mean by the
    channel's stored constants.
    """

    seconds: np.ndarray
    codes: np.ndarray
    calibration: Calibration
    rate_hz: float

    @property
    def volts(self) -> np.ndarray:
        return self.calibration.volts(self.codes)


class Tap(Recording):
    """Keeps the signals that the user asked for, and hands the plant what outputs did since it was last asked."""

    def __init__(self, kept: Iterable[str], watched: Iterable[str]) -> None:
        self.kept = list(dict.fromkeys(kept))
        self.watched = set(watched)
        super().__init__(list(dict.fromkeys([*self.kept, *sorted(self.watched)])))
        self._keep = set(self.kept)
        self._fresh: dict[str, list[tuple[np.ndarray, np.ndarray]]] = {}

    def add(self, name: str, ticks: np.ndarray, values: np.ndarray) -> None:
        if name in self._keep:
            super().add(name, ticks, values)
        if name in self.watched:
            self._fresh.setdefault(name, []).append((ticks, values))

    def fresh(self, name: str) -> tuple[np.ndarray, np.ndarray] | None:
        """Changes of a watched signal since the last call; None if there were none."""
        blocks = self._fresh.pop(name, None)
        if not blocks:
            return None
        if len(blocks) == 1:
            return blocks[0]
        return np.concatenate([b[0] for b in blocks]), np.concatenate([b[1] for b in blocks])
