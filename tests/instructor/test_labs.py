"""Every lab of the course: built, leaking nothing, solved in full, empty without work, its wrong answers caught."""

from pathlib import Path

import pytest

from instructor.author.build import out_of_date, sources
from instructor.author.source import read_source
from instructor.author.verify import verify

ROOT = Path(__file__).parents[2]
LABS = [path.name for path in sources(ROOT / "solutions")]


@pytest.mark.parametrize("lab", LABS)
def test_labs_is_up_to_date(lab):
    assert out_of_date(ROOT / "solutions" / lab, ROOT / "labs") == []


@pytest.mark.parametrize("lab", LABS)
def test_labs_leaks_nothing(lab):
    """No line of a solution region, and no instructor's cell, is in what learners get."""
    text = (ROOT / "labs" / lab / f"{lab}.ipynb").read_text(encoding="utf-8")
    assert "SOLUTION" not in text
    for cell in read_source(ROOT / "solutions" / lab).notebook.cells:
        if "instructor" in cell.metadata.get("tags", []):
            assert cell.source.strip().splitlines()[0] not in text
    assert not list((ROOT / "labs" / lab).rglob("wrong_answers*"))
    assert not list((ROOT / "labs" / lab).rglob("*.md"))


@pytest.mark.parametrize("lab", LABS)
def test_the_lab_is_proved(lab):
    """With the practice numbers; ``tests/labs`` takes those of other learners."""
    proof = verify(ROOT / "solutions" / lab)
    assert "\n".join(proof.faults) == ""
    assert proof.solution_full and proof.release_zero
    assert proof.wrong_answers_caught == proof.wrong_answers
