"""The kernel's half of the bench panel: a rig in a thread, what the bench shows, what the page may ask."""

import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from simkit import AnalogIn, AnalogOut, Design, DigitalIn, DigitalOut, HostReg, bit, clocked, ms, sequenced, signed
from simkit.bench import BenchFault, FanHouse, load
from simkit.view import Panel, Scope
from simkit.view.readings import Readings
from simkit.view.runner import Runner


class House(Design):
    """A little of everything: lamp, trip, speed, bearing, registers."""

    pulse = DigitalIn("fan B pulse")
    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    burner = DigitalOut("burner")
    speed = AnalogOut("fan B speed")
    accel = AnalogIn("fan B bearing")
    wanted = HostReg(signed(16), reset=20000)
    heat = HostReg(bit, reset=1)
    last = HostReg(signed(24), access="ro")

    @clocked
    def lines(self):
        self.lamp = self.switch
        self.burner = self.heat

    @sequenced(every=ms(1))
    def drive(self):
        self.speed.write(self.wanted)

    @sequenced
    def watch(self):
        self.last = self.accel.read()


class Still:
    """A rig that only counts; each millisecond takes ``cost_s`` of real time."""

    class timebase:
        hz = 40_000_000

    def __init__(self, cost_s=0.0):
        self.ticks, self.cost_s = 0, cost_s

    def advance_to(self, tick):
        time.sleep(self.cost_s * (tick - self.ticks) / 40_000)
        self.ticks = tick


@pytest.fixture
def runner():
    made = Runner(Still(), lambda: None)
    yield made
    made.pause()


def test_a_limited_run_ends_on_its_tick(runner):
    runner.pace = 0.0
    runner.start(1_234_567)
    runner.wait(5)
    assert runner.rig.ticks == 1_234_567 and not runner.running and runner.until is None


def test_pace_follows_real_time(runner):
    began = time.monotonic()
    runner.start()
    time.sleep(0.5)
    runner.pause()
    elapsed, simulated = time.monotonic() - began, runner.rig.ticks / runner.hz
    assert 0.2 < simulated <= elapsed + 0.01


def test_a_slow_pace_moves_by_parts_of_a_millisecond(runner):
    runner.pace = 1e-3
    runner.start()
    time.sleep(0.3)
    runner.pause()
    assert 0 < runner.rig.ticks <= 0.4e-3 * runner.hz


def test_a_rig_that_is_too_slow_tells_the_pace_it_reaches():
    told = []
    runner = Runner(Still(cost_s=0.004), lambda: told.append(runner.reached))
    runner.start()
    time.sleep(0.9)
    runner.pause()
    assert 0.1 < told[-1] < 0.35  # 1 ms of the bench costs 4 ms


def test_progress_and_remaining_time():
    runner = Runner(Still(cost_s=0.002), lambda: None)
    runner.pace = 0.0
    runner.start(int(runner.hz))
    time.sleep(0.5)
    part, remaining = runner.done_part, runner.remaining_s
    runner.pause()
    assert 0.05 < part < 0.6 and 0.8 < remaining < 8


def test_stop_is_quick_even_in_a_long_run():
    runner = Runner(Still(cost_s=0.001), lambda: None)
    runner.pace = 0.0
    runner.start()
    time.sleep(0.2)
    began = time.monotonic()
    runner.stop()
    assert time.monotonic() - began < 0.3 and not runner.running
    runner.pause()


def test_a_failure_in_the_thread_is_told_and_does_not_hang():
    class Broken(Still):
        def advance_to(self, tick):
            raise ValueError("the belt is off")

    runner = Runner(Broken(), lambda: None)
    runner.start()
    with pytest.raises(ValueError, match="the belt is off"):
        runner._run.result(5)
    deadline = time.monotonic() + 2
    while not runner.trouble and time.monotonic() < deadline:
        time.sleep(0.01)
    assert runner.trouble == "ValueError: the belt is off"


def test_step_is_exact_and_in_the_calling_thread(runner):
    seen = []
    runner.look = lambda: seen.append(threading.current_thread())
    runner.step(100_001)
    assert runner.rig.ticks == 100_001 and set(seen) == {threading.current_thread()}


@pytest.fixture(scope="module")
def rig():
    return load(House, FanHouse(seed=3))


def test_plan_lists_what_is_wired(rig):
    plan = Readings(rig).plan()
    assert [fan["name"] for fan in plan["fans"]] == ["A", "B"]
    assert {lamp["name"] for lamp in plan["lamps"]} == {"lamp", "burner"}
    assert [switch["name"] for switch in plan["switches"]] == ["switch"]
    assert {"terminal": "fan B bearing", "kind": "loose"} in plan["faults"]
    assert [(r["name"], r["writable"]) for r in plan["registers"]] == [
        ("wanted", True),
        ("heat", True),
        ("last", False),
    ]
    assert {"rpm A", "rpm B", "rms fan B bearing", "volt fan B speed", "plenum", "grain"} == {
        g["key"] for g in plan["gauges"]
    }


