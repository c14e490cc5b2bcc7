"""What came out of a build, as numbers, as text and as figures."""

from __future__ import annotations

import html
import json
import shutil
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from ..emit.verilog import Verilog, emit
from ..netlist import Netlist
from .board import CAUTION
from .cache import without_places
from .configure import configuration
from .explain import Explainer, Step
from .faults import ToolFault
from .parts import RESOURCES, Part
from .ranges import needed
from .rawpath import RawPath
from .tools import run_tool

if TYPE_CHECKING:
    from ..view import Picture


class Use(NamedTuple):
    """How much of a resource is used: by the design, by pins and port link around it, and what the chip has."""

    resource: str
    design: int
    link: int
    available: int


class Rate(NamedTuple):
    """A clock's rate in MHz: asked and reached (``inf`` if nothing on the chip limits it)."""

    clock: str
    asked: float
    reached: float

    @property
    def met(self) -> bool:
        """True if the design runs at the rate asked."""
        return self.reached >= self.asked

    @property
    def slack_ns(self) -> float:
        """Time left over in each period, in ns; negative if the rate is missed."""
        return 1e3 / self.asked - (1e3 / self.reached if self.reached else 0.0)


class Report:
    """The outcome of a build.

    ``usage`` (a :class:`Use` each), ``rates`` (a :class:`Rate` for each clock), ``met``, ``paths`` (clock name to the steps of its
    slowest path), ``warnings``, ``seconds``; ``text()``; figures ``usage_figure()``, ``path_figure()``, ``placement_figure()``;
    ``verilog``, ``pins``, ``bitstream()`` and ``save(folder)`` to take away.
    """

    def __init__(self, netlist: Netlist, part: Part, speed: str, seed: int, folder: Path) -> None:
        self.netlist, self.part, self.speed, self.seed, self.folder = netlist, part, speed, seed, folder
        self.chip = f"{part.name}-{speed}"
        summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        self.name = netlist.name
        self.seconds: dict[str, float] = summary["seconds"]
        self._by_delay: bool = summary["by_delay"]
        use = summary["use"]
        self.usage = [Use(r, use["design"][r], use["link"][r], part.available[r]) for r in RESOURCES]
        self.tool_available: dict[str, int] = summary["available"]
        reached = {int(clock): mhz for clock, mhz in summary["reached_mhz"].items()}
        self.rates = [
            Rate(c.name, c.hz_num / c.hz_den / 1e6, reached.get(i, float("inf"))) for i, c in enumerate(netlist.clocks)
        ]
        self._raw = [RawPath.of(path) for path in summary["paths"]]

    @property
    def met(self) -> bool:
        """True if every clock reaches the rate asked of it."""
        return all(rate.met for rate in self.rates)

    @property
    def warnings(self) -> list[str]:
        """Warnings of the language, and registers that are not on the chip because nothing outside depends on them."""
        wanted = needed(self.netlist)
        seen = {n.attr for n, bits in zip(self.netlist.nodes, wanted, strict=True) if n.op == "reg" and bits.many}
        gone = [reg for i, reg in enumerate(self.netlist.regs) if i not in seen and reg.kind == "user"]
        told = [f"{loc}: {text}" for loc, text in self.netlist.warnings]
        return told + [f"{reg.loc}: {reg.name} is not on the chip: no output depends on it." for reg in gone]

    @cached_property
    def _emitted(self) -> Verilog:
        return emit(self.netlist)

    @property
    def verilog(self) -> str:
        """The design as Verilog, with the learner's lines as comments."""
        return self._emitted.text

    @property
    def pins(self) -> str:
        """The pin-constraint file, with its cautions."""
        return (self.folder / "pins.lpf").read_text(encoding="utf-8")

    @cached_property
    def paths(self) -> dict[str, list[Step]]:
        """For each clock, the slowest path between two of its registers, step by step."""
        from .estimate import node_delays

        delays = node_delays(self.netlist)
        built = emit(without_places(self.netlist))  # the very text that was built, whose identifiers the tools used
        explainer = Explainer(self.netlist, built, self._emitted.places, lambda node: delays[node])
        return {self.netlist.clocks[path.clock].name: explainer.steps(path) for path in self._raw}

    # --- words ---

    def text(self) -> str:
        """The report for a terminal."""
        lines = [f"{self.name} on {self.chip}", ""]
        lines += [
            f"  {u.resource:<12}{u.design:>7} of {u.available:<7} {100 * u.design / u.available:5.1f} %"
            + (f"   and {u.link} for pins and port link" if u.link else "")
            for u in self.usage
        ]
        lines.append("")
        for rate in self.rates:
            lines += [f"  clock {rate.clock}: {_rate_words(rate)}"]
            lines += [f"    {s.ns:6.2f} ns  {s.name:<28} {s.line}" for s in self.paths.get(rate.clock, ())]
        lines += ["", *(f"  warning: {warning}" for warning in self.warnings)] if self.warnings else []
        return "\n".join(lines) + "\n"

    __str__ = __repr__ = text

    def _repr_html_(self) -> str:
        cells = [("", "design", "pins and link", "chip has")] + [
            (u.resource, u.design, u.link, u.available) for u in self.usage
        ]
        parts = [f"<h4>{html.escape(self.name)} on {self.chip}</h4>", _table(cells)]
        for rate in self.rates:
            parts.append(f"<p>clock {html.escape(rate.clock)}: <b>{html.escape(_rate_words(rate))}</b></p>")
            steps = self.paths.get(rate.clock, [])
            if steps:
                parts.append(
                    _table(
                        [("step of the slowest path", "ns", "of it wire", "your line")]
                        + [(s.name, f"{s.ns:.2f}", f"{s.wire:.2f}", s.line) for s in steps]
                    )
                )
        parts += [f"<p>warning: {html.escape(warning)}</p>" for warning in self.warnings]
        return "".join(parts)

    # --- figures ---

    def usage_figure(self, compare: Report | None = None) -> Picture:
        """Bars of what the design uses of the chip; ``compare``: another build, drawn beside it."""
        from ..view import usage_bars

        def counts(report: Report) -> dict[str, int]:
            return {u.resource: u.design for u in report.usage}

        return usage_bars(
            counts(self),
            dict(self.part.available),
            compare=counts(compare) if compare else None,
            names=(self.name, compare.name if compare else ""),
            title=f"{self.name} on {self.chip}",
        )

    def path_figure(self, clock: str = "") -> Picture:
        """The slowest path of a clock (default: the one with the least time to spare) against its period.

        Raises ValueError if the clock has no path between registers.
        """
        from ..view import PathStep, critical_path

        if not clock:
            clock = min(
                (r for r in self.rates if r.clock in self.paths), key=lambda r: r.slack_ns, default=self.rates[0]
            ).clock
        rate = next((r for r in self.rates if r.clock == clock), None)
        steps = self.paths.get(clock)
        if rate is None or not steps:
            raise ValueError(
                f"no path between registers of a clock {clock!r}; clocks with one: {', '.join(self.paths) or 'none'}"
            )
        drawn = [PathStep(s.name, s.ns, s.line, s.wire) for s in steps]
        return critical_path(drawn, 1e3 / rate.asked, title=f"{self.name}, clock {clock}: {_rate_words(rate)}")

    def placement_figure(self) -> Picture:
        """Where the tool put the design on the chip (asked for the first time, it places and routes once more)."""
        from .pictures import placement

        return placement(self)

    def way_on_chip(self) -> list[list[tuple[int, int]]]:
        """For each clock, column and row of the cells on its slowest path."""
        return [[(stage.at[0], stage.at[1]) for stage in path.stages] for path in self._raw]

    # --- to take away ---

    def configuration(self) -> Path:
        """The configuration of the chip as the tool's text."""
        return configuration(self.folder, self.part, self.speed, self.seed, self._by_delay)

    def bitstream(self) -> bytes:
        """The configuration of the chip, made and packed when it is first asked for, which takes as long as place and route took."""
        packed = self.folder / "chip.bit"
        if not packed.exists():
            self.configuration()
            code, said = run_tool("ecppack", ["--compress", "/build/chip.config", "/build/chip.bit.part"], self.folder)
            if code:
                raise ToolFault(
                    f"ecppack could not make the bitstream (exit {code}); this is a fault of the kit, please report it.\n{said[-1000:]}"
                )
            (self.folder / "chip.bit.part").replace(packed)
        return packed.read_bytes()

    def save(self, folder: str | Path) -> list[Path]:
        """Write the files for an open ECP5 board into ``folder``; returns their paths.

        Read the caution in the pin file before any output drives a real load.
        """
        target = Path(folder)
        target.mkdir(parents=True, exist_ok=True)
        bits = self.bitstream()
        texts = {"design.v": self.verilog, "report.txt": self.text() + "\n" + CAUTION}
        for name, text in texts.items():
            (target / name).write_text(text, encoding="utf-8")
        for name in ("board.v", "pins.lpf"):
            shutil.copyfile(self.folder / name, target / name)
        (target / "chip.bit").write_bytes(bits)
        return sorted(target / name for name in (*texts, "board.v", "pins.lpf", "chip.bit"))


def _rate_words(rate: Rate) -> str:
    if rate.reached == float("inf"):
        return f"{rate.asked:g} MHz asked; no path between registers limits it"
    words = "met" if rate.met else "missed"
    return f"{rate.asked:g} MHz asked, {rate.reached:.1f} MHz reached: {words} by {abs(rate.slack_ns):.2f} ns"


def _table(rows: list[tuple[Any, ...]]) -> str:
    head = "".join(f"<th>{html.escape(str(cell))}</th>" for cell in rows[0])
    body = "".join("<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in row) + "</tr>" for row in rows[1:])
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
