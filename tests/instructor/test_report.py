"""The report on a cohort of sixty invented learners, graded by the real grader."""

import csv
import importlib.util
import json
import re
import sys
import time
from pathlib import Path

import jupytext
import numpy as np
import pytest
from click.testing import CliRunner

from instructor.author.source import read_source
from instructor.grading.course import Course
from instructor.report import read_cohort
from instructor.report.page import harmless
from instructor.report.similar import alike_texts, places_to_look
from instructor.report.statistics import difficulty, discrimination, reliability
from simkit.cli import main
from tests.cohort import invent, write_submission

pytestmark = pytest.mark.xdist_group("report")
SOURCE = Path(__file__).parents[1] / "check" / "course" / "solutions" / "90_ticks"
PLANTED = [("90-a", "in nanoseconds"), ("90-b", "the slower loop"), ("90-c", "one tick too slow")]
GUIDE = Path(__file__).parents[2] / "instructor" / "guide" / "report.md"


def run(*words):
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def graded(tmp_path_factory, module_labs):
    """A course of sixty, graded; and who they are."""
    folder = tmp_path_factory.mktemp("course")
    source = read_source(SOURCE)
    people = invent(source, 60, seed=4, planted=PLANTED)
    for one in people:
        write_submission(source, one, folder)
    run("grade", folder, "--jobs", 2)
    return folder, people


@pytest.fixture(scope="module")
def module_labs(tmp_path_factory):
    from instructor.author.build import build_lab

    folder = tmp_path_factory.mktemp("labs")
    build_lab(SOURCE, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TICKBENCH_LABS", str(folder))
        yield folder


def test_the_planted_misconceptions_are_named(graded):
    folder, people = graded
    scores = read_cohort(Course(folder)).labs["90_ticks"]
    source = read_source(SOURCE)
    beliefs = {(exercise, hint) for hint, exercise, _, count, _ in scores.beliefs()[:3]}
    wanted = set()
    for exercise, name in PLANTED:
        wrong = next(w for one in people for w in one.wrong.values() if (w.exercise, w.name) == (exercise, name))
        wanted.add((exercise, source.lab[exercise].hints[wrong.hint].nudge))
    assert beliefs == wanted


def test_the_numbers_are_those_of_the_class(graded):
    folder, people = graded
    scores = read_cohort(Course(folder)).labs["90_ticks"]
    assert scores.learners == [one.name for one in people]
    clean = {one.name for one in people if not one.wrong and not one.left}
    assert {name for name in scores.learners if scores.total(name) == 7} == clean
    left = sum("90-a" in one.left for one in people)
    finding = next(f for f in scores.findings() if f.exercise == "90-a")
    assert finding.judged == 60 - left
    assert finding.failed == sum("90-a" in one.wrong for one in people)


def test_the_page(graded, tmp_path):
    folder, people = graded
    run("report", folder, "--output", tmp_path / "r.html", "--csv", tmp_path / "tables")
    page = (tmp_path / "r.html").read_text()
    assert not any(one.name in page for one in people), "pseudonyms only"
    assert "Which unit is asked for?" in page
    assert page.count('role="img" aria-label="') == 4
    assert not re.findall(r'(?:src|href)="(?!#|data:)', page), "everything is inside"
    with open(tmp_path / "tables" / "90_ticks_scores.csv") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["learner", "90-a", "90-b", "90-c", "sum of 7", "note"]
    assert len(rows) == 61
    run("report", folder, "--output", tmp_path / "n.html", "--names", "--no-similar")
    named = (tmp_path / "n.html").read_text()
    assert "invented07" in named and "Places to look" not in named


def test_tries_of_those_who_agreed(graded):
    folder, people = graded
    shown = people[:3]
    for tries, one in zip((1, 4, 7), shown, strict=True):
        row = {"tries": tries, "passed": tries < 7, "minutes": 3.0 * tries if tries < 7 else None}
        path = folder / "submitted" / one.name / "90_ticks" / "tries.json"
        path.write_text(json.dumps({"exercises": {"90-a": row}}))
    scores = read_cohort(Course(folder)).labs["90_ticks"]
    assert scores.effort("90-a") == (3, 4.0, 7.5)
    assert scores.effort("90-b")[0] == 0
    assert any(who == shown[2].name for who, _ in scores.stuck())


def test_the_same_pseudonyms_every_time(graded):
    folder, _ = graded
    one, two = read_cohort(Course(folder)).names, read_cohort(Course(folder)).names
    assert one == two and len(set(one.values())) == 60


def test_the_notebook_runs(graded, monkeypatch, tmp_path):
    folder, _ = graded
    monkeypatch.setenv("TICKBENCH_COURSE", str(folder))
    monkeypatch.setenv("MPLBACKEND", "Agg")
    code = "\n\n".join(cell.source for cell in jupytext.read(GUIDE).cells if cell.cell_type == "code")
    (tmp_path / "guide_report.py").write_text(code)
    spec = importlib.util.spec_from_file_location("guide_report", tmp_path / "guide_report.py")
    shown = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "guide_report", shown)
    spec.loader.exec_module(shown)
    assert len(shown.scores.learners) == 60
    assert 0 < shown.kr20.value < 1


