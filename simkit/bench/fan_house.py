"""The fan house of a grain dryer (invented, like all numbers here): fan A runs well, fan B is out of balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from .air import Air
from .analog import AnalogInput, AnalogOutput, ThermocoupleInput
from .bench import Bench
from .converter import Converter
from .digital import DigitalInput, DigitalOutput, Switch, TurnPulse
from .fan import Fan
from .mount import Weight
from .parts import GROUPS, choose
from .sensors import Accelerometer, Mains, Sensor, TemperatureChip, Thermocouple
from .terminals import BenchFault, Level
from .timebase import Block


class FanHouse(Bench):
    """Two fans that blow burner-heated air through grain; their sensors and drives, lamps and switches.

    Terminals, for each fan *X*: ``fan X speed`` (analog output, 0 to 10 V command 0 to top speed), ``fan X trip``
    (relay: 1 takes the power off the fan), ``fan X pulse`` (digital input, 1 while the mark on the hub passes, once per
    turn), ``fan X bearing`` (accelerometer).  Besides: thermocouples ``plenum`` and ``grain`` with ``cold junction``
    (the sensor at their terminal block), ``burner`` (valve, may be pulse-width modulated), ``mains`` (measuring
    transformer), ``lamp``, ``lamp 2``, ``horn``, ``switch``, ``switch 2``, ``serial in``, ``serial out``.

    A simulated bench hurts nobody.  Real fans, burners and mains do: guards, interlocks and the thermostat are
    hard-wired there, and local codes and licensed people decide.

    Parameters
    ----------
    seed : decides all that is random: noise, calibration of each channel, where the rotors stand
    fans : the fans; without it fan A (healthy) and fan B (out of balance)
    cards : which card serves which group of sensors (``bearings``, ``temperatures``, ``mains``), by its name in the
        parts list, or a :class:`Converter` of one's own
    rates : sample rate of a group in samples/s, from the card's list
    active_low : the switches pull their line to 0
    bounce_ms : longest chatter of a switch contact, ms
    pulse_jitter_us : r.m.s. scatter of the pulse sensors' edges, us
    over_range : what the analog outputs do with a code beyond 16 bits, "clip" or "wrap"
    """

    def __init__(
        self,
        seed: int = 0,
        fans: Sequence[Fan] | None = None,
        *,
        cards: Mapping[str, str | Converter] | None = None,
        rates: Mapping[str, float | Fraction] | None = None,
        active_low: bool = False,
        bounce_ms: float = 4.0,
        pulse_jitter_us: float = 0.0,
        over_range: str = "clip",
    ) -> None:
        super().__init__(seed)
        self.fans = {fan.name: fan for fan in (default_fans() if fans is None else fans)}
        self.air = Air()
        self.mains_hz = 50.0 + 0.02 * float(self.random("mains frequency").uniform(-1, 1))
        for group in {**(cards or {}), **(rates or {})}:
            if group not in GROUPS:
                raise BenchFault(f"there is no group of sensors {group!r}; groups: {', '.join(GROUPS)}")
        self._cards, self._rates = dict(cards or {}), dict(rates or {})
        for fan in self.fans.values():
            self._add_fan(fan, pulse_jitter_us, over_range)
        self._add_sensors()
        for name, text in (
            ("burner", "burner valve"),
            ("lamp", "signal lamp"),
            ("lamp 2", "second signal lamp"),
            ("horn", "warning horn"),
            ("serial out", "serial line to a printer"),
        ):
            self._add(DigitalOutput(name, text))
        for name in ("switch", "switch 2"):
            self._add(Switch(name, "push button", active_low=active_low, bounce_ms=bounce_ms))
        self._add(DigitalInput("serial in", "serial line from a moisture meter", idle=1))

    def fan(self, name: str) -> Fan:
        """The fan of a name, ``"A"`` or ``"B"``."""
        if name not in self.fans:
            raise BenchFault(f"there is no fan {name!r}; fans: {', '.join(self.fans)}")
        return self.fans[name]

    # --- putting it together ---

    def _add_fan(self, fan: Fan, jitter_us: float, over_range: str) -> None:
        fan.rotor.start_turns = Fraction(int(self.random(f"fan {fan.name} rotor").integers(100, 900)), 1000)
        fan.rotor.reset()
        name = f"fan {fan.name}"
        self._add(
            AnalogOutput(
                f"{name} speed",
                "speed command of the drive, 0 to 10 V",
                self.random(f"{name} speed"),
                over_range=over_range,
            )
        )
        self._add(DigitalOutput(f"{name} trip", "relay that takes the power off the fan"))
        self._add(TurnPulse(f"{name} pulse", "one pulse per turn", fan.rotor, self.random, jitter_s=jitter_us * 1e-6))

    def _add_sensors(self) -> None:
        """The analog inputs, group by group, on the cards chosen."""
        air = self.air
        self._on_cards(
            "bearings",
            [
                (
                    f"fan {fan.name} bearing",
                    "accelerometer on the bearing, 100 mV per g",
                    AnalogInput,
                    Accelerometer(fan, self.mains_hz),
                )
                for fan in self.fans.values()
            ],
        )
        cold_c = 22.0 + 6.0 * float(self.random("cold junction temperature").uniform(0, 1))
        self._on_cards(
            "temperatures",
            [
                (
                    "plenum",
                    "thermocouple type K in the plenum",
                    ThermocoupleInput,
                    Thermocouple(lambda: air.plenum_probe_c, lambda: cold_c, self.mains_hz),
                ),
                (
                    "grain",
                    "thermocouple type K in the grain",
                    ThermocoupleInput,
                    Thermocouple(lambda: air.grain_probe_c, lambda: cold_c, self.mains_hz),
                ),
                (
                    "cold junction",
                    "chip at the thermocouples' terminals, 1 mV per degree C",
                    AnalogInput,
                    TemperatureChip(lambda: cold_c),
                ),
            ],
        )
        self._on_cards(
            "mains",
            [("mains", "mains voltage behind a 100 to 1 measuring transformer", AnalogInput, Mains(self.mains_hz))],
        )

    def _on_cards(self, group: str, sensors: list[tuple[str, str, type[AnalogInput], Sensor]]) -> None:
        converters = choose(group, self._cards.get(group), len(sensors), self._rates.get(group))
        for (name, text, channel, sensor), converter in zip(sensors, converters, strict=True):
            self._add(channel(name, text, sensor, converter, self.random))

    # --- the plant ---

    def reset(self) -> None:
        self.air.reset()
        for fan in self.fans.values():
            fan.rotor.reset()

    def advance(self, block: Block, levels: Mapping[str, Level]) -> None:
        super().advance(block, levels)
        flow = 0.0
        for fan in self.fans.values():
            speed, trip = self.terminals[f"fan {fan.name} speed"], self.terminals[f"fan {fan.name} trip"]
            assert isinstance(speed, AnalogOutput) and isinstance(trip, DigitalOutput)
            command = min(max(speed.mean_volts / speed.range_v, 0.0), 1.0)
            fan.rotor.advance(command, powered=speed.fault != "dead" and trip.share < 0.5)
            flow += fan.speed_rpm / fan.rotor.drive.top_rpm
        burner = self.terminals["burner"]
        assert isinstance(burner, DigitalOutput)
        self.air.advance(burner.share, flow)


def default_fans() -> list[Fan]:
    """Fan A, healthy: a residue of 60 g mm.  Fan B, a repaired blade: 4 g too much at 150 mm, 40 degrees from the
    mark.
    """
    return [Fan("A", [Weight(0.4, 150.0, 210.0)]), Fan("B", [Weight(4.0, 150.0, 40.0)])]
