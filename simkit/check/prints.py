"""Short digests of an answer, by which equal answers can be found without keeping them: the tries of a learner, the work of a class.

``answer`` is equal for equal values and for designs that are the same circuit whatever their registers are called and wherever
in the notebook they stand.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from typing import Any

from ..netlist.json_form import FIELDS, PARTS
from .judging import Answer
from .kinds import Design, Kind, Record
from .model import Exercise


def print_of(exercise: Exercise, answer: Answer) -> str:
    """The digest of a given answer; "" if there is none, or none that can be read."""
    if answer.status != "given":
        return ""
    try:
        plain = _plain(exercise.kind, answer.data)
        text = json.dumps(plain, sort_keys=True, ensure_ascii=False, default=str)
    except (TypeError, ValueError, LookupError, RecursionError):
        return ""
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _plain(kind: Kind, data: Any) -> Any:
    if isinstance(kind, Design):
        return circuit(data)
    if isinstance(kind, Record):
        return {name: _plain(part, data[name]) for name, part in kind.parts.items()}
    return data


KEPT = {
    "clocks": ("hz_num", "hz_den"),
    "inputs": ("type", "clock", "strobe"),
    "regs": ("type", "reset", "clock", "next", "cross"),
    "timers": ("width", "reset", "clock", "load", "value"),
    "mems": ("type", "depth", "init"),
    "reads": ("mem", "clock", "addr", "enable"),
    "writes": ("mem", "clock", "addr", "data", "enable"),
    "nodes": ("op", "args", "type", "attr"),
    "outputs": ("type", "clock", "node"),
    "endpoints": ("kind", "terminal", "type"),
}


def circuit(text: str) -> list[Any]:
    """A netlist's JSON text without names and places.  The text is not checked: whoever judges it has read it with care."""
    raw = json.loads(text)
    return [[[row[i] for i in columns] for row in raw[part]] for part, columns in _columns().items()]


@lru_cache(maxsize=1)
def _columns() -> dict[str, list[int]]:
    columns = {}
    for part, kept in KEPT.items():
        names = [name for name, _ in FIELDS[PARTS[part]]]
        columns[part] = [names.index(name) for name in kept]
    return columns
