"""An exercise was mended: only its verdicts change, earlier scores are kept with the reason, and what a person gave stays."""

import json
import shutil

import pytest
from click.testing import CliRunner
from nbgrader.api import Gradebook

from instructor.grading.editions import history
from simkit.cli import main
from tests.instructor.conftest import CLASS

LAB = "90_ticks"


@pytest.fixture
def graded(hand_in, tmp_path, labs, monkeypatch):
    """Five learners, graded; the labs are a copy that a test may mend."""
    own = shutil.copytree(labs, tmp_path / "labs")
    monkeypatch.setenv("TICKBENCH_LABS", str(own))
    for learner, answers in CLASS.items():
        hand_in(learner, answers)
    grade(tmp_path / "course")
    return tmp_path / "course", own / LAB / "exercises.py"


def grade(course, *words):
    done = CliRunner().invoke(main, ["grade", str(course), "--json", *words])
    assert done.exit_code == 0, done.output
    rows = {row["learner"]: row for row in json.loads(done.stdout)["submissions"]}
    return {who: [exercise["score"] for exercise in row["exercises"]] for who, row in rows.items()}


def mend(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def times(course):
    return {path.parent.name: path.stat().st_mtime_ns for path in course.glob(f".tickbench/graded/*/{LAB}.json")}


def test_only_the_mended_exercise_changes(graded):
    course, exercises = graded
    # The judge of 90-a forgives anything now.
    mend(exercises, "abs(answer - wanted) < 0.001", "abs(answer - wanted) < 1e9")
    assert grade(course) == {"ada": [2, 2, 3], "bob": [2, 0, 0], "cy": [0, 0, 0], "dee": [2, 1, 3], "eve": [2, 2, 1]}
    (old,) = history(course / ".tickbench" / "history", "eve", LAB)
    assert old["scores"] == {"90-a": 0, "90-b": 2, "90-c": 1}
    assert old["reason"] == "judged in another way: 90-a"
    assert history(course / ".tickbench" / "history", "ada", LAB) == [], "no score of hers changed"


def test_a_hint_that_is_reworded_grades_nothing(graded):
    course, exercises = graded
    before = times(course)
    mend(exercises, "Which unit is asked for?", "In which unit?")
    grade(course)
    assert times(course) == before


def test_the_reason_may_be_given(graded):
    course, exercises = graded
    mend(exercises, "abs(answer - wanted) < 0.001", "abs(answer - wanted) < 1e9")
    grade(course, "--reason", "the tolerance was too small for slide rules")
    assert (
        history(course / ".tickbench" / "history", "eve", LAB)[0]["reason"]
        == "the tolerance was too small for slide rules"
    )


def test_another_attempt_is_a_reason(graded, hand_in):
    course, _ = graded
    hand_in("bob", CLASS["ada"])
    assert grade(course)["bob"] == [2, 2, 3]
    assert history(course / ".tickbench" / "history", "bob", LAB)[0]["reason"] == "another attempt was handed in"


def test_points_and_comments_given_by_hand_survive(graded):
    course, exercises = graded
    with Gradebook(f"sqlite:///{course}/gradebook.db") as book:
        grade_of_eve = book.find_grade("90-a", LAB, LAB, "eve")
        grade_of_eve.manual_score, grade_of_eve.needs_manual_grade = 1.5, False
        book.find_comment("90-a-answer", LAB, LAB, "eve").manual_comment = "well explained"
        book.db.commit()
    mend(exercises, "abs(answer - wanted) < 0.001", "abs(answer - wanted) < 1e9")
    grade(course)
    with Gradebook(f"sqlite:///{course}/gradebook.db") as book:
        grade_of_eve = book.find_grade("90-a", LAB, LAB, "eve")
        assert (grade_of_eve.manual_score, grade_of_eve.auto_score, grade_of_eve.score) == (1.5, 2.0, 1.5)
        assert book.find_comment("90-a-answer", LAB, LAB, "eve").manual_comment == "well explained"


def test_a_torn_history_is_read(tmp_path):
    folder = tmp_path / "eve"
    folder.mkdir()
    (folder / f"{LAB}.jsonl").write_text('{"reason": "first"}\n{"reas')
    assert history(tmp_path, "eve", LAB) == [{"reason": "first"}]


def test_many_threads_make_one_secret(tmp_path):
    from concurrent.futures import ThreadPoolExecutor

    from instructor.grading.course import Course

    course = Course(tmp_path)
    with ThreadPoolExecutor(16) as pool:
        assert len(set(pool.map(lambda _: course.secret, range(64)))) == 1
    assert [path.name for path in (tmp_path / ".tickbench").iterdir()] == ["secret"]
