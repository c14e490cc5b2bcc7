"""Where the flow differs from the tool's own: the map of block memories that reads quickly, and the steps from logic to tables."""

from __future__ import annotations

import json
import random

import pytest

from simkit.build import synthesis
from simkit.build.flow import in_folder
from simkit.build.tools import run_tool

BLOCKS = ("DP16KD", "PDPW16KD")


def memory(width: int, words: list[int]) -> str:
    """A table in Verilog, read at the clock, with a port to write when it starts empty."""
    depth = len(words)
    starts = "".join(f"    store[{i}] = {width}'h{word:x};\n" for i, word in enumerate(words))
    return (
        f"module top(input clk, input we, input [{depth.bit_length() - 2}:0] at, to, input [{width - 1}:0] d, "
        f"output reg [{width - 1}:0] q);\n"
        f'(* ram_style = "block" *) reg [{width - 1}:0] store [0:{depth - 1}];\n'
        f"initial begin\n{starts}end\nalways @(posedge clk) begin\n  if (we) store[to] <= d;\n  q <= store[at];\nend\nendmodule\n"
    )


def blocks(folder, flow: str) -> list[tuple[dict[str, str], dict[str, int]]]:
    """Parameters and ports of each block memory, without the names of its nets."""
    script = f"read_verilog design.v; {flow}; write_json chip.json"
    code, said = run_tool("yosys", ["-Q", "-T", "-q", "-p", in_folder(script)], folder)
    assert code == 0, said
    cells = json.loads((folder / "chip.json").read_text())["modules"]["top"]["cells"].values()
    return sorted(
        (sorted(c["parameters"].items()), sorted((port, len(bits)) for port, bits in c["connections"].items()))
        for c in cells
        if c["type"] in BLOCKS
    )


@pytest.mark.parametrize(("width", "depth"), [(16, 256), (18, 1024), (9, 2048), (36, 512), (24, 700)])
def test_blocks_are_those_of_the_tools_own_flow(tmp_path, width, depth):
    words = [random.Random(width).getrandbits(width) for _ in range(depth)]
    (tmp_path / "design.v").write_text(memory(width, words))
    synthesis.write_map(tmp_path)
    ours = blocks(tmp_path, synthesis.synthesis("top", True))
    assert ours, "there is a block to compare"
    assert ours == blocks(tmp_path, "synth_ecp5 -nowidelut -top top")


def test_a_map_of_another_version_is_used_as_it_is(tmp_path, monkeypatch):
    monkeypatch.setattr(synthesis, "_BLOCK", "brams_map_of_tomorrow.v")
    synthesis.memory_map.cache_clear()
    try:
        assert synthesis.synthesis("top", True).endswith("; synth_ecp5 -nowidelut -top top")
        synthesis.write_map(tmp_path)
        assert not list(tmp_path.iterdir())
    finally:
        synthesis.memory_map.cache_clear()


def test_the_steps_to_tables_are_the_tools_own_but_for_one_limit(tmp_path):
    code, said = run_tool("yosys", ["-Q", "-T", "-p", "scratchpad -get abc9.script.default"], tmp_path)
    own = next(line for line in said.splitlines() if line.startswith("+&"))
    assert code == 0
    assert steps(synthesis.TABLES) == [*steps(own)[:-1], ["&mfs", "-M", "300"]]
    assert steps(own)[-1] == ["&mfs"]


def steps(script: str) -> list[list[str]]:
    """Commands and options of a script for tables."""
    return [step.replace(",", " ").split() for step in script.split(";")]
