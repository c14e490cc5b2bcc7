"""Cores written elsewhere: read, run, used as parts, refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from simkit import Design, HostReg, bits, clocked, compile_design, signed, unsigned
from simkit.build import BuildFault, build
from simkit.build.cores import CoreFault, VerilogCore, VhdlCore, keep_reading, read_core
from simkit.build.cores.__main__ import main
from simkit.netlist import to_json
from tests.build.core_bench import difference
from tests.lang.running import Run

CORES = Path(__file__).parent / "cores"


@pytest.mark.parametrize("file, top", [("mac", "mac"), ("sender", "sender"), ("table", "table_and_units")])
def test_a_core_runs_as_its_own_verilog_does(file, top):
    assert difference(CORES / f"{file}.v", top) == ""


def test_memories_registers_and_places_keep_their_names():
    net = read_core(CORES / "table.v")
    assert [(m.name, m.depth, m.type.width) for m in net.mems] == [("store", 256, 16)]
    assert [(r.name, r.mem) for r in net.reads] == [("store.read0", 0)]  # the register "word" is inside the memory
    assert {"result", "few[3]"} <= {reg.name for reg in net.regs}
    word = next(reg for reg in net.regs if reg.name == "result")
    assert word.loc.file.endswith("table.v") and word.loc.line == 20


def test_parameters_of_the_module():
    net = read_core(CORES / "mac.v", "mac", parameters={"WIDTH": 5})
    assert {port.name: port.type.width for port in net.inputs} == {"rst_n": 1, "clear": 1, "en": 1, "a": 5, "b": 5}
    assert net.outputs[0].type.width == 14


class Sum(Design):
    """Squares of the host's number, added up by a core."""

    x = HostReg(unsigned(8), reset=7)
    total = HostReg(unsigned(28), access="ro")

    def __init__(self):
        self.mac = VerilogCore(CORES / "mac.v", top="mac")

    @clocked
    def run(self):
        self.mac.rst_n = 1
        self.mac.en = 1
        self.mac.a = self.x
        self.mac.b = self.x
        self.total = self.mac.total


def test_a_core_is_a_part_of_a_design_and_its_inputs_are_registers():
    run = Run(Sum, 8)
    # Tick 0 assigns the inputs; the core sees them in tick 1 and holds 49 in tick 2; the design's own register follows.
    assert run.seen("total") == [(0, 0), (3, 49), (4, 98), (5, 147), (6, 196), (7, 245)]


def test_a_design_with_a_core_is_built_and_the_path_names_the_cores_lines():
    report = build(Sum)
    assert {u.resource: u.design for u in report.usage}["multipliers"] == 1
    places = {(Path(p.file).name, p.line) for step in report.paths["fabric"] for p in step.places}
    assert ("mac.v", 10) in places


@pytest.mark.parametrize(
    "file, words",
    [
        ("latch", r"latch.v:2: a latch \(a value that is held while no clock edge comes\). Give every branch a value"),
        ("loop", r"a combinational loop through .*loop.v:4, .*loop.v:3: a value depends on itself within one tick"),
        ("falling", r"falling.v:2: a register on the falling edge of clk"),
        ("broken", r"broken.v:2: syntax error"),
        ("missing", r"there is no file .*missing.v"),
    ],
)
def test_what_has_no_counterpart_is_named_with_its_line(file, words):
    with pytest.raises(CoreFault, match=words):
        read_core(CORES / f"{file}.v")
    assert issubclass(CoreFault, BuildFault)


@pytest.mark.parametrize(
    "text, words",
    [
        ("module t(input clk, inout w, output y); assign y = w; endmodule", "port w is inout"),
        ("module t(input clk, input e, d, output w); assign w = e ? d : 1'bz; endmodule", r"t.v:1: a tristate driver"),
        (
            "module t(input clk, input d, output reg q); wire c = clk & d; always @(posedge c) q <= d; endmodule",
            "clocked by a signal made inside the core",
        ),
        (
            "module t(input clk, input [11:0] a, output [31:0] y); reg [31:0] m [0:4095]; assign y = m[a]; "
            "always @(posedge clk) m[a] <= y + 1; endmodule",
            "memory m .*read without a clock edge; and with 131072 bits it is too large",
        ),
        ("module t(input clk, output y); other u(.clk(clk), .y(y)); endmodule", "Module `.?other"),
    ],
)
def test_more_that_is_refused(tmp_path, text, words):
    (tmp_path / "t.v").write_text(text)
    with pytest.raises(CoreFault, match=words):
        read_core(tmp_path / "t.v", "t")


