"""A design's way to a bitstream: Verilog, synthesis, place and route; then the report.

Stages run one after another in a scratch folder.  The folder becomes a finished build, under the netlist's key, only when all of
them are done.
"""

from __future__ import annotations

import dataclasses
import json
import math
import re
import shutil
import tempfile
import time
from collections.abc import Iterable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, NoReturn

from ..emit.verilog import Verilog, emit
from ..netlist import Netlist
from . import cache
from .area import blocks, is_block
from .board import TOP, Board, BoardFault, make_board, pin_file
from .configure import keep_synthesised, route_options
from .faults import BuildFault, ToolFault
from .parts import RESOURCES, SPEED_GRADE, SPEED_GRADES, Part, part_of
from .rawpath import cells_of, clock_of, read_paths
from .report import Report
from .suited import suited
from .sums import kept_sums
from .synthesis import MAP, synthesis, too_many_multipliers, write_map
from .tools import INSIDE, Cancel, Progress, Tool, at_hand, run_tool, warm_up

SHARES = {"synthesis": 0.05, "place and route": 0.4, "place again": 0.6, "report": 0.98}
"""How much of a build is done when a stage begins (measured on designs of a few hundred registers)."""
WORTH_TRYING = 0.8
"""Placing by delay is tried where each clock reaches this share of its rate without: it gained 7 % in the median of 94 designs, at most 26 %."""


def build(
    design: Any,
    *,
    part: str = "25k",
    speed: str = SPEED_GRADE,
    seed: int = 1,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    again: bool = False,
) -> Report:
    """Synthesise, place and route a design.

    Parameters
    ----------
    design : a :class:`~simkit.Design` (class or instance) or a checked netlist
    part : ``"25k"``, ``"45k"`` or ``"85k"``, thousands of look-up tables of an ECP5
    speed : speed grade ``"6"``, ``"7"`` or ``"8"``, as printed on the chip; 8 is the fastest
    seed : start of the placer's random numbers; another seed gives a somewhat different clock rate
    progress : called with the stage and the share that is done, 0 to 1; default: a line below the notebook cell
    cancel : asked a few times a second; True stops the build.  Interrupting the kernel does too
    again : build even if this very netlist was built before

    Raises
    ------
    BuildFault
        If the design does not fit the part or its pins; the text says what is too big.
    Cancelled
        If ``cancel`` said so.  Nothing is kept.
    ToolFault
        If a tool fails for another reason.
    """
    netlist = suited(netlist_of(design))
    chip = part_of(part)
    if speed not in SPEED_GRADES:
        raise ValueError(f"speed={speed!r}: write one of {', '.join(map(repr, SPEED_GRADES))}")
    from .progress import shown

    with shown(progress) as tell:
        bare = cache.without_places(netlist)
        key = cache.key_of(bare, chip.name, speed, seed)
        folder = None if again else cache.find(key)
        if folder is None:
            warm_up(tell, cancel)
            folder = _make(netlist, bare, chip, speed, seed, key, tell, cancel)
        tell("done", 1.0)
    return Report(netlist, chip, speed, seed, folder)


def netlist_of(design: Any) -> Netlist:
    """The netlist of a design, or the netlist given."""
    if isinstance(design, Netlist):
        return design
    from ..lang import compile_design

    return compile_design(design)


def _make(
    netlist: Netlist, bare: Netlist, part: Part, speed: str, seed: int, key: str, tell: Progress, cancel: Cancel | None
) -> Path:
    """Run all stages and keep the result."""
    try:
        cache.builds_folder().mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=".making-", dir=cache.builds_folder()))
    except OSError as error:
        raise ToolFault(
            f"no build can be kept in {cache.builds_folder()}: {error.strerror or error}. "
            "Set TICKBENCH_CACHE to a folder that you may write to."
        ) from None
    try:
        Flow(bare, part, speed, seed, scratch, tell, cancel, netlist).run()
        return cache.keep(scratch, key)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@dataclasses.dataclass
