"""What each of yosys's word-level cells computes, in nodes of our netlist.

Meanings are those of yosys's cell library documentation (CHAPTER "Word-level cells") and of IEEE 1364-2005 for division and shifts.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .read import _Reader

Cell = dict[str, Any]

FLIP_FLOPS = ("$dff", "$dffe", "$sdff", "$sdffe", "$sdffce")
ARITHMETIC = {
    "$add": "add",
    "$sub": "sub",
    "$mul": "mul",
    "$and": "and",
    "$or": "or",
    "$xor": "xor",
    "$div": "div",
    "$mod": "rem",
    "$modfloor": "mod",
}
COMPARE = {
    "$eq": ("eq", False),
    "$ne": ("ne", False),
    "$eqx": ("eq", False),
    "$nex": ("ne", False),
    "$lt": ("lt", False),
    "$le": ("le", False),
    "$gt": ("lt", True),
    "$ge": ("le", True),
}
"""Operator, and whether the arguments change places."""


def cell_value(reader: _Reader, cell: Cell) -> int | None:
    """The node of a cell's output (pin ``Y``, or ``RD_DATA`` never: memories have leaves); None for a cell that is not known."""
    kind = cell["type"]
    if kind in ARITHMETIC:
        return _sized(reader, cell, ARITHMETIC[kind], ("A", "B"))
    if kind in COMPARE:
        op, turned = COMPARE[kind]
        args = (_operand(reader, cell, "A"), _operand(reader, cell, "B"))
        return _wide(reader, cell, reader.add(op, args[::-1] if turned else args, 1))
    make = CELLS.get(kind)
    return make(reader, cell) if make is not None else None


def _width(cell: Cell) -> int:
    return len(cell["connections"]["Y"])


def _operand(reader: _Reader, cell: Cell, pin: str) -> int:
    """A pin as a word, signed if the cell says so."""
    node = reader.word(cell["connections"][pin])
    width = len(cell["connections"][pin])
    return reader.add("wrap", (node,), width, signed=True) if reader.number(cell, f"{pin}_SIGNED") else node


def _unsigned(reader: _Reader, node: int, width: int) -> int:
    kind = reader.net.nodes[node].type
    return node if kind.width == width and not kind.signed else reader.add("wrap", (node,), width)


def _wide(reader: _Reader, cell: Cell, bit: int) -> int:
    """A bit as a result of the cell's width."""
    return _unsigned(reader, bit, _width(cell))


def _sized(reader: _Reader, cell: Cell, op: str, pins: tuple[str, ...]) -> int:
    """An operator whose arguments are extended to the result's width by their own sign."""
    args = tuple(_operand(reader, cell, pin) for pin in pins)
    if op in ("div", "rem", "mod"):
        signed = all(reader.net.nodes[a].type.signed for a in args)
        return _unsigned(reader, reader.add(op, args, _width(cell), signed=signed), _width(cell))
    return reader.add(op, args, _width(cell))


def _reduced(reader: _Reader, cell: Cell, pin: str = "A") -> int:
    """The bit that says whether any bit of a pin is 1."""
    node = reader.word(cell["connections"][pin])
    width = len(cell["connections"][pin])
    return node if width == 1 else reader.add("ne", (node, reader.const(0, width)), 1)


def _all(reader: _Reader, cell: Cell) -> int:
    node, width = reader.word(cell["connections"]["A"]), len(cell["connections"]["A"])
    return reader.add("eq", (node, reader.const(-1, width)), 1)


def _not(reader: _Reader, bit: int) -> int:
    return reader.add("not", (bit,), 1)


def _shift(reader: _Reader, cell: Cell) -> int:
    kind, width = cell["type"], _width(cell)
    value = _operand(reader, cell, "A")
    count = reader.word(cell["connections"]["B"])
    size = reader.net.nodes[value].type
    if kind in ("$shl", "$sshl"):
        return reader.add("shl", (value, count), width)
    work = max(width, size.width)
    if kind == "$sshr" and size.signed:
        value = reader.add("wrap", (value,), work, signed=True)
        return _unsigned(reader, reader.add("shr", (value, count), work, signed=True), width)
    value = reader.add("wrap", (value,), work)
    return _unsigned(reader, reader.add("shr", (value, count), work), width)


def _index(reader: _Reader, cell: Cell) -> int:
    """``$shift`` and ``$shiftx``: to the right by B, to the left where B is negative."""
    width, signed = _width(cell), bool(reader.number(cell, "B_SIGNED"))
    right = _shift(reader, {**cell, "type": "$shr"})
    if not signed:
        return right
    bits = cell["connections"]["B"]
    count = reader.word(bits)
    negative = reader.word(bits[-1:])
    back = reader.add("neg", (count,), len(bits))
    left = reader.add("shl", (_operand(reader, cell, "A"), back), width)
    return reader.add("mux", (negative, left, right), width)


def _mux(reader: _Reader, cell: Cell) -> int:
    pins = cell["connections"]
    return reader.add("mux", (reader.word(pins["S"]), reader.word(pins["B"]), reader.word(pins["A"])), _width(cell))


def _pmux(reader: _Reader, cell: Cell) -> int:
    """One of many words, by a select word of which at most one bit is 1; A where none is."""
    pins, width = cell["connections"], _width(cell)
    found = reader.word(pins["A"])
    for i, select in enumerate(pins["S"]):
        found = reader.add(
            "mux", (reader.word([select]), reader.word(pins["B"][i * width : (i + 1) * width]), found), width
        )
    return found


