"""A lab's data files and its Verilog core reach the learner's cells in every sandbox, where no tool can run."""

from __future__ import annotations

from pathlib import Path

import pytest

from instructor.author.build import build_lab, for_learners, with_solutions
from instructor.author.source import read_source
from instructor.grading.engine import grade_notebook
from instructor.judge import Judges
from instructor.run import BubblewrapRunner, LandlockRunner, PlainRunner, ZygoteRunner

SOLUTION = Path(__file__).parents[2] / "solutions" / "10_building_blocks"


@pytest.mark.parametrize("kind", [ZygoteRunner, BubblewrapRunner, LandlockRunner, PlainRunner])
def test_a_solution_around_a_core_is_graded_in_full(kind, tmp_path, monkeypatch):
    runner = kind()
    if runner.missing():
        pytest.skip(runner.missing())
    monkeypatch.setenv("TICKBENCH_CACHE", str(tmp_path / "empty"))  # not even an instructor's compiled tools are there
    tmp_path.chmod(0o755)
    source = read_source(SOLUTION)
    place = build_lab(SOLUTION, tmp_path)
    with Judges(b"secret") as judges:
        graded = grade_notebook(source.lab, place, for_learners(source), with_solutions(source), "lena", runner, judges)
    runner.close()
    assert graded.notes == [] and not (tmp_path / "empty").exists()
    assert graded.score == graded.max_score, "\n".join(v.text() for v in graded.verdicts.values() if not v.passed)