class Flow:
    """The stages of one build, in its scratch folder."""

    netlist: Netlist
    part: Part
    speed: str
    seed: int
    folder: Path
    tell: Progress
    cancel: Cancel | None
    origin: Netlist | None = None  # the netlist with its source places, for messages

    def run(self) -> None:
        """All stages; raises what :func:`build` raises."""
        began = time.perf_counter()
        self._must_have_outputs()
        verilog = emit(self.netlist)
        self._memory_must_fit()
        self.write(verilog)
        with self.router() as router:  # it reads the chip's database while synthesis works
            self.synthesise(verilog)
            use = self._use(verilog)
            self._must_fit(use)
            synthesised = time.perf_counter()
            self.place_and_route(router)
        by_delay = self.place_by_delay()
        routed = time.perf_counter()
        summary = {**self.summary(verilog, use), "by_delay": by_delay}
        summary["seconds"] = {"synthesis": synthesised - began, "place and route": routed - synthesised}
        (self.folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
        keep_synthesised(self.folder)
        for name in ("report.json", "use.json", "yosys.out", MAP):
            (self.folder / name).unlink(missing_ok=True)
        for table in self.folder.glob("table_*.hex"):
            table.unlink()

    def write(self, verilog: Verilog) -> None:
        """Write the design, the top around it and the pin file."""
        board = self._board(verilog)
        text, tables = text_for_synthesis(self.netlist, verilog)
        (self.folder / "design.v").write_text(text, encoding="utf-8")
        for file, words in tables.items():
            (self.folder / file).write_text(words, encoding="utf-8")
        (self.folder / "board.v").write_text(board.text, encoding="utf-8")
        (self.folder / "pins.lpf").write_text(pin_file(board, self.part, self.netlist.name), encoding="utf-8")

    def _board(self, verilog: Verilog) -> Board:
        try:
            return make_board(self.netlist, verilog, self.part)
        except BoardFault as error:
            raise BuildFault(str(error)) from None

    def synthesise(self, verilog: Verilog) -> None:
        """From ``design.v`` and ``board.v`` to ``chip.json``, with counts in ``use.json``."""
        write_map(self.folder)
        script = (
            f"read_verilog design.v; setattr -mod -set keep_hierarchy 1 {verilog.module}; read_verilog board.v; "
            f"{synthesis(TOP, bool(self.netlist.mems), self.part.available['multipliers'])}; write_json chip.json; tee -q -o use.json stat -json"
        )
        self.tell("synthesis", SHARES["synthesis"])
        code, said = run_tool("yosys", ["-Q", "-T", "-q", "-p", in_folder(script)], self.folder, self.cancel)
        if code:
            if need := too_many_multipliers(said):
                self._refuse("multipliers", need)
            raise ToolFault(
                f"yosys could not synthesise {self.netlist.name} (exit {code}); this is a fault of the kit, please report it.\n"
                f"{errors(said)}"
            )

    def _use(self, verilog: Verilog) -> dict[str, dict[str, int]]:
        """Counts of resources: of the design, and of the pins and the port link around it."""
        stat = json.loads((self.folder / "use.json").read_text(encoding="utf-8"))["modules"]
        return {
            "design": count(stat[f"\\{verilog.module}"]["num_cells_by_type"]),
            "link": count(stat[f"\\{TOP}"]["num_cells_by_type"]),
        }

    def _must_have_outputs(self) -> None:
        """Synthesis keeps what an output depends on; without one nothing is left."""
        if not self.netlist.outputs:
            raise BuildFault(
                f"{self.netlist.name} has no output, so nothing of it would be on the chip. "
                'Give it a DigitalOut, an AnalogOut, or a HostReg(..., access="ro") that takes a result.'
            )

    def _memory_must_fit(self) -> None:
        """Refuse far too much memory at once: the tools would work on it for minutes."""
        need = sum(blocks(mem) for mem in self.netlist.mems if is_block(mem, True))
        if need > 2 * self.part.available["block RAM"]:
            self._refuse("block RAM", need)

    def _refuse(self, resource: str, need: int) -> NoReturn:
        raise BuildFault(
            f"{self.netlist.name} is too big for {self.part.name}: it needs {need} {resource}, the chip has "
            f"{self.part.available[resource]}. {_advice(self.origin or self.netlist, resource)}"
        )

    def _must_fit(self, use: dict[str, dict[str, int]]) -> None:
        for resource in RESOURCES:
            need = use["design"][resource] + use["link"][resource]
            if need > self.part.available[resource]:
                self._refuse(resource, need)

    def router(self) -> AbstractContextManager[Tool]:
        """The tool that places and routes, loaded."""
        return at_hand("nextpnr", self._options(False, "report.json"), self.folder)

    def _options(self, by_delay: bool, report: str) -> list[str]:
        return [*route_options(self.part, self.speed, self.seed, by_delay), "--report", f"{INSIDE}/{report}"]

    def place_and_route(self, router: Tool) -> None:
        """From ``chip.json`` to ``report.json``; the configuration is made when it is asked for (:mod:`~simkit.build.configure`)."""
        self.tell("place and route", SHARES["place and route"])
        self._routed(*router.finish(self.cancel))

    def _routed(self, code: int, said: str) -> None:
        if code:
            raise _placing_fault(self.netlist, self.part, errors(said), code)

    def place_by_delay(self) -> bool:
        """If a clock is missed by little, place and route once more with an eye to delays; True if that is better, and now the report.

        It takes half as long again, and most designs meet their clocks without it.
        """
        before = _share_reached(self.folder / "report.json")
        if not WORTH_TRYING <= before < 1:
            return False
        self.tell("place and route again, by delay", SHARES["place again"])
        self._routed(*run_tool("nextpnr", self._options(True, "again.json"), self.folder, self.cancel))
        again = self.folder / "again.json"
        if _share_reached(again) <= before:
            again.unlink()
            return False
        again.replace(self.folder / "report.json")
        return True

    def summary(self, verilog: Verilog, use: dict[str, dict[str, int]]) -> dict[str, Any]:
        """What the report needs, without any source place."""
        self.tell("report", SHARES["report"])
        report = json.loads((self.folder / "report.json").read_text(encoding="utf-8"))
        chip = json.loads((self.folder / "chip.json").read_text(encoding="utf-8"))
        by_kind = sorted(verilog.identifiers.items(), key=lambda item: item[0][0] in ("reg", "timer", "read"))
        cells = cells_of(chip, verilog.module, "/build/design.v", [name for _, name in by_kind])
        reached = {clock_of(name): rate["achieved"] for name, rate in report["fmax"].items()}
        paths = read_paths(report, cells)
        available = {name: count["available"] for name, count in report["utilization"].items()}
        return {
            "use": use,
            "available": available,
            "reached_mhz": {str(c): mhz for c, mhz in reached.items() if c is not None},
            "paths": [path.plain() for path in paths],
        }


def _share_reached(report: Path) -> float:
    """The rate that was reached over the rate asked, of the clock that has the least."""
    rates = json.loads(report.read_text(encoding="utf-8"))["fmax"].values()
    return min((rate["achieved"] / rate["constraint"] for rate in rates), default=math.inf)


def without_zeroing(text: str) -> str:
    """The design's text without the loops that fill large memories with 0 at the start.

    Block RAM is 0 anyway after configuration, and yosys takes minutes to unroll a loop over a large memory.  Line numbers stay.
    """
    return re.sub(
        r"^ *for \((\w+) = \d+; \1 < (\d+); \1 = \1 \+ 1\) \w+\[\1\] = \d+'s?d0;$",
        lambda loop: "" if int(loop[2]) > SMALL_LOOP else loop[0],
        text,
        flags=re.M,
    )


def text_for_synthesis(netlist: Netlist, verilog: Verilog) -> tuple[str, dict[str, str]]:
    """The design's text as the tool is given it, and its long tables: name of a file to its text."""
    kept = [verilog.identifiers["node", index] for index in kept_sums(netlist)]
    return tables_apart(without_zeroing(keeping(verilog.text, kept)))


def keeping(text: str, wires: Iterable[str]) -> str:
    """The design's text with a mark on wires that synthesis is to keep."""
    for wire in wires:
        text = re.sub(rf"^(    .*?)(wire [^=;]*\b{re.escape(wire)} = )", r"\1(* keep *) \2", text, count=1, flags=re.M)
    return text


def tables_apart(text: str) -> tuple[str, dict[str, str]]:
    """The design's text with the words of long tables in files of their own, and those files: name to text, one word a line.

    yosys takes about a millisecond for each assignment of a word, and next to nothing for a file.  Line numbers stay.
    """
    tables: dict[str, str] = {}

    def apart(block: re.Match[str]) -> str:
        lines = block[0].splitlines(keepends=True)
        words = [_WORD.fullmatch(line) for line in lines]
        if len(lines) < LONG_TABLE or [int(w["place"]) for w in words if w] != list(range(len(lines))):
            return block[0]
        name = block["name"]
        tables[f"table_{name}.hex"] = "".join(f"{_bits_of(w):x}\n" for w in words if w)
        return f'        $readmemh("{INSIDE}/table_{name}.hex", {name}, 0, {len(lines) - 1});' + "\n" * len(lines)

    return re.sub(rf"{_WORD.pattern}(?:^ *(?P=name)\[.*\n)*", apart, text, flags=re.M), tables


def _bits_of(word: re.Match[str]) -> int:
    value = int(word["value"], 16 if word["base"] == "h" else 10)
    return (-value if word["minus"] else value) % (1 << int(word["width"]))


_WORD = re.compile(
    r"^ *(?P<name>\w+)\[(?P<place>\d+)\] = "
    r"\(?(?P<minus>-?)(?P<width>\d+)'s?(?P<base>[dhb])(?P<value>[0-9a-f]+)\)?;\n",
    re.M,
)
"""One word of a table at the start, as :func:`~simkit.emit.verilog.emit` writes it."""
LONG_TABLE = 32
"""Shorter tables stay in the text."""
SMALL_LOOP = 256
"""Memories up to this depth may become look-up tables, whose start value is undefined unless it is said."""


def in_folder(script: str) -> str:
    """A yosys script whose file names lie in the tool's folder."""
    return re.sub(r"(?<![\w/.+])([\w-]+\.(?:v|json|il))\b", r"/build/\1", script)


def count(cells: dict[str, int]) -> dict[str, int]:
    """Resources of a count of cells.  A carry cell takes two look-up tables, a 16 x 4 memory four."""
    get = cells.get
    return {
        "LUTs": get("LUT4", 0) + 2 * get("CCU2C", 0) + 4 * get("TRELLIS_DPR16X4", 0),
        "flip-flops": get("TRELLIS_FF", 0),
        "block RAM": get("DP16KD", 0) + get("PDPW16KD", 0),
        "multipliers": get("MULT18X18D", 0),
    }


def errors(said: str) -> str:
    """The tool's error lines, or the end of what it said."""
    found = [line.removeprefix("ERROR: ") for line in said.splitlines() if line.startswith("ERROR")]
    return "\n".join(found) if found else said[-1500:]


def _placing_fault(netlist: Netlist, part: Part, said: str, code: int) -> Exception:
    if any(
        words in said.lower()
        for words in ("unable to place", "no bels", "failed to legalise", "unable to find legal", "failed to route")
    ):
        return BuildFault(
            f"{netlist.name} does not fit {part.name}: the placer found no room ({said.splitlines()[0]}). "
            'Make the design smaller, or build for a larger part: part="45k" or "85k".'
        )
    return ToolFault(
        f"nextpnr could not place and route {netlist.name} (exit {code}); this is a fault of the kit, please report it.\n{said}"
    )


def _advice(netlist: Netlist, resource: str) -> str:
    """The largest users of a resource, with their lines."""
    if resource == "block RAM":
        big = sorted(netlist.mems, key=lambda m: -m.depth * m.type.width)[:3]
        return (
            "Largest memories: "
            + "; ".join(f"{m.name}, {m.depth} words of {m.type.width} bits ({m.loc})" for m in big)
            + "."
        )
    if resource == "multipliers":
        muls = sorted((n for n in netlist.nodes if n.op == "mul"), key=lambda n: -n.type.width)[:3]
        return (
            "Largest multiplications: "
            + "; ".join(f"{n.type} ({n.loc})" for n in muls)
            + ". Let one multiplier take turns."
        )
    return 'Use narrower types, fewer copies, a Ram instead of Regs, or a larger part: part="45k" or "85k".'
