"""The annotations of the kit and of the instructor's tools agree with the code."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.slow
def test_types(tmp_path):
    pytest.importorskip("mypy")
    command = [sys.executable, "-m", "mypy", f"--cache-dir={tmp_path}", "--config-file", ROOT / "pyproject.toml"]
    said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert said.returncode == 0, said.stdout + said.stderr


def test_style():
    pytest.importorskip("ruff")
    said = subprocess.run([sys.executable, "-m", "ruff", "check", "."], cwd=ROOT, capture_output=True, text=True)
    assert said.returncode == 0, said.stdout
