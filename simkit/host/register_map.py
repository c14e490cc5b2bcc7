"""The register map of a design, for people (Markdown) and for tools (SystemRDL 2.0, an open standard of Accellera)."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..netlist import Endpoint, Netlist

WORD_BYTES = 4


@dataclass(frozen=True)
class Entry:
    """One register: byte address, endpoint, bytes that it takes, value at reset (raw)."""

    address: int
    endpoint: Endpoint
    size: int
    reset: int

    @property
    def bits(self) -> int:
        """Width of the register as the bus sees it: 32, 64, 128 …"""
        return 8 * self.size


def register_map(netlist: Netlist) -> list[Entry]:
    """Host registers in the order of their declaration, each at the next address that is a multiple of its size.

    A register takes the smallest power of two of 4 bytes or more that holds it.
    """
    resets = {reg.name: reg.reset for reg in netlist.regs}
    entries, address = [], 0
    for endpoint in netlist.endpoints:
        if endpoint.kind != "host_reg":
            continue
        size = max(WORD_BYTES, 1 << (-(-endpoint.type.width // 8) - 1).bit_length())
        address = -(-address // size) * size
        entries.append(Entry(address, endpoint, size, resets.get(endpoint.ports["value"], 0)))
        address += size
    return entries


def to_markdown(netlist: Netlist) -> str:
    """The register map as a Markdown table; addresses in hexadecimal bytes."""
    rows = [
        "| address | register | access | type | one count | at reset | unit |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for entry in register_map(netlist):
        end = entry.endpoint
        rows.append(
            f"| 0x{entry.address:04X} | {end.name} | {end.options.get('access', 'rw')} | {end.type} | "
            f"{float(end.type.step):g} | {end.type.number(entry.reset)} | {end.options.get('unit', '')} |"
        )
    return "\n".join(rows)


def to_systemrdl(netlist: Netlist) -> str:
    """The register map as a SystemRDL 2.0 address map.  Values of signed registers appear as their bits."""
    lines = [f"addrmap {_identifier(netlist.name)} {{", "  default regwidth = 32;", "  default accesswidth = 32;", ""]
    for entry in register_map(netlist):
        end, width = entry.endpoint, entry.endpoint.type.width
        software = "rw" if end.options.get("access", "rw") == "rw" else "r"
        hardware = "r" if software == "rw" else "w"
        text = f"{end.type}" + (f", unit {end.options['unit']}" if end.options.get("unit") else "")
        reset = entry.reset & ((1 << width) - 1)
        lines += [
            "  reg {",
            f'    desc = "{_quoted(text)}";',
            f"    regwidth = {entry.bits};",
            f"    field {{ sw = {software}; hw = {hardware}; }} value[{width - 1}:0] = {width}'h{reset:x};",
            f"  }} {_identifier(end.name)} @ 0x{entry.address:X};",
            "",
        ]
    return "\n".join([*lines, "};", ""])


def _identifier(name: str) -> str:
    word = re.sub(r"\W", "_", name)
    return word if re.match(r"[A-Za-z_]", word) else f"_{word}"


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')
