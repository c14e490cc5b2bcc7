"""Where to look when a judge does not say: what it asked of a run of the learner's own design.

A judge asks a run for values at ticks, or for the ticks of changes.  What it measured is most often one of these values,
or a distance between two of these changes; so the moment is found without a word from the lab's author.  Where several values
were asked for and the measured one is not among them, the window holds the last of them, so that the wrong one is in the picture.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from .drive import Played
from .look import Look
from .model import Result

COSTS = ("flip-flops", "MHz", "multipliers", "tables", "blocks")
"""Units of what a design costs: no moment of a run shows that."""
TOGETHER = 8
"""How many of the last ticks that a judge asked for are shown together."""
MOST_NAMES = 4
"""How many of the signals that a judge asked for are shown."""
NUMBER = re.compile(r"-?\b\d+\b")

Question = tuple[Played, str, int | None]


def choose(result: Result, runs: Sequence[Played], before: Mapping[int, int] | None = None) -> Look | None:
    """A moment for a failed result, from the runs made so far; None if nothing was looked at.

    ``before`` says how much of each run (by ``id``) was asked for the results before this one.
    """
    if isinstance(result.measured, bool) or result.unit in COSTS:
        return None
    asked = [(run, name, tick) for run in runs for name, tick in run.asked]
    fresh = [(run, name, tick) for run in runs for name, tick in run.asked[(before or {}).get(id(run), 0) :]]
    asked = _of_its_name(result, fresh or asked)
    if not asked:
        return None
    found = _same_value(result, asked)
    run, name, tick = found or asked[-1]
    here = [(called, at) for other, called, at in asked if other is run]
    names = list(dict.fromkeys([name, *(called for called, _ in reversed(here))]))[:MOST_NAMES]
    if tick is not None:
        ticks = [at for called, at in here if called in names and at is not None]
        return run.look(*names, at=tick, around=() if found else ticks[-TOGETHER:])
    still = not len(run._trace(name).ticks[1:])
    return run.look(*names, at=_odd_change(run, name, result.wanted), around=(0, run.ticks) if still else ())


def _of_its_name(result: Result, asked: list[Question]) -> list[Question]:
    """The questions about the signal that the criterion is called after, if there are any; else all."""
    return [one for one in asked if one[1].split(".")[-1] == result.name] or asked


def _same_value(result: Result, asked: Sequence[Question]) -> Question | None:
    """The latest question whose answer is the measured value, or in a text a number that is not the one that is wanted."""
    for value in _wrong_numbers(result.measured, result.wanted):
        for run, name, tick in reversed(asked):
            trace = run._trace(name)
            if tick is not None and trace.at(tick) == value:
                return run, name, tick
            if tick is None and value in trace.values[1:]:
                return run, name, int(trace.ticks[1:][trace.values[1:] == value][-1])
    return None


def _wrong_numbers(measured: Any, wanted: Any) -> list[int]:
    if isinstance(measured, int):
        return [measured]
    if not isinstance(measured, str):
        return []
    found, right = NUMBER.findall(measured), NUMBER.findall(str(wanted))
    return [int(number) for i, number in enumerate(found) if len(found) != len(right) or number != right[i]]


def _odd_change(run: Played, name: str, wanted: Any) -> int:
    """The first change that comes too early or too late, where a distance is wanted; else the first change."""
    changes = run._trace(name).ticks[1:]
    gaps = np.diff(changes)
    if isinstance(wanted, int) and len(gaps) > 1:
        odd = np.flatnonzero(gaps[1:] != wanted)
        if len(odd):
            return int(changes[odd[0] + 2])
    return int(changes[0]) if len(changes) else 0
