"""A scope for recordings in the notebook: pan, zoom, two cursors, search.

The page draws; this side sends it only what its pixels can show (:mod:`simkit.view.pyramid`), so that ten million
changes move as smoothly as ten.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import anywidget
import numpy as np
import traitlets

from ..netlist.model import Clock
from . import search
from .export import Wire, to_wavejson, wires_of, write_vcd
from .lane import Lane
from .picture import Picture
from .rows import Row, RowLike, States, as_row, own_type
from .signals import rows_of
from .text import plain, ticks_text, time_text
from .timing import timing_diagram

HERE = Path(__file__).parent


class Scope(anywidget.AnyWidget):
    """Recorded signals to move about in.

    Parameters
    ----------
    source : a rig (all it recorded, or the signals named), or rows and traces as for :func:`timing_diagram`
    names : signals of the rig
    start, stop : ticks shown first; default: all
    tick_s : period of a tick in seconds; a rig's recordings know it

    ``cursor_a`` and ``cursor_b`` are the cursors' ticks (None: not set), ``shown`` the ticks in view; both may be set.
    """

    _esm = HERE / "scope.js"
    _css = HERE / "scope.css"
    rows: Any = traitlets.List().tag(sync=True)
    span = traitlets.List([0.0, 1.0]).tag(sync=True)
    shown = traitlets.List([0.0, 1.0]).tag(sync=True)
    tick_s = traitlets.Float(allow_none=True).tag(sync=True)
    cursor_a = traitlets.Float(None, allow_none=True).tag(sync=True)
    cursor_b = traitlets.Float(None, allow_none=True).tag(sync=True)
    readout = traitlets.Unicode().tag(sync=True)
    values: Any = traitlets.List().tag(sync=True)
    kinds = traitlets.List(list(search.KINDS)).tag(sync=True)
    follow = traitlets.Bool(False).tag(sync=True)

    def __init__(
        self,
        source: Any,
        *names: str,
        start: float | None = None,
        stop: float | None = None,
        tick_s: float | None = None,
        **more: Any,
    ) -> None:
        self._source, self._names = source, names
        self._rows = self._read()
        self._lanes = [Lane(row) for row in self._rows]
        super().__init__(rows=[lane.meta() for lane in self._lanes], tick_s=tick_s or _tick_of(self._rows), **more)
        self.span = [0.0, self._end()]
        self.shown = [0.0 if start is None else float(start), self.span[1] if stop is None else float(stop)]
        self.on_msg(self._asked)
        self._read_cursors()
        self.observe(self._read_cursors, ["cursor_a", "cursor_b"])

    def _repr_mimebundle_(self, **how: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        """The live scope for JupyterLab, and a still picture for pages and print that run no kernel."""
        live, about = super()._repr_mimebundle_(**how) or ({}, {})
        still, _ = self.picture()._repr_mimebundle_()
        return {**still, **live, "text/plain": repr(self)}, about

    def __repr__(self) -> str:
        names = ", ".join(row.name for row in self._rows)
        return f"Scope of {names}; it comes alive in a notebook, .picture() gives a still picture."

    # --- what a person calls ---

    def find(
        self, name: str, kind: str = "change", value: str | float = "", after: float = -1, *, back: bool = False
    ) -> int | None:
        """The next tick in which a signal does something (see :data:`simkit.view.search.KINDS`); None if it never does."""
        return search.find(self._row(name), kind, str(value), after, back=back)

    def picture(self, **how: Any) -> Picture:
        """What is in view as a static picture, cursors included; takes the arguments of :func:`timing_diagram`."""
        cursors = [tick for tick in (self.cursor_a, self.cursor_b) if tick is not None]
        unit = ("tick", "us") if self.tick_s else "tick"
        return timing_diagram(
            self._rows, self.shown[0], self.shown[1], **{"unit": unit, "tick_s": self.tick_s, "cursors": cursors, **how}
        )

    def vcd(self, path: str | Path) -> Path:
        """Write all rows as Value Change Dump; gives the path."""
        write_vcd(path, self._wires())
        return Path(path)

    def wavejson(self, path: str | Path, title: str = "") -> Path:
        """Write what is in view, at most 2000 ticks, as WaveJSON; gives the path.  Raises ExportFault for more."""
        states = {row.trace.name: row.names for row in self._rows if isinstance(row, States)}
        start, stop = (max(round(tick), 0) for tick in self.shown)
        text = to_wavejson(self._wires(), start, stop, title=title, states=states)
        Path(path).write_text(text, encoding="utf-8")
        return Path(path)

    def refresh(self) -> None:
        """Read the source again, for example after the rig has run on; a view of all stays one of all,
        with ``follow`` a part moves to the end."""
        self._rows = self._read()
        self._lanes = [Lane(row) for row in self._rows]
        before, end = self.span[1], self._end()
        self.span = [0.0, end]
        if self.shown[0] <= 0 and self.shown[1] >= before:
            self.shown = [0.0, end]
        elif self.follow and end > before:
            self.shown = [tick + end - self.shown[1] for tick in self.shown]
        self.send({"tell": "stale"})

    # --- inside ---

    def _read(self) -> list[Row]:
        source = self._source
        items: Sequence[RowLike] = rows_of(source, *self._names) if hasattr(source, "trace") else source
        rows = [as_row(item) for item in items]
        for row in rows:
            if not isinstance(row, Row):
                raise TypeError(f"a scope shows signals; {type(row).__name__} belongs into a timing diagram")
        if not rows:
            raise ValueError("a scope needs at least one recorded signal; name some in load(…, record=[…])")
        return rows  # type: ignore[return-value]

    def _wires(self) -> list[Wire]:
        traces = {row.trace.name: row.trace for row in self._rows}
        given = [(row.trace.name, own_type(row.trace, getattr(row, "type", None))) for row in self._rows]
        rate = 1 / Fraction(repr(self.tick_s)) if self.tick_s else Fraction(40_000_000)
        clock = Clock("fabric", rate.numerator, rate.denominator)
        return wires_of(traces.values(), {name: kind for name, kind in given if kind}, clock)

    def _end(self) -> float:
        ticks = getattr(self._source, "ticks", None)
        lasts = [lane.last + 1 for lane in self._lanes]
        return max([*lasts, float(ticks) if isinstance(ticks, int) else 0.0, 1.0])

    def _row(self, name: str) -> Row:
        for row in self._rows:
            if name in (row.name, row.trace.name):
                return row
        raise search.SearchFault(f"there is no row {name!r}; rows: {', '.join(row.name for row in self._rows)}")

    def _asked(self, _: Any, content: dict[str, Any], buffers: Any) -> None:
        if content.get("ask") == "window":
            self._send_window(content)
        elif content.get("ask") == "search":
            self._search(content)

    def _send_window(self, wanted: dict[str, Any]) -> None:
        start, stop, count = float(wanted["start"]), float(wanted["stop"]), min(int(wanted["columns"]), 20_000)
        rows, buffers = [], []
        for lane in self._lanes:
            parts, arrays = lane.window(start, stop, count)
            rows.append(parts)
            buffers += [np.ascontiguousarray(array, np.float64).tobytes() for array in arrays]
        self.send({"tell": "window", "start": start, "stop": stop, "rows": rows}, buffers)

    def _search(self, wanted: dict[str, Any]) -> None:
        row = self._rows[int(wanted["row"])]
        name = f"{row.name} {wanted['kind']} {wanted.get('value', '')}".strip()
        try:
            tick = search.find(
                row, wanted["kind"], wanted.get("value", ""), float(wanted["after"]), back=bool(wanted["back"])
            )
        except search.SearchFault as fault:
            self.send({"tell": "found", "tick": None, "text": str(fault)})
            return
        where = "before" if wanted["back"] else "after"
        text = (
            f"{name}: tick {plain(tick)}"
            if tick is not None
            else f"{name}: not found {where} tick {plain(float(wanted['after']))}"
        )
        self.send({"tell": "found", "tick": tick, "text": text})

    def _read_cursors(self, _: Any = None) -> None:
        ticks = [self.cursor_a, self.cursor_b]
        self.values = [[lane.words(tick) for tick in ticks] for lane in self._lanes]
        told = [
            f"{name}: tick {plain(tick)}" + (f" = {time_text(tick * self.tick_s)}" if self.tick_s else "")
            for name, tick in zip("AB", ticks, strict=True)
            if tick is not None
        ]
        if len(told) == 2:
            told.append(f"B − A: {ticks_text(round(ticks[1] - ticks[0]), self.tick_s)}")  # type: ignore[operator]
        self.readout = "   ".join(told)


def _tick_of(rows: Sequence[Row]) -> float | None:
    rates = [float(getattr(row.trace, "hz", 0)) * row.per_tick for row in rows]
    return next((1 / rate for rate in rates if rate), None)
