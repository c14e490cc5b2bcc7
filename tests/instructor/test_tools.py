"""The programs that try to break the grader, in short form; run them by hand for the whole (they print what they found)."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.instructor.test_two_doors import pytestmark  # noqa: F401

TESTS = Path(__file__).parents[1]


def run(*arguments):
    result = subprocess.run(
        [sys.executable, *map(str, arguments), "--json"], capture_output=True, text=True, check=False
    )
    assert result.stdout, result.stderr
    return json.loads(result.stdout)


WEAK = ["check replaced by a number", "leaves a daemon", "a loop of logic", "script in an output", "a link to a folder"]
"""One case for each weakness; ``python tests/hostile.py`` lets a weak grader have them all."""


@pytest.mark.slow
def test_a_hostile_class_harms_nothing_and_a_weak_grader_is_found_out():
    found = run(TESTS / "hostile.py", *(word for name in WEAK for word in ("--weak", name)))
    assert found["cases"] >= 40
    assert (found["escapes"], found["points_gained"], found["others_harmed"]) == (0, 0, 0), found["bad"]
    assert found["weak_caught"] == len(WEAK), found["weak_not_caught"]


@pytest.mark.slow
def test_a_killed_grader():
    found = run(TESTS / "crash.py", "--kills", "6")
    assert {k: found[k] for k in ("kills", "lost", "duplicated", "manual_changed", "alive")} == {
        "kills": 6,
        "lost": 0,
        "duplicated": 0,
        "manual_changed": 0,
        "alive": [],
    }
