"""What a learner agrees to show: tries and time to the first pass, and nothing else."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from simkit.check import agreed, journal
from simkit.cli import main

LAB = "90_ticks"


def event(exercise, minute, score, answer, learner="ada", lab=LAB, status="judged"):
    return {
        "event": "check", "time": f"2026-11-25T10:{minute:02}:00+00:00", "learner": learner, "lab": lab, "exercise": exercise,
        "score": score, "max": 2, "status": status, "answer": answer,
    }  # fmt: skip


ROWS = [
    event("90-a", 0, 0, "", status="todo"),
    event("90-a", 5, 0, "one"),
    event("90-a", 9, 0, "two"),
    event("90-a", 9, 0, "two"),
    event("90-a", 20, 2, "three"),
    event("90-b", 21, 1, "x"),
    event("90-a", 30, 2, "y", learner="bob"),
    event("04-a", 31, 2, "z", lab="04_other"),
]


def test_tries_and_minutes():
    found = agreed.summary(ROWS, "ada", LAB)
    assert found["exercises"]["90-a"] == {"tries": 3, "passed": True, "minutes": 15.0}
    assert found["exercises"]["90-b"] == {"tries": 1, "passed": False, "minutes": None}
    assert set(found["exercises"]) == {"90-a", "90-b"}, "no other lab"
    assert "one" not in json.dumps(found), "no answer"


def test_written_and_read(tmp_path):
    agreed.write(tmp_path, agreed.summary(ROWS, "ada", LAB))
    assert agreed.read(tmp_path)["90-a"] == {"tries": 3, "passed": True, "minutes": 15.0}
    assert [path.name for path in tmp_path.iterdir()] == ["tries.json"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"exercises": 3}',
        "{",
        '{"exercises": {"90-a": {"tries": "many"}}}',
        '{"exercises": {"90-a": {"tries": -1}}}',
        "\x00",
    ],
)
def test_a_file_that_somebody_wrote(tmp_path, text):
    (tmp_path / "tries.json").write_text(text)
    assert agreed.read(tmp_path) == {}


def test_senseless_minutes_are_none(tmp_path):
    row = {"tries": 2, "passed": True, "minutes": "1e9"}
    (tmp_path / "tries.json").write_text(json.dumps({"exercises": {"90-a": row, "90-b": {**row, "minutes": 1e300}}}))
    assert [one["minutes"] for one in agreed.read(tmp_path).values()] == [None, None]


def test_nothing_is_written_unless_asked(tmp_path, monkeypatch):
    (tmp_path / ".tickbench").mkdir()
    (tmp_path / ".tickbench" / "editions.json").write_text("{}")
    monkeypatch.setenv("TICKBENCH_LEARNER", "ada")
    course = Path(__file__).parent / "course" / "solutions" / LAB
    from instructor.author.build import build_lab

    build_lab(course, tmp_path)
    monkeypatch.chdir(tmp_path)
    for row in ROWS:
        journal.append(journal.place(), **row)
    CliRunner().invoke(main, ["progress", str(tmp_path)])
    assert not (tmp_path / LAB / "tries.json").exists()
    done = CliRunner().invoke(main, ["progress", str(tmp_path), "--agree", LAB])
    assert done.exit_code == 0, done.output
    assert agreed.read(tmp_path / LAB)["90-a"]["tries"] == 3
    wrong = CliRunner().invoke(main, ["progress", str(tmp_path), "--agree", "04_other"])
    assert wrong.exit_code == 1 and "there is no lab '04_other'" in wrong.output
