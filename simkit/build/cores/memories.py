"""Memories of a core: yosys's ``$mem_v2`` cells as memories with synchronous ports, or, if small, as registers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ...netlist import Mem, Read, Write, make

if TYPE_CHECKING:
    from .read import _Reader

MOST_REGISTER_BITS = 4096
"""A memory that does not fit our ports becomes registers if it has at most so many bits."""


def _number(cell: dict[str, Any], parameter: str) -> int:
    text = "".join(c if c == "1" else "0" for c in str(cell["parameters"][parameter]))
    return int(text, 2) if text else 0


def _problem(cell: dict[str, Any]) -> str:
    """What keeps a memory from becoming one of ours ("" for nothing)."""
    readers, writers, width = (_number(cell, p) for p in ("RD_PORTS", "WR_PORTS", "WIDTH"))
    if _number(cell, "RD_CLK_ENABLE") != (1 << readers) - 1:
        return "it is read without a clock edge"
    if writers and _number(cell, "WR_CLK_ENABLE") != (1 << writers) - 1:
        return "it is written without a clock edge"
    if readers and (
        _number(cell, "RD_TRANSPARENCY_MASK")
        or any(b not in ("0", "x") for b in cell["connections"]["RD_SRST"] + cell["connections"]["RD_ARST"])
    ):
        return "its read ports are reset or show a word while it is being written"
    if _number(cell, "RD_WIDE_CONTINUATION") or _number(cell, "WR_WIDE_CONTINUATION"):
        return "its ports have different widths"
    enables = cell["connections"]["WR_EN"]
    if any(len(set(map(str, enables[i * width : (i + 1) * width]))) > 1 for i in range(writers)):
        return "parts of a word are written"
    return ""


def unfit(module: dict[str, Any]) -> list[str]:
    """Names of memories that have to become registers; raises CoreFault if one is too large for that."""
    from .read import CoreFault

    found = []
    for name, cell in module["cells"].items():
        if cell["type"] == "$mem_v2" and _problem(cell):
            bits = _number(cell, "SIZE") * _number(cell, "WIDTH")
            if bits > MOST_REGISTER_BITS:
                label = str(cell["parameters"]["MEMID"]).lstrip("\\")
                raise CoreFault(
                    f"memory {label} ({cell['attributes'].get('src', 'no line')}) cannot become block RAM: {_problem(cell)}; and with "
                    f"{bits} bits it is too large to be made of registers (at most {MOST_REGISTER_BITS})."
                )
            found.append(name)
    return found


def add_memory(reader: _Reader, name: str, cell: dict[str, Any]) -> Callable[[], None]:
    """Add a memory with its read leaves; what the ports take is filled in by the returned function, when all leaves exist."""
    net, pins = reader.net, cell["connections"]
    width, depth, offset = (_number(cell, p) for p in ("WIDTH", "SIZE", "OFFSET"))
    loc = reader.place(cell)
    label = str(cell["parameters"]["MEMID"]).lstrip("\\")
    init = str(cell["parameters"]["INIT"])[::-1]
    words = [
        int("".join("1" if b == "1" else "0" for b in init[i : i + width])[::-1] or "0", 2)
        for i in range(0, width * depth, width)
    ]
    mem = len(net.mems)
    net.mems.append(Mem(label, make("unsigned", width), depth, tuple(words) if any(words) else (), loc))
    ports = []
    for i in range(_number(cell, "RD_PORTS")):
        clock = reader.clock_index[pins["RD_CLK"][i]]
        ports.append(len(net.reads))
        net.reads.append(Read(f"{label}.read{i}", mem, clock, 0, 0, loc))
        reader.loc = loc
        node = reader.add("rdata", (), width, attr=ports[-1])
        reader.leaf.update(
            {bit: (node, place) for place, bit in enumerate(pins["RD_DATA"][i * width : (i + 1) * width])}
        )

    def close() -> None:
        size = _number(cell, "ABITS")
        reader.loc = loc

        def address(pin: str, i: int) -> int:
            node = reader.word(pins[pin][i * size : (i + 1) * size])
            return reader.add("sub", (node, reader.const(offset, size)), size) if offset else node

        for i, port in enumerate(ports):
            net.reads[port].addr = address("RD_ADDR", i)
            net.reads[port].enable = reader.word(pins["RD_EN"][i : i + 1])
        for i in range(_number(cell, "WR_PORTS")):
            data, enable = (
                reader.word(pins["WR_DATA"][i * width : (i + 1) * width]),
                reader.word(pins["WR_EN"][i * width : i * width + 1]),
            )
            net.writes.append(
                Write(mem, reader.clock_index[pins["WR_CLK"][i]], address("WR_ADDR", i), data, enable, loc)
            )

    return close
