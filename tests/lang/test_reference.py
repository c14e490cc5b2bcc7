"""The reference page says what happens: every example of it is run, and every stated value compared."""

from __future__ import annotations

import linecache
import re
from pathlib import Path
from typing import Any

import pytest

import simkit
from simkit import Design, HardwareError, compile_design
from simkit.netlist import Netlist
from tests.lang.running import Run

PAGE = Path(simkit.__file__).parent / "lang" / "reference.md"
EXAMPLE = re.compile(r"```python\n(.*?)```\n\n```(text|refused)\n(.*?)```", re.S)
TEXT = PAGE.read_text(encoding="utf-8")


def examples() -> list[Any]:
    found = []
    for match in EXAMPLE.finditer(TEXT):
        name = re.findall(r"class (\w+)\(Design\)", match[1])[-1]
        found.append(pytest.param(match[1], match[2], match[3], name, id=name))
    return found


def design_of(code: str, name: str) -> type[Design]:
    file = f"<reference {name}>"
    code = code if "import" in code else "from simkit import *\n" + code
    linecache.cache[file] = (len(code), None, code.splitlines(keepends=True), file)
    space: dict[str, Any] = {}
    exec(compile(code, file, "exec"), space)
    return space[name]


def rows_of(table: str) -> dict[str, list[float]]:
    rows = (line.split("|") for line in table.strip().splitlines())
    return {name.strip(): [float(v) for v in values.split()] for name, values in rows}


def events_of(rows: dict[str, list[float]]) -> list[tuple[int, str, int]]:
    """Rows that begin with ``>``; a strobe is given again in each tick in which it is 1."""
    strobes = (".valid", ".ready", ".write", ".acknowledge")
    events = []
    for name, values in rows.items():
        for tick, value in enumerate(values if name.startswith(">") else []):
            if value or not name.endswith(strobes):
                events.append((tick, name[1:], int(value)))
    return events


def numbers(run: Run, net: Netlist, name: str, count: int) -> list[float]:
    kind = net.signals()[name].type
    return [float(kind.number(run.at(name, tick))) for tick in range(count)]


@pytest.mark.parametrize(("code", "how", "stated", "name"), examples())
def test_example(code, how, stated, name):
    if how == "refused":
        with pytest.raises(HardwareError, match=re.escape(stated.strip())):
            compile_design(design_of(code, name))
        return
    rows = rows_of(stated)
    ticks = len(rows.pop("tick"))
    net = compile_design(design_of(code, name))
    run = Run(net, ticks * 5, events_of(rows))
    for signal, values in rows.items():
        if not signal.startswith(">"):
            assert numbers(run, net, signal, ticks) == values, signal


def test_every_word_of_the_language_is_on_the_page():
    for word in simkit.lang.__all__:
        if word not in ("HardwareError", "Refused", "compile_design"):
            assert re.search(rf"\b{word}\b", TEXT), word


def test_every_part_has_an_example():
    assert len(EXAMPLE.findall(TEXT)) == TEXT.count("```python\n")
