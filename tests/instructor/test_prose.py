"""What ``author verify`` says of a lab's text."""

import pytest

from instructor.author.prose import faults_of_text, reading_level, words_kept_out
from instructor.author.source import read_source


def edited(source, old, new, file="lab.md"):
    path = source / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    return faults_of_text(read_source(source), words_kept_out(source.parent))


def test_a_text_in_order(source):
    assert faults_of_text(read_source(source)) == []


BREAKAGES = {
    "no glossary": ("## Words", "## Wrods", "has no part 'Words'"),
    "no heading": ("### Exercise 90-b: choose", "### Choose", "no heading announces the exercise"),
    "empty promise": (" (90-b),", ",\n* **dream** of a loop,", "names no exercise that proves it"),
    "nothing promised": (" and **choose** between two (90-b)", "", "exercise 90-b proves nothing"),
    "wrong exercise": ("one tick more.", "one tick more, see 90-x.", "there is no exercise 90-x in this lab"),
    "lost picture": ("one tick more.", "one tick more. ![a lamp](figures/lamp.png)", "not in the lab's folder"),
    "no alternative text": ("one tick more.", "![](https://example.org/lamp.png)", "has no alternative text"),
    "filler": ("A lamp says", "Obviously a lamp says", "'Obviously' tells a stuck reader"),
    "long sentence": ("says nothing", "says " + "and says " * 40 + "nothing", "cut it"),
    "hard to read": (
        "How long does a loop take?",
        "Incomprehensible characterisations notwithstanding. " * 40,
        "reads at level",
    ),
    "no demonstration": (" A live demonstration: change the wait.", "", "do not say what to show live"),
    "no stall": ("Learners stall at the tick that ends a turn.", "", "do not say where learners stall"),
}


@pytest.mark.parametrize("breakage", BREAKAGES)
def test_a_broken_text(source, breakage):
    old, new, words = BREAKAGES[breakage]
    found = edited(source, old, new)
    assert words in "\n".join(found)
    assert all(line.startswith(str(source / "lab.md") + ":") for line in found)


def test_a_filler_that_says_when_is_none(source):
    assert edited(source, "A lamp says nothing", "Just before it fails, a lamp says nothing") == []


def test_words_of_the_course(source):
    (source.parent / "words_kept_out.txt").write_text("# our own\nwidget\n")
    assert "'widget' is on the course's list" in "\n".join(edited(source, "A lamp says", "A widget says"))


def test_a_solution_that_learners_can_read(source):
    old = "TICK_US = 0.025"
    assert edited(source, old, old + "\n# period = mine.ticks * 0.025", "exercises.py") == []  # a comment: another line
    found = edited(source, old, old + "\nclass mine: ticks = 1\nperiod = mine.ticks * 0.025", "exercises.py")
    assert "this line of a solution is also in the learners' exercises.py" in "\n".join(found)


def test_the_readability_index():
    """By hand from the formula of AMRL-TR-66-220: 10 letters in 4 words in 1 sentence."""
    assert reading_level([(1, ["a", "bb", "ccc", "dddd"])]) == pytest.approx(4.71 * 2.5 + 0.5 * 4 - 21.43)
