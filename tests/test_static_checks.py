"""The annotations of the kit and of the instructor's tools agree with the code; a full run collects every folder of tests."""

import subprocess
import sys
from fnmatch import fnmatch
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


def test_no_folder_of_tests_is_left_out_of_a_full_run(pytestconfig):
    """Of its own accord pytest passes by folders of some names, "build" among them."""
    passed_by = pytestconfig.getini("norecursedirs")
    folders = {part for file in (ROOT / "tests").rglob("test_*.py") for part in file.relative_to(ROOT).parts[:-1]}
    assert "build" in folders
    assert [folder for folder in folders if any(fnmatch(folder, pattern) for pattern in passed_by)] == []
