"""From cells of the chip back to the learner's lines.

A synthesiser keeps the origin of carry chains, multipliers, memories and registers, but it melts the logic between them into
look-up tables that have none.  So the stages with a known origin are *anchors* in the netlist; the nodes on the slowest way
through the netlist from one anchor to the next are shared out, in order, among the tables in between.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ..emit.verilog import Verilog
from ..netlist import Loc, Netlist
from .rawpath import RawPath, Stage

NAMES = {
    "register": "register",
    "memory": "block RAM",
    "multiplier": "multiplier",
    "table": "look-up table",
    "carry": "carry chain",
    "pin": "pin",
}


@dataclass(frozen=True)
class Step:
    """A stage of a critical path for a person: what it is, its delay in ns (``wire`` of it on the way there), the source places."""

    name: str
    ns: float
    wire: float
    places: tuple[Loc, ...]

    @property
    def line(self) -> str:
        """The places in a few words: file and lines."""
        files: dict[str, list[int]] = {}
        for place in self.places:
            lines = files.setdefault(place.file, [])
            if place.line not in lines:
                lines.append(place.line)
        return "; ".join(f"{file}:{', '.join(map(str, lines))}" for file, lines in files.items())


class Explainer:
    """Explains the paths of one built netlist.

    Parameters
    ----------
    netlist : the netlist with its source places
    verilog : the Verilog text that was built
    places : source place of each line of the text
    weight : cost of a node in nanoseconds, for choosing the slowest way
    """

    def __init__(
        self, netlist: Netlist, verilog: Verilog, places: dict[int, Loc], weight: Callable[[int], float]
    ) -> None:
        self.net = netlist
        self.weight = weight
        self.part = {name: key for key, name in verilog.identifiers.items()}
        self.on_line = _identifiers_by_line(verilog.text, self.part)
        self.places = places
        self.longest_first = sorted(self.part, key=len, reverse=True)

    def steps(self, path: RawPath) -> list[Step]:
        """The path as steps; every step has at least the places of the anchors around it."""
        stages = path.stages
        ends = self._end_nodes(stages[-1])
        chain = self._chain([self._anchor(i, stages) for i in range(len(stages))], ends)
        places = [self._shown(stage, chain[i]) for i, stage in enumerate(stages)]
        for i in range(2, len(stages) - 1):  # a table of which nothing is known belongs to the logic before it
            places[i] = places[i] or places[i - 1]
        return [
            Step(self._name(stage, i == len(stages) - 1), stage.wire + stage.logic, stage.wire, places[i])
            for i, stage in enumerate(stages)
        ]

    # --- anchors ---

    def _anchor(self, index: int, stages: list[Stage]) -> int | None:
        """The node that a stage certainly computes."""
        stage = stages[index]
        port = self._port(stage.net)  # a wire between the design and the port link
        if port is not None and (stage.inside or index == 0):
            return port
        if not stage.inside:
            return None
        if index == 0:
            return self._leaf(stage.cell)
        if index == len(stages) - 1:
            return None
        for identifier in (stage.net, self.on_line.get(stage.line, "")):
            kind, number = self.part.get(identifier, ("", -1))
            if kind == "node" and number >= 0:
                return number
        return None

    def _port(self, net: str) -> int | None:
        """The node at a port of the design that the port link serves."""
        kind, number = self.part.get(net.partition("_")[2], ("", -1))
        if net.startswith("out_") and kind == "output":
            return self.net.outputs[number].node
        if net.startswith("in_") and kind == "input":
            return next((i for i, n in enumerate(self.net.nodes) if n.op == "input" and n.attr == number), None)
        return None

    def _identifier(self, cell: str) -> str:
        """The identifier that a cell's name begins with."""
        for name in self.longest_first:
            if cell.startswith(name) and re.match(
                r"$|[.\[$]|_(TRELLIS|LUT4|CCU2C|PFUMX|L6MUX|MULT|DP16)", cell[len(name) :]
            ):
                return name
        return ""

    def _state(self, cell: str) -> tuple[str, int]:
        """Kind and index of the register, timer, memory or read port that a cell belongs to."""
        kind, number = self.part.get(self._identifier(cell), ("", -1))
        if kind == "read":
            return kind, _read_index(number)
        if kind not in ("node", "output") or number < 0:
            return kind, number
        index = (
            self.net.outputs[number].node if kind == "output" else number
        )  # a wire that is nothing but a register's value
        while self.net.nodes[index].op in ("wrap", "bits"):
            index = self.net.nodes[index].args[0]
        leaf = self.net.nodes[index]
        return {"reg": "reg", "expired": "timer", "rdata": "read"}.get(leaf.op, ""), leaf.attr

    def _leaf(self, cell: str) -> int | None:
        """The leaf that reads the register or memory in which a path begins."""
        kind, number = self._state(cell)
        ops = {"reg": "reg", "timer": "expired"}
        if kind in ops:
            return next((i for i, n in enumerate(self.net.nodes) if n.op == ops[kind] and n.attr == number), None)
        if kind in ("mem", "read"):
            ports = {i for i, r in enumerate(self.net.reads) if r.mem == number} if kind == "mem" else {number}
            return next((i for i, n in enumerate(self.net.nodes) if n.op == "rdata" and n.attr in ports), None)
        return None

    def _end_nodes(self, stage: Stage) -> list[int]:
        """Nodes that the register or memory at the end takes."""
        if not stage.inside:
            return []
        net = self.net
        kind, number = self._state(stage.cell)
        if kind == "reg":
            return [net.regs[number].next]
        if kind == "timer":
            return [net.timers[number].load, net.timers[number].value]
        if kind == "read":
            read = net.reads[number]
            return [read.addr, read.enable]
        if kind == "mem":
            ports = [n for w in net.writes if w.mem == number for n in (w.data, w.addr, w.enable)]
            return ports + [n for r in net.reads if r.mem == number for n in (r.addr, r.enable)]
        return []

    # --- the way through the netlist ---

    def _chain(self, anchors: list[int | None], ends: list[int]) -> list[list[int]]:
        """Nodes of each stage: anchors keep their own, stages between share the way."""
        shares: list[list[int]] = [[a] if a is not None else [] for a in anchors]
        known = [(i, a) for i, a in enumerate(anchors) if a is not None]
        for (i, a), (j, b) in zip(known, known[1:], strict=False):
            self._share(shares, i, j, self._way(a, [b]))
        last = len(anchors) - 1
        if known and ends:
            i, a = known[-1]
            way = self._way(a, ends)
            self._share(shares, i, last, [*way, -1] if way else [])
        return shares

    @staticmethod
    def _share(shares: list[list[int]], i: int, j: int, way: list[int]) -> None:
        """Deal the inner nodes of a way out to the stages between two anchors, in order."""
        inner, stages = way[1:-1] or way[1:], j - i - 1
        inner = [node for node in inner if node >= 0]
        if not inner:
            return
        if stages <= 0:
            shares[j][:0] = [node for node in inner if node not in shares[j]]
            return
        for s in range(stages):
            low, high = s * len(inner) // stages, (s + 1) * len(inner) // stages
            shares[i + 1 + s] = inner[low : max(high, low + 1)]

    def _way(self, start: int, ends: list[int]) -> list[int]:
        """The slowest way from a node to one of the ends, both included; empty if there is none."""
        nodes = self.net.nodes
        best: dict[int, tuple[float, int]] = {start: (0.0, -1)}
        for index in range(start + 1, max(ends, default=-1) + 1):
            reached = [(best[a][0], a) for a in nodes[index].args if a in best]
            if reached:
                cost, before = max(reached)
                best[index] = (cost + self.weight(index), before)
        reached_ends = [(best[e][0], e) for e in ends if e in best]
        if not reached_ends:
            return []
        way = [max(reached_ends)[1]]
        while way[-1] != start:
            way.append(best[way[-1]][1])
        return way[::-1]

    # --- words ---

    def _name(self, stage: Stage, last: bool) -> str:
        if not stage.inside:
            return self._link_name(stage)
        own = self._own_name(*self._state(stage.cell))
        if stage.kind in ("register", "memory") and own:
            return f"{'into ' if last else ''}{own}"
        if stage.kind == "carry":
            return f"carry chain, {stage.cells} bit{'s' * (stage.cells > 1)}"
        return NAMES[stage.kind]

    def _link_name(self, stage: Stage) -> str:
        kind, number = self.part.get(stage.net.partition("_")[2], ("", -1))
        tables: dict[str, list[Any]] = {"input": self.net.inputs, "output": self.net.outputs}
        ports = tables.get(kind)
        return f"port link, {ports[number].name}" if ports is not None else "port link"

    def _own_name(self, kind: str, number: int) -> str:
        table = self._table(kind)
        return table[number].name if table is not None else ""

    def _table(self, kind: str) -> list[Any] | None:
        net = self.net
        tables: dict[str, list[Any]] = {"reg": net.regs, "timer": net.timers, "mem": net.mems, "read": net.reads}
        return tables.get(kind)

    def _shown(self, stage: Stage, nodes: list[int]) -> tuple[Loc, ...]:
        """Places of the stage's nodes, each line once; those of its Verilog line where there are none."""
        working = [n for n in nodes if self.weight(n) > 0] or nodes
        places = [self.net.nodes[n].loc for n in working]
        if stage.inside and stage.kind in ("register", "memory"):
            kind, number = self._state(stage.cell)
            table = self._table(kind)
            places = [table[number].loc] if table is not None and not nodes else places
        if not places and stage.line:
            places = [self.places[stage.line]] if stage.line in self.places else []
        unique: dict[tuple[str, int], Loc] = {}
        for place in places:
            if place.line:
                unique.setdefault((place.file, place.line), place)
        return tuple(unique.values())


def _read_index(number: int) -> int:
    """Index of a read port from the number of one of its identifiers (its word and its mark count down from -1)."""
    return number if number >= 0 else (-1 - number) // 2


def _identifiers_by_line(text: str, part: dict[str, tuple[str, int]]) -> dict[int, str]:
    """The wire or register that each line of the text declares."""
    declared = re.compile(r"^\s*(?:\(\*.*?\*\) )?(?:wire|reg) (?:signed )?(?:\[[^\]]*\] )?(\w+)\b")
    found = {}
    for number, line in enumerate(text.split("\n"), 1):
        match = declared.match(line)
        if match and match[1] in part:
            found[number] = match[1]
    return found
