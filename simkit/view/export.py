"""Recordings as open formats: Value Change Dump (IEEE Std 1364-2005, clause 18) and WaveJSON."""

from __future__ import annotations

import heapq
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from ..engines.api import Trace
from ..netlist.model import Clock
from ..netlist.types import BIT, Type
from . import reduce
from .text import value_text

PICO = 10**12
STEPS_AT_MOST = 2000
"""Most ticks a WaveJSON text may span; the notation has one character for each."""


class ExportFault(ValueError):
    """A recording that the format cannot hold, with what to do instead."""


@dataclass(frozen=True)
class Wire:
    """A recording and what is needed to write it down: its type and its clock (40 MHz if not given)."""

    trace: Trace
    type: Type
    clock: Clock = Clock("fabric", 40_000_000)


def wires_of(traces: Iterable[Trace], types: Mapping[str, Type] | None = None, clock: Clock = Wire.clock) -> list[Wire]:
    """Traces with their types by name.

    A rig's recordings know their type and clock themselves; any other trace is on ``clock`` and, without a type,
    gets the narrowest integer type that holds its values.
    """
    types = types or {}
    return [Wire(t, types.get(t.name) or getattr(t, "type", None) or narrowest(t), _clock_of(t, clock)) for t in traces]


def _clock_of(trace: Trace, otherwise: Clock) -> Clock:
    hz = getattr(trace, "hz", None)
    return Clock(f"{float(hz):g} Hz", hz.numerator, hz.denominator) if hz else otherwise


def narrowest(trace: Trace) -> Type:
    """``bit``, ``unsigned(n)`` or ``signed(n)``, as narrow as the values allow."""
    low, high = (int(f(trace.values)) for f in (np.min, np.max)) if len(trace.values) else (0, 0)
    if low < 0:
        return Type("signed", max((-low - 1).bit_length(), high.bit_length()))
    return BIT if high <= 1 else Type("unsigned", high.bit_length() - 1)


def write_vcd(path: str | Path, wires: Sequence[Wire], *, design: str = "design", comment: str = "") -> None:
    """Write a Value Change Dump; see :func:`to_vcd`."""
    with Path(path).open("w", encoding="ascii", newline="\n") as out:
        _write(out, wires, design, comment)


def to_vcd(wires: Sequence[Wire], *, design: str = "design", comment: str = "") -> str:
    """The recording as Value Change Dump.

    Dots in names become scopes, so that sub-designs can be folded.  A change in tick *k* stands at the time at
    which that tick begins, in picoseconds (a coarser unit where every clock allows it).  Bits that no tick has
    given yet are ``x``.  Fixed-point signals are dumped as their bits; the binary point stands in a comment.

    Raises
    ------
    ExportFault
        If a name occurs twice or a value does not fit its type.
    """
    out = io.StringIO()
    _write(out, wires, design, comment)
    return out.getvalue()


def _write(out: TextIO, wires: Sequence[Wire], design: str, comment: str) -> None:
    names = [wire.trace.name for wire in wires]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ExportFault(f"these signals are there twice: {', '.join(twice)}; give each a name of its own")
    unit = _unit(wires)
    codes = [_code(i) for i in range(len(wires))]
    for line in _header(wires, codes, unit, design, comment):
        out.write(line + "\n")
    changes = heapq.merge(
        *(_changes(wire, code, unit) for wire, code in zip(wires, codes, strict=True)), key=lambda change: change[0]
    )
    first = {wire.trace.name: len(wire.trace.ticks) and wire.trace.ticks[0] == 0 for wire in wires}
    out.write("$dumpvars\n")
    for wire, code in zip(wires, codes, strict=True):
        out.write(
            (
                _value(int(wire.trace.values[0]), wire.type, code)
                if first[wire.trace.name]
                else _unknown(wire.type, code)
            )
            + "\n"
        )
    out.write("$end\n")
    now = 0
    for time, text in changes:
        if time == 0:
            continue
        if time != now:
            out.write(f"#{time}\n")
            now = time
        out.write(text + "\n")


def _unit(wires: Sequence[Wire]) -> int:
    """Picoseconds in the largest unit (a power of ten, at most 1 ns) in which every tick begins on a whole number."""
    for unit in (1000, 100, 10):
        if all(PICO * w.clock.hz_den % (w.clock.hz_num * unit) == 0 for w in wires):
            return unit
    return 1


def _header(wires: Sequence[Wire], codes: Sequence[str], unit: int, design: str, comment: str) -> Iterator[str]:
    yield "$comment " + _ascii(comment or "tick k of a clock begins at floor(k * period)") + " $end"
    for wire in wires:
        if wire.type.fixed:
            yield f"$comment {_ascii(wire.trace.name)} is {wire.type} $end"
    yield f"$timescale {'1 ns' if unit == 1000 else f'{unit} ps'} $end"
    yield f"$scope module {_identifier(design)} $end"
    yield from _scope([(wire.trace.name.split("."), wire, code) for wire, code in zip(wires, codes, strict=True)])
    yield "$upscope $end"
    yield "$enddefinitions $end"
    yield "#0"


