"""In each lab a failed check of a design offers to show where it goes wrong, and the picture can be drawn."""

import contextlib
import re

import pytest

from instructor.author.source import read_source
from instructor.author.verify import load_wrong_answers
from simkit.check import AnswerFault, answers, collect, drive
from simkit.check.card import page
from simkit.check.draw import public_seed
from simkit.check.drive import endpoint, watched
from simkit.check.look import held
from tests.labs.replay import LABS, ROOT, as_learner, replay, run_code

COSTS = ("size", "rate")
"""Criteria of how much a design costs, not of what it does: no moment shows that."""


def first_wrong_design(name):
    """The first likely wrong design of a lab that does something wrong."""
    lab = read_source(ROOT / "solutions" / name).lab
    wrong = load_wrong_answers(ROOT / "solutions" / name, lab)
    designs = (one for one in wrong if isinstance(lab[one.exercise].kind, answers.Design))
    return next((one for one in designs if one.fails and one.fails not in COSTS), None)


def failed_line(name, wrong):
    done = replay(name, "ivy", looks=False, until=wrong.exercise)
    verdict = done.with_code(wrong.exercise, wrong.code)
    return verdict, next(line for line in verdict.lines if line.name == wrong.fails), done


def restored(done, exercise, names):
    """The design in these names, as the judge gets it."""
    found = done.source.lab[exercise]
    with as_learner(done):
        return found.kind.restore(collect(found, names[found.answer]).data)


def pairs(done, wrong):
    """Each run that the judge makes of the wrong design, and the solution's design driven in the same way."""
    found = done.source.lab[wrong.exercise]
    names = dict(done.names[wrong.exercise])
    right = restored(done, wrong.exercise, names)
    with as_learner(done):
        run_code(wrong.code, names, f"<wrong answer to {wrong.exercise}>")
    design = restored(done, wrong.exercise, names)
    with watched() as runs, contextlib.suppress(AnswerFault):
        list(found.judge(design, found.own(done.learner), public_seed(done.learner, wrong.exercise)))
    return [(run, drive(right, run.ticks, run.driven)) for run in runs if run.given is design]


def agree(look, run, other):
    """Whether ``other`` does in the picture's outputs, in its window, what ``run`` does there; ``run`` must be the one shown."""
    for strip in look.strips:
        if endpoint(run.netlist, strip.name).ports["value"] not in run.recording.names:
            continue  # an input
        one, two = run.trace(strip.name), other.trace(strip.name)
        ticks = {look.start, *(int(tick) for tick in (*one.ticks, *two.ticks) if look.start <= tick <= look.stop)}
        if any(one.at(tick) != two.at(tick) for tick in ticks):
            return False
    return True


def is_shown(look, run):
    """Whether this is the run in the picture."""
    for strip in look.strips:
        recorded = endpoint(run.netlist, strip.name).ports["value"] in run.recording.names
        traces = [run._inputs().get(strip.name), run.trace(strip.name) if recorded else None]
        if not any(trace and all(trace.at(tick) == value for tick, value in strip.changes) for trace in traces):
            return False
    return run.ticks >= look.tick


@pytest.mark.parametrize("name", LABS)
def test_a_failed_check_of_a_design_shows_the_moment(name):
    wrong = first_wrong_design(name)
    assert wrong is not None, f"{name} has no wrong design"
    verdict, line, done = failed_line(name, wrong)
    look = line.look
    assert look is not None, verdict.text()
    assert look.start <= look.tick <= look.stop and look.strips
    assert any(held(strip.changes, look.tick) is not None for strip in look.strips)
    assert any(len(strip.changes) > 1 for strip in look.strips), "nothing happens in the picture"
    assert shows_it(look, done, wrong), "the picture shows nothing that is wrong"
    card = page(verdict)
    assert card.count('class="tb-show"') >= 1 and f"Show me: tick {look.tick}<" in card
    shown = card[card.index(f"Show me: tick {look.tick}<") :]
    assert re.search(r"<(svg|img)\b", shown), "no picture"
    assert f"look: {look.text()}" in verdict.text()


