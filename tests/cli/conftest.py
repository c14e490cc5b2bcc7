"""The small invented lab, built once, and learners' notebooks made from it."""

from pathlib import Path

import nbformat
import pytest

SOLUTIONS = Path(__file__).parents[1] / "check" / "course" / "solutions"
RIGHT = {"90-a": "period = mine.ticks * 0.025", "90-b": "choice = {'choice': 'B', 'ticks': parameters('90-b').ticks}"}


@pytest.fixture(scope="session")
def labs(tmp_path_factory):
    """A folder of labs with 90_ticks in it."""
    from instructor.author.build import build_lab

    folder = tmp_path_factory.mktemp("labs")
    build_lab(SOLUTIONS / "90_ticks", folder)
    return folder


@pytest.fixture(autouse=True)
def _installed(labs, monkeypatch, tmp_path):
    """The commands take this folder for the installed labs; nobody is logged in."""
    monkeypatch.setenv("TICKBENCH_LABS", str(labs))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def learner_notebook(labs, tmp_path):
    """``make(answers, change)``: a learner's notebook with these answers (code by exercise), then changed."""

    def make(answers=None, change=lambda notebook: None, folder="work"):
        notebook = nbformat.read(labs / "90_ticks" / "90_ticks.ipynb", as_version=4)
        for exercise, code in (answers or {}).items():
            answer_cell(notebook, exercise).source = code
        change(notebook)
        path = tmp_path / folder / "90_ticks.ipynb"
        path.parent.mkdir(parents=True, exist_ok=True)
        nbformat.write(notebook, path)
        (path.parent / "exercises.py").write_bytes((labs / "90_ticks" / "exercises.py").read_bytes())
        return path

    return make


def answer_cell(notebook, exercise):
    return next(c for c in notebook.cells if c["id"] == f"{exercise}-answer")