def _scope(items: Sequence[tuple[list[str], Wire, str]]) -> Iterator[str]:
    inner: dict[str, list[tuple[list[str], Wire, str]]] = {}
    taken: set[str] = set()
    for path, wire, code in items:
        if len(path) > 1:
            inner.setdefault(path[0], []).append((path[1:], wire, code))
            continue
        size = "" if wire.type.width == 1 else f" [{wire.type.width - 1}:0]"
        yield f"$var wire {wire.type.width} {code} {_free(_identifier(path[0]), taken)}{size} $end"
    for name, below in inner.items():
        yield f"$scope module {_free(_identifier(name), taken)} $end"
        yield from _scope(below)
        yield "$upscope $end"


def _free(name: str, taken: set[str]) -> str:
    """The name, with a number if two different names have become the same identifier."""
    number = 2
    free = name
    while free in taken:
        free, number = f"{name}_{number}", number + 1
    taken.add(free)
    return free


def _code(index: int) -> str:
    """Identifier code of printable characters ``!`` to ``~``."""
    text = ""
    while True:
        text += chr(33 + index % 94)
        index = index // 94 - 1
        if index < 0:
            return text


def _changes(wire: Wire, code: str, unit: int) -> Iterator[tuple[int, str]]:
    step, rate = PICO * wire.clock.hz_den, wire.clock.hz_num
    for tick, value in zip(wire.trace.ticks, wire.trace.values, strict=True):
        yield int(tick) * step // rate // unit, _value(int(value), wire.type, code)


def _value(raw: int, kind: Type, code: str) -> str:
    if not kind.holds(raw):
        raise ExportFault(f"the value {raw} does not fit {kind}; give the signal its own type")
    bits = raw & ((1 << kind.width) - 1)
    return f"{bits}{code}" if kind.width == 1 else f"b{bits:b} {code}"


def _unknown(kind: Type, code: str) -> str:
    return f"x{code}" if kind.width == 1 else f"bx {code}"


def _identifier(name: str) -> str:
    """The name with everything but letters, digits, ``_`` and ``$`` replaced, not beginning with a digit."""
    text = "".join(c if c.isascii() and (c.isalnum() or c in "_$") else "_" for c in name) or "_"
    return "_" + text if text[0].isdigit() else text


def _ascii(text: str) -> str:
    return text.encode("ascii", "replace").decode().replace("$end", "_end")


def to_wavejson(
    wires: Sequence[Wire],
    start: int = 0,
    stop: int | None = None,
    *,
    title: str = "",
    states: Mapping[str, Sequence[str]] | None = None,
) -> str:
    """A stretch of ticks of one clock as WaveJSON text.

    One character is one tick; ``.`` holds, ``0``/``1`` are levels, ``=`` is a new bus value whose text is in ``data``.

    Raises
    ------
    ExportFault
        If the stretch is empty or longer than 2000 ticks, or the wires are on several clocks.
    """
    clocks = {wire.clock for wire in wires}
    if len(clocks) > 1:
        raise ExportFault(
            "WaveJSON has one time step for all signals; export the signals of one clock at a time, or use VCD"
        )
    stop = (
        max((int(w.trace.ticks[-1]) + 1 for w in wires if len(w.trace.ticks)), default=start) if stop is None else stop
    )
    if not 0 < stop - start <= STEPS_AT_MOST:
        raise ExportFault(
            f"ticks {start} to {stop} are {stop - start} steps; WaveJSON holds 1 to {STEPS_AT_MOST}. "
            "Choose start and stop, or use VCD"
        )
    signals = [_signal(wire, start, stop, (states or {}).get(wire.trace.name)) for wire in wires]
    whole: dict[str, Any] = {"signal": signals, "head": {"tick": start}}
    if title:
        whole["head"]["text"] = title
    return json.dumps(whole, indent=1, ensure_ascii=False)


def _signal(wire: Wire, start: int, stop: int, states: Sequence[str] | None) -> dict[str, Any]:
    ticks, values = reduce.window(wire.trace, start, stop)
    wave, data = ["."] * (stop - start), []
    wave[0] = "x"
    for tick, raw in zip(ticks.tolist(), values.tolist(), strict=True):
        bit = wire.type.width == 1
        wave[int(tick) - start] = str(raw & 1) if bit else "="
        if not bit:
            data.append(states[raw] if states and 0 <= raw < len(states) else value_text(raw, wire.type))
    entry: dict[str, Any] = {"name": wire.trace.name, "wave": "".join(wave)}
    return {**entry, "data": data} if data else entry
