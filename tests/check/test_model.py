"""What authors write: each rule refused with words that say what to do."""

import pytest

from simkit.check import AuthorError, Criterion, Exercise, Hint, Lab, answers, load_lab


def exercise(**changes):
    fields = {
        "id": "99-a",
        "title": "t",
        "points": 2,
        "objective": "o",
        "kind": answers.Number(),
        "criteria": [Criterion("a", "a", points=1), Criterion("b", "b", points=1)],
        "judge": lambda answer, mine, seed: [],
    }
    return Exercise(**{**fields, **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"criteria": []}, "at least one Criterion"),
        ({"points": 3}, "add up to 2 points, not to its 3"),
        ({"criteria": [Criterion("a", "", points=1), Criterion("a", "", points=1)]}, "two criteria are called 'a'"),
        ({"criteria": [Criterion("a", "", points=0), Criterion("b", "", points=2)]}, "must be above 0"),
        ({"criteria": [Criterion("a", "", points=2, hint="lost")]}, "hint 'lost', which is not in hints="),
    ],
)
def test_a_broken_exercise_is_refused(changes, words):
    with pytest.raises(AuthorError, match=words):
        exercise(**changes)


def test_a_doubled_id_is_refused():
    with pytest.raises(AuthorError, match="two exercises have the id '99-a'"):
        Lab("99_x", "x", [exercise(), exercise()])


def test_points_add_up():
    assert Lab("99_x", "x", [exercise(), exercise(id="99-b")]).points == 4


def test_parameters_follow_the_learner(lab):
    ada, again, bob = (lab["90-a"].own(name) for name in ("ada", "ada", "bob"))
    assert dict(ada) == dict(again)
    assert {lab["90-a"].own(f"learner {i}").ticks for i in range(300)} == set(range(20, 61))
    assert ada.ticks == ada["ticks"]
    with pytest.raises(AttributeError, match="there are: ticks"):
        _ = bob.tocks


def test_an_error_in_exercises_gives_its_line(tmp_path):
    (tmp_path / "exercises.py").write_text("from simkit.check import Lab\n\nlab = Lab('x')\n")
    with pytest.raises(AuthorError) as caught:
        load_lab(tmp_path)
    assert (caught.value.line, caught.value.file) == (3, str(tmp_path / "exercises.py"))
    (tmp_path / "exercises.py").write_text("laboratory = 1\n")
    with pytest.raises(AuthorError, match="makes no lab"):
        load_lab(tmp_path)


def test_hints_have_three_steps():
    assert Hint("a", "b", "c").steps() == ("a", "b", "c")
