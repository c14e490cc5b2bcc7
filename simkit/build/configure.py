"""The configuration of the chip, made when somebody asks for it: for a bitstream, or for a picture of the placement.

Writing it takes the place-and-route tool a tenth of a build, and few builds need it.  The tool is deterministic: from the same
netlist, chip and seed it comes to the same placement again.
"""

from __future__ import annotations

import gzip
import shutil
import tempfile
from pathlib import Path

from .faults import ToolFault
from .parts import Part
from .progress import shown
from .tools import run_tool, warm_up

SYNTHESISED = "chip.json.gz"
CONFIGURATION = "chip.config"


def route_options(part: Part, speed: str, seed: int, by_delay: bool) -> list[str]:
    """What the place-and-route tool is told of the chip, the input and the seed; ``by_delay``: it looks at delays at each step, not only
    at the lengths of wires."""
    return [
        *(part.option, "--package", part.package, "--speed", speed, "--seed", str(seed)),
        *("--json", "/build/chip.json", "--lpf", "/build/pins.lpf", "--timing-allow-fail", "--quiet"),
        *(() if by_delay else ("--no-tmdriv",)),
    ]


def keep_synthesised(folder: Path) -> None:
    """Put the synthesised netlist away, small, for :func:`configuration`."""
    plain = folder / "chip.json"
    with plain.open("rb") as source, gzip.open(folder / SYNTHESISED, "wb", compresslevel=3) as target:
        shutil.copyfileobj(source, target)
    plain.unlink()


def configuration(folder: Path, part: Part, speed: str, seed: int, by_delay: bool) -> Path:
    """The configuration of a finished build, as text; made at the first call, which takes as long as place and route took.

    Raises :class:`ToolFault` if the tool fails, :class:`~simkit.build.Cancelled` never: interrupting the kernel stops it.
    """
    made = folder / CONFIGURATION
    if made.exists():
        return made
    with shown(None) as tell:
        warm_up(tell)
        tell("place and route again, for the configuration", 0.3)
        with tempfile.TemporaryDirectory(prefix=".making-", dir=folder.parent) as name:
            scratch = Path(name)
            with gzip.open(folder / SYNTHESISED, "rb") as source, (scratch / "chip.json").open("wb") as target:
                shutil.copyfileobj(source, target)
            shutil.copyfile(folder / "pins.lpf", scratch / "pins.lpf")
            options = [*route_options(part, speed, seed, by_delay), "--textcfg", f"/build/{CONFIGURATION}"]
            code, said = run_tool("nextpnr", options, scratch)
            if code:
                raise ToolFault(
                    f"nextpnr could not make the configuration (exit {code}); this is a fault of the kit, please report it.\n{said[-1000:]}"
                )
            (scratch / CONFIGURATION).replace(made)
        tell("done", 1.0)
    return made
