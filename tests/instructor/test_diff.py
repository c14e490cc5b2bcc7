"""``tickbench author diff``: what a revision changes, and whose work must be graded again."""

import json
import shutil
import subprocess

import pytest
from click.testing import CliRunner

from instructor.author.diff import difference, version
from instructor.judge.fingerprint import fingerprints
from simkit.check import AuthorError, load_lab
from simkit.cli import main


@pytest.fixture
def revised(source, tmp_path):
    """``revised(file, old, new)``: the lab with one place changed."""
    after = tmp_path / "after" / source.name

    def revise(file, old, new):
        shutil.copytree(source, after)
        text = (after / file).read_text()
        assert old in text
        (after / file).write_text(text.replace(old, new))
        return difference(source, after)

    return revise


def row(found, exercise):
    return next(change for change in found.changes if change.exercise == exercise)


def test_nothing_has_changed(source):
    found = difference(source, source)
    assert (found.changes, found.text, found.regrade) == ([], [], [])


def test_a_comment_in_a_judge_changes_no_score(revised):
    assert (
        revised(
            "exercises.py", "    wanted = mine.ticks * TICK_US\n", "    # say why\n    wanted = mine.ticks * TICK_US\n"
        ).changes
        == []
    )


def test_a_tolerance_regrades_its_own_exercise(revised):
    found = revised("exercises.py", "abs(answer - wanted) < 0.001", "abs(answer - wanted) < 0.01")
    assert found.regrade == ["90-a"]
    assert row(found, "90-a").lines == ["is judged in another way"]


def test_a_constant_that_a_judge_uses_counts(revised):
    assert revised("exercises.py", "TICK_US = 0.025", "TICK_US = 0.02").regrade == ["90-a"]


def test_a_hint_is_feedback_only(revised):
    found = revised("exercises.py", "Which unit is asked for?", "In which unit?")
    assert found.regrade == []
    assert row(found, "90-a").lines == ["hint 'nanoseconds' is worded anew (feedback only)"]


def test_other_numbers_for_learners(revised):
    found = revised("exercises.py", "rng.integer(20, 60)", "rng.integer(20, 70)")
    assert all(row(found, name).new_numbers for name in ("90-a", "90-b", "90-c"))


def test_the_points_of_a_criterion(source, tmp_path):
    after = tmp_path / "after" / source.name
    shutil.copytree(source, after)
    text = (after / "exercises.py").read_text()
    text = text.replace('"the lamp changes", points=1', '"the lamp changes", points=2').replace(
        "points=3,", "points=4,"
    )
    (after / "exercises.py").write_text(text)
    found = difference(source, after)
    assert (found.old_points, found.new_points, found.regrade) == (7, 8, ["90-c"])
    assert row(found, "90-c").lines == ["points: 3 -> 4", "criterion 'blinks': 1 -> 2 points"]


def test_code_that_is_given(revised):
    found = revised("lab.md", "from simkit import Design, DigitalOut", "from simkit import Design,  DigitalOut")
    assert found.regrade == ["90-c"]


def test_a_text_says_what_changed_and_regrades_nothing(revised):
    found = revised("lab.md", "How long does a loop take?", "How long is a loop?")
    assert found.changes == []
    assert "-How long does a loop take? This small lab belongs to the tests; its numbers are invented." in found.text


def test_a_solution_is_nobodys_business(revised):
    found = revised("lab.md", "period = mine.ticks * 0.025", "period = 0.025 * mine.ticks")
    assert (found.changes, found.text) == ([], [])


def test_data_files_count(source):
    before = fingerprints(load_lab(source), source)
    (source / "data").mkdir()
    (source / "data" / "run.csv").write_text("1,2\n")
    assert all(before[name] != now for name, now in fingerprints(load_lab(source), source).items())


def test_a_version_in_git(source, monkeypatch):
    top = source.parent.parent
    monkeypatch.chdir(top)
    for words in (
        ["init", "-q"],
        ["add", "."],
        ["-c", "user.name=a", "-c", "user.email=a@example.org", "commit", "-qm", "first"],
    ):
        subprocess.run(["git", *words], check=True, cwd=top)
    (source / "lab.md").write_text((source / "lab.md").read_text().replace("How long", "For how long"))
    done = CliRunner().invoke(
        main, ["author", "diff", f"HEAD:solutions/{source.name}", f"solutions/{source.name}", "--json"]
    )
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["regrade"] == []
    assert any("For how long" in line for line in json.loads(done.stdout)["text"])
    with pytest.raises(AuthorError, match="REVISION:FOLDER"), version("nowhere"):
        pass
    with pytest.raises(AuthorError, match="did not match any files"), version("HEAD:other"):
        pass
