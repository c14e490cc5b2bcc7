"""The simulated bench: a fan house, its channels, and the rig that runs a design on it."""

from ..units import Duration, ms, ns, s, us
from .bench import Bench
from .controller import Controller, ControllerBench
from .converter import Calibration, Converter
from .fan import Bearing, Fan
from .fan_house import FanHouse
from .mount import Mount, Weight
from .parts import CARDS, Card, parts_list
from .record import Samples, Waveform
from .rig import Rig, load
from .rotor import Drive
from .sensors import Tone
from .terminals import BenchFault

__all__ = [
    "CARDS", "Bearing", "Bench", "BenchFault", "Calibration", "Card", "Controller", "ControllerBench", "Converter",
    "Drive", "Duration", "Fan", "FanHouse", "Mount", "Rig", "Samples", "Tone", "Waveform", "Weight", "load", "ms",
    "ns", "parts_list", "s", "us",
]
