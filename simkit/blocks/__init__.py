"""Ready designs: what a practitioner expects to find, each with its latency, ranges and rounding in its docstring."""

from .arbiter import RoundRobin
from .average import MovingAverage, MovingRms, SquareRoot
from .checksum import Checksum
from .cic import Cic
from .control import Pid
from .edge import Debounce, Edge
from .filters import Biquad, BiquadChain
from .pwm import Pwm
from .record import LevelTrigger, LineTrigger, Recorder
from .serial import SpiController, UartReceiver, UartSender
from .spectrum import WindowedFft
from .tacho import Tachometer
from .tone import Goertzel
from .watchdog import Watchdog

__all__ = [
    "Biquad",
    "BiquadChain",
    "Checksum",
    "Cic",
    "Debounce",
    "Edge",
    "Goertzel",
    "LevelTrigger",
    "LineTrigger",
    "MovingAverage",
    "MovingRms",
    "Pid",
    "Pwm",
    "Recorder",
    "RoundRobin",
    "SpiController",
    "SquareRoot",
    "Tachometer",
    "UartReceiver",
    "UartSender",
    "Watchdog",
    "WindowedFft",
]
