"""Late days, extra time, excused learners, and grades in the columns of a learning platform."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner
from nbgrader.api import Gradebook

from instructor.grading.course import Course, CourseFault
from instructor.grading.late import settle
from instructor.grading.rules import Rules, lateness, read_rules
from instructor.grading.writer import Writer
from simkit.cli import main
from tests.instructor.conftest import CLASS
from tests.instructor.nbgrader_commands import nbgrader

DUE = datetime(2026, 12, 1, 11, 0, 0)
LAB = "90_ticks"
RULES = """
[late]
free_days = 2
per_day = 0.1
most = 0.5

[due]
"90_ticks" = 2026-12-01T12:00:00+01:00

[learner.dee]
extra_days = 3
reason = "not for others"

[learner.cy]
excused = ["90_ticks"]
"""


def run(*words, code=0):
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == code, done.output
    return done.output


@pytest.fixture
def course(hand_in, tmp_path):
    """The small class, graded, with rules; ada in time, the others late by 20 to 90 hours."""
    hours = {"ada": -3, "bob": 20, "cy": 90, "dee": 40, "eve": 73}
    for learner, late in hours.items():
        path = hand_in(learner, CLASS[learner])
        path.with_name("timestamp.txt").write_text((DUE + timedelta(hours=late)).strftime("%Y-%m-%d %H:%M:%S UTC"))
    folder = tmp_path / "course"
    (folder / "rules.toml").write_text(RULES)
    run("grade", folder)
    return folder


def rows(text, delimiter=","):
    return list(csv.DictReader(io.StringIO(text), delimiter=delimiter))


def test_free_days_are_spent_in_the_order_of_the_due_dates():
    rules = Rules(free_days=2, per_day=0.1, most=0.25)
    found = lateness(
        rules,
        [(DUE + timedelta(7), "b", 86_401), (DUE, "a", 3600), (DUE + timedelta(14), "c", 10 * 86_400), (DUE, "d", 0)],
    )
    assert [(f.lab, f.days, f.free, round(f.share, 3)) for f in found.values()] == [
        ("a", 1, 1, 0),
        ("b", 2, 1, 0.1),
        ("c", 10, 0, 0.25),
    ]
    assert str(found["b"]) == "2 days late, 1 of them free, 10% of the points lost"


def test_rules_of_a_course(course):
    found = rows((course / "grades.csv").read_text()) if run("export", course) else []
    by = {row["learner"]: row for row in found}
    assert by["ada"]["90_ticks points"] == "7"
    assert by["bob"]["90_ticks late"] == "1 day late, 1 of them free" and by["bob"]["90_ticks points"] == "2"
    assert by["dee"]["90_ticks late"] == "", "extra time"
    assert by["eve"]["90_ticks late"] == "4 days late, 2 of them free, 20% of the points lost"
    assert float(by["eve"]["90_ticks points"]) == pytest.approx(3 * 0.8)
    assert by["cy"]["90_ticks points"] == "" and by["cy"]["percent"] == "", "excused"


def test_scores_stay_and_penalties_are_settled_again(course):
    run("export", course)
    (course / "rules.toml").write_text(RULES.replace("per_day = 0.1", "per_day = 0.0"))
    run("export", course)
    eve = next(row for row in rows((course / "grades.csv").read_text()) if row["learner"] == "eve")
    assert eve["90_ticks points"] == "3"


def test_columns_of_ones_own(course, tmp_path):
    mapping = tmp_path / "columns.toml"
    mapping.write_text(
        'delimiter = ";"\ndecimal = ","\nencoding = "utf-8-sig"\n[columns]\n"Kennung" = "learner"\n"Übung 90" = "points:90_ticks"\n'
        '"%" = "percent"\n"Kurs" = "=Lüfter"\n'
    )
    run("export", course, "--mapping", mapping, "--output", tmp_path / "up.csv")
    raw = (tmp_path / "up.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    eve = next(row for row in rows(raw.decode("utf-8-sig"), ";") if row["Kennung"] == "eve")
    assert (eve["Übung 90"], eve["Kurs"]) == ("2,4", "Lüfter")


WRONG_MAPPINGS = [
    ("", "no table"),
    ('[columns]\n"a" = "pionts"', "'pionts'; there are"),
    ('[columns]\n"a" = "points:04"', "names the lab '04'"),
    ('labs = ["04"]\n[columns]\n"a" = "points"', "labs names '04'"),
    ("[columns", "columns.toml"),
    ('labs = 4\n[columns]\n"a" = "points"', "labs is a list"),
    ('delimiter = "tab"\n[columns]\n"a" = "points"', "delimiter is one character"),
    ('decimal = 1\n[columns]\n"a" = "points"', "decimal is one character"),
    ('encoding = "utf-16-sig"\n[columns]\n"a" = "points"', "no encoding 'utf-16-sig'"),
]


def test_a_mapping_that_is_wrong(course, tmp_path):
    for text, words in WRONG_MAPPINGS:
        (tmp_path / "columns.toml").write_text(text)
        assert words in run("export", course, "--mapping", tmp_path / "columns.toml", code=1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[late]\nper_day = 2", "from 0 to 1"),
        ("[late]\nper_week = 1", "'per_week' is not known"),
        ('[due]\n"a" = 2026-12-01T12:00:00', "needs a zone"),
        ("[learner.ada]\nexcused = 3", "list of labs"),
        ("late = 3", "must be a table"),
        ("[late", "rules.toml"),
    ],
)
def test_rules_that_are_wrong(tmp_path, text, words):
    (tmp_path / "rules.toml").write_text(text)
    with pytest.raises(CourseFault, match=words):
        read_rules(tmp_path)


def test_a_manual_score_counts_and_survives(course):
    with Gradebook(f"sqlite:///{course}/gradebook.db") as book:
        grade = book.find_grade("90-a", LAB, LAB, "eve")
        grade.manual_score, grade.needs_manual_grade = 1.5, False
        book.db.commit()
    with Writer(Course(course)) as writer:
        settle(Course(course), writer)
    run("export", course)
    eve = next(row for row in rows((course / "grades.csv").read_text()) if row["learner"] == "eve")
    assert float(eve["90_ticks points"]) == pytest.approx(4.5 * 0.8)
    with Gradebook(f"sqlite:///{course}/gradebook.db") as book:
        assert book.find_grade("90-a", LAB, LAB, "eve").manual_score == 1.5
        assert book.find_assignment(LAB).duedate == datetime(2026, 12, 1, 11, tzinfo=UTC).replace(tzinfo=None)


def test_nbgraders_own_export_takes_off_the_same(course):
    (course / "nbgrader_config.py").write_text("c = get_config()\nc.CourseDirectory.course_id = 'tickbench'\n")
    run("export", course)
    for exporter, to in (
        ("instructor.export.MappedExporter", "mapped.csv"),
        ("nbgrader.plugins.export.CsvExportPlugin", "own.csv"),
    ):
        nbgrader(course, "export", f"--exporter={exporter}", f"--to={to}")
    assert (course / "mapped.csv").read_text() == (course / "grades.csv").read_text()
    own = {row["student_id"]: float(row["score"]) for row in rows((course / "own.csv").read_text())}
    ours = {row["learner"]: row["90_ticks points"] for row in rows((course / "grades.csv").read_text())}
    assert all(own[name] == pytest.approx(float(points)) for name, points in ours.items() if points)
