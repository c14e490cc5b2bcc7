"""What the parent of a run makes of a child that says anything at all."""

import json
import os
import subprocess
import tempfile

import pytest

from simkit.check.run import Cell, Job, Limits, run_job

CELLS = [Cell(0, "a = 1"), Cell(3, "check('x-a', a)", "x-a")]
GIVEN = {"event": "answer", "cell": 3, "exercise": "x-a", "status": "given", "data": 5, "message": ""}


class Fake:
    """A child, in a process of its own, that writes these bytes and hangs up."""

    def __init__(self, data):
        self.killed = False
        with tempfile.TemporaryFile() as said:
            said.write(data)
            said.seek(0)
            self.events, write = os.pipe()
            self._process = subprocess.Popen(["cat"], stdin=said, stdout=write)
            os.close(write)

    def kill(self):
        self.killed = True
        self._process.kill()
        self._process.wait()


def run(*events, **limits):
    lines = b"".join((json.dumps(e).encode() if isinstance(e, dict) else e) + b"\n" for e in events)
    job = Job(CELLS, ".", "ada", Limits(**{"restarts": 0, "cell_seconds": 1, **limits}))
    return run_job(job, lambda job, message: Fake(lines))


def start(cell):
    return {"event": "start", "cell": cell}


def test_an_answer_counts_in_its_own_cell_only():
    assert run(start(3), GIVEN, {"event": "done"}).answers[3].data == 5
    assert run(start(0), GIVEN, {"event": "done"}).answers == {}
    assert run(GIVEN, {"event": "done"}).answers == {}
    assert run(start(3), {**GIVEN, "exercise": "x-b"}, {"event": "done"}).answers == {}


ODD = [None, [], {}, 3.5, "3", True, 10**30, float("nan"), "\ud800"]


@pytest.mark.parametrize("odd", ODD, ids=repr)
def test_fields_of_odd_types_do_no_harm(odd):
    events = [start(3)]
    for name in ("event", "cell", "exercise", "status", "data", "message", "output", "note", "dropped"):
        for event in (
            start(3),
            GIVEN,
            {"event": "end", "cell": 3, "status": "ok", "note": ""},
            {"event": "output", "cell": 3},
        ):
            events.append({**event, name: odd})
    result = run(*events, start(3), GIVEN, {"event": "done"})
    assert result.answers[3].data == 5


@pytest.mark.parametrize("line", [b"", b"{", b"[" * 100_000, b"1" * 5000, b"\xff\xfe", b"null", b'"x"', b"[1]"])
def test_lines_that_are_no_events_are_passed_over(line):
    assert run(start(3), line, GIVEN, {"event": "done"}).answers[3].data == 5


def test_a_flood_is_stopped_and_what_came_before_counts():
    flood = json.dumps({"event": "output", "cell": 3, "output": {"text": "x" * 10_000}}).encode()
    result = run(start(3), GIVEN, *[flood] * 300, output_bytes=1_000_000)
    assert result.answers[3].data == 5
    assert result.notes == ["cell 4 gave out too much and was stopped"]


def test_one_endless_line_is_stopped():
    result = run(start(3), GIVEN, b"x" * 3_000_000, output_bytes=1_000_000)
    assert result.answers[3].data == 5
    assert result.notes == ["cell 4 gave out too much and was stopped"]


def test_a_child_that_hangs_up_is_said():
    result = run(start(0))
    assert result.notes == ["cell 1 ended the whole program"]
    assert result.ends[0][0] == "died"
