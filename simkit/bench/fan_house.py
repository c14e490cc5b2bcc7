"""The fan house of a grain dryer (invented, like all numbers here): fan A runs well, fan B is out of balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from .analog import AnalogOutput, Converter
from .bench import Bench
from .digital import DigitalOutput, Switch, TurnPulse
from .fan import Fan
from .mount import Weight
from .terminals import BenchFault, Level
from .timebase import Block
from .vibration import VibrationInput

LINES_OUT = (("lamp", "signal lamp"), ("lamp 2", "second signal lamp"))


class FanHouse(Bench):
    """Two fans, their sensors and drives, lamps and switches.

    Terminals, for each fan *X*: ``fan X speed`` (analog output, 16 bit, 0 to 10 V commands 0 to top speed),
    ``fan X trip`` (relay: 1 takes the power off the fan), ``fan X pulse`` (digital input, 1 while the mark on the hub
    passes, once per turn), ``fan X bearing`` (vibration input, 24 bit).  Besides: ``lamp``, ``lamp 2``, ``switch``,
    ``switch 2``.

    Parameters
    ----------
    seed : decides all that is random: noise, calibration of each channel, where the rotors stand
    fans : the fans; without it fan A (healthy) and fan B (out of balance)
    active_low : the switches pull their line to 0
    bounce_ms : longest chatter of a switch contact, ms
    pulse_jitter_us : r.m.s. scatter of the pulse sensors' edges, us
    """

    def __init__(self, seed: int = 0, fans: Sequence[Fan] | None = None, *, active_low: bool = False,
                 bounce_ms: float = 4.0, pulse_jitter_us: float = 0.0, vibration: Converter | None = None) -> None:
        super().__init__(seed)
        self.fans = {fan.name: fan for fan in (default_fans() if fans is None else fans)}
        for fan in self.fans.values():
            self._add_fan(fan, vibration or Converter(), pulse_jitter_us)
        for name, text in LINES_OUT:
            self._add_terminal(DigitalOutput(name, text))
        for name in ("switch", "switch 2"):
            self._add_terminal(Switch(name, "push button", active_low=active_low, bounce_ms=bounce_ms))

    def fan(self, name: str) -> Fan:
        """The fan of a name, ``"A"`` or ``"B"``."""
        if name not in self.fans:
            raise BenchFault(f"there is no fan {name!r}; fans: {', '.join(self.fans)}")
        return self.fans[name]

    def _add_terminal(self, terminal: object) -> None:
        self.terminals[terminal.name] = terminal  # type: ignore[attr-defined, assignment]

    def _add_fan(self, fan: Fan, vibration: Converter, jitter_us: float) -> None:
        place = self.random(f"fan {fan.name} rotor").integers(100, 900)
        fan.rotor.start_turns = Fraction(int(place), 1000)
        fan.rotor.reset()
        name = f"fan {fan.name}"
        self._add_terminal(AnalogOutput(f"{name} speed", "speed command of the drive, 0 to 10 V",
                                        self.random(f"{name} speed")))
        self._add_terminal(DigitalOutput(f"{name} trip", "relay that takes the power off the fan"))
        self._add_terminal(TurnPulse(f"{name} pulse", "one pulse per turn", fan.rotor, self.random(f"{name} pulse"),
                                     jitter_s=jitter_us * 1e-6))
        self._add_terminal(VibrationInput(f"{name} bearing", "accelerometer on the bearing, 100 mV per g", vibration,
                                          self.random(f"{name} bearing"), fan))

    # --- the plant ---

    def reset(self) -> None:
        for fan in self.fans.values():
            fan.rotor.reset()

    def advance(self, block: Block, levels: Mapping[str, Level]) -> None:
        super().advance(block, levels)
        for fan in self.fans.values():
            speed, trip = self.terminals[f"fan {fan.name} speed"], self.terminals[f"fan {fan.name} trip"]
            command = speed.volts() / speed.range_v if speed.bound else 0.0  # type: ignore[attr-defined]
            fan.rotor.advance(min(max(command, 0.0), 1.0), powered=trip.level.mean() < 0.5)  # type: ignore[attr-defined]


def default_fans() -> list[Fan]:
    """Fan A, healthy: a residue of 60 g mm.  Fan B, a repaired blade: 4 g too much at 150 mm, 40 degrees from the mark."""
    return [Fan("A", [Weight(0.4, 150.0, 210.0)]), Fan("B", [Weight(4.0, 150.0, 40.0)])]
