"""Designs of many kinds, for calibrating the estimate and comparing synthesised netlists with the engines.

The scenario (a grain dryer's fan house) and all numbers in it are invented.
"""

from __future__ import annotations

from collections.abc import Callable

from simkit import Design

from . import counting, datapath, filters, memories, sequences, signals

CORPUS: dict[str, Callable[[], Design]] = {
    name: make
    for module in (counting, datapath, filters, memories, sequences, signals)
    for name, make in module.DESIGNS.items()
}
"""Name to a function that makes the design."""
