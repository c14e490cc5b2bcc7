"""``tickbench check`` writes the learner's progress as the checks in the notebook do."""

import json
import shutil

import pytest

from simkit.check import check as check_here
from simkit.check import journal, parameters
from tests.cli.conftest import RIGHT, SOLUTIONS
from tests.cli.test_check_command import report, run


@pytest.fixture
def course(learner_notebook, tmp_path, monkeypatch):
    """``course(answers)``: a notebook in a folder that ``tickbench start`` made for anna; the present folder is another."""

    def make(answers):
        path = learner_notebook(answers, folder="my labs/90_ticks")
        own = path.parents[1] / journal.FOLDER
        own.mkdir(exist_ok=True)
        (own / journal.EDITIONS).write_text("{}")
        (own / "learner").write_text("anna")
        return path

    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    return make


def noted(path):
    return journal.read(path.parents[1] / journal.FOLDER / journal.FILE)


def noted_elsewhere():
    return journal.read(journal.place())


def test_the_line_is_the_one_of_the_notebooks_check(course, monkeypatch):
    path = course({"90-a": "period = 1.5", "90-b": RIGHT["90-b"]})
    report(path)
    by_command = noted(path)
    assert [(row["exercise"], row["status"], row["learner"]) for row in by_command] == [
        ("90-a", "judged", "anna"),
        ("90-b", "judged", "anna"),
    ]  # 90-c is still to do
    monkeypatch.chdir(path.parent)
    check_here("90-a", 1.5)
    check_here("90-b", {"choice": "B", "ticks": parameters("90-b").ticks})
    by_notebook = noted(path)[2:]
    assert all(
        row.pop("time") and row.pop("answer") == other.pop("answer") and other.pop("time")
        for row, other in zip(by_command, by_notebook, strict=True)
    )
    assert by_command == by_notebook
    assert by_command[1]["score"] == by_command[1]["max"] == 2


def test_two_answers_are_two_tries_and_the_same_again_is_none(course):
    for answer in ("1.5", "2.5", "2.5"):
        path = course({"90-a": f"period = {answer}"})
        report(path)
    standing = journal.standings(noted(path), "anna")["90_ticks", "90-a"]
    assert (standing.checks, standing.tries, standing.done) == (3, 2, False)
    assert noted_elsewhere() == []


def test_the_numbers_are_those_of_the_notebooks_folder(course):
    """The period that is right for anna, from another folder, in which nobody has a name."""
    path = course(RIGHT)
    (found,), _ = report(path)
    assert found["exercises"][0]["score"] == 2
    assert journal.standings(noted(path), "anna")["90_ticks", "90-a"].done


def test_a_foreign_learner_is_not_noted_and_ones_own_name_is(course):
    path = course({"90-a": "period = 1.5"})
    report(path, "--learner", "berta")
    assert noted(path) == noted_elsewhere() == []
    report(path, "--learner", "anna")
    assert [row["learner"] for row in noted(path)] == ["anna"]


def test_an_authors_source_is_nobodys_progress(course):
    path = course({})
    shutil.copy(SOLUTIONS / "90_ticks" / "lab.md", path.parent / "lab.md")
    (found,), _ = report(path.parent / "lab.md")
    assert found["score"] > 0
    assert noted(path) == noted_elsewhere() == []


def test_progress_that_cannot_be_saved_is_said_once_and_changes_nothing(course):
    path = course(RIGHT)
    (path.parents[1] / journal.FOLDER / journal.FILE).mkdir()
    result = run(path, "--json")
    assert result.stderr.count("your progress could not be saved") == 1
    (found,) = json.loads(result.stdout)["notebooks"]
    assert (found["score"], found["error"], result.exit_code) == (4, None, 1)
