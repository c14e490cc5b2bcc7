"""Where to look when a judge does not say: the last thing that it asked of a run of the learner's design.

A judge asks a run for values at ticks, or for the ticks of changes.  What it measured is most often one of these values,
or a distance between two of these changes; so the moment is found without a word from the lab's author.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .drive import Played
from .look import Look
from .model import Result


def choose(result: Result, runs: Sequence[Played]) -> Look | None:
    """A moment for a failed result, from the runs made so far; None if nothing was looked at."""
    asked = [(run, name, tick) for run in runs for name, tick in run.asked]
    if not asked or isinstance(result.measured, bool):
        return None
    run, name, tick = _same_value(result, asked) or asked[-1]
    if tick is None:
        tick = _odd_change(run, name, result.wanted)
    return run.look(name, at=tick)


def _same_value(result: Result, asked: Sequence[Any]) -> Any:
    """The latest question whose answer is the measured value."""
    if not isinstance(result.measured, int):
        return None
    questions = [one for one in asked if one[2] is not None]
    return next((one for one in reversed(questions) if one[0]._trace(one[1]).at(one[2]) == result.measured), None)


def _odd_change(run: Played, name: str, wanted: Any) -> int:
    """The first change that comes too early or too late, where a distance is wanted; else the first change."""
    changes = run._trace(name).ticks[1:]
    gaps = np.diff(changes)
    if isinstance(wanted, int) and len(gaps) > 1:
        odd = np.flatnonzero(gaps[1:] != wanted)
        if len(odd):
            return int(changes[odd[0] + 2])
    return int(changes[0]) if len(changes) else 0
