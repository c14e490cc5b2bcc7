"""The edition for self-paced learners: every solution can be opened, none can be read by accident."""

from pathlib import Path

from click.testing import CliRunner

from instructor.author.source import read_source
from instructor.cli.author import author
from simkit.check.sealed import SEALED, unseal

ROOT = Path(__file__).parents[2]
LAB = ROOT / "solutions" / "05_keeping_time"


def test_each_exercise_has_its_solution(tmp_path):
    done = CliRunner().invoke(
        author, ["build", LAB.name, "--solutions", str(LAB.parent), "--with-solutions", "--labs", str(tmp_path)]
    )
    assert done.exit_code == 0, done.output
    sealed = tmp_path / LAB.name / SEALED
    texts = {name: unseal(sealed, name) for name in read_source(LAB).lab.exercises}
    assert all(texts.values()), texts
    assert "every=" in texts["05-b"] and "SOLUTION" not in "".join(texts.values())
    raw = sealed.read_text()
    assert not any(line.strip() in raw for text in texts.values() for line in text.splitlines() if len(line) > 20)


def test_the_labs_folder_itself_never_gets_them():
    done = CliRunner().invoke(author, ["build", LAB.name, "--solutions", str(LAB.parent), "--with-solutions"])
    assert done.exit_code == 2 and "never holds any" in done.output
    assert not list((ROOT / "labs").rglob(SEALED))


def test_an_edition_without_them_has_none(tmp_path):
    CliRunner().invoke(author, ["build", LAB.name, "--solutions", str(LAB.parent), "--labs", str(tmp_path)])
    assert not list(tmp_path.rglob(SEALED))
    done = CliRunner().invoke(
        author, ["build", LAB.name, "--solutions", str(LAB.parent), "--check", "--labs", str(tmp_path)]
    )
    assert done.exit_code == 0
