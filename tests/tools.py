"""Outside tools that some tests need.  They may be missing on a learner's machine, never in CI."""

from __future__ import annotations

import os
import shutil

import pytest


def needed(*programs: str) -> None:
    """Skip the test if a program is missing; where CI=true, fail instead."""
    missing = [p for p in programs if shutil.which(p) is None]
    if missing and os.environ.get("CI") == "true":
        pytest.fail(f"CI must have {', '.join(missing)}")
    if missing:
        pytest.skip(f"needs {', '.join(missing)}")
