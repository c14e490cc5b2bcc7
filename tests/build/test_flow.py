"""Builds: what comes out, what is kept, what happens when something is in the way."""

from __future__ import annotations

import gzip
import inspect
import json
import linecache
import os
import shutil
import time

import pytest

from simkit import Clock, Design, HostReg, Reg, Rom, bits, clocked, compile_design, sequenced, signed, unsigned
from simkit.build import BuildFault, Cancelled, ToolFault, build, flow
from simkit.build.configure import SYNTHESISED, route_options
from simkit.build.flow import tables_apart
from simkit.build.parts import PARTS, RESOURCES
from simkit.build.tools import run_tool
from simkit.emit.verilog import emit
from tests.build.designs import Chain, Piped, Small, TooManyMultipliers, TooManyPins, TooMuchMemory


def line_of(cls, words: str) -> int:
    """The line of this test's source file that holds the words, within a class."""
    source, first = inspect.getsourcelines(cls)
    return first + next(i for i, line in enumerate(source) if words in line)


@pytest.fixture(scope="module")
def chain():
    return build(Chain)


def test_a_chain_too_long_misses_its_rate_and_the_report_names_its_lines(chain):
    assert not chain.met
    (rate,) = chain.rates
    assert rate.asked == 150 and 60 < rate.reached < 150 and rate.slack_ns < 0
    lines = {place.line for step in chain.paths["fabric"] for place in step.places}
    assert {line_of(Chain, "product = "), line_of(Chain, "total = "), line_of(Chain, "self.over = ")} <= lines
    assert all(step.places for step in chain.paths["fabric"])
    names = [step.name for step in chain.paths["fabric"]]
    assert names[0] in ("x", "y") and "multiplier" in names and names[-1] == "into over"
    assert any(name.startswith("carry chain") for name in names)


def test_the_steps_add_up_to_the_period(chain):
    assert sum(step.ns for step in chain.paths["fabric"]) == pytest.approx(1e3 / chain.rates[0].reached, rel=0.01)


def test_one_register_behind_the_multiplier_and_it_meets():
    assert build(Piped).met


def test_the_report_in_words_and_pictures(chain):
    text = chain.text()
    assert "multipliers       1 of 28" in text and "missed by" in text and "designs.py:" in text and "warning:" in text
    html = chain._repr_html_()
    assert "<table>" in html and "multiplier" in html
    for figure in (chain.usage_figure(), chain.path_figure(), chain.placement_figure()):
        assert figure.alt
    with pytest.raises(ValueError, match="no path between registers of a clock 'other'; clocks with one: fabric"):
        chain.path_figure("other")


class Slower(Chain):
    """The chain with a clock that it misses by little if only the wires' lengths are looked at."""

    clock = Clock(103_000_000)


@pytest.fixture(scope="module")
def slower():
    return build(Slower)


def test_a_clock_missed_by_little_is_met_by_looking_at_delays(chain, slower, builds, monkeypatch):
    assert slower.met and slower.rates[0].reached > chain.rates[0].reached
    monkeypatch.setattr(flow, "WORTH_TRYING", 1.0)  # without that step
    assert build(Slower).rates[0].reached == chain.rates[0].reached


@pytest.mark.parametrize(("which", "by_delay"), [("chain", False), ("slower", True)])
def test_the_configuration_made_later_is_of_the_placement_reported(which, by_delay, request, tmp_path):
    """A run that writes both a report and a configuration has the build's rate, and the configuration made later."""
    built = request.getfixturevalue(which)
    with gzip.open(built.folder / SYNTHESISED) as source:
        (tmp_path / "chip.json").write_bytes(source.read())
    shutil.copy(built.folder / "pins.lpf", tmp_path)
    both = ["--report", "/build/report.json", "--textcfg", "/build/chip.config"]
    code, said = run_tool("nextpnr", [*route_options(built.part, built.speed, built.seed, by_delay), *both], tmp_path)
    assert code == 0, said
    (clock,) = json.loads((tmp_path / "report.json").read_text())["fmax"].values()
    assert clock["achieved"] == built.rates[0].reached
    assert (tmp_path / "chip.config").read_text() == built.configuration().read_text()


