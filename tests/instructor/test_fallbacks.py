"""A host that lacks something: the next sandbox does the whole job, also for an ordinary user, or grading refuses in clear words."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from instructor.run import BubblewrapRunner, LandlockRunner, ZygoteRunner, best_runner, bubblewrap
from instructor.run.supervisor import _own_id
from simkit.cli import main
from tests.instructor.conftest import CLASS, SCORES
from tests.instructor.test_landlock import CELL, TRIES

ROOT = Path(__file__).parents[2]
ORDINARY = 65_533  # an id that owns nothing

JOB = """
import json, os, sys
from instructor.run import LandlockRunner
from simkit.check.run import Cell, Job, Limits
given = json.loads(sys.argv[1])
names = {"outside": given["outside"], "pid": os.getpid()}
cells = [Cell(i, text.format(**names)) for i, text in enumerate(given["cells"])]
runner = LandlockRunner()
why = runner.missing()
result = None if why else runner.run(Job(cells, given["lab"], "ada", Limits(restarts=0)))
said = result and {i: result.outputs[i][0]["text"].strip() for i in sorted(result.outputs)}
print(json.dumps({"uid": os.geteuid(), "missing": why, "said": said and list(said.values())}))
"""


def test_landlock_shuts_in_the_notebooks_of_an_ordinary_user(tmp_path):
    """Everything outside belongs to that user, so that nothing but the sandbox keeps the notebook from it."""
    if LandlockRunner().missing():
        pytest.skip(LandlockRunner().missing())
    root, lab, outside, scratch = os.geteuid() == 0, tmp_path / "lab", tmp_path / "outside.txt", tmp_path / "tmp"
    for folder in (lab, scratch):
        folder.mkdir()
    (lab / "data.txt").write_text("for the lab")
    outside.write_text("private")
    for path in (tmp_path, *tmp_path.rglob("*")) if root else ():
        os.chown(path, ORDINARY, ORDINARY)
    for folder in tmp_path.parents if root else ():  # pytest's folders are root's alone
        if folder.stat().st_uid == 0 and folder.name.startswith("pytest"):
            folder.chmod(0o711)
    cells = [CELL.format(what=what) for what in TRIES.values()] + ["print(open('data.txt').read())"]
    given = json.dumps({"cells": cells, "lab": str(lab), "outside": str(outside)})
    ran = subprocess.run(
        [sys.executable, "-c", JOB, given],
        env={**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(scratch), "PYTHONDONTWRITEBYTECODE": "1"},
        cwd="/",
        preexec_fn=(lambda: _own_id(ORDINARY, [])) if root else None,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    found = json.loads(ran.stdout)
    assert found["uid"] == (ORDINARY if root else os.geteuid()) and not found["missing"]
    *refused, data = found["said"]
    assert data == "for the lab" and len(refused) == len(TRIES)
    assert all(text.startswith("refused") for text in refused), dict(zip(TRIES, refused, strict=True))
    assert outside.read_text() == "private"


@pytest.fixture
def no_bubblewrap(monkeypatch):
    """A host without the tool, and without namespaces for the kit's own sandbox."""
    monkeypatch.setenv("PATH", str(Path(sys.executable).parent))
    monkeypatch.setattr(ZygoteRunner, "missing", lambda self: "no namespaces here")
    bubblewrap._missing.cache_clear()
    yield
    bubblewrap._missing.cache_clear()


def _grade(course, *options):
    return CliRunner().invoke(main, ["grade", str(course), *options])


def test_without_bubblewrap_landlock_grades_the_whole_class(course, hand_in, no_bubblewrap):
    if LandlockRunner().missing():
        pytest.skip(LandlockRunner().missing())
    assert "bubblewrap is not installed" in BubblewrapRunner().missing()
    chosen = best_runner()
    chosen.close()
    assert isinstance(chosen, LandlockRunner)
    for learner in ("ada", "eve"):
        hand_in(learner, CLASS[learner])
    ran = _grade(course, "--json")
    assert ran.exit_code == 0, ran.output
    scores = {s["learner"]: [e["score"] for e in s["exercises"]] for s in json.loads(ran.output)["submissions"]}
    assert scores == {learner: SCORES[learner] for learner in ("ada", "eve")}


def test_without_any_sandbox_grading_refuses_and_says_what_to_do(course, hand_in, no_bubblewrap, monkeypatch):
    monkeypatch.setattr(LandlockRunner, "missing", lambda self: "Landlock is too old or off")
    hand_in("ada", CLASS["ada"])
    ran = _grade(course)
    assert ran.exit_code == 3
    for words in (
        "no namespaces here",
        "apt install bubblewrap",
        "Landlock is too old or off",
        "--trust",
        "with your own rights",
    ):
        assert words in ran.output, ran.output
    assert not (course / "gradebook.db").exists() and not (course / ".tickbench" / "graded").exists()
    trusted = _grade(course, "--trust", "--verbose")
    assert trusted.exit_code == 0 and "7 of 7" in trusted.output


def test_a_warmed_process_whose_grader_has_gone_imports_nothing_more():
    """A grader may be killed while it waits for the imports, which take seconds."""
    code = (
        "import socket, sys\n"
        "from instructor.run.zygote.server import warm_up\n"
        "ours, theirs = socket.socketpair()\n"
        "theirs.close()\n"
        "try:\n    warm_up(ours)\n"
        "finally:\n    print('scipy.signal' in sys.modules, 'simkit.build' in sys.modules)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False
    )
    assert ran.stdout.split() == ["False", "False"], ran.stderr
