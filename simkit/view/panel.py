"""The bench in the notebook: fans that turn, gauges, switches, knobs and faults, while the design runs on it.

The rig moves in a thread of its own (:mod:`simkit.view.runner`); the page animates what the thread reports.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from ..bench.digital import Switch
from ..bench.rig import Rig, load
from ..bench.terminals import BenchFault
from ..host.registers import HostFault
from ..units import ms, s
from .readings import Readings
from .runner import LONGEST_S, Runner

HERE = Path(__file__).parent
STEPS = {"1 tick": 0.0, "1 µs": 1e-6, "1 ms": 1e-3, "10 ms": 1e-2, "100 ms": 0.1, "1 s": 1.0}
PACES = {"real time": 1.0, "10 × slower": 0.1, "100 × slower": 0.01, "1000 × slower": 1e-3, "as fast as it goes": 0.0}


class Panel(anywidget.AnyWidget):
    """A bench to play on while a design runs.

    Parameters
    ----------
    design : a rig, or a design, which is then loaded onto ``bench``
    bench : bench for a design; default: the one of :func:`simkit.bench.load`
    record : what a design's rig records; see :func:`simkit.bench.load`
    scope : a :class:`simkit.view.Scope` of the same rig that follows the run

    While the panel runs, leave the rig to it: ``panel.pause()`` first, then ``panel.rig.run(…)``.
    """

    _esm = HERE / "panel.js"
    _css = HERE / "panel.css"
    plan: Any = traitlets.Dict().tag(sync=True)
    steps: Any = traitlets.List(list(STEPS)).tag(sync=True)
    paces: Any = traitlets.List(list(PACES)).tag(sync=True)
    pace = traitlets.Unicode("real time").tag(sync=True)

    def __init__(self, design: Any, bench: Any = None, *, record: Any = None, scope: Any = None, **more: Any) -> None:
        self.rig = design if isinstance(design, Rig) else load(design, bench, record=record)
        self.scope = scope
        self._equip()
        super().__init__(plan=self._readings.plan(), **more)
        self._presses = 0
        self._scope_due = 0.0
        self._ready = True
        self.on_msg(self._asked)
        self.observe(lambda change: self._set_pace(change.new), "pace")

    def __repr__(self) -> str:
        return f"Bench panel of the design {self.rig.netlist.name}, in tick {self.rig.ticks}; it comes alive in a notebook."

    # --- what a person calls ---

    def start(self, seconds: float | None = None) -> None:
        """Run on, for so many simulated seconds or until paused; returns at once."""
        if seconds is not None and not 0 < seconds <= LONGEST_S:
            raise ValueError(f"a run takes more than 0 and at most {LONGEST_S:g} s, not {seconds!r}")
        self.runner.start(None if seconds is None else max(round(seconds * self.runner.hz), 1))

    def pause(self) -> None:
        """Stop moving; :meth:`start` goes on from here."""
        self.runner.pause()

    def step(self, ticks: int = 1) -> None:
        """Run exactly so many ticks."""
        self.runner.step(ticks)

    def stop(self) -> None:
        """End the run."""
        self.runner.stop()

    def reset(self) -> None:
        """Back to tick 0: the same design on the same bench."""
        self.stop()
        with self.runner.lock:
            self.rig.reset()
        self._readings.forget()
        self._report()

    def wait(self, timeout_s: float = 60.0) -> None:
        """Wait until a limited run has ended."""
        self.runner.wait(timeout_s)

    # --- inside ---

    def _equip(self) -> None:
        self._readings: Readings = Readings(self.rig)
        self.runner: Runner = Runner(self.rig, self._report, self._readings.look)
        self._set_pace(self.pace)

    def _set_pace(self, name: str) -> None:
        self.runner.pace = PACES[name]

    def _report(self) -> None:
        """Send the page how everything stands."""
        if not getattr(self, "_ready", False):
            return
        runner = self.runner
        with runner.lock:
            state = self._readings.state()
        run = {
            "running": runner.running,
            "pace": runner.pace,
            "reached": runner.reached,
            "part": runner.done_part,
            "remaining": runner.remaining_s,
            "trouble": runner.trouble,
        }
        self.send({"tell": "state", **state, "run": run})
        self._refresh_scope()

    def _refresh_scope(self) -> None:
        """Four times a second, or more rarely if the recording is so long that reading it takes time."""
        now = time.monotonic()
        if self.scope is None or (self.runner.running and now < self._scope_due):
            return
        with self.runner.lock:
            self.scope.refresh()
        self._scope_due = now + max(0.25, 10 * (time.monotonic() - now))

    def _asked(self, _: Any, content: dict[str, Any], buffers: Any) -> None:
        acts = {
            "hello": lambda c: None,
            "start": lambda c: self.start(c.get("seconds")),
            "pause": lambda c: self.pause(),
            "stop": lambda c: self.stop(),
            "reset": lambda c: self.reset(),
            "step": self._step,
            "press": self._press,
            "fault": self._fault,
            "set": self._set,
            "hold": self._hold,
        }
        act = acts.get(str(content.get("do")))
        if act is None:
            return
        try:
            act(content)
        except (BenchFault, HostFault, ValueError, TypeError) as error:
            self.send({"tell": "refused", "text": str(error)})
        self._report()

    def _step(self, content: dict[str, Any]) -> None:
        self.step(max(round(STEPS[content["size"]] * self.runner.hz), 1))

    def _press(self, content: dict[str, Any]) -> None:
        """Press a push button now for 80 ms.  Not put into the bench's script, so that a reset does not press it again."""
        bench, name = self.rig.bench, content["name"]
        button = bench.terminals[name]
        if not isinstance(button, Switch):
            raise BenchFault(f'terminal "{name}" is no switch')
        self._presses += 1
        random = bench.random(f"{name} hand {self._presses}")
        with self.runner.lock:
            at = self.rig.now
            for instant, level in ((at, 1 - button.idle), (at + ms(80), button.idle)):
                edges = button.chatter(instant.ps / 10**12, level, random, True)
                self.rig.schedule([(name, s(when), raw) for when, raw in edges])

    def _fault(self, content: dict[str, Any]) -> None:
        terminal = self.rig.bench.terminals[content["terminal"]]
        if content["kind"] and content["kind"] not in terminal.faults:
            raise BenchFault(f'terminal "{terminal.name}" cannot have the fault {content["kind"]!r}')
        with self.runner.lock:
            terminal.fault = content["kind"]

    def _set(self, content: dict[str, Any]) -> None:
        with self.runner.lock:
            self.rig.host[content["name"]] = content["value"]

    def _hold(self, content: dict[str, Any]) -> None:
        with self.runner.lock:
            self._readings.fans[content["fan"]].hold_speed(content["rpm"])
