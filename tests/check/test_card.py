"""The card of a check, and the moment in which an answer goes wrong."""

import json
import re

from simkit import Design, DigitalIn, DigitalOut, clocked, compile_design, sequenced, wait
from simkit.check import (
    Answer,
    Criterion,
    Exercise,
    Hint,
    Lab,
    Result,
    Verdict,
    answers,
    check,
    drive,
    judge,
    seen,
    use_lab,
)
from simkit.check.card import bundle, figure, page


class Blink(Design):
    lamp = DigitalOut("lamp")
    switch = DigitalIn("switch")

    def __init__(self, pause=8):
        self.pause = pause

    @sequenced
    def turn(self):
        self.lamp = not self.lamp
        wait(self.pause)


def exercise(judge):
    return Exercise(
        "99-a",
        "Blink",
        1,
        "o",
        answers.Design(),
        [Criterion("p", "the <period> is right", 1, "h")],
        judge,
        {"h": Hint("nudge", "idea", "worked")},
    )


def verdict_on(judging, tell=True, design=Blink):
    one = exercise(judging)
    answer = Answer("99-a", "given", answers.Design().collect(design))
    return judge(one, answer, "somebody", 1, tell=tell)


def with_expected(netlist, mine, seed):
    run = drive(netlist, 100, [(0, "switch", 1)])
    yield Result("p", False, 9, 10, "ticks", look=run.look(expected={"lamp": run.paced("lamp", 10)}))


def test_the_first_tick_that_differs_from_the_expected_trace():
    """Blink changes its lamp every 9 ticks: at 1, 10, 19.  Every 10 ticks from its second change on is 10, 20."""
    look = verdict_on(with_expected).lines[0].look
    assert look.tick == 19
    lamp = next(strip for strip in look.strips if strip.name == "lamp")
    assert (19, 1) in lamp.changes and (20, 1) in lamp.expected
    assert look.text() == "tick 19: lamp is 1, expected 0; switch is 1"


def test_pulses_as_they_should_go_on():
    run = drive(compile_design(Blink), 60)
    assert list(run.paced("lamp", 4, 11).ticks[:5]) == [0, 1, 10, 19, 23]


def test_without_a_word_of_the_judge_a_moment_is_found():
    def distance(netlist, mine, seed):
        changes = drive(netlist, 100).changes("lamp")
        yield Result("p", False, int(changes[2] - changes[1]), 10, "ticks")

    def value(netlist, mine, seed):
        run = drive(netlist, 100)
        yield Result("p", False, run.at("lamp", 33), 1)

    assert verdict_on(distance).lines[0].look.tick == 19
    assert verdict_on(value).lines[0].look.tick == 33


class Two(Design):
    one = DigitalOut("lamp")
    other = DigitalOut("lamp 2")

    @clocked
    def go(self):
        self.one = not self.one
        self.other = True


def moment(*results):
    """The look of the last of these results, each ``(asked, result)``: what the judge asks of a run of Two before it."""

    def judging(netlist, mine, seed):
        run = drive(netlist, 100)
        for asked, result in results:
            for name, tick in asked:
                run.at(name, tick)
            yield result

    one = Exercise(
        "99-a", "Two", 2, "o", answers.Design(), [Criterion("one", "a", 1), Criterion("p", "b", 1)], judging, {}
    )
    verdict = judge(one, Answer("99-a", "given", answers.Design().collect(Two)), "somebody", 1)
    return next(line.look for line in verdict.lines if line.name == results[-1][1].name)


def test_the_moment_is_of_the_signal_of_the_criterion_and_of_what_was_asked_for_it():
    both = [("one", 40), ("other", 50)]
    assert moment((both, Result("one", False, "5 of 8 rows"))).tick == 40
    assert moment((both, Result("p", False, "5 of 8 rows"))).tick == 50
    passed = ([("one", 40)], Result("one", True))
    assert moment(passed, ([("one", 60)], Result("p", False, "no number"))).tick == 60


def test_the_moment_is_the_wrong_number_of_a_text():
    """The lamp changes in each tick: it is 0 in even ticks, 1 in odd ones."""
    asked = [("one", 40), ("one", 41)]
    assert moment((asked, Result("p", False, "0 and 1", "1 and 1"))).tick == 40
    assert moment((asked, Result("p", False, "0 and 1", "0 and 0"))).tick == 41


def test_where_the_wrong_value_is_not_known_all_that_was_asked_is_in_the_window():
    look = moment(([("one", tick) for tick in (20, 60, 90)] + [("other", 70)], Result("p", False, "2 wrong")))
    assert look.start <= 20 and look.stop >= 90
    assert {strip.name for strip in look.strips} == {"one", "other"}


def test_no_moment_shows_what_a_design_costs():
    assert moment(([("one", 40)], Result("p", False, 90, "at most 64", "flip-flops"))) is None


def test_no_moment_of_a_design_of_the_judge_nor_of_private_stimuli():
    """What a judge runs by itself may hold the answer; what a grader drives is not for the learner."""

    def own(netlist, mine, seed):
        yield Result("p", drive(compile_design(Blink(7)), 100).at("lamp", 5) == 3, 0, None)

    assert verdict_on(own).lines[0].look is None
    assert verdict_on(with_expected, tell=False).lines[0].look is None


