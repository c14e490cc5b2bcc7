"""Designs that the estimate is judged by and never fitted to: what learners write, and the library's blocks.

``python -m simkit.build.calibrate --corpus tests.build.fresh --measured tests/build/measured_fresh.json --measure-only`` measures them.
The scenario (a grain dryer's fan house) and all numbers in it are invented.
"""

from __future__ import annotations

from collections.abc import Callable

from simkit import Design

from . import blocks, learners

CORPUS: dict[str, Callable[[], Design]] = {
    name: make for module in (learners, blocks) for name, make in module.DESIGNS.items()
}
"""Name to a function that makes the design."""
