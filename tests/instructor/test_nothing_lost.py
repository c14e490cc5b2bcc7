"""Disk full, gradebook locked, grader killed: nothing is lost, and the same command goes on afterwards."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import pytest

from instructor.run import BubblewrapRunner, LandlockRunner, ZygoteRunner
from simkit.check.run import Cell, Job, Limits
from tests.instructor.conftest import CLASS, SCORES
from tests.instructor.test_two_doors import grade, scores

ROOT = Path(__file__).resolve().parents[2]


def hand_in_all(hand_in):
    for learner, answers in CLASS.items():
        hand_in(learner, answers)


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 8 MB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8m,nr_inodes=0", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("only root may mount a small disk")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.mark.parametrize("left", [0, 200_000, 260_000])
def test_a_full_disk_stops_nothing_that_stands_and_the_rest_is_graded_later(course, hand_in, small_disk, left):
    """With no room at all not even the gradebook can be backed up; with a little, the disk is full in the middle."""
    hand_in_all(hand_in)
    place = small_disk / "course"
    shutil.copytree(course, place)
    first = grade(place, "--learner", "ada")
    assert first["ada"]["graded"] and scores(place)["ada"] == SCORES["ada"]
    filler = small_disk / "filler"
    _fill(filler)
    os.truncate(filler, filler.stat().st_size - left)
    full = _grade_whatever_happens(place)
    assert not all(entry["graded"] for entry in full.values()), "the disk was not full"
    assert all("No space left" in e["error"] or "full" in e["error"] for e in full.values() if not e["graded"]), full
    filler.unlink()
    assert scores(place)["ada"] == SCORES["ada"]
    again = grade(place)
    assert all(entry["graded"] for entry in again.values()) and scores(place) == SCORES


def _fill(path):
    file = os.open(path, os.O_CREAT | os.O_WRONLY)
    try:
        while True:
            os.write(file, b"x" * 4096)
    except OSError:
        os.close(file)


def _grade_whatever_happens(place):
    """Grade; no submission at all if the command says that it cannot begin."""
    from click.testing import CliRunner

    from simkit.cli import main

    result = CliRunner().invoke(main, ["grade", str(place), "--json"])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code in (1, 3)
    if result.output.startswith("Error"):
        assert result.exit_code == 3 and ("space" in result.output or "full" in result.output)
        return {"": {"graded": False, "error": "No space left"}}
    import json

    return {entry["learner"]: entry for entry in json.loads(result.stdout)["submissions"]}


def test_a_gradebook_that_somebody_holds_for_a_while_is_waited_for(course, hand_in):
    hand_in_all(hand_in)
    grade(course, "--learner", "ada")
    held = sqlite3.connect(course / "gradebook.db", check_same_thread=False, isolation_level=None)
    held.execute("BEGIN EXCLUSIVE")
    threading.Timer(4.0, lambda: held.execute("COMMIT")).start()
    found = grade(course)
    held.close()
    assert all(entry["graded"] for entry in found.values()) and scores(course) == SCORES


def test_a_gradebook_that_stays_locked_costs_nothing(course, hand_in):
    """As when a form grader hangs in a transaction: each submission says so, and the next run grades it."""
    hand_in_all(hand_in)
    grade(course, "--learner", "ada")
    config = course / "nbgrader_config.py"
    kept = config.read_text()
    config.write_text(kept + f"\nc.CourseDirectory.db_url = 'sqlite:///{course / 'gradebook.db'}?timeout=0.2'\n")
    held = sqlite3.connect(course / "gradebook.db", isolation_level=None)
    held.execute("BEGIN IMMEDIATE")  # others may read, as the form grader's pages do, but not write
    held.execute("UPDATE grade SET manual_score = manual_score")
    found = grade(course)
    held.execute("ROLLBACK")
    held.close()
    late = [entry for name, entry in found.items() if name != "ada"]
    assert late and all(not entry["graded"] and "locked" in entry["error"] for entry in late)
    assert "run the same command again" in late[0]["error"]
    config.write_text(kept)
    assert all(entry["graded"] for entry in grade(course).values()) and scores(course) == SCORES


DRAWS = textwrap.dedent("""
    import random, numpy, secrets, uuid
    print(random.random(), numpy.random.random(), numpy.random.default_rng().random(), secrets.token_hex(8), uuid.uuid4())
""")


def test_two_learners_never_share_a_random_stream(tmp_path):
    """Children of one warmed process would otherwise all draw the same numbers."""
    tmp_path.chmod(0o755)
    runner = ZygoteRunner()
    try:
        if runner.missing():
            pytest.skip(runner.missing())
        drawn = []
        for learner in ("ada", "bob", "cy"):
            result = runner.run(Job([Cell(0, DRAWS)], str(tmp_path), learner, Limits(restarts=0)))
            drawn.append(result.outputs[0][0]["text"].split())
    finally:
        runner.close()
    assert len(drawn[0]) == 5
    for column in zip(*drawn, strict=True):
        assert len(set(column)) == 3, column


LEARNER = """
import subprocess, time
try:
    subprocess.Popen(["sleep", "{mark}"], start_new_session=True)
except PermissionError:  # Landlock's filter keeps a process in its group
    subprocess.Popen(["sleep", "{mark}"])
time.sleep(600)
"""
GRADER = """
import sys, os
sys.path.insert(0, {root!r})
from instructor.run import BubblewrapRunner, LandlockRunner, ZygoteRunner
from simkit.check.run import Cell, Job, Limits
runner = {kind}()
code = {code!r}
print("ready", flush=True)
runner.run(Job([Cell(0, code)], {folder!r}, "ada", Limits(cell_seconds=600, seconds=600)))
"""


@pytest.mark.parametrize("kind", [ZygoteRunner, BubblewrapRunner, LandlockRunner])
def test_a_child_outlives_nobody(kind, tmp_path):
    """The grader is killed with signal 9 while a learner's code runs; soon nothing of it is left, whatever it started."""
    tmp_path.chmod(0o755)
    runner = kind()
    why = runner.missing()
    runner.close()
    if why:
        pytest.skip(why)
    mark = f"8{os.getpid()}.{len(kind.__name__)}"
    text = GRADER.format(root=str(ROOT), kind=kind.__name__, folder=str(tmp_path), code=LEARNER.format(mark=mark))
    grader = subprocess.Popen([sys.executable, "-c", text], stdout=subprocess.PIPE)
    try:
        assert _wait(lambda: _running(mark), 40), "the learner's process did not start"
    finally:
        grader.send_signal(signal.SIGKILL)
        grader.wait()
    assert _wait(lambda: not _running(mark), 10), "it lives on"


def _wait(condition, seconds):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if condition():
            return True
        time.sleep(0.05)
    return False


def _running(mark):
    found = []
    for entry in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            found += [entry] if mark in entry.read_bytes().decode("utf-8", "replace").split("\0") else []
        except OSError:
            continue
    return found
