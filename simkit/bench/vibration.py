"""The bearing accelerometer and its converter."""

from __future__ import annotations

import numpy as np

from ..netlist import Endpoint
from .analog import AnalogInput, Converter
from .fan import STANDARD_GRAVITY, Fan, Shaker
from .timebase import Block, Timebase


class VibrationInput(AnalogInput):
    """An accelerometer with ``volts_per_g`` at its converter.

    The sensor's constant bias is removed by the channel (AC coupling); what is left of zero error is the converter's.
    """

    def __init__(self, name: str, text: str, converter: Converter, random: np.random.Generator, fan: Fan,
                 volts_per_g: float = 0.1) -> None:
        super().__init__(name, text, converter, random)
        self.fan = fan
        self.volts_per_g = volts_per_g
        self.shaker = Shaker(fan, 1 / float(converter.rate_hz), random)

    def bind(self, endpoint: Endpoint | None, timebase: Timebase) -> None:
        super().bind(endpoint, timebase)
        self.shaker.reset()

    def volts(self, block: Block, seconds: np.ndarray) -> np.ndarray:
        return self.shaker.acceleration(seconds) * (self.volts_per_g / STANDARD_GRAVITY)
