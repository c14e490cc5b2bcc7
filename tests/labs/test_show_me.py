"""In each lab a failed check of a design offers to show where it goes wrong, and the picture can be drawn."""

import re

import pytest

from instructor.author.source import read_source
from instructor.author.verify import load_wrong_answers
from simkit.check import answers
from simkit.check.card import page
from simkit.check.look import held
from tests.labs.replay import LABS, ROOT, replay

COSTS = ("size", "rate")
"""Criteria of how much a design costs, not of what it does: no moment shows that."""


def first_wrong_design(name):
    """The first likely wrong design of a lab that does something wrong."""
    lab = read_source(ROOT / "solutions" / name).lab
    wrong = load_wrong_answers(ROOT / "solutions" / name, lab)
    designs = (one for one in wrong if isinstance(lab[one.exercise].kind, answers.Design))
    return next((one for one in designs if one.fails and one.fails not in COSTS), None)


def failed_line(name, wrong):
    verdict = replay(name, "ivy", looks=False, until=wrong.exercise).with_code(wrong.exercise, wrong.code)
    return verdict, next(line for line in verdict.lines if line.name == wrong.fails)


@pytest.mark.parametrize("name", LABS)
def test_a_failed_check_of_a_design_shows_the_moment(name):
    wrong = first_wrong_design(name)
    assert wrong is not None, f"{name} has no wrong design"
    verdict, line = failed_line(name, wrong)
    look = line.look
    assert look is not None, verdict.text()
    assert look.start <= look.tick <= look.stop and look.strips
    assert any(held(strip.changes, look.tick) is not None for strip in look.strips)
    assert any(len(strip.changes) > 1 for strip in look.strips), "nothing happens in the picture"
    card = page(verdict)
    assert card.count('class="tb-show"') >= 1 and f"Show me: tick {look.tick}<" in card
    shown = card[card.index(f"Show me: tick {look.tick}<") :]
    assert re.search(r"<(svg|img)\b", shown), "no picture"
    assert f"look: {look.text()}" in verdict.text()


def test_lab_05_says_itself_where_to_look():
    """Its judges give the trace that is expected, so the picture has both, and the tick is the first that differs."""
    verdict, line = failed_line("05_keeping_time", first_wrong_design("05_keeping_time"))
    lamp = next(strip for strip in line.look.strips if strip.expected)
    assert held(lamp.changes, line.look.tick) != held(lamp.expected, line.look.tick)
    assert held(lamp.changes, line.look.tick - 1) == held(lamp.expected, line.look.tick - 1)
    assert "yours and expected" in page(verdict)
