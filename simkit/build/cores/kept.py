"""Readings of cores that travel with their Verilog text, so that a core needs no synthesis tool where it is used.

``python -m simkit.build.cores data/crc16.v`` reads the core and writes ``data/crc16.v.netlist`` beside it.  While text and
parameters are the same, :func:`simkit.build.cores.read_core` takes that reading: in a notebook at once, and in the sandbox of
grading, where no tool runs.  A reading is a netlist as JSON, and checked like any other when it is loaded.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ...netlist import BadNetlist, Netlist, from_json, to_json

READER = 1
"""To be raised when the same text is read into another netlist than before."""


def beside(file: Path) -> Path:
    """Where the reading of a core's (first) file lies."""
    return file.with_name(file.name + ".netlist")


def key_of(files: Sequence[Path], *options: object) -> str:
    """Equal for equal texts and options, wherever the files lie."""
    digest = hashlib.sha256(repr((READER, options)).encode())
    for file in files:
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def find(files: Sequence[Path], key: str) -> Netlist | None:
    """The reading beside the first of the files, with its places in these files; None if there is none that fits."""
    try:
        kept = json.loads(beside(files[0]).read_text(encoding="utf-8"))
        if kept["key"] != key:
            return None
        netlist = kept["netlist"]
        _rename(netlist, {f"core{number}": str(file) for number, file in enumerate(files)})
        return from_json(json.dumps(netlist))
    except (OSError, ValueError, KeyError, TypeError, IndexError, BadNetlist):
        return None  # not there, or no reading: the tool reads the text itself


def keep(files: Sequence[Path], key: str, netlist: Netlist) -> Path:
    """Write a reading beside the first of the files; raises :class:`OSError` if that cannot be."""
    plain = json.loads(to_json(netlist))
    _rename(plain, {str(file): f"core{number}" for number, file in enumerate(files)})
    path = beside(files[0])
    path.write_text(json.dumps({"key": key, "netlist": plain}, separators=(",", ":")) + "\n", encoding="utf-8")
    return path


def _rename(netlist: dict[str, Any], names: Mapping[str, str]) -> None:
    """Give the files in a netlist's table of places other names."""
    for place in netlist["places"]:
        place[0] = names.get(place[0], place[0])
