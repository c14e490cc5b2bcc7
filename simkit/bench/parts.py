"""The parts list: input and output cards that a bench is put together from, with data-sheet figures.

Names and figures are invented; their orders of magnitude are common practice (no source).  Which card fits which sensor
is for the reader to work out: every card can be put everywhere its plugs fit, and behaves as its data sheet says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from .converter import Converter
from .terminals import BenchFault


@dataclass(frozen=True)
class Card:
    """Data sheet of an input card.

    Parameters
    ----------
    name, text : what it is called, what it is for
    channels : how many inputs it has
    converter : figures of one channel, at the first of ``rates_hz``
    rates_hz : sample rates to choose from, samples/s; per channel, or of all channels together if ``scanned``
    scanned : one converter goes round the channels in use, one after the other; else all sample at the same instant
    isolation_v : working voltage that the inputs may stand above earth, V; 0 for none
    """

    name: str
    text: str
    channels: int
    converter: Converter
    rates_hz: tuple[Fraction, ...]
    scanned: bool = False
    isolation_v: float = 0.0

    def converters(self, used: int, rate_hz: float | Fraction | None = None) -> list[Converter]:
        """One converter for each channel in use, at a rate from the list (without one: the first)."""
        if used > self.channels:
            raise BenchFault(f"card {self.name} has {self.channels} channels; {used} sensors want one")
        rate = self.rates_hz[0] if rate_hz is None else Fraction(rate_hz)
        if rate not in self.rates_hz:
            known = ", ".join(f"{float(r):g}" for r in self.rates_hz)
            raise BenchFault(f"card {self.name} cannot sample at {float(rate):g} samples/s; rates: {known}")
        base = replace(self.converter, rate_hz=rate, noise_v=self._noise(rate))
        if base.averaging_s:
            base = replace(base, averaging_s=float(1 / rate))
        if not self.scanned:
            return [base] * used
        return [replace(base, rate_hz=rate / used, skew_s=Fraction(i) / rate) for i in range(used)]

    def _noise(self, rate: Fraction) -> float:
        """White noise: its r.m.s. value goes with the square root of the rate."""
        return self.converter.noise_v * float(rate / self.converter.rate_hz) ** 0.5


def _rates(*hz: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(rate) for rate in hz)


CARDS = {
    card.name: card
    for card in (
        Card(
            "V24",
            "vibration input: delta-sigma with anti-alias filter, blocks constant voltage, all channels at once",
            4,
            Converter(),
            _rates(51200, 25600, 12800, 6400, 3200),
            isolation_v=60.0,
        ),
        Card(
            "T24",
            "thermocouple input: slow delta-sigma, one conversion after the other, averages over the conversion time",
            8,
            Converter(24, 0.078125, Fraction(10), 0, 300e-9, 4e-4, 2e-6, False, 0.0, 0.1),
            _rates(10, 100),
            scanned=True,
            isolation_v=250.0,
        ),
        Card(
            "A16",
            "fast analog input: all channels at once, no anti-alias filter",
            4,
            Converter(16, 10.0, Fraction(100_000), 0, 200e-6, 1e-3, 1e-3, False, 0.0),
            _rates(100_000, 50_000, 10_000, 1000),
            isolation_v=300.0,
        ),
        Card(
            "A12",
            "low-cost analog input: one converter for all channels in turn, no anti-alias filter, no isolation",
            16,
            Converter(12, 10.0, Fraction(50_000), 0, 2e-3, 4e-3, 8e-3, False, 0.0),
            _rates(50_000, 10_000, 1000),
            scanned=True,
        ),
    )
}
"""All input cards by name."""

GROUPS = {"bearings": "V24", "temperatures": "T24", "mains": "A16"}
"""Groups of sensors and the card that each has unless told otherwise."""

MAINS_V = 300.0
"""Isolation that a card needs before the bench lets it near the mains, V."""


def choose(
    group: str, choice: str | Converter | None, used: int, rate_hz: float | Fraction | None
) -> Sequence[Converter]:
    """The converters for a group of ``used`` sensors; :class:`BenchFault` for a card that is not there or must not be
    used.
    """
    choice = GROUPS[group] if choice is None else choice
    if isinstance(choice, Converter):
        return [choice] * used
    if choice not in CARDS:
        raise BenchFault(f"there is no card {choice!r}; cards: {', '.join(CARDS)}")
    card = CARDS[choice]
    if group == "mains" and card.isolation_v < MAINS_V:
        raise BenchFault(
            f"card {card.name} is isolated for {card.isolation_v:g} V and must not be near the mains; "
            f"{MAINS_V:g} V are needed"
        )
    return card.converters(used, rate_hz)


def parts_list() -> str:
    """The parts list as a Markdown table."""
    rows = [
        "| card | channels | bits | range | rates (samples/s) | sampling | noise r.m.s. | one code | isolation | for |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for card in CARDS.values():
        c = card.converter
        rates = ", ".join(f"{float(r):g}" for r in card.rates_hz) + (" in all" if card.scanned else " each")
        rows.append(
            f"| {card.name} | {card.channels} | {c.bits} | ±{c.range_v:g} V | {rates} | "
            f"{'in turn' if card.scanned else 'at once'} | {c.noise_v * 1e6:g} µV | {c.volts_per_code * 1e6:.3g} µV | "
            f"{card.isolation_v:g} V | {card.text} |"
        )
    return "\n".join(rows)