def test_files_to_take_away(chain, tmp_path):
    files = chain.save(tmp_path / "away")
    assert [f.name for f in files] == ["board.v", "chip.bit", "design.v", "pins.lpf", "report.txt"]
    pins = (tmp_path / "away" / "pins.lpf").read_text()
    assert "CAUTION" in pins and "emergency stop" in pins and 'LOCATE COMP "pin_out_over"' in pins
    assert 'FREQUENCY PORT "clk_0" 150.000000 MHZ' in pins
    bits = (tmp_path / "away" / "chip.bit").read_bytes()
    assert b"LFE5U-25F" in bits[:400] and len(bits) > 10_000


def test_a_second_build_is_there_at_once_and_a_moved_cell_keeps_it(builds):
    text = inspect.getsource(Small)
    first = build(design_from(text, "<cell 1>"))
    second = build(design_from("\n\n\n" + text, "<cell 2>"))
    assert second.rates == first.rates and len(list(builds.iterdir())) == 1
    (one,), (two,) = first.paths.values(), second.paths.values()
    for a, b in zip(one, two, strict=True):
        assert [place.line + 3 for place in a.places] == [place.line for place in b.places]
        assert all(place.file == "<cell 2>" for place in b.places)


def design_from(text: str, file: str):
    """A netlist of class Small as if its text stood in a notebook cell."""
    import tests.build.designs as home

    linecache.cache[file] = (len(text), None, text.splitlines(keepends=True), file)
    space = dict(vars(home))
    exec(compile(text, file, "exec"), space)
    return compile_design(space["Small"])


def test_a_register_that_nothing_depends_on_is_named(builds):
    class Idle(Small):
        idle = Reg(unsigned(20))

        @clocked
        def waste(self):
            self.idle = self.idle + 1

    report = build(Idle)
    (words,) = [w for w in report.warnings if "idle" in w]
    assert words.endswith("idle is not on the chip: no output depends on it.") and "test_flow.py:" in words
    assert {u.resource: u.design for u in report.usage}["flip-flops"] < 20 + 12 + 4


def test_progress_goes_up_to_one(builds):
    seen = []
    build(Small, progress=lambda stage, done: seen.append((stage, done)))
    assert [stage for stage, _ in seen] == ["synthesis", "place and route", "report", "done"]
    assert [done for _, done in seen] == sorted(done for _, done in seen) and seen[-1][1] == 1


def test_cancel_stops_at_once_and_leaves_nothing(builds):
    began = time.monotonic()
    with pytest.raises(Cancelled, match="stopped during yosys"):
        build(Small, cancel=lambda: time.monotonic() - began > 0.3)
    assert list(builds.iterdir()) == []
    assert not children()


def children() -> list[str]:
    """Command lines of processes that this one started and that still run."""
    found = []
    for pid in filter(str.isdigit, os.listdir("/proc")):
        try:
            with open(f"/proc/{pid}/stat") as stat, open(f"/proc/{pid}/cmdline") as command:
                if int(stat.read().rsplit(")", 1)[1].split()[1]) == os.getpid():
                    found.append(command.read())
        except (FileNotFoundError, ProcessLookupError):
            continue
    return [line for line in found if "yowasp" in line]


def test_a_design_too_big_for_the_part(builds):
    with pytest.raises(
        BuildFault,
        match=r"TooMuchMemory is too big for LFE5U-25F: it needs \d+ block RAM, the chip has 56. "
        r"Largest memories: samples, 65536 words of 24 bits \(.*designs.py:\d+\)",
    ):
        build(TooMuchMemory)
    assert list(builds.iterdir()) == []


def test_too_many_multipliers_are_refused_as_soon_as_they_are_counted(monkeypatch):
    monkeypatch.setattr(flow.Flow, "_use", lambda *_: pytest.fail("synthesis went on to its end"))
    with pytest.raises(
        BuildFault,
        match=r"TooManyMultipliers is too big for LFE5U-25F: it needs 29 multipliers, the chip has 28. .*\(designs.py:\d+\)",
    ):
        build(TooManyMultipliers)


