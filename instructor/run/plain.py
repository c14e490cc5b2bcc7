"""Runs notebooks as ordinary processes: limits, but no protection.  For notebooks that the instructor trusts."""

from __future__ import annotations

import dataclasses
import shutil
import tempfile
from pathlib import Path

from simkit.check.run import Job, RunResult, run_job
from simkit.check.run.live import Judge


class PlainRunner:
    """Runs each job in a fresh copy of the lab's folder, with the rights of whoever grades."""

    protects = "nothing: notebooks run with your own rights"

    def missing(self) -> str:
        return ""

    def run(self, job: Job, judge: Judge | None = None) -> RunResult:
        with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch:
            folder = Path(scratch) / "lab"
            shutil.copytree(
                job.folder,
                folder,
                ignore=shutil.ignore_patterns("*.ipynb", "lab.md", "wrong_answers.py", "__pycache__"),
            )
            return run_job(dataclasses.replace(job, folder=str(folder)), judge=judge)

    def close(self) -> None:
        """Nothing is held."""