def _bmux(reader: _Reader, cell: Cell) -> int:
    """One of 2**n words by an index."""
    pins, width = cell["connections"], _width(cell)
    words = [reader.word(pins["A"][i : i + width]) for i in range(0, len(pins["A"]), width)]
    for select in pins["S"]:
        bit = reader.word([select])
        words = [reader.add("mux", (bit, high, low), width) for low, high in zip(words[::2], words[1::2], strict=True)]
    return words[0]


def _bwmux(reader: _Reader, cell: Cell) -> int:
    pins, width = cell["connections"], _width(cell)
    a, b, s = (reader.word(pins[pin]) for pin in "ABS")
    keep = reader.add("and", (a, reader.add("not", (s,), width)), width)
    return reader.add("or", (keep, reader.add("and", (b, s), width)), width)


def _demux(reader: _Reader, cell: Cell) -> int:
    """The word at the place that S says, zeros elsewhere."""
    pins = cell["connections"]
    a, s = reader.word(pins["A"]), reader.word(pins["S"])
    places, bits = 1 << len(pins["S"]), len(pins["S"])
    zero = reader.const(0, len(pins["A"]))
    parts = [
        reader.add("mux", (reader.add("eq", (s, reader.const(i, bits)), 1), a, zero), len(pins["A"]))
        for i in range(places)
    ]
    return reader.add("cat", tuple(parts[::-1]), _width(cell))


def _logic(reader: _Reader, cell: Cell, op: str) -> int:
    return _wide(reader, cell, reader.add(op, (_reduced(reader, cell, "A"), _reduced(reader, cell, "B")), 1))


def _division(reader: _Reader, cell: Cell) -> int:
    """``$divfloor``: the quotient rounded down."""
    width = max(_width(cell), *(len(cell["connections"][p]) for p in "AB")) + 2
    a, b = (_operand(reader, cell, pin) for pin in "AB")
    rest = reader.add("mod", (a, b), width, signed=True)
    exact = reader.add("sub", (a, rest), width, signed=True)
    return _unsigned(reader, reader.add("div", (exact, b), width, signed=True), _width(cell))


CELLS: dict[str, Callable[[Any, Cell], int]] = {
    "$not": lambda r, c: r.add("not", (_operand(r, c, "A"),), _width(c)),
    "$neg": lambda r, c: r.add("neg", (_operand(r, c, "A"),), _width(c)),
    "$pos": lambda r, c: _unsigned(r, _operand(r, c, "A"), _width(c)),
    "$buf": lambda r, c: _unsigned(r, r.word(c["connections"]["A"]), _width(c)),
    "$xnor": lambda r, c: r.add("not", (_sized(r, c, "xor", ("A", "B")),), _width(c)),
    "$reduce_and": lambda r, c: _wide(r, c, _all(r, c)),
    "$reduce_or": lambda r, c: _wide(r, c, _reduced(r, c)),
    "$reduce_bool": lambda r, c: _wide(r, c, _reduced(r, c)),
    "$reduce_xor": lambda r, c: _wide(r, c, r.add("parity", (r.word(c["connections"]["A"]),), 1)),
    "$reduce_xnor": lambda r, c: _wide(r, c, _not(r, r.add("parity", (r.word(c["connections"]["A"]),), 1))),
    "$logic_not": lambda r, c: _wide(r, c, _not(r, _reduced(r, c))),
    "$logic_and": lambda r, c: _logic(r, c, "and"),
    "$logic_or": lambda r, c: _logic(r, c, "or"),
    "$shl": _shift,
    "$sshl": _shift,
    "$shr": _shift,
    "$sshr": _shift,
    "$shift": _index,
    "$shiftx": _index,
    "$mux": _mux,
    "$pmux": _pmux,
    "$bmux": _bmux,
    "$bwmux": _bwmux,
    "$demux": _demux,
    "$divfloor": _division,
    "$slice": lambda r, c: r.word(c["connections"]["A"][r.number(c, "OFFSET") : r.number(c, "OFFSET") + _width(c)]),
    "$concat": lambda r, c: r.word([*c["connections"]["A"], *c["connections"]["B"]]),
}


def _level(reader: _Reader, cell: Cell, pin: str, polarity: str) -> int:
    """A control pin as a bit that is 1 when it acts."""
    bit = reader.word(cell["connections"][pin])
    return bit if reader.number(cell, polarity) else _not(reader, bit)


def next_value(reader: _Reader, cell: Cell, register: int) -> int:
    """What a flip-flop takes at its clock edge."""
    kind, pins, width = cell["type"], cell["connections"], len(cell["connections"]["Q"])
    found = reader.word(pins["D"])
    hold = reader.add("reg", (), width, attr=register)
    if kind in ("$dffe", "$sdffe"):
        found = reader.add("mux", (_level(reader, cell, "EN", "EN_POLARITY"), found, hold), width)
    if kind in ("$sdff", "$sdffe", "$sdffce"):
        value = reader.const(reader.number(cell, "SRST_VALUE"), width)
        found = reader.add("mux", (_level(reader, cell, "SRST", "SRST_POLARITY"), value, found), width)
    if kind == "$sdffce":
        found = reader.add("mux", (_level(reader, cell, "EN", "EN_POLARITY"), found, hold), width)
    return _unsigned(reader, found, width)
