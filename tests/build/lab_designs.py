"""The designs of the labs, from their sources: every example and every solution that a lab's notebook defines.

``python -m tests.build.lab_designs FOLDER FILE`` runs one lab's notebook from top to bottom, solutions included (the kit's own text, so no
sandbox), and writes its designs' netlists.  Checks collect instead of judging.  Done in a process of its own: the notebook moves the
working folder and draws.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from simkit import Design, HardwareError, compile_design
from simkit.build import cache
from simkit.build.suited import suited
from simkit.netlist import Netlist, from_json, to_json

ROOT = Path(__file__).resolve().parents[2]
SOLUTIONS = ROOT / "solutions"


def lab_designs(folder: Path) -> dict[str, Netlist]:
    """Every design of one lab by lab and name (``05 PulseTimer``), each circuit once; classes that take arguments are left out."""
    with tempfile.TemporaryDirectory(prefix="labs-") as scratch:
        file = Path(scratch) / "designs.json"
        subprocess.run([sys.executable, "-m", __name__, str(folder), str(file)], cwd=ROOT, check=True, timeout=900)
        rows = json.loads(file.read_text(encoding="utf-8"))
    return {name: from_json(text) for name, text in rows}


def all_lab_designs() -> dict[str, Netlist]:
    """Those of every lab there is."""
    from instructor.author.build import sources

    found: dict[str, Netlist] = {}
    for folder in sources(SOLUTIONS):
        found |= lab_designs(folder)
    return found


def _different(designs: Iterator[tuple[str, Netlist]], lab: str) -> Iterator[tuple[str, Netlist]]:
    """Each circuit once; a name that a later cell defines anew gets a number."""
    known: set[str] = set()
    titles: dict[str, int] = {}
    for name, netlist in designs:
        key = cache.key_of(cache.without_places(suited(netlist)))
        if key not in known:
            known.add(key)
            titles[name] = titles.get(name, 0) + 1
            yield f"{lab} {name}" + (f" {titles[name]}" if titles[name] > 1 else ""), netlist


def _defined(folder: Path, scratch: Path) -> Iterator[tuple[str, Netlist]]:
    """Name and netlist of each design, in the order of the cells that define them."""
    from IPython.core.interactiveshell import InteractiveShell

    from instructor.author.build import build_lab, with_solutions
    from instructor.author.source import read_source
    from simkit.check.notebook import collect_into

    source = read_source(folder)
    os.chdir(build_lab(folder, scratch))
    sys.path.insert(0, "")  # as in a kernel: a notebook imports from its own folder
    shell = InteractiveShell.instance()
    collect_into(lambda answer: None)
    seen: dict[str, Any] = {}
    for cell in with_solutions(source).cells:
        if cell.cell_type != "code":
            continue
        done = shell.run_cell(cell.source, store_history=True)
        if not done.success and "raises-exception" not in cell.metadata.get("tags", []):
            raise RuntimeError(f"{folder.name}: this cell fails:\n{cell.source}")
        for name, thing in list(shell.user_ns.items()):
            if not name.startswith("_") and seen.get(name) is not thing and _is_design(thing):
                seen[name] = thing
                with contextlib.suppress(HardwareError):  # shown for its error
                    yield name, compile_design(thing)


def _is_design(thing: Any) -> bool:
    """A class or an instance that is a design by itself, with loops of its own."""
    if isinstance(thing, type):
        return issubclass(thing, Design) and thing is not Design and not _arguments(thing)
    return isinstance(thing, Design)


def _arguments(thing: type) -> bool:
    import inspect

    needed = list(inspect.signature(thing).parameters.values())
    return any(p.default is p.empty and p.kind not in (p.VAR_POSITIONAL, p.VAR_KEYWORD) for p in needed)


def main() -> int:
    folder, file = (Path(word).resolve() for word in sys.argv[1:3])
    os.environ["MPLBACKEND"] = "Agg"
    with tempfile.TemporaryDirectory(prefix="lab-") as scratch, open(os.devnull, "w") as nowhere:
        with contextlib.redirect_stdout(nowhere):
            rows = [(name, to_json(net)) for name, net in _different(_defined(folder, Path(scratch)), folder.name[:2])]
        os.chdir(ROOT)
    file.write_text(json.dumps(rows), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
