"""The slowest paths as the place-and-route tool reports them, cut down to what a person needs and can be kept.

Nothing here knows a source line: a kept path names cells and identifiers of the Verilog text only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any, NamedTuple

from .board import DESIGN


@dataclass
class Stage:
    """One cell on a path: the wire that leads to it, then the cell itself; times in nanoseconds.

    ``kind`` is ``register``, ``memory``, ``multiplier``, ``table`` (look-up table), ``carry`` or ``pin``.  ``line`` is the line of the
    design's Verilog text that the cell was made from (0: not known), ``net`` the name of the cell's output, ``cell`` the
    register or memory that a cell at either end belongs to, else the cell's own name.  ``at`` is the cell's column and row on the chip.  ``cells``
    counts the cells of a carry chain, without those that the place-and-route tool adds at its ends.  ``inside`` is False for pins and
    the port link.
    """

    kind: str
    cell: str
    line: int = 0
    net: str = ""
    wire: float = 0.0
    logic: float = 0.0
    cells: int = 1
    inside: bool = True
    at: tuple[int, int] = (0, 0)


@dataclass
class RawPath:
    """The slowest path between registers of one clock."""

    clock: int
    stages: list[Stage] = field(default_factory=list)

    def plain(self) -> dict[str, Any]:
        """As data for JSON."""
        return asdict(self)

    @classmethod
    def of(cls, plain: dict[str, Any]) -> RawPath:
        """Back from :meth:`plain`."""
        return cls(plain["clock"], [Stage(**stage) for stage in plain["stages"]])


KINDS = {
    "TRELLIS_FF": "register",
    "DP16KD": "memory",
    "PDPW16KD": "memory",
    "TRELLIS_DPR16X4": "memory",
    "MULT18X18D": "multiplier",
    "ALU54B": "multiplier",
    "CCU2C": "carry",
    "TRELLIS_IO": "pin",
}
CHAIN_END = "$nextpnr_CCU2C_"
"""Names of the cells that the place-and-route tool adds where a carry chain begins or ends outside it."""
_PACKED = re.compile(r"\$(CCU2_COMB\d|CCU2_FC[IO]\w*|tr_io|TRELLIS_\w+|\w*_SLICE\w*)$")


NO_CELL = ("", 0, "")
NO_NET: dict[str, Any] = {"bits": ()}


def clock_of(tool_name: str) -> int | None:
    """Index of the clock that a name of the tool's report speaks of."""
    found = re.search(r"clk_(\d+)(?!\w)|clk_(\d+)\$", tool_name)
    return int(found[1] or found[2]) if found else None


def read_paths(report: dict[str, Any], cells: dict[str, Cell]) -> list[RawPath]:
    """The slowest path of each clock; ``cells`` gives type and Verilog line of each cell of the design by name."""
    paths = []
    for path in report["critical_paths"]:
        clock = clock_of(path["from"])
        if clock is not None and path["from"] == path["to"]:
            paths.append(RawPath(clock, _joined(_stages(path["path"], cells))))
    return sorted(paths, key=lambda path: path.clock)


def _stages(steps: Iterable[dict[str, Any]], cells: dict[str, Cell]) -> list[Stage]:
    """A stage for each cell: the wire before it is added to it."""
    stages: list[Stage] = []
    wire = 0.0
    for step in steps:
        if step["type"] == "routing":
            wire += step["delay"]
            if stages:
                stages[-1].net = _identifier(step.get("net", ""))
            continue
        inside, cell = _inside(step["to"]["cell"])
        bare = _PACKED.sub("", cell)
        kind, line, register = cells.get(bare, NO_CELL) if inside else NO_CELL
        if step["type"] == "setup":
            kind = kind if kind in ("TRELLIS_FF", "DP16KD", "MULT18X18D", "TRELLIS_DPR16X4") else "TRELLIS_FF"
        elif step["type"] == "clk-to-q" and kind not in KINDS:
            kind = "TRELLIS_FF"
        if "$CCU2" in cell:
            kind = "CCU2C"
        stages.append(
            Stage(
                KINDS.get(kind, "table"),
                register or bare,
                line,
                "",
                wire,
                step["delay"],
                0 if bare.startswith(CHAIN_END) else 1,
                inside,
                tuple(step["to"]["loc"]),
            )
        )
        wire = 0.0
    return stages


def _joined(stages: list[Stage]) -> list[Stage]:
    """One stage for each carry chain, and for tables that are joined without a wire."""
    found: list[Stage] = []
    for stage in stages:
        last = found[-1] if found else None
        same = last is not None and stage.kind == last.kind and stage.kind in ("carry", "table") and stage.wire <= 0.001
        if last is not None and same and (stage.line == last.line or not stage.line or not last.cells):
            if not last.cells:
                last.cell, last.line = stage.cell, stage.line
            last.logic += stage.logic
            last.wire += stage.wire
            last.cells += stage.cells
            last.net = stage.net
        else:
            found.append(stage)
    return found


def _inside(name: str) -> tuple[bool, str]:
    """Whether a cell belongs to the design (else to pins and port link, which have no carry chain), and its name there."""
    mark = f"{DESIGN}."
    return (True, name[len(mark) :]) if name.startswith(mark) else (name.startswith(CHAIN_END), name)


def _identifier(net: str) -> str:
    return re.sub(r"\[\d+\]$", "", _inside(net)[1])


class Cell(NamedTuple):
    """A cell of the synthesised design: its type, its line in the Verilog text (0: not known), the register it is a bit of."""

    type: str
    line: int
    register: str


def cells_of(netlist_json: dict[str, Any], module: str, file: str, identifiers: Iterable[str]) -> dict[str, Cell]:
    """Every cell of a synthesised module by name; of several ``identifiers`` of one bit the last counts."""
    found = {}
    mark = re.compile(rf"(?:^|\|){re.escape(file)}:(\d+)\.")
    netnames = netlist_json["modules"][module]["netnames"]
    nets = {bit: name for name in identifiers for bit in netnames.get(name, NO_NET)["bits"]}
    for name, cell in netlist_json["modules"][module]["cells"].items():
        line = mark.search(cell["attributes"].get("src", ""))
        register = nets.get(cell["connections"]["Q"][0], "") if cell["type"] == "TRELLIS_FF" else ""
        found[name] = Cell(cell["type"], int(line[1]) if line else 0, register)
    return found
