"""The small invented course of ``tests/check/course``: its source, and a class of five that has handed it in."""

import functools
import shutil
from pathlib import Path

import nbformat
import pytest

import instructor.run
from instructor.run import ZygoteRunner

SOURCE = Path(__file__).parents[1] / "check" / "course" / "solutions" / "90_ticks"
RIGHT = {
    "90-a": "period = mine.ticks * 0.025",
    "90-b": "choice = {'choice': 'B', 'ticks': parameters('90-b').ticks}",
    "90-c": """ticks = parameters('90-c').ticks
class Blinker(Design):
    lamp = DigitalOut('lamp')
    on = Reg(bit)
    @sequenced(every=ticks)
    def blink(self):
        self.on = not self.on
        self.lamp = self.on
""",
}
CLASS = {
    "ada": RIGHT,
    "bob": {"90-a": RIGHT["90-a"]},
    "cy": {},
    "dee": {**RIGHT, "90-b": "choice = {'choice': 'A', 'ticks': parameters('90-b').ticks}"},
    "eve": {
        **RIGHT,
        "90-a": "period = mine.ticks * 25",
        "90-c": RIGHT["90-c"].replace("every=ticks", "every=ticks + 1"),
    },
}
SCORES = {"ada": [2, 2, 3], "bob": [2, 0, 0], "cy": [0, 0, 0], "dee": [2, 1, 3], "eve": [0, 2, 1]}


@pytest.fixture
def source(tmp_path):
    """A copy of the small lab's source that a test may break."""
    ignore = shutil.ignore_patterns("__pycache__")
    return Path(shutil.copytree(SOURCE, tmp_path / "solutions" / "90_ticks", ignore=ignore))


class Shared(ZygoteRunner):
    """The warmed process that all tests of a session grade with: to start one takes five seconds of processor time."""

    def close(self):
        """A command has ended; the process stays."""


@pytest.fixture(scope="session", autouse=True)
def _started_once():
    """``tickbench grade`` in this process finds the warmed process running, and the version of nbgrader's tables known.

    nbgrader asks a program of its own for the version whenever it makes a gradebook (six seconds).  Commands in a process
    of their own start everything themselves.
    """
    from nbgrader import api

    runner = Shared()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(instructor.run, "SANDBOXES", (lambda: runner, *instructor.run.SANDBOXES[1:]))
        patch.setattr(api, "get_alembic_version", functools.cache(api.get_alembic_version))
        yield
    ZygoteRunner.close(runner)


@pytest.fixture(scope="session")
def labs(tmp_path_factory):
    """A folder of labs with 90_ticks in it."""
    from instructor.author.build import build_lab

    folder = tmp_path_factory.mktemp("labs")
    build_lab(SOURCE, folder)
    return folder


@pytest.fixture(autouse=True)
def _installed(labs, monkeypatch):
    """This folder stands for the installed labs, and its source for the installed solutions."""
    monkeypatch.setenv("TICKBENCH_LABS", str(labs))
    monkeypatch.setenv("TICKBENCH_SOLUTIONS", str(SOURCE.parent))
    for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def hand_in(labs, tmp_path):
    """``hand_in(learner, answers, change)``: put a learner's notebook into ``course/submitted``; returns its path."""

    def put(learner, answers=None, change=lambda notebook: None, name="90_ticks.ipynb"):
        notebook = nbformat.read(labs / "90_ticks" / "90_ticks.ipynb", as_version=4)
        for exercise, code in (answers or {}).items():
            next(c for c in notebook.cells if c["id"] == f"{exercise}-answer").source = code
        change(notebook)
        folder = tmp_path / "course" / "submitted" / learner / "90_ticks"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "timestamp.txt").write_text("2026-11-20 10:00:00 UTC")
        with open(folder / name, "w", encoding="utf-8") as file:
            file.write(nbformat.writes(notebook))
        return folder / name

    return put


@pytest.fixture
def course(tmp_path):
    """The course folder, made ready by the command."""
    from click.testing import CliRunner

    from simkit.cli import main

    result = CliRunner().invoke(main, ["course", str(tmp_path / "course")])
    assert result.exit_code == 0, result.output
    return tmp_path / "course"