def test_r_m_s_agrees_with_the_recording():
    rig = load(House, FanHouse(seed=3), record=["fan B bearing"])
    rig.bench.fan("B").hold_speed(1500)
    readings = Readings(rig)
    for _ in range(400):
        rig.run(ms(1))
        readings.look()
    trace = rig.trace("fan B bearing")
    codes = trace.values[trace.ticks > 200e-3 * 40e6]  # the last 200 ms
    terminal = rig.bench.terminals["fan B bearing"]
    wanted = np.sqrt(np.mean(terminal.calibration.volts(codes) ** 2)) / terminal.sensor.volts_per_unit
    assert readings.values()["rms fan B bearing"] == pytest.approx(wanted, rel=0.01)
    assert readings.values()["rpm B"] == pytest.approx(1500)


@pytest.fixture
def panel():
    made = Panel(House, FanHouse(seed=3), record=["lamp"])
    made.sent = []
    made.send = lambda content, buffers=None: made.sent.append(content)
    yield made
    made.runner.pause()


def ask(panel, do, **more):
    panel._asked(None, {"do": do, **more}, None)
    return panel.sent


def test_state_of_a_run(panel):
    panel.pace = "as fast as it goes"
    panel.start(0.3)
    panel.wait(30)
    state = panel.sent[-1] if panel.sent[-1]["tell"] == "state" else panel.sent[-2]
    assert panel.rig.ticks == 12_000_000
    assert state["gauges"]["rpm B"] > 50 and state["lamps"]["burner"] == 1.0
    assert state["registers"]["wanted"] == 20000 and state["late"] == {"drive": 0}


def test_steps(panel):
    ask(panel, "step", size="1 tick")
    ask(panel, "step", size="1 µs")
    assert panel.rig.ticks == 41


def test_a_press_reaches_the_design_and_ends(panel):
    ask(panel, "press", name="switch")
    panel.step(40_000 * 150)
    values = panel.rig.trace("lamp").values
    assert values[0] == 0 and 1 in values and values[-1] == 0


def test_reset_does_not_press_again(panel):
    ask(panel, "press", name="switch")
    ask(panel, "step", size="10 ms")
    ask(panel, "reset")
    panel.step(40_000 * 20)
    assert set(panel.rig.trace("lamp").values.tolist()) == {0} and panel.rig.ticks == 800_000


def test_a_register_is_set_and_a_bad_value_refused(panel):
    ask(panel, "set", name="wanted", value=-5)
    panel.step(10)
    assert panel.rig.host.wanted == -5
    refused = [m for m in ask(panel, "set", name="wanted", value=99999) if m["tell"] == "refused"]
    assert "outside -32768 to 32767" in refused[0]["text"]


def test_faults_come_and_go(panel):
    ask(panel, "fault", terminal="fan B bearing", kind="open")
    assert panel.sent[-1]["faults"]["fan B bearing"] == "open"
    ask(panel, "fault", terminal="fan B bearing", kind="")
    assert panel.rig.bench.terminals["fan B bearing"].fault == ""
    assert "cannot have the fault" in ask(panel, "fault", terminal="lamp", kind="loose")[-2]["text"]


def test_a_fan_is_held_and_let_go(panel):
    ask(panel, "hold", fan="A", rpm=1200)
    panel.step(80_000)
    assert panel.sent[-1]["fans"]["A"] == pytest.approx(
        {"rpm": 1200, "turns": panel.sent[-1]["fans"]["A"]["turns"], "held": True}
    )
    ask(panel, "hold", fan="A", rpm=None)
    assert panel.sent[-1]["fans"]["A"]["held"] is False


@pytest.mark.parametrize("seconds", [0, -1, 601])
def test_runs_beyond_reason_are_refused(panel, seconds):
    with pytest.raises(ValueError, match="at most 600 s"):
        panel.start(seconds)
    assert ask(panel, "start", seconds=seconds)[-2]["tell"] == "refused"


def test_what_the_page_may_not_ask_is_ignored(panel):
    ask(panel, "format the disk")
    assert panel.sent == []


def test_a_scope_follows_the_run():
    rig = load(House, FanHouse(seed=3), record=["drive.state"])
    scope = Scope(rig)
    panel = Panel(rig, scope=scope)
    panel.step(400_000)
    assert scope.span[1] >= 400_000
    panel.reset()
    assert scope.span[1] < 400_000
    panel.runner.pause()


def test_an_endless_run_pauses_before_the_memory_is_full(monkeypatch):
    monkeypatch.setattr("simkit.view.runner.LONGEST_S", 0.1)
    runner = Runner(Still(), lambda: None)
    runner.pace = 0.0
    runner.start()
    runner.wait(5)
    assert runner.rig.ticks >= 0.1 * runner.hz
    deadline = time.monotonic() + 2
    while not runner.trouble and time.monotonic() < deadline:
        time.sleep(0.01)
    assert "paused after 0.1 s" in runner.trouble
    runner.pause()


def test_python_ends_while_a_panel_runs():
    code = (
        "from tests.view.test_panel import Still\nfrom simkit.view.runner import Runner\nimport time\n"
        "runner = Runner(Still(0.001), lambda: None)\nrunner.start()\ntime.sleep(0.1)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60, cwd=Path(__file__).parents[2])


def test_a_running_rig_is_not_moved_from_elsewhere():
    rig = load(House, FanHouse(seed=3))
    runner = Runner(rig, lambda: None)
    runner.start()
    time.sleep(0.1)
    with pytest.raises(BenchFault, match="running in a panel"):
        rig.run(ms(1))
    runner.pause()
    rig.run(ms(1))
