"""Looking for an edge or a value in a recording, forwards or backwards, without reading all of it."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from ..engines.api import Trace
from .reduce import differences, locate
from .rows import Curve, Row, States, own_type

CHUNK = 1 << 18
VALUED = ("equals", "reaches", "drops below")
KINDS = ("change", "rise", "fall", *VALUED, "differs")
"""What can be looked for: any change; up or down; the value becomes equal to, at least, or less than a given one;
it begins to differ from what was expected."""


class SearchFault(ValueError):
    """Something that cannot be looked for, with what can."""


def find(row: Row, kind: str, value: str = "", after: float = -1, *, back: bool = False) -> int | None:
    """The nearest tick after (or before, with ``back``) a tick in which the row's signal does what is looked for.

    Parameters
    ----------
    kind : one of :data:`KINDS`
    value : for :data:`VALUED`: a number in the row's own format, or the name of a state

    Returns None if there is none.  Raises :class:`SearchFault` for an unknown kind or a value that is no number.
    """
    if kind not in KINDS:
        raise SearchFault(f"{kind!r} cannot be looked for; choose {', '.join(KINDS)}")
    trace, expected = row.on_picture_clock()
    if kind == "differs":
        return _differs(trace, expected, after, back)
    hits = _test(kind, raw_of(row, value) if kind in VALUED else Fraction(0))
    side = locate(trace.ticks, after, "left" if back else "right")
    if back:
        return _scan(trace, hits, range(int(side), 1, -CHUNK), back=True)
    return _scan(trace, hits, range(max(int(side), 1), len(trace.ticks), CHUNK), back=False)


def _differs(trace: Trace, expected: Trace | None, after: float, back: bool) -> int | None:
    if expected is None:
        raise SearchFault(f"{trace.name} has nothing to differ from; give its row an expected recording")
    stop = max((float(t.ticks[-1]) for t in (trace, expected) if len(t.ticks)), default=0.0) + 1
    begins, _ = differences(trace, expected, 0, stop)
    found = begins[begins < after][-1:] if back else begins[begins > after][:1]
    return int(found[0]) if len(found) else None


def raw_of(row: Row, text: str) -> Fraction:
    """The raw value that a text means in the row's own number format; a fraction if it lies between two."""
    words = text.strip()
    if isinstance(row, States) and words in row.names:
        return Fraction(list(row.names).index(words))
    kind = own_type(row.trace, getattr(row, "type", None))
    scale = Fraction(repr(float(row.scale))) if isinstance(row, Curve) else Fraction(1)
    try:
        number = Fraction(int(words, 0)) if words[:2].lower() in ("0x", "0b") else Fraction(words.replace(",", "."))
    except (ValueError, ZeroDivisionError):
        names = f" or one of {', '.join(row.names)}" if isinstance(row, States) else ""
        raise SearchFault(f"{text!r} is no number; write a number such as 12, -0.5 or 0x1F{names}") from None
    return number / scale / (kind.step if kind else 1)


def _test(kind: str, raw: Fraction) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """A test of (values before, values after) a change."""
    level = int(raw) if raw.denominator == 1 else float(raw)
    return {
        "change": lambda old, new: np.ones(len(new), bool),
        "rise": lambda old, new: new > old,
        "fall": lambda old, new: new < old,
        "equals": lambda old, new: new == level,
        "reaches": lambda old, new: (new >= level) & (old < level),
        "drops below": lambda old, new: (new < level) & (old >= level),
    }[kind]


def _scan(
    trace: Trace, hits: Callable[[np.ndarray, np.ndarray], np.ndarray], starts: range, *, back: bool
) -> int | None:
    for start in starts:
        low, high = (max(start - CHUNK, 1), start) if back else (start, min(start + CHUNK, len(trace.ticks)))
        found = np.flatnonzero(hits(trace.values[low - 1 : high - 1], trace.values[low:high]))
        if len(found):
            return int(trace.ticks[low + int(found[-1 if back else 0])])
    return None
