"""The netlist as JSON and back.  Reading checks everything; nothing in the text can run code.

The form is the dataclasses of :mod:`simkit.netlist.model` written as arrays in field order (types as their
printed text, places as indices into a table), so that the same netlist always gives the same bytes.
"""

from __future__ import annotations

import dataclasses
import json
import types as pytypes
import typing
from typing import Any

from .check import LIMITS, BadNetlist
from .model import Clock, Endpoint, Input, Loc, Loop, Mem, Netlist, Node, Output, Read, Reg, Timer, Write
from .once import checked
from .types import Type, TypeFault, parse

FORMAT = "tickbench netlist 1"
MAX_BYTES = 64 * 1024 * 1024

PARTS: dict[str, type] = {
    "clocks": Clock,
    "inputs": Input,
    "regs": Reg,
    "timers": Timer,
    "mems": Mem,
    "reads": Read,
    "writes": Write,
    "nodes": Node,
    "outputs": Output,
    "endpoints": Endpoint,
    "loops": Loop,
}


def _fields(cls: type) -> list[tuple[str, Any]]:
    hints = typing.get_type_hints(cls)
    if hasattr(cls, "_fields"):
        return [(name, hints[name]) for name in cls._fields]
    return [(f.name, hints[f.name]) for f in dataclasses.fields(cls)]


FIELDS = {cls: _fields(cls) for cls in (*PARTS.values(), Loc)}


def to_json(netlist: Netlist) -> str:
    """The netlist as compact JSON text; equal netlists give equal text."""
    places: dict[Loc, int] = {}

    texts: dict[Type, str] = {}

    def place(loc: Loc) -> int:
        return places.setdefault(loc, len(places))

    def text(kind: Type) -> str:
        return texts.get(kind) or texts.setdefault(kind, str(kind))

    def plain(value: Any, hint: Any) -> Any:
        if hint is Loc:
            return place(value)
        if hint is Type:
            return text(value)
        return list(value) if isinstance(value, tuple) else value

    parts: dict[str, Any] = {"format": FORMAT, "name": netlist.name}
    for part, cls in PARTS.items():
        if cls is Node:  # most of a netlist
            parts[part] = [
                [op, args, text(kind), attr, place(loc), name] for op, args, kind, attr, loc, name in netlist.nodes
            ]
            continue
        parts[part] = [
            [plain(getattr(item, name), hint) for name, hint in FIELDS[cls]] for item in getattr(netlist, part)
        ]
    parts["warnings"] = [[places.setdefault(loc, len(places)), text] for loc, text in netlist.warnings]
    parts["places"] = [list(loc) for loc in places]
    return json.dumps(parts, separators=(",", ":"), ensure_ascii=False)


def from_json(text: str | bytes) -> Netlist:
    """Read a netlist and check it.

    Raises
    ------
    BadNetlist
        If the text is not a netlist, or breaks any rule of :mod:`simkit.netlist.check`.
    """
    if len(text) > MAX_BYTES:
        raise BadNetlist(f"the netlist's text is longer than {MAX_BYTES} bytes")
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadNetlist(f"not JSON: {error}") from None
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise BadNetlist(f"not a netlist (its format should be {FORMAT!r})")
    unknown = set(raw) - set(PARTS) - {"format", "name", "warnings", "places"}
    if unknown:
        raise BadNetlist(f"unknown part {sorted(unknown)[0]!r:.60}")
    places = [_place(row) or _record(Loc, row, [], "places") for row in _rows(raw, "places", 400_000)]
    netlist = Netlist(_typed(raw.get("name"), str, places, "name"))
    types: dict[str, Type] = {}
    for part, cls in PARTS.items():
        rows = _rows(raw, part, LIMITS[part])
        if cls is Node:
            netlist.nodes = [_node(row, places, types) or _record(Node, row, places, part) for row in rows]
        else:
            setattr(netlist, part, [_record(cls, row, places, part) for row in rows])
    netlist.warnings = [
        _record(_Warning, row, places, "warnings") for row in _rows(raw, "warnings", LIMITS["warnings"])
    ]
    return checked(netlist)


class _Warning(typing.NamedTuple):
    loc: Loc
    text: str


FIELDS[_Warning] = _fields(_Warning)


def _rows(raw: dict[str, Any], part: str, limit: int) -> list[Any]:
    rows = raw.get(part, [])
    if not isinstance(rows, list):
        raise BadNetlist(f"{part}: a list is needed")
    if len(rows) > limit:
        raise BadNetlist(f"{len(rows)} {part}: at most {limit} are allowed")
    return rows


def _record(cls: type, row: Any, places: list[Loc], part: str) -> Any:
    fields = FIELDS[cls]
    if not isinstance(row, list) or len(row) != len(fields):
        raise BadNetlist(f"{part}: an entry needs {len(fields)} fields")
    return cls(
        *(_typed(value, hint, places, f"{part}.{name}") for value, (name, hint) in zip(row, fields, strict=True))
    )


PLACE_KINDS, NODE_KINDS = [str, int, int, int, int, str], [str, list, str, int, int, str]
"""The types of the fields of a place and of a node in JSON, in order: two fast ways for most of what is read."""


def _place(row: Any) -> Loc | None:
    """A place, if all its fields have the right types; None leaves it to :func:`_record`, which says what is wrong."""
    return Loc._make(row) if type(row) is list and [*map(type, row)] == PLACE_KINDS else None


def _node(row: Any, places: list[Loc], types: dict[str, Type]) -> Node | None:
    """A node, if all its fields have the right types; None leaves it to :func:`_record`.  ``types`` holds those read before."""
    if type(row) is not list or [*map(type, row)] != NODE_KINDS:
        return None
    op, args, text, attr, loc, name = row
    if not 0 <= loc < len(places) or not {int}.issuperset(map(type, args)):
        return None
    kind = types.get(text)
    if kind is None:
        kind = types[text] = _typed(text, Type, places, "nodes.type")
    return Node(op, tuple(args), kind, attr, places[loc], name)


def _typed(value: Any, hint: Any, places: list[Loc], where: str) -> Any:
    """``value`` as the type that ``hint`` asks for, or :class:`BadNetlist`."""
    if hint is Loc:
        if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < len(places):
            return places[value]
    elif hint is Type:
        try:
            return parse(value)
        except TypeFault as error:
            raise BadNetlist(f"{where}: {error}") from None
    elif hint in (int, str, bool, float):
        if type(value) is hint:
            return value
    elif typing.get_origin(hint) is pytypes.UnionType:
        if type(value) in typing.get_args(hint):
            return value
    elif typing.get_origin(hint) is tuple:
        if isinstance(value, list):
            return tuple(_typed(item, typing.get_args(hint)[0], places, where) for item in value)
    elif typing.get_origin(hint) is dict:
        if isinstance(value, dict):
            return {key: _typed(item, typing.get_args(hint)[1], places, where) for key, item in value.items()}
    raise BadNetlist(f"{where}: {str(value)[:60]!r} has the wrong type")