def test_a_verdict_crosses_from_the_judges_process_with_its_moment():
    verdict = verdict_on(with_expected)
    back = Verdict.from_plain(json.loads(json.dumps(verdict.as_plain())))
    assert back.lines[0].look == verdict.lines[0].look


def test_the_card_says_everything_in_words_and_escapes_it():
    html = page(verdict_on(with_expected), ["a <note>"])
    assert "the &lt;period&gt; is right" in html and "a &lt;note&gt;" in html
    assert "✗</span> failed" in html and "measured <strong>9 ticks" in html and "wanted <strong>10 ticks" in html
    steps = re.findall(r"<summary>([^<]*)", html)
    assert steps == ["A nudge", "The idea", "A worked step, with other numbers", "Show me: tick 19"]
    assert html.index("nudge</p><details") < html.index("idea</p><details") < html.index("worked</p>")
    assert "yours and expected first differ in tick 19" in re.search(r'alt="([^"]*)"', html)[1]


def test_a_card_draws_three_pictures_and_says_the_other_moments_in_words():
    names = [f"p{i}" for i in range(5)]

    def judging(netlist, mine, seed):
        run = drive(netlist, 100, [(0, "switch", 1)])
        for i, name in enumerate(names):
            yield Result(name, False, i, 10, "ticks", look=run.look("lamp", at=10 + i))

    one = Exercise(
        "99-a",
        "Blink",
        5,
        "o",
        answers.Design(),
        [Criterion(n, n, 1, "h") for n in names],
        judging,
        {"h": Hint("n", "i", "w")},
    )
    found = page(judge(one, Answer("99-a", "given", answers.Design().collect(Blink)), "somebody", 1))
    assert re.findall(r"Show me: tick (\d+)", found) == ["10", "11", "12"]
    assert re.findall(r"Look at tick (\d+)", found) == ["13", "14"]


def test_where_no_html_is_shown_there_is_the_text():
    verdict = verdict_on(with_expected)
    assert bundle(verdict, ["note"])["text/plain"] == verdict.text() + "\n  note"
    assert "look: tick 19: lamp is 1, expected 0" in verdict.text()


def test_a_passed_criterion_shows_neither_hint_nor_moment():
    def right(netlist, mine, seed):
        yield Result("p", True, drive(netlist, 50).at("lamp", 5), 1)

    assert "<details" not in page(verdict_on(right))


def test_check_prints_text_outside_of_a_kernel(capsys):
    use_lab(Lab("99_x", "x", [exercise(with_expected)]))
    check("99-a", Blink)
    assert "look: tick 19" in capsys.readouterr().out


class Follow(Design):
    lamp = DigitalOut("lamp")
    switch = DigitalIn("switch")

    @clocked
    def follow(self):
        self.lamp = self.switch


def test_an_answer_that_never_changes_and_one_that_starts_wrong():
    def judging(netlist, mine, seed):
        run = drive(netlist, 50, [(20, "switch", 1)])
        look = run.look(expected={"lamp": [(0, 1)]})
        yield Result("p", False, 0, 1, look=look or run.look("lamp", at=49))

    assert verdict_on(judging, design=Follow).lines[0].look.tick == 0


def test_a_judge_shows_what_was_not_driven_tick_by_tick_and_only_where_a_learner_fails():
    """The look is asked for by a call, which neither a passed criterion nor a grader makes."""
    asked = []

    def where():
        asked.append(1)
        return seen({"words": ([(0, 7), (5, 9)], [(0, 7), (5, 255)])}, types={"words": "unsigned(8)"}, base="hex")

    for passed, tell, calls in ((True, True, 0), (False, False, 0), (False, True, 1)):
        verdict = verdict_on(lambda *_: [Result("p", passed, look=where)], tell)  # noqa: B023
        assert len(asked) == calls
    assert verdict.lines[0].look.text() == "tick 5: words is 0x09, expected 0xFF"
    assert "yours and expected first differ in tick 5" in page(verdict)
    assert Verdict.from_plain(json.loads(json.dumps(verdict.as_plain()))).lines[0].look == verdict.lines[0].look


def test_a_curve_and_a_window_of_the_judges_own():
    look = seen({"speed": ([(0, 0), (50, 80), (99, 90)], [(0, 0), (50, 81)])}, at=50, around=(40, 60), curves=["speed"])
    assert (look.start, look.stop, look.strips[0].changes) == (40, 61, ((40, 0), (50, 80)))
    assert "speed (curve)" in figure(look).alt
    assert seen({"speed": ([(0, 1)], [(0, 1)])}) is None and seen({"speed": []}, at=3) is None


def test_no_moment_where_the_judge_says_that_none_shows_it():
    def judging(netlist, mine, seed):
        yield Result("p", False, drive(netlist, 50).at("lamp", 33), 1, look=False)

    assert verdict_on(judging).lines[0].look is None


def test_the_moment_is_the_last_change_to_the_measured_value_where_all_changes_were_asked_for():
    """Blink's lamp is 1 from tick 1, 19, 37, 55, ... on, the last time in 100 ticks from 91."""

    def judging(netlist, mine, seed):
        yield Result("p", False, int(drive(netlist, 100).trace("lamp").values[-1]), 0)

    assert verdict_on(judging).lines[0].look.tick == 91