def test_more_pins_than_the_package_has(builds):
    with pytest.raises(BuildFault, match=r"digital inputs and outputs need 240 pins; LFE5U-25F in CABGA381 has \d+"):
        build(TooManyPins)
    assert list(builds.iterdir()) == []


def test_a_design_without_an_output(builds):
    class Closed(Design):
        count = Reg(unsigned(8))

        @clocked
        def run(self):
            self.count = self.count + 1

    with pytest.raises(
        BuildFault, match="Closed has no output, so nothing of it would be on the chip. Give it a DigitalOut"
    ):
        build(Closed)
    assert list(builds.iterdir()) == []


def test_a_tool_that_fails_is_not_the_learners_fault(builds, monkeypatch):
    monkeypatch.setattr(flow, "run_tool", lambda *args, **options: (1, "ERROR: out of paper\n"))
    with pytest.raises(ToolFault, match="(?s)yosys could not synthesise Small.*out of paper"):
        build(Small)
    assert list(builds.iterdir()) == []


def test_a_folder_that_cannot_be_written(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr("simkit.build.cache.builds_folder", lambda: tmp_path / "file" / "builds")
    with pytest.raises(ToolFault, match="no build can be kept in .*Set TICKBENCH_CACHE"):
        build(Small)


@pytest.mark.parametrize("options, words", [({"part": "3k"}, "there is no part '3k'"), ({"speed": "9"}, "speed='9'")])
def test_unknown_part_or_speed(options, words):
    with pytest.raises(ValueError, match=words):
        build(Small, **options)


def test_counts_of_the_part_are_those_of_the_tool(builds):
    report = build(Small)
    names = {"LUTs": "TRELLIS_COMB", "flip-flops": "TRELLIS_FF", "block RAM": "DP16KD", "multipliers": "MULT18X18D"}
    available = report.tool_available
    assert {r: available[names[r]] for r in RESOURCES} == PARTS["25k"].available


def test_lines_in_names_of_states_do_not_count():
    """A sequenced loop's states and kept words are named by line; moved by three lines, the key stays."""
    from simkit.build.cache import key_of, without_places
    from tests.build.corpus import sequences, signals

    for home, name in ((sequences, "Sender"), (signals, "Trigger")):
        text = inspect.getsource(getattr(home, name))
        keys, states = set(), set()
        for shift in ("", "\n\n\n"):
            file = f"<{name} moved by {len(shift)}>"
            linecache.cache[file] = (len(text), None, (shift + text).splitlines(keepends=True), file)
            space = dict(vars(home))
            exec(compile(shift + text, file, "exec"), space)
            net = compile_design(space[name])
            keys.add(key_of(without_places(net)))
            states |= {reg.states for reg in net.regs}
        assert len(keys) == 1 and len(states) > 2


def test_a_long_table_goes_to_yosys_as_a_file_with_the_same_words_on_the_same_lines():
    words = [(-1) ** i * i for i in range(64)] + [-128]

    class Waves(Design):
        wave = Rom(signed(8), words)
        few = Rom(signed(8), words[:8])
        at = HostReg(unsigned(7))
        y = HostReg(signed(8), access="ro")
        z = HostReg(signed(8), access="ro")

        @sequenced
        def show(self):
            y = self.wave.read(self.at)
            z = self.few.read(bits(self.at, 2, 0))
            self.y, self.z = y, z

    text = emit(compile_design(Waves)).text
    short, tables = tables_apart(text)
    assert list(tables) == ["table_wave.hex"]
    assert [int(word, 16) for word in tables["table_wave.hex"].split()] == [word % 256 for word in words]
    assert "few[3] = " in short and "wave[3] = " not in short
    lines, kept = text.splitlines(), short.splitlines()
    assert len(lines) == len(kept)
    assert all(line == other for line, other in zip(lines, kept, strict=True) if " wave[" not in line)