@pytest.mark.parametrize(
    "options",
    [
        {"top": "mac; exec ls"},
        {"top": "mac", "parameters": {"W; exec": 1}},
        {"top": "mac", "parameters": {"WIDTH": "1; x"}},
    ],
)
def test_names_cannot_smuggle_commands_into_the_tool(options):
    with pytest.raises(CoreFault, match="is not the name|is a whole number"):
        read_core(CORES / "mac.v", **options)


def test_vhdl_through_ghdl():
    if shutil.which("ghdl") is None:
        pytest.skip("GHDL is not installed")

    class Smooth(Design):
        x = HostReg(unsigned(8), reset=20)
        y = HostReg(unsigned(8), access="ro")

        def __init__(self):
            self.mean = VhdlCore(CORES / "mean.vhd", "mean")

        @clocked
        def run(self):
            self.mean.x = self.x
            self.y = self.mean.y

    run = Run(Smooth, 8)
    assert [value for _, value in run.seen("y")] == [0, 10, 20]


def test_vhdl_without_ghdl_says_what_is_missing(monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(CoreFault, match="VHDL needs GHDL, which is not installed here"):
        VhdlCore(CORES / "mean.vhd", "mean")


def test_an_unknown_cell_is_named(monkeypatch):
    from simkit.build.cores import cells

    monkeypatch.delitem(cells.CELLS, "$pmux", raising=False)
    monkeypatch.delitem(cells.CELLS, "$sshr", raising=False)
    with pytest.raises(CoreFault, match=r"table.v:\d+: the construct that yosys calls \$\w+ has no counterpart here"):
        read_core(CORES / "table.v")


def test_signed_values_go_in_by_their_bits():
    class Signed(Sum):
        x = HostReg(signed(8), reset=-3)

        @clocked
        def run(self):
            self.mac.rst_n = 1
            self.mac.en = 1
            self.mac.a = unsigned(12)(bits(self.x, 7, 0))
            self.mac.b = 1
            self.total = self.mac.total

    assert compile_design(Signed)


def _no_tool(*args, **options):
    raise AssertionError("a tool was asked")


@pytest.fixture
def carried(tmp_path, monkeypatch, capsys):
    """A core with its reading, in a folder other than that in which it was read; and no tool."""
    (tmp_path / "mac.v").write_bytes((CORES / "mac.v").read_bytes())
    assert main([str(tmp_path / "mac.v")]) == 0 and capsys.readouterr().out.strip().endswith("mac.v.netlist")
    there = tmp_path / "there"
    there.mkdir()
    for name in ("mac.v", "mac.v.netlist"):
        (tmp_path / name).rename(there / name)
    monkeypatch.setattr("simkit.build.cores.read.run_tool", _no_tool)
    monkeypatch.setattr("simkit.build.cores.read.warm_up", _no_tool)
    return there / "mac.v"


def test_a_reading_that_lies_beside_the_text_needs_no_tool(carried, monkeypatch):
    for top in (None, "mac"):
        assert read_core(carried, top).regs[0].loc.file == str(carried)
    found = to_json(read_core(carried))
    monkeypatch.undo()
    assert found == to_json(read_core(CORES / "mac.v")).replace(str(CORES / "mac.v"), str(carried))


@pytest.mark.parametrize(
    "text, options",
    [("", {"parameters": {"WIDTH": 5}}), ("", {"top": "other"}), ("", {"clocks": {"clk": 1000}}), ("// changed", {})],
)
def test_a_reading_of_something_else_is_not_taken(carried, text, options):
    carried.write_text(carried.read_text() + text)
    with pytest.raises(AssertionError, match="a tool was asked"):
        read_core(carried, **options)


@pytest.mark.parametrize("damage", ["", "{}", '{"key": 1, "netlist": {}}', "[]", "\xff"])
def test_a_damaged_reading_is_no_reading(carried, damage):
    carried.with_name("mac.v.netlist").write_text(damage)
    with pytest.raises(AssertionError, match="a tool was asked"):
        read_core(carried)


def test_a_damaged_netlist_in_a_reading_is_no_reading(carried):
    path = carried.with_name("mac.v.netlist")
    path.write_text(path.read_text().replace('"nodes":[[', '"nodes":[[7,'))
    with pytest.raises(AssertionError, match="a tool was asked"):
        read_core(carried)


def test_readings_are_kept_by_hand_and_say_what_is_wrong(capsys, tmp_path):
    assert main([]) == 2 and main([str(tmp_path / "none.v")]) == 1
    assert "there is no file" in capsys.readouterr().err
    with pytest.raises(CoreFault, match="latch"):
        keep_reading(CORES / "latch.v")
