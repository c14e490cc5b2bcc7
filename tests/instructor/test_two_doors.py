"""``nbgrader autograde`` and ``tickbench grade``: the same scores, and nbgrader's other steps work on them."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from nbgrader.api import Gradebook

from simkit.cli import main
from tests.instructor.conftest import CLASS, RIGHT, SCORES
from tests.instructor.nbgrader_commands import nbgrader

pytestmark = pytest.mark.skipif(shutil.which("bwrap") is None, reason="bubblewrap is not installed")


def grade(course, *arguments):
    result = CliRunner().invoke(main, ["grade", str(course), *arguments, "--json"])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return {entry["learner"]: entry for entry in json.loads(result.stdout)["submissions"]}


def scores(course):
    """Points by learner, in the order of the exercises, as the gradebook has them."""
    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        return {
            s.student.id: [g.auto_score for n in s.notebooks for g in sorted(n.grades, key=lambda g: g.name)]
            for s in book.assignment_submissions("90_ticks")
        }


def test_a_class_through_both_doors(course, hand_in, tmp_path):
    for learner, answers in CLASS.items():
        hand_in(learner, answers)
    nbgrader(course, "generate_assignment", "90_ticks")
    other = Path(shutil.copytree(course, tmp_path / "other"))
    nbgrader(course, "autograde", "90_ticks")
    found = grade(other, "--jobs", "2")
    assert scores(course) == scores(other) == SCORES
    assert {name: entry["score"] for name, entry in found.items()} == {
        name: sum(points) for name, points in SCORES.items()
    }
    for root in (course, other):
        nbgrader(root, "generate_feedback", "90_ticks")
        page = (root / "feedback" / "eve" / "90_ticks" / "90_ticks.html").read_text()
        assert "Which unit is asked for?" in page
        assert "mine.ticks * 0.025" not in page


def test_the_whole_cycle_over_the_exchange(course, tmp_path):
    """Hand out, fetch, work, submit, collect, grade, return: with nbgrader's own commands alone."""
    exchange, home = tmp_path / "exchange", tmp_path / "home"
    exchange.mkdir()
    exchange.chmod(0o777)
    home.mkdir()
    where = [f"--Exchange.root={exchange}", f"--Exchange.cache={tmp_path / 'cache'}", "--course=tickbench"]
    nbgrader(course, "generate_assignment", "90_ticks")
    nbgrader(course, "release_assignment", "90_ticks", *where)
    nbgrader(home, "fetch_assignment", "90_ticks", *where)
    notebook = home / "90_ticks" / "90_ticks.ipynb"
    raw = json.loads(notebook.read_text())
    for cell in raw["cells"]:
        if cell["id"].endswith("-answer"):
            cell["source"] = RIGHT[cell["id"].removesuffix("-answer")]
    notebook.write_text(json.dumps(raw))
    nbgrader(home, "submit", "90_ticks", *where)
    nbgrader(course, "collect", "90_ticks", *where)
    nbgrader(course, "autograde", "90_ticks")
    nbgrader(course, "generate_feedback", "90_ticks")
    nbgrader(course, "release_feedback", "90_ticks", *where)
    assert list(scores(course).values()) == [[2, 2, 3]]


def test_grading_needs_no_course_folder(hand_in, tmp_path):
    """Submissions alone are enough: the installed lab says how they are graded."""
    for learner in ("ada", "bob"):
        hand_in(learner, CLASS[learner])
    grade(tmp_path / "course" / "submitted")
    assert scores(tmp_path / "course") == {name: SCORES[name] for name in ("ada", "bob")}


def test_points_and_comments_given_by_hand_survive(course, hand_in):
    hand_in("bob", CLASS["bob"])
    grade(course)
    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        book.find_grade("90-b", "90_ticks", "90_ticks", "bob").manual_score = 1.5
        book.find_comment("90-b-answer", "90_ticks", "90_ticks", "bob").manual_comment = "seen in the lab"
        book.db.commit()
    hand_in("bob", RIGHT)
    assert grade(course)["bob"]["score"] == 7
    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        given = book.find_grade("90-b", "90_ticks", "90_ticks", "bob")
        assert (given.manual_score, given.auto_score, given.score, given.needs_manual_grade) == (1.5, 2, 1.5, True)
        assert book.find_comment("90-b-answer", "90_ticks", "90_ticks", "bob").comment == "seen in the lab"
    assert len(list((course / ".tickbench" / "backups").glob("*.db"))) == 1


def test_what_is_graded_is_not_graded_again(course, hand_in):
    hand_in("ada", RIGHT)
    grade(course)
    written = (course / "autograded" / "ada" / "90_ticks" / "90_ticks.ipynb").stat().st_ino
    assert grade(course)["ada"]["score"] == 7
    assert (course / "autograded" / "ada" / "90_ticks" / "90_ticks.ipynb").stat().st_ino == written
    grade(course, "--again")
    assert (course / "autograded" / "ada" / "90_ticks" / "90_ticks.ipynb").stat().st_ino != written


def test_a_lost_gradebook_is_made_again(course, hand_in):
    hand_in("ada", RIGHT)
    grade(course)
    (course / "gradebook.db").unlink()
    grade(course)
    assert scores(course) == {"ada": [2, 2, 3]}


def test_stock_nbgrader_without_our_configuration_fails_closed(course, hand_in):
    """The public check's value is its points, so nbgrader's own reading of the cell agrees; nothing scores by default."""
    for learner in ("ada", "bob", "cy"):
        hand_in(learner, CLASS[learner])
    nbgrader(course, "generate_assignment", "90_ticks")
    (course / "nbgrader_config.py").write_text("c = get_config()\nc.ExecutePreprocessor.kernel_name = 'python3'\n")
    nbgrader(course, "autograde", "90_ticks")
    # All work with the numbers of whoever runs the kernel, so the right answers are right here, too.
    assert scores(course) == {name: SCORES[name] for name in ("ada", "bob", "cy")}


def test_a_lab_that_nobody_knows_is_named(course, hand_in):
    hand_in("ada", RIGHT)
    (course / "submitted" / "ada" / "17_unknown").mkdir()
    result = CliRunner().invoke(main, ["grade", str(course)])
    assert result.exit_code == 1
    assert "ada  17_unknown  NOT GRADED  note: there is no lab '17_unknown'" in result.output
    assert "1 graded, 1 not graded" in result.output


def test_no_sandbox_no_grading(course, hand_in, monkeypatch):
    import instructor.run

    hand_in("ada", RIGHT)
    monkeypatch.setattr(instructor.run, "SANDBOXES", ())
    refused = CliRunner().invoke(main, ["grade", str(course)])
    assert refused.exit_code == 3
    assert "could read and change your files" in refused.output
    assert grade(course, "--trust")["ada"]["score"] == 7
