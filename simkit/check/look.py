"""A moment of a run, cut out as plain data: which tick to look at, and what the signals did around it.

It crosses from the judge's process as JSON, so it holds numbers and texts alone, and only the changes in its window.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..engines.api import Trace
from ..netlist.types import Type

MOST_ROWS = 7
MOST_CHANGES = 400
BEFORE, AFTER = 4, 4
"""How many changes of the signals in question are shown before and after the moment."""

CLOSE = 120
"""A window at most this many times as long as the first difference."""

Expected = Trace | Sequence[tuple[int, int]]


@dataclass(frozen=True)
class Strip:
    """One signal in the window: raw values, each held from its tick on.  ``expected`` is empty where nothing is known.

    ``curve`` draws it as a curve with a scale; ``base`` is how a value is written: ``number``, ``hex`` or ``bin``.
    """

    name: str
    type: str
    changes: tuple[tuple[int, int], ...]
    expected: tuple[tuple[int, int], ...] = ()
    curve: bool = False
    base: str = "number"


@dataclass(frozen=True)
class Look:
    """Look at ``tick``; ``strips`` hold what happened from ``start`` to ``stop``; ``note`` says what to notice."""

    tick: int
    start: int
    stop: int
    strips: tuple[Strip, ...]
    note: str = ""

    @classmethod
    def from_plain(cls, plain: Any) -> Look | None:
        """From what :func:`dataclasses.asdict` or JSON made of it; None stays None."""
        if plain is None or isinstance(plain, Look):
            return plain
        strips = tuple(
            Strip(**{**one, "changes": _pairs(one["changes"]), "expected": _pairs(one["expected"])})
            for one in plain["strips"]
        )
        return cls(plain["tick"], plain["start"], plain["stop"], strips, plain["note"])

    def text(self) -> str:
        """The moment in words: "tick 1200: lamp is 1, expected 0; switch is 1"."""
        words = [_words(strip, self.tick) for strip in reversed(self.strips)]
        return f"tick {self.tick}: " + "; ".join(words) + (f" ({self.note})" if self.note else "")


def _pairs(rows: Any) -> tuple[tuple[int, int], ...]:
    return tuple((int(tick), int(value)) for tick, value in rows)


def _words(strip: Strip, tick: int) -> str:
    from ..netlist.types import parse
    from ..view.text import value_text

    kind = parse(strip.type)
    now, wanted = held(strip.changes, tick), held(strip.expected, tick)
    text = f"{strip.name} is {'not known' if now is None else value_text(now, kind, strip.base)}"
    return text if wanted in (None, now) else f"{text}, expected {value_text(wanted, kind, strip.base)}"


def held(changes: Sequence[tuple[int, int]], tick: int) -> int | None:
    """The value in a tick; None before the first change."""
    values = [value for at, value in changes if at <= tick]
    return values[-1] if values else None


def look_at(
    traces: Mapping[str, Trace],
    types: Mapping[str, Type],
    names: Sequence[str],
    ticks: int,
    at: int | None,
    expected: Mapping[str, Expected],
    note: str,
    around: Sequence[int] = (),
) -> Look | None:
    """Cut the moment out of a run of ``ticks`` ticks; ``names`` are the signals in question, the others were driven.  The
    window holds the ticks ``around`` too."""
    wanted = {name: _as_trace(name, one) for name, one in expected.items()}
    tick = _first_difference(traces, wanted, ticks) if at is None else min(max(int(at), 0), ticks)
    if tick is None:
        return None
    start, stop = _window([traces[name] for name in names] + list(wanted.values()), tick, ticks)
    length = min((d for name, one in wanted.items() if (d := _differing(traces[name], one, tick, stop))), default=0)
    if length and stop - start > CLOSE * length:  # too short to be seen: closer
        start, stop = max(tick - CLOSE // 4 * length, start), min(tick + CLOSE // 4 * length, stop)
    start, stop = (
        max(min([start, *(one - 2 for one in around)]), 0),
        min(max([stop, *(one + 2 for one in around)]), ticks + 1),
    )
    driven = [name for name in traces if name not in names][: max(MOST_ROWS - len(names), 0)]
    strips = [
        Strip(name, str(types[name]), _cut(traces[name], start, stop), _cut(wanted.get(name), start, stop))
        for name in (*driven, *names[:MOST_ROWS])
    ]
    return Look(tick, start, stop, tuple(strips), note)


def seen(
    rows: Mapping[str, Expected | tuple[Expected, Expected]],
    *,
    at: int | None = None,
    around: Sequence[int] = (),
    types: Mapping[str, str] | None = None,
    curves: Sequence[str] = (),
    base: str = "number",
    note: str = "",
) -> Look | None:
    """A look at anything that happened tick by tick, for a judge whose run is none of :func:`drive`.

    Parameters
    ----------
    rows : for a name, what happened (a trace or ``[(tick, value), ...]``), or that and what is expected
    at : the tick to look at; None: the first in which a row differs from what is expected
    around : ticks that the window holds: with two of them the window is theirs; without, it holds all
    types : for a name the type of its raw values; 64 bits with a sign without
    curves : names to draw as curves with a scale
    base : how values are written: ``number``, ``hex`` or ``bin``

    Gives None if nothing happened, or nothing differs.
    """
    kinds = types or {}
    pairs = {name: row if isinstance(row, tuple) else (row, None) for name, row in rows.items()}
    traces = {name: _as_trace(name, row[0]) for name, row in pairs.items()}
    wanted = {name: _as_trace(name, row[1]) for name, row in pairs.items() if row[1] is not None}
    every = [trace for trace in (*traces.values(), *wanted.values()) if len(trace.ticks)]
    last = max((int(trace.ticks[-1]) for trace in every), default=0) + 1
    tick = _first_difference(traces, wanted, last) if at is None else int(at)
    if tick is None or not every:
        return None
    start, stop = (min(around), max(around) + 1) if around else (min(int(t.ticks[0]) for t in every), last)
    start, stop = max(min(start, tick), 0), max(stop, tick + 1)
    strips = tuple(
        Strip(
            name,
            kinds.get(name, "signed(64)"),
            _cut(trace, start, stop, name in curves),
            _cut(wanted.get(name), start, stop, name in curves),
            name in curves,
            base if kinds.get(name) != "bit" else "number",
        )
        for name, trace in list(traces.items())[:MOST_ROWS]
    )
    return Look(tick, start, stop, strips, note)


def _as_trace(name: str, given: Expected) -> Trace:
    if isinstance(given, Trace):
        return given
    return Trace(name, np.array([tick for tick, _ in given]), np.array([value for _, value in given]))


def _first_difference(traces: Mapping[str, Trace], wanted: Mapping[str, Trace], ticks: int) -> int | None:
    from ..view.reduce import differences

    begins = [differences(traces[name], one, 0, ticks)[0] for name, one in wanted.items()]
    return min((int(found[0]) for found in begins if len(found)), default=None)


def _differing(one: Trace, other: Trace, tick: int, stop: int) -> int:
    """For how many ticks two traces differ from ``tick`` on; 0 if they do not differ there."""
    from ..view.reduce import differences

    begins, ends = differences(one, other, tick, stop)
    return int(ends[0] - begins[0]) if len(begins) and begins[0] == tick else 0


def _window(traces: Sequence[Trace], tick: int, ticks: int) -> tuple[int, int]:
    """First and last tick worth showing: some changes on either side of the moment, and a little room."""
    changes = np.unique(np.concatenate([np.asarray(trace.ticks) for trace in traces] or [np.empty(0, np.int64)]))
    before, after = changes[changes < tick][-BEFORE:], changes[changes > tick][:AFTER]
    start = int(before[0]) if len(before) else max(tick - 20, 0)
    stop = int(after[-1]) if len(after) else min(tick + max(20, (tick - start) // 4), ticks)
    room = max((stop - start) // 20, 2)
    return max(start - room, 0), min(max(stop, tick + 1) + room, ticks + 1)


def _cut(trace: Trace | None, start: int, stop: int, curve: bool = False) -> tuple[tuple[int, int], ...]:
    """The changes in the window, the first ones if there are too many; of a curve, what a picture can show."""
    if trace is None:
        return ()
    from ..view.reduce import columns, window

    ticks, values = window(trace, start, stop)
    if curve:
        ticks, values = columns(ticks, values, start, stop, MOST_CHANGES // 4)
    return tuple((int(t), int(v)) for t, v in zip(ticks[:MOST_CHANGES], values[:MOST_CHANGES], strict=True))
