"""The small invented course that the tests of checks, commands and grading share."""

from pathlib import Path

import pytest

COURSE = Path(__file__).parent / "course"


@pytest.fixture(autouse=True)
def _nobody(monkeypatch, tmp_path):
    """No learner's id from outside, and no lab left over from another test."""
    from simkit.check import use_lab

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
        monkeypatch.delenv(name, raising=False)
    yield
    use_lab(None)


@pytest.fixture
def lab():
    from simkit.check import load_lab, use_lab

    found = load_lab(COURSE / "solutions" / "90_ticks")
    use_lab(found)
    return found
