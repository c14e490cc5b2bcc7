"""The invented course of ``tests/check/course``, built."""

import shutil
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "check" / "course" / "solutions" / "90_ticks"


@pytest.fixture
def source(tmp_path):
    """A copy of the small lab's source that a test may break."""
    return Path(
        shutil.copytree(SOURCE, tmp_path / "solutions" / "90_ticks", ignore=shutil.ignore_patterns("__pycache__"))
    )
