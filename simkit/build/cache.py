"""Finished builds, kept by what went into them.

A build's folder is written under a temporary name and renamed when it is complete, so a folder that is there is whole.
The key does not depend on where in a file or notebook the design stands.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import os
import shutil
from pathlib import Path

from ..netlist import NOWHERE, Netlist, to_json
from .tools import cache_folder, versions

KEEP = 100
"""How many builds are kept; the longest unused go first."""


def without_places(netlist: Netlist) -> Netlist:
    """The same circuit with no source places: no warnings, and no names that the language makes out of line numbers."""
    bare = dataclasses.replace
    parts = {
        name: [bare(item, loc=NOWHERE) for item in getattr(netlist, name)]
        for name in ("regs", "timers", "mems", "reads", "writes", "inputs", "outputs", "endpoints", "loops")
    }
    for i, reg in enumerate(parts["regs"]):
        reg.states = ()
        reg.name = f"local {i}" if reg.kind == "local" else reg.name
    nodes = [node._replace(loc=NOWHERE) for node in netlist.nodes]
    return bare(netlist, nodes=nodes, warnings=[], **parts)


def key_of(bare: Netlist, *options: object) -> str:
    """The key of a build of a netlist without places; tool versions and the version of this package's flow are part of it."""
    text = repr((FLOW, sorted(versions().items()), options)) + to_json(bare)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


FLOW = 11
"""To be raised when the flow changes what it writes."""


def builds_folder() -> Path:
    """Folder of the finished builds."""
    return cache_folder() / "builds"


def find(key: str) -> Path | None:
    """The finished build of that key, or None; finding one marks it as used."""
    folder = builds_folder() / key
    if not folder.is_dir():
        return None
    os.utime(folder)
    return folder


def keep(scratch: Path, key: str) -> Path:
    """Give a finished folder its name, in place of an older build of the same key."""
    folder = builds_folder() / key
    aside = scratch.with_name(scratch.name + ".old")
    with contextlib.suppress(FileNotFoundError):
        os.rename(folder, aside)
    os.rename(scratch, folder)
    shutil.rmtree(aside, ignore_errors=True)
    _forget_old()
    return folder


def _forget_old() -> None:
    builds = sorted((f for f in builds_folder().iterdir() if f.is_dir() and not f.name.startswith(".")), key=_used)
    for folder in builds[:-KEEP]:
        shutil.rmtree(folder, ignore_errors=True)


def _used(folder: Path) -> float:
    try:
        return folder.stat().st_mtime
    except OSError:  # another process forgot it just now
        return 0.0
