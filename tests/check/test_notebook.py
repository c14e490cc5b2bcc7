"""``check`` as a learner meets it."""

import json
import sys
import warnings

import pytest

from simkit.check import (
    AnswerFault,
    Criterion,
    Exercise,
    Hint,
    KitFault,
    Lab,
    Result,
    answers,
    check,
    learner,
    parameters,
    predict,
    use_lab,
)
from simkit.check.identity import FILE


def one(judge, **changes):
    """A lab with one exercise "99-a" of two criteria, judged by ``judge``; taken as the present lab."""
    fields = {
        "kind": answers.Number(),
        "points": 3,
        "criteria": [Criterion("a", "first", points=1, hint="h"), Criterion("b", "second", points=2)],
        "hints": {"h": Hint("nudge", "idea", "worked"), "special": Hint("special", "i", "w")},
    }
    lab = Lab("99_x", "x", [Exercise("99-a", "t", objective="o", judge=judge, **{**fields, **changes})])
    use_lab(lab)
    return lab


def test_a_right_answer(lab, capsys):
    verdict = check("90-a", parameters("90-a").ticks * 0.025)
    assert (verdict.score, verdict.max_score, verdict.passed) == (2, 2, True)
    assert "✓ passed  the period is right" in capsys.readouterr().out


def test_a_wrong_answer_gives_its_own_hint(lab, capsys):
    check("90-a", parameters("90-a").ticks * 25)
    out = capsys.readouterr().out
    assert "✗ failed" in out
    assert "hint: Which unit is asked for?" in out
    assert "100 ns are 0.1 us" not in out
    check("90-a", parameters("90-a").ticks * 25, hints=3)
    assert "100 ns are 0.1 us" in capsys.readouterr().out


def test_the_value_of_the_cell_is_the_points_as_a_number(lab):
    """nbgrader's get_partial_grade takes float(text/plain); anything else would score full marks."""
    right = check("90-b", {"choice": "B", "ticks": 1})
    for verdict, points in [(right, 1), (check("90-b", None), 0), (check("nothing", 1), 0), (check("90-b", "x"), 0)]:
        assert float(verdict._repr_mimebundle_()["text/plain"]) == points


def test_twice_gives_the_same(lab):
    assert check("90-a", 3) == check("90-a", 3)


def test_still_to_do(lab, capsys):
    assert check("90-a", None).status == "todo"
    assert "still to do" in capsys.readouterr().out


def test_no_such_exercise(lab, capsys):
    assert check("90-z", 1).score == 0
    assert "no exercise '90-z'; it has 90-a, 90-b, 90-c" in capsys.readouterr().out


def test_no_lab_here(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    use_lab(None)
    assert check("90-a", 1).score == 0
    assert "no exercises.py" in capsys.readouterr().out


def test_nothing_that_an_answer_does_raises(lab, capfd):
    class Hostile:
        def __getattr__(self, name):
            print("out", file=sys.stderr)
            warnings.warn("noise", stacklevel=1)
            raise RuntimeError(name)

    for answer in (Hostile(), lambda: 1, {"choice": Hostile()}, [[]], type("X", (), {})):
        for exercise in ("90-a", "90-b", "90-c"):
            assert check(exercise, answer).score == 0
    assert capfd.readouterr().err == ""


def test_a_judge_that_stops_fails_the_rest():
    def judge(answer, mine, seed):
        yield Result("a", True, 1, 1)
        raise AnswerFault("the design does not run", hint="special")

    one(judge)
    verdict = check("99-a", 1)
    assert [line.passed for line in verdict.lines] == [True, False]
    assert verdict.score == 1
    assert verdict.message == "the design does not run"


def test_a_criterion_without_a_result_fails():
    one(lambda answer, mine, seed: [Result("b", True)])
    assert check("99-a", 1).score == 2


@pytest.mark.parametrize(
    ("results", "words"),
    [
        ([Result("c", True)], "not one of its criteria"),
        ([Result("a", True), Result("a", True)], "two results"),
        ([Result("a", False, hint="lost")], "not one of its hints"),
    ],
)
def test_a_judge_that_breaks_its_contract_is_the_kits_fault(results, words):
    one(lambda answer, mine, seed: results)
    with pytest.raises(KitFault, match=words):
        check("99-a", 1)


def test_a_judge_that_raises_is_the_kits_fault():
    one(lambda answer, mine, seed: [1 / 0])
    with pytest.raises(KitFault, match="ZeroDivisionError"):
        check("99-a", 1)


def test_numpy_and_nan_become_plain():
    import numpy as np

    one(
        lambda answer, mine, seed: [
            Result("a", np.bool_(True), np.float64(0.5), np.int64(3)),
            Result("b", False, float("nan"), 1 << 80),
        ]
    )
    text = json.dumps(check("99-a", 1).as_json(), allow_nan=False)
    assert json.loads(text)["criteria"][0] == {
        "name": "a",
        "passed": True,
        "measured": 0.5,
        "wanted": 3,
        "unit": "",
        "hint": "",
    }


def test_the_learners_id(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert learner() == "learner"
    (tmp_path / FILE).parent.mkdir()
    (tmp_path / FILE).write_text("ada\n")
    below = tmp_path / "a" / "b"
    below.mkdir(parents=True)
    monkeypatch.chdir(below)
    assert learner() == "ada"
    monkeypatch.setenv("JUPYTERHUB_USER", "bob")
    assert learner() == "bob"
    monkeypatch.setenv("TICKBENCH_LEARNER", "cy")
    assert learner() == "cy"


def test_the_first_prediction_stays_and_is_compared(lab, tmp_path, monkeypatch, capsys):
    (tmp_path / ".tickbench").mkdir()
    (tmp_path / ".tickbench" / "editions.json").write_text("{}")
    monkeypatch.chdir(tmp_path)
    check("90-a", 3.0)
    assert "you predicted" not in capsys.readouterr().out
    predict("90-a", 1.5)
    predict("90-a", 2.5)
    predict("90-a", None)
    assert capsys.readouterr().out.splitlines() == [
        "90-a: noted 1.5",
        "90-a: your first prediction was 1.5; it stays",
        "90-a: write your prediction first",
    ]
    check("90-a", 3.0)
    assert "you predicted first: 1.5" in capsys.readouterr().out
    monkeypatch.setenv("TICKBENCH_LEARNER", "another")
    check("90-a", 3.0)
    assert "you predicted" not in capsys.readouterr().out
