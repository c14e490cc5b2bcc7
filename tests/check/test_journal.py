"""The learner's progress: nothing is lost, nothing damaged takes the rest with it."""

import json
import multiprocessing
import os
import signal

import pytest

from simkit.check import check, journal, learner, overview, parameters, solution
from simkit.check.desk import states
from simkit.check.sealed import SEALED, seal, unseal


@pytest.fixture
def course(tmp_path, monkeypatch):
    """A learner's folder with one lab; the present folder is the lab's."""
    from pathlib import Path

    folder = tmp_path / "Kurs für Äpfel" / "90_ticks"
    folder.mkdir(parents=True)
    source = Path(__file__).parent / "course" / "solutions" / "90_ticks" / "exercises.py"
    (folder / "exercises.py").write_bytes(source.read_bytes())
    intro = "# Lab\n\nYou need labs 88 and 89: much. Plan about 75 minutes; then rest."
    book = {"cells": [{"cell_type": "markdown", "source": [intro]}, {"cell_type": "code", "source": "1"}]}
    (folder / "90_ticks.ipynb").write_text(json.dumps(book))
    record = folder.parent / ".tickbench" / "editions.json"
    record.parent.mkdir()
    record.write_text("{}")
    monkeypatch.chdir(folder)
    return folder.parent


def standing(course, exercise="90-a"):
    rows = journal.read(course / ".tickbench" / "progress.jsonl")
    return journal.standings(rows)["90_ticks", exercise]


def test_a_check_is_noted(course):
    check("90-a", 1.0)
    check("90-a", 1.0)
    check("90-a", 2.0)
    assert (standing(course).checks, standing(course).tries, standing(course).done) == (3, 2, False)
    check("90-a", parameters("90-a").ticks * 0.025)
    first = standing(course).first_pass
    check("90-a", 3.0)
    assert standing(course).done and standing(course).score == 2 and standing(course).first_pass == first


def test_a_placeholder_is_no_try_and_a_refused_answer_neither(course):
    check("90-a", None)
    check("90-a", "x")
    assert standing(course).checks == 0


def test_damage_costs_the_damaged_lines_only(course):
    path = journal.place()
    check("90-a", 1.0)
    with path.open("ab") as file:
        file.write(
            b'\xff\xfe\x00 damaged\n{"event": 7}\n[1]\n{"event": "check", "lab": "90_ticks", "exercise": "90-a", "score": {}}\n'
        )
        file.write(b'{"event": "check", "time": "20')  # cut off by a crash
    check("90-a", 2.0)
    assert standing(course).tries == 2


def test_a_folder_that_cannot_be_written_is_said_and_costs_nothing(course, monkeypatch, capsys):
    monkeypatch.setattr(journal, "place", lambda: course / "90_ticks" / "exercises.py" / "progress.jsonl")
    assert check("90-a", parameters("90-a").ticks * 0.025).passed
    assert "your progress could not be saved" in capsys.readouterr().out


def _many(path, who, count):
    for number in range(count):
        journal.append(path, event="check", learner=who, number=number)


def test_a_check_reads_only_what_it_needs_of_a_long_file(course):
    path = journal.place()
    check("90-a", 1.0)
    journal.append(path, event="time", learner=learner(), on=True)
    check("90-b", 1.0)
    assert [row.get("exercise") for row in journal.read(path, "90-a")] == ["90-a", None]
    assert len(journal.read(path)) == 3


