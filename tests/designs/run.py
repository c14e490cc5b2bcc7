"""From source text to a netlist, as if the text stood in a notebook cell."""

from __future__ import annotations

import linecache
from typing import Any

from simkit import compile_design
from simkit.netlist import Netlist


def netlist_of(source: str, name: str = "<random design>") -> Netlist:
    """The netlist of class ``Random`` in the source text."""
    file = f"{name}{hash(source)}"
    linecache.cache[file] = (len(source), None, source.splitlines(keepends=True), file)
    try:
        space: dict[str, Any] = {}
        exec(compile(source, file, "exec"), space)  # noqa: S102 - our own text
        return compile_design(space["Random"])
    finally:
        del linecache.cache[file]