def test_nothing_graded_yet(tmp_path):
    done = CliRunner().invoke(main, ["report", str(tmp_path)])
    assert done.exit_code == 1 and "grade first" in done.output


def test_a_learner_is_forgotten(graded, tmp_path):
    import shutil

    folder, people = graded
    course = Path(shutil.copytree(folder, tmp_path / "course"))
    victim = next(one.name for one in people if one.wrong)
    run("forget", victim, "--course", course, "--yes")
    left = [path for path in course.rglob("*") if path.is_file()]
    assert not any(victim in str(path) for path in left)
    assert not any(
        victim.encode() in path.read_bytes() for path in left if path.suffix in (".jsonl", ".json", ".ipynb")
    )
    assert victim not in read_cohort(Course(course)).labs["90_ticks"].learners
    log = (course / ".tickbench" / "attempts" / "attempts.jsonl").read_text().splitlines()
    for entry in map(json.loads, log):  # what the others handed in is whole
        for blob in entry["files"].values():
            assert (course / ".tickbench" / "attempts" / "files" / blob[:2] / blob[2:]).is_file()


def test_borrowed_numbers_are_a_place_to_look(graded):
    folder, people = graded
    source = read_source(SOURCE)
    course = Course(folder)
    lender = next(one for one in people if not one.wrong and not one.left)
    own = source.lab["90-a"].own(lender.name).ticks
    borrower = next(
        one
        for one in people
        if source.lab["90-a"].own(one.name).ticks != own and one.kind == "strong" and one != lender
    )
    path = folder / "submitted" / borrower.name / "90_ticks" / "90_ticks.ipynb"
    before = path.read_text()
    path.write_text(before.replace("period = mine.ticks * 0.025", f"period = {own} * 0.025"))
    try:
        run("grade", folder, "--learner", borrower.name)
        cohort = read_cohort(course, real_names=True)
        lines = places_to_look(course, cohort)
        assert any(
            line.startswith(f"90_ticks: the answer of {borrower.name} to 90-a fits the numbers of") for line in lines
        )
    finally:
        path.write_text(before)
        run("grade", folder, "--learner", borrower.name)


def test_a_thousand_texts_are_compared_in_seconds():
    rng = np.random.default_rng(1)
    words = [f"name{i}" for i in range(400)]
    common = " ".join(rng.choice(words, 400))
    texts = [common + " " + " ".join(rng.choice(words, 300)) for _ in range(1000)]
    texts[17] = common + " " + texts[612][len(common) + 1 :].replace("name7 ", "renamed ")
    began = time.perf_counter()
    found = alike_texts(texts)
    print(f"1000 texts: {time.perf_counter() - began:.2f} s")
    assert [(one, other) for one, other, _, _ in found] == [(17, 612)]
    assert alike_texts([]) == [] and alike_texts(["", "x"]) == []


def test_a_spreadsheet_takes_no_cell_for_a_formula():
    assert harmless("=1+1") == "'=1+1" and harmless("L-7QK2") == "L-7QK2" and harmless(3.0) == 3.0


def test_scores_that_say_nothing():
    same = np.full((5, 3), 2.0)
    assert np.isnan(discrimination(same)).all()
    assert reliability(same).why == "everybody has the same score"
    assert reliability(np.ones((2, 3))).why.startswith("it needs two items")
    assert list(difficulty(np.array([[1.0, 2.0], [np.nan, 2.0]]), np.array([2.0, 2.0]))) == [0.5, 1.0]
