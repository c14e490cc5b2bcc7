"""From source to learners' lab: nothing leaks, the same bytes each time, errors with file and line."""

import nbformat
import pytest

from instructor.author.build import STUB, build_lab, built_files, out_of_date, with_solutions
from instructor.author.source import read_source
from simkit.check import AuthorError


def built(source):
    return nbformat.reads(built_files(read_source(source))["90_ticks.ipynb"].decode(), as_version=4)


def cell(notebook, grade_id):
    return next(c for c in notebook.cells if c.metadata.get("nbgrader", {}).get("grade_id") == grade_id)


def test_nothing_leaks(source):
    files = built_files(read_source(source))
    assert set(files) == {"90_ticks.ipynb", "exercises.py"}
    text = files["90_ticks.ipynb"].decode()
    for secret in ("SOLUTION", "mine.ticks * 0.025", "not self.on", "let everyone guess", "wrong_answers"):
        assert secret not in text


def test_cells_are_marked_for_nbgrader(source):
    from nbgrader.utils import compute_checksum, is_grade, is_locked, is_solution

    notebook = built(source)
    check, answer = cell(notebook, "90-c"), cell(notebook, "90-c-answer")
    assert is_grade(check) and is_locked(check) and not is_solution(check)
    assert check.metadata.nbgrader.points == 3
    assert is_solution(answer) and not is_grade(answer)
    assert STUB in answer.source
    assert check.metadata.nbgrader.checksum == compute_checksum(check)
    assert check.metadata.editable is False


def test_the_instructors_version_keeps_everything(source):
    text = nbformat.writes(with_solutions(read_source(source)))
    assert "mine.ticks * 0.025" in text
    assert "let everyone guess" in text


def test_building_again_gives_the_same_bytes(source, tmp_path):
    target = build_lab(source, tmp_path / "labs")
    before = {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in target.iterdir()}
    build_lab(source, tmp_path / "labs")
    assert {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in target.iterdir()} == before
    assert out_of_date(source, tmp_path / "labs") == []


def test_out_of_date_files_are_named_and_stale_ones_removed(source, tmp_path):
    target = build_lab(source, tmp_path / "labs")
    (target / "left_over.txt").write_text("old")
    (source / "data").mkdir()
    (source / "data" / "speed.csv").write_text("1\n")
    assert out_of_date(source, tmp_path / "labs") == ["data/speed.csv", "left_over.txt"]
    build_lab(source, tmp_path / "labs")
    assert sorted(p.relative_to(target).as_posix() for p in target.rglob("*") if p.is_file()) == [
        "90_ticks.ipynb",
        "data/speed.csv",
        "exercises.py",
    ]


def test_cell_ids_stay_when_another_cell_changes(source):
    before = [c["id"] for c in built(source).cells]
    lab = source / "lab.md"
    lab.write_text(lab.read_text().replace("How long does a loop take?", "How long does one turn take?"))
    after = [c["id"] for c in built(source).cells]
    assert [a == b for a, b in zip(before, after, strict=True)].count(False) == 1
    assert len(set(after)) == len(after)


BREAKAGES = [
    (
        '### END SOLUTION\n```\n\n```{code-cell}\ncheck("90-a"',
        '```\n\n```{code-cell}\ncheck("90-a"',
        "this solution region is never closed: write ### END SOLUTION below it",
        "### BEGIN SOLUTION",
    ),
    ("period = mine.ticks * 0.025", "### BEGIN SOLUTION", "begins inside another", "### BEGIN SOLUTION\n### BEGIN"),
    ("### BEGIN SOLUTION\nperiod = mine", "period = mine", "ends that never began", "### END SOLUTION"),
    ('check("90-b", choice)', 'check("90-x", choice)', "no exercise '90-x'; it has 90-a, 90-b, 90-c", 'check("90-x"'),
    ('check("90-b", choice)', 'check("90-a", choice)', "the id '90-a' is used twice", 'check("90-a", choice)'),
    ('```{code-cell}\ncheck("90-c", Blinker)\n```', "", "belongs to no exercise", "ticks = parameters"),
    (
        'check("90-b", choice)',
        'check("90-b", choice)\n```\n\n```{code-cell}\ncheck("90-b", 1)',
        "nothing|twice",
        'check("90-b", 1)',
    ),
    ("### Exercise 90-b", '+++ {"manual": "90-m"}\n\nWhy?\n\n+++\n\n### Exercise 90-b', "has no points", None),
]


@pytest.mark.parametrize(("old", "new", "words", "at"), BREAKAGES)
def test_an_authors_mistake_is_said_with_its_line(source, old, new, words, at):
    lab = source / "lab.md"
    text = lab.read_text()
    assert old in text
    lab.write_text(text.replace(old, new, 1))
    with pytest.raises(AuthorError, match=words) as caught:
        read_source(source)
    assert caught.value.file == str(lab)
    if at is not None:
        assert lab.read_text().split(at)[0].count("\n") + 1 == caught.value.line + (at.count("\n") and -1)


def test_an_exercise_that_is_never_checked(source):
    lab = source / "lab.md"
    head, tail = lab.read_text().split("### Exercise 90-c")
    lab.write_text(head)
    with pytest.raises(AuthorError, match="'90-c' is never checked"):
        read_source(source)


def test_a_lab_must_bear_its_folders_name(source):
    other = source.rename(source.with_name("91_other"))
    with pytest.raises(AuthorError, match="Lab\\('91_other'"):
        read_source(other)


def test_a_cell_graded_by_hand(source):
    lab = source / "lab.md"
    lab.write_text(
        lab.read_text().replace(
            "### Exercise 90-b", '+++ {"manual": "90-m", "points": 2}\n\nWhy?\n\n+++\n\n### Exercise 90-b', 1
        )
    )
    marked = cell(built(source), "90-m")
    assert (marked.metadata.nbgrader.points, marked.metadata.nbgrader.grade, marked.metadata.nbgrader.solution) == (
        2,
        True,
        True,
    )
    assert "Why?" not in marked.source


def test_commands(source, tmp_path):
    from click.testing import CliRunner

    from simkit.cli import main

    where = ["--solutions", str(source.parent), "--labs", str(tmp_path / "labs")]
    run = CliRunner().invoke
    assert run(main, ["author", "build", "--check", *where]).exit_code == 1
    assert run(main, ["author", "build", "90_ticks", *where]).exit_code == 0
    assert run(main, ["author", "build", "--check", *where]).exit_code == 0
    wrong = run(main, ["author", "build", "91_nothing", *where])
    assert wrong.exit_code == 1
    assert "there is: 90_ticks" in wrong.output
    (source / "lab.md").write_text("```{code-cell}\n### BEGIN SOLUTION\n```\n")
    broken = run(main, ["author", "build", *where])
    assert broken.exit_code == 1
    assert f"{source / 'lab.md'}:2:" in broken.output
