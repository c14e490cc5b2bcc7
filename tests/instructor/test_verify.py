"""``tickbench author verify`` finds each kind of breakage."""

import json

import pytest
from click.testing import CliRunner

from instructor.author.verify import verify
from simkit.check import AuthorError
from simkit.cli import main


def edit(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def test_a_lab_in_order(source):
    proof = verify(source)
    assert proof.faults == []
    assert (proof.exercises, proof.solution_full, proof.release_zero) == (3, True, True)
    assert (proof.wrong_answers, proof.wrong_answers_caught) == (5, 5)


BREAKAGES = {
    "wrong solution": ("lab.md", "wait(ticks - 1)", "wait(ticks)", "90-c: the solution scores 1 of 3"),
    "solution outside its region": (
        "lab.md",
        "period = None ",
        "period = mine.ticks * 0.025",
        "scores 2 before any work",
    ),
    "wrong answer passes": (
        "wrong_answers.py",
        "(mine.ticks - 1)",
        "mine.ticks",
        "'one tick forgotten' passes the criterion",
    ),
    "wrong hint": ("wrong_answers.py", 'hint="nanoseconds"', 'hint="tick"', "without the hint 'tick'"),
    "failing cell": ("lab.md", "mine = parameters", "mine = 1 / 0\nmine = parameters", "fails: ZeroDivisionError"),
    "untidy start code": ("lab.md", "period = None ", "period = 'x'", "should say that it is still to do"),
}


@pytest.mark.parametrize("breakage", BREAKAGES)
def test_a_broken_lab(source, breakage):
    file, old, new, words = BREAKAGES[breakage]
    edit(source / file, old, new)
    assert words in "\n".join(verify(source).faults)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"90-b"', '"90-x"', "no exercise '90-x'"),
        ('fails="choice"', 'fails="chance"', "no criterion 'chance'"),
        ('hint="still"', 'hint="stills"', "no hint 'stills'"),
        ("wrong_answers = [", "wrong_answers = [nothing, ", "NameError"),
    ],
)
def test_a_broken_list_of_wrong_answers(source, old, new, words):
    edit(source / "wrong_answers.py", old, new)
    with pytest.raises(AuthorError, match=words):
        verify(source)


def test_the_command(source, tmp_path):
    where = ["--solutions", str(source.parent), "--labs", str(tmp_path / "labs")]
    CliRunner().invoke(main, ["author", "build", *where])
    good = CliRunner().invoke(main, ["author", "verify", "--json", *where])
    assert good.exit_code == 0, good.output
    assert json.loads(good.stdout)["labs"][0]["wrong_answers_caught"] == 5
    (tmp_path / "labs" / "90_ticks" / "exercises.py").unlink()
    stale = CliRunner().invoke(main, ["author", "verify", *where])
    assert stale.exit_code == 1
    assert "labs/90_ticks/exercises.py is out of date" in stale.output
