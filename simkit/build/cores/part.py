"""Cores as parts of a design."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from ...lang.cores import Core
from .read import CoreFault, read_core


class VerilogCore(Core):
    """A Verilog-2005 module as a part of a design: ``self.mac = VerilogCore("mac.v", top="mac")``.

    Assign to its inputs by their names (``self.mac.a = x``; the core sees it in the next tick) and read its outputs
    (``self.mac.y``).  All ports are unsigned.  Its clock input is the fabric clock.  ``parameters`` sets the module's parameters.
    Raises what :func:`simkit.build.cores.read_core` raises.
    """

    def __init__(
        self,
        file: str | Path,
        top: str | None = None,
        *,
        parameters: Mapping[str, int] | None = None,
        include: Sequence[str | Path] = (),
    ) -> None:
        super().__init__(read_core(file, top, parameters=parameters, include=include))


class VhdlCore(Core):
    """A VHDL entity as a part, through GHDL's synthesis to Verilog; needs ``ghdl`` on the machine."""

    def __init__(self, file: str | Path, top: str, *, include: Sequence[str | Path] = ()) -> None:
        with tempfile.TemporaryDirectory(prefix="tickbench-vhdl-") as folder:
            verilog = Path(folder) / f"{top}.v"
            verilog.write_text(vhdl_to_verilog(file, top, include), encoding="utf-8")
            super().__init__(read_core(verilog, top))


def vhdl_to_verilog(file: str | Path, top: str, include: Sequence[str | Path] = ()) -> str:
    """Verilog text of a VHDL-2008 entity.

    Raises :class:`CoreFault` if GHDL is not installed or refuses the text (its words are passed on).
    """
    ghdl = shutil.which("ghdl")
    if ghdl is None:
        raise CoreFault("VHDL needs GHDL, which is not installed here (Debian: apt install ghdl)")
    files = [str(Path(f).resolve()) for f in (*include, file)]
    with tempfile.TemporaryDirectory(prefix="tickbench-ghdl-") as folder:
        done = subprocess.run(
            [ghdl, "--synth", "--std=08", "--out=verilog", *files, "-e", top],
            cwd=folder,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
    if done.returncode:
        raise CoreFault(f"GHDL cannot synthesise {top}: {done.stderr.strip()[:1000]}")
    return done.stdout