def test_two_kernels_at_once(course):
    path = journal.place()
    workers = [multiprocessing.get_context("fork").Process(target=_many, args=(path, f"k{i}", 100)) for i in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    rows = journal.read(path)
    assert len(rows) == 300 and all(
        [r["number"] for r in rows if r["learner"] == f"k{i}"] == list(range(100)) for i in range(3)
    )


def test_a_kernel_that_is_killed_loses_nothing_that_was_noted(course):
    path = journal.place()
    worker = multiprocessing.get_context("fork").Process(target=_many, args=(path, "k", 1_000_000))
    worker.start()
    while len(journal.read(path)) < 20:
        pass
    os.kill(worker.pid, signal.SIGKILL)
    worker.join(10)
    there = [row["number"] for row in journal.read(path)]
    assert there == list(range(len(there))) and len(there) >= 20
    assert journal.append(path, event="check", number=-1) == "" and journal.read(path)[-1]["number"] == -1


def test_outside_of_a_course_folder_the_users_own_file_is_taken(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert str(journal.place()).startswith(str(tmp_path / "data"))


def test_a_solution_opens_after_two_different_answers(course, capsys):
    solution("90-a")
    assert "came without solutions" in capsys.readouterr().out
    (course / "90_ticks" / SEALED).write_text(seal("90_ticks", {"90-a": "period = mine.ticks * 0.025"}))
    check("90-a", 1.0)
    check("90-a", 1.0)
    solution("90-a")
    out = capsys.readouterr().out
    assert "you have checked 1: try 1 more" in out and "0.025" not in out
    check("90-a", 2.0)
    assert "you may open the solution: solution('90-a')" in capsys.readouterr().out
    solution("90-a")
    assert "mine.ticks * 0.025" in capsys.readouterr().out
    assert standing(course).solution
    assert "0.025" not in (course / "90_ticks" / SEALED).read_text()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"solutions": {"90-a": "AAAA"}}', '{"solutions": {"90-a": 3}}'])
def test_a_damaged_sealed_file_is_no_solution(tmp_path, text):
    (tmp_path / SEALED).write_text(text)
    assert unseal(tmp_path / SEALED, "90-a") is None


def test_time_is_noted_only_where_it_is_wanted(course, monkeypatch):
    now = [1000.0]
    monkeypatch.setattr(journal.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(journal, "clock", journal.Clock())
    check("90-a", 1.0)
    assert standing(course).active_s == 0
    journal.append(journal.place(), event="time", on=True)
    journal.clock.take()
    for gap in (100, 200, 4000):  # the last is a pause
        now[0] += gap
        journal.clock.tick()
    check("90-a", 2.0)
    assert standing(course).active_s == 300


def test_the_overview(course):
    lab = states(course)[0]
    assert (lab.needs, lab.minutes, lab.state) == (("88", "89"), "75", "not begun")
    check("90-a", parameters("90-a").ticks * 0.025)
    shown = repr(overview(course))
    assert "1 of 3 exercises done" in shown and "88 (not here), 89 (not here)" in shown and "✓ done" in shown
    assert "next: exercise 90-b" in shown
    assert '<a href="90_ticks/90_ticks.ipynb">' in overview(course)._repr_html_()


def test_points_that_a_new_edition_changed(course, monkeypatch):
    """1 point of 2 then is half of the 6 that there are now, never more than there are; what was done stays done."""
    row = {"learner": learner(), "lab": "90_ticks", "status": "judged"}
    journal.append(journal.place(), event="check", exercise="90-a", score=8.0, max=8.0, **row)
    journal.append(journal.place(), event="check", exercise="90-b", score=4.0, max=8.0, **row)
    known = {name: standing for name, _, standing in states(course)[0].rows}
    full, half = known["90-a"], known["90-b"]
    assert (full.score, full.done) == (full.max_score, True) and full.max_score < 8
    assert half.score == half.max_score / 2
    assert states(course)[0].score <= states(course)[0].points
    journal.append(journal.place(), event="check", exercise="90-a", score=0.0, max=2.0, **row)
    assert standing(course).score == 2.0


def test_another_learners_checks_do_not_count(course, monkeypatch):
    check("90-a", parameters("90-a").ticks * 0.025)
    monkeypatch.setenv("TICKBENCH_LEARNER", "another")
    assert learner() == "another" and states(course)[0].done == 0


def test_a_lab_that_cannot_be_read_is_said_to_be_so(course):
    (course / "90_ticks" / "exercises.py").write_text("1 / 0")
    assert "cannot be read" in repr(overview(course))
