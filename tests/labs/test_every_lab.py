"""What must hold for each lab with any learner's numbers, and what its wrong answers must cover.

``tests/instructor/test_labs.py`` runs the notebooks themselves; here the cells run in this process, for more learners.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import pytest

from instructor.author.source import read_source
from instructor.author.verify import load_wrong_answers
from simkit import compile_design
from simkit.check import answers
from simkit.netlist import Netlist, Node
from tests.labs.replay import LABS, ROOT, Replay, as_learner, replay


@functools.cache
def source_of(name: str):
    return read_source(ROOT / "solutions" / name)


def test_there_are_labs():
    assert LABS


def solved(name: str, learner: str) -> Replay:
    """The solution with these numbers, which must have full marks."""
    done = replay(name, learner, looks=False)
    for exercise, verdict in done.verdicts.items():
        assert verdict.passed, f"{learner}, {exercise}\n{verdict.text()}"
    return done


@pytest.mark.parametrize("name", LABS)
def test_full_marks_and_wrong_answers_caught_with_other_numbers(name):
    """A solution must fit every learner's numbers, and a trap must be there in them.

    ``tickbench author verify --learner NAME`` does the same with the numbers of anybody else.
    """
    done = solved(name, "fred")
    for wrong in load_wrong_answers(ROOT / "solutions" / name, source_of(name).lab):
        verdict = done.with_code(wrong.exercise, wrong.code)
        if not wrong.fails:
            assert verdict.status == "refused", (wrong.name, verdict.text())
            continue
        line = next(line for line in verdict.lines if line.name == wrong.fails)
        hint = done.source.lab[wrong.exercise].hints[wrong.hint].steps() if wrong.hint else line.hint
        assert (line.passed, line.hint) == (False, hint), (wrong.name, verdict.text())
        others = [other.name for other in verdict.lines if not other.passed and other.name != wrong.fails]
        assert not (wrong.alone and others), (wrong.name, verdict.text())


@pytest.mark.parametrize("name", LABS)
def test_there_are_wrong_answers_for_every_criterion(name):
    """A criterion that no wrong answer fails may be one that nothing can fail."""
    lab = source_of(name).lab
    wrong = load_wrong_answers(ROOT / "solutions" / name, lab)
    for exercise in lab.exercises.values():
        mine = [one for one in wrong if one.exercise == exercise.id]
        assert len(mine) >= (3 if isinstance(exercise.kind, answers.Design) else 2), exercise.id
        assert {one.fails for one in mine} - {""} == {criterion.name for criterion in exercise.criteria}, exercise.id
        assert len({one.name for one in mine}) == len(mine)


@pytest.mark.parametrize("name", LABS)
def test_every_criterion_has_a_hint(name):
    for exercise in source_of(name).lab.exercises.values():
        assert all(criterion.hint for criterion in exercise.criteria), exercise.id
        for key, hint in exercise.hints.items():
            assert all(len(step) > 5 for step in hint.steps()), (exercise.id, key)


def frozen(netlist: Netlist) -> Netlist:
    """The same design, in which no register ever changes: an answer with nothing in it."""
    nodes = list(netlist.nodes)
    regs = []
    for index, reg in enumerate(netlist.regs):
        nodes.append(Node("reg", (), reg.type, index))
        regs.append(reg if reg.kind in ("sync", "count") else replace(reg, next=len(nodes) - 1))
    return replace(netlist, nodes=nodes, regs=regs)


@pytest.mark.parametrize("name", LABS)
def test_full_marks_with_other_numbers_and_little_for_a_design_that_does_nothing(name):
    """Criteria such as "stays silent" hold for the latter as well; they must not add up to half of the points."""
    done = solved(name, "gwen")
    for exercise, verdict in done.verdicts.items():
        found = done.source.lab[exercise]
        if isinstance(found.kind, answers.Design):
            given = done.names[exercise][found.answer]
            with as_learner(done):
                design = given if isinstance(given, Netlist) else compile_design(given)
            nothing = done.judged(exercise, frozen(design))
            assert nothing.score < verdict.score / 2, nothing.text()