PICTURES = {
    "02_first_light": "fi",
    "03_numbers_in_wires": "h",
    "04_measuring_the_dryer": "e",
    "05_keeping_time": "bfg",
    "06_inside_one_tick": "f",
    "07_signals_in_integers": "ai",
    "08_passing_data": "i",
    "09_in_step": "b",
    "10_building_blocks": "ag",
    "11_talking_to_the_host": "dfi",
    "12_fan_monitor": "ade",
}
"""Exercises of which each likely wrong answer is looked at."""

UNSEEN = {
    ("10-a", "no bit for n = 1"),  # the design cannot be run
    ("11-i", "the words of the raw stream"),  # numbers that were worked out
    ("11-i", "the stall of the raw stream"),
    ("11-i", "in seconds"),
    ("12-e", "much to be safe"),  # nothing is lost, which is what is wrong
}
"""What no picture shows."""

IN_WORDS = {("07-i", "windup")}
"""Where the right trace is not known: the picture says in words what should happen."""


def differs(strip, look):
    """Whether a strip is not what it should be, somewhere in the window."""
    ticks = {look.tick, *(tick for tick, _ in (*strip.changes, *strip.expected))}
    pairs = [
        (held(strip.changes, tick), held(strip.expected, tick)) for tick in ticks if look.start <= tick <= look.stop
    ]
    return any(wanted not in (None, done) for done, wanted in pairs)


def shows_it(look, done, wrong):
    """Whether something in the picture is not as it should be: beside what is expected, or beside the solution's run."""
    if (wrong.exercise, wrong.fails) in IN_WORDS:
        return bool(look.note)
    if any(differs(strip, look) for strip in look.strips):
        return True
    shown = [(run, right) for run, right in pairs(done, wrong) if is_shown(look, run)]
    return bool(shown) and not all(agree(look, run, right) for run, right in shown)


@pytest.mark.parametrize("name", PICTURES)
def test_the_picture_of_each_wrong_answer_shows_what_is_wrong(name):
    source = read_source(ROOT / "solutions" / name)
    ids = [f"{name[:2]}-{letter}" for letter in PICTURES[name]]
    wrong = [
        one
        for one in load_wrong_answers(source.folder, source.lab)
        if one.exercise in ids and one.fails not in ("size", *COSTS)
    ]
    done = replay(name, "ivy", looks=False, until=ids[-1])
    for one in wrong:
        line = next((line for line in done.with_code(one.exercise, one.code).lines if line.name == one.fails), None)
        if line is None or (one.exercise, one.name) in UNSEEN:
            continue
        assert line.look is not None, f"{one.exercise}, {one.name}: no picture"
        assert shows_it(line.look, done, one), f"{one.exercise}, {one.name}: {line.look.text()}"


def test_a_program_that_is_late_is_shown_where_it_is():
    """Lab 11's program: openings counted, and those that it reports as handled, 95 ms after a burst began."""
    name = "11_talking_to_the_host"
    source = read_source(ROOT / "solutions" / name)
    one = next(w for w in load_wrong_answers(source.folder, source.lab) if (w.exercise, w.fails) == ("11-e", "newer"))
    verdict = replay(name, "ivy", looks=False, until="11-e").with_code("11-e", one.code)
    look = next(line.look for line in verdict.lines if line.name == "newer")
    count, handled = (
        next(strip.changes for strip in look.strips if strip.name == called) for called in ("count", "handled")
    )
    assert held(handled, look.tick) != held(count, look.tick) == held(count, look.stop)


def test_lab_05_says_itself_where_to_look():
    """Its judges give the trace that is expected, so the picture has both, and the tick is the first that differs."""
    verdict, line, _ = failed_line("05_keeping_time", first_wrong_design("05_keeping_time"))
    lamp = next(strip for strip in line.look.strips if strip.expected)
    assert held(lamp.changes, line.look.tick) != held(lamp.expected, line.look.tick)
    assert held(lamp.changes, line.look.tick - 1) == held(lamp.expected, line.look.tick - 1)
    assert "yours and expected" in page(verdict)
