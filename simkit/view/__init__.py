"""Pictures of what a design did, live and still; export as open standards.

====================================================  ==========================================================
``timing_diagram(rows, start, stop)``                 signals under each other; rows: ``Level``, ``Bus``, ``States``,
                                                      ``Curve``, ``Turns``, or a rig's recordings as they are
``rows_of(rig, *names)``                              rows with types and state names from the design itself
``schedule(parts)``, ``schedule_of(rig, loop)``       which part of a turn works in which tick; late turns
``histogram``, ``queue_level``                        spread of periods; words waiting in a queue
``spectrum``, ``waterfall``, ``bode``                 frequency and speed
``balance_plot``                                      vibration and weights as vectors
``critical_path``, ``usage_bars``                     what the build says
``Scope(rig)``, ``Panel(design, bench)``              live: move through recordings; play on the bench while it runs
``write_vcd``, ``to_vcd``, ``to_wavejson``            recordings for other programs
====================================================  ==========================================================

Every figure carries alternative text (``alt=`` replaces the text it builds) and is readable on light and dark
pages; ``use_theme("light")`` and ``"dark"`` give opaque paper.  Importing this package loads no plotting library;
the first figure does.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .export import to_vcd, to_wavejson, write_vcd
    from .loops import Part, histogram, schedule, turns_of
    from .panel import Panel
    from .picture import Picture, alt_text
    from .plots import PathStep, balance_plot, critical_path, queue_level, usage_bars
    from .reduce import first_difference
    from .rows import Bus, Curve, Level, States, Turns
    from .scope import Scope
    from .signals import parts_of, rows_of, schedule_of, turns_in
    from .spectra import bode, spectrum, waterfall
    from .style import use_theme
    from .timing import Mark, timing_diagram

_HOMES = {
    "export": ("to_vcd", "to_wavejson", "write_vcd"),
    "loops": ("Part", "histogram", "schedule", "turns_of"),
    "panel": ("Panel",),
    "picture": ("Picture", "alt_text"),
    "plots": ("PathStep", "balance_plot", "critical_path", "queue_level", "usage_bars"),
    "reduce": ("first_difference",),
    "rows": ("Bus", "Curve", "Level", "States", "Turns"),
    "scope": ("Scope",),
    "signals": ("parts_of", "rows_of", "schedule_of", "turns_in"),
    "spectra": ("bode", "spectrum", "waterfall"),
    "style": ("use_theme",),
    "timing": ("Mark", "timing_diagram"),
}
_HOME = {name: module for module, names in _HOMES.items() for name in names}

__all__ = [
    "Bus",
    "Curve",
    "Level",
    "Mark",
    "Panel",
    "Part",
    "PathStep",
    "Picture",
    "Scope",
    "States",
    "Turns",
    "alt_text",
    "balance_plot",
    "bode",
    "critical_path",
    "first_difference",
    "histogram",
    "parts_of",
    "queue_level",
    "rows_of",
    "schedule",
    "schedule_of",
    "spectrum",
    "timing_diagram",
    "to_vcd",
    "to_wavejson",
    "turns_in",
    "turns_of",
    "usage_bars",
    "use_theme",
    "waterfall",
    "write_vcd",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f".{_HOME[name]}", __name__), name)


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(__all__))
