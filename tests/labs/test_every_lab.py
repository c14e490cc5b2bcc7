"""What must hold for each lab: full marks, no marks, nothing leaked, each likely wrong answer caught."""

from __future__ import annotations

import functools
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from instructor.author.build import STUB, build_lab, built_files, out_of_date
from instructor.author.source import read_source
from simkit.check import answers
from simkit.check.headless import check_notebook
from simkit.check.run import JudgeProcess
from tests.labs.replay import LABS, ROOT, Replay, replay


@functools.cache
def solved(name: str) -> Replay:
    return replay(name, "learner")


@functools.cache
def wrong_answers_of(name: str) -> ModuleType:
    path = ROOT / "solutions" / name / "wrong_answers.py"
    spec = importlib.util.spec_from_file_location(f"wrong_{name}", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


WRONG = [(name, wrong) for name in LABS for wrong in wrong_answers_of(name).wrong_answers]


def test_there_are_labs():
    assert LABS


@pytest.mark.parametrize("name", LABS)
def test_the_solution_has_full_marks(name):
    for exercise, verdict in solved(name).verdicts.items():
        assert verdict.passed, f"{exercise}\n{verdict.text()}"
    assert set(solved(name).verdicts) == set(solved(name).source.lab.exercises)


@pytest.mark.parametrize("learner", ["ada", "ben", "cleo", "dora", "emil"])
@pytest.mark.parametrize("name", LABS)
def test_it_has_full_marks_with_other_numbers(name, learner):
    for exercise, verdict in replay(name, learner, looks=False).verdicts.items():
        assert verdict.passed, f"{learner}, {exercise}\n{verdict.text()}"


@pytest.mark.parametrize("name", LABS)
def test_the_handed_out_notebook_runs_and_has_no_marks(name, tmp_path):
    lab = build_lab(ROOT / "solutions" / name, tmp_path)
    with JudgeProcess() as judges:
        report = check_notebook(lab / f"{name}.ipynb", lab, judges)
    assert report.error == "" and report.score == 0 and report.max_score > 0
    assert [(v.id, v.status) for v in report.verdicts if v.status != "todo"] == []


@pytest.mark.parametrize("name", LABS)
def test_the_built_lab_is_up_to_date_and_leaks_nothing(name):
    assert out_of_date(ROOT / "solutions" / name, ROOT / "labs") == []
    text = built_files(read_source(ROOT / "solutions" / name))[f"{name}.ipynb"].decode()
    assert "SOLUTION" not in text and '"instructor"' not in text and STUB in text


@pytest.mark.parametrize(("name", "wrong"), WRONG, ids=[f"{w.exercise}-{w.name}" for _, w in WRONG])
def test_a_likely_wrong_answer_is_caught(name, wrong):
    verdict = solved(name).with_code(wrong.exercise, wrong.code)
    failed = {line.name: line for line in verdict.lines if not line.passed}
    if not wrong.fails:
        assert verdict.status == "refused", verdict.text()
        return
    assert verdict.status == "judged" and wrong.fails in failed, verdict.text()
    if wrong.alone:
        assert set(failed) == {wrong.fails}, verdict.text()
    if wrong.hint:
        hints = solved(name).source.lab[wrong.exercise].hints
        assert failed[wrong.fails].hint == hints[wrong.hint].steps(), verdict.text()


@pytest.mark.parametrize("name", LABS)
def test_wrong_answers_reach_every_criterion(name):
    """A criterion that no wrong answer fails may be one that nothing can fail; a hint never shown may be wrong."""
    lab, wrong = read_source(ROOT / "solutions" / name).lab, wrong_answers_of(name).wrong_answers
    for exercise in lab.exercises.values():
        mine = [w for w in wrong if w.exercise == exercise.id]
        assert len(mine) >= (3 if isinstance(exercise.kind, answers.Design) else 2), exercise.id
        assert len({w.name for w in mine}) == len(mine)


@pytest.mark.parametrize("name", LABS)
def test_cells_are_short_and_hints_have_three_steps(name):
    source = read_source(ROOT / "solutions" / name)
    for exercise in source.lab.exercises.values():
        assert all(criterion.hint for criterion in exercise.criteria), exercise.id
        for key, hint in exercise.hints.items():
            assert all(len(step) > 5 for step in hint.steps()), (exercise.id, key)


def test_there_is_no_lab_without_wrong_answers():
    assert all(Path(ROOT / "solutions" / name / "wrong_answers.py").is_file() for name in LABS)
