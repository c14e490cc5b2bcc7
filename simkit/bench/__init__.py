"""The simulated bench: a fan house, its channels, and the rig that runs a design on it.

    bench = FanHouse(seed=1)                      # everything random follows from the seed
    bench.fan("B").hold_speed(1480)               # or let the design command it
    bench.press("switch", at=ms(3), hold=ms(80))  # hands; also drive(), pulse(), send(), generate(), fault()
    rig = load(FanGuard, bench, record=["lamp", "fan B bearing"])
    rig.run(ms(100))
    rig.trace("lamp").seconds                     # when it changed; .numbers says to what
    rig.samples("fan B bearing").volts            # every sample, by the constants stored with the channel
    rig.host.limit = 900                          # host registers, streams and interrupts are attributes

In reading order: :mod:`timebase` (seconds to ticks, blocks), :mod:`terminals`, :mod:`digital`, :mod:`converter` and
:mod:`analog` (channels), :mod:`rotor`, :mod:`mount`, :mod:`fan`, :mod:`air` (the plant), :mod:`sensors`, :mod:`parts`
(the cards), :mod:`bench` (hands and faults), :mod:`fan_house`, :mod:`controller` (the bench turned round),
:mod:`endpoints`, :mod:`queue`, :mod:`record`, :mod:`rig` (the loop between engine and plant).
"""

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
    "CARDS",
    "Bearing",
    "Bench",
    "BenchFault",
    "Calibration",
    "Card",
    "Controller",
    "ControllerBench",
    "Converter",
    "Drive",
    "Duration",
    "Fan",
    "FanHouse",
    "Mount",
    "Rig",
    "Samples",
    "Tone",
    "Waveform",
    "Weight",
    "load",
    "ms",
    "ns",
    "parts_list",
    "s",
    "us",
]
