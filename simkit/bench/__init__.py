"""The simulated bench: a fan house, its channels, and the rig that runs a design on it."""

from ..units import Duration, ms, ns, s, us
from .analog import Calibration, Converter
from .bench import Bench
from .fan import Fan
from .fan_house import FanHouse
from .mount import Mount, Weight
from .record import Waveform
from .rig import Rig, load
from .rotor import Drive
from .terminals import BenchFault

__all__ = [
    "Bench", "BenchFault", "Calibration", "Converter", "Drive", "Duration", "Fan", "FanHouse", "Mount", "Rig",
    "Waveform", "Weight", "load", "ms", "ns", "s", "us",
]
