"""Ready designs: what a practitioner expects to find, each with its latency, ranges and rounding in its docstring."""

from .arbiter import RoundRobin
from .checksum import Checksum
from .edge import Debounce, Edge
from .pwm import Pwm
from .tacho import Tachometer
from .watchdog import Watchdog

__all__ = ["Checksum", "Debounce", "Edge", "Pwm", "RoundRobin", "Tachometer", "Watchdog"]
