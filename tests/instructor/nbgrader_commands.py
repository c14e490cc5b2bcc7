"""nbgrader's own commands, each in a process of its own that finds nbgrader imported.

``python -m nbgrader`` spends six seconds of processor time on imports.  Python's fork server does that once: it has nothing
of the tests in it, and each command is forked from it.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import tempfile
from pathlib import Path

_forks = multiprocessing.get_context("forkserver")
_forks.set_forkserver_preload(["nbgrader.apps", "instructor.nbgrader_config", "instructor.grading.steps"])


def nbgrader(folder: Path, *arguments: str) -> str:
    """Run a command in ``folder`` with the test's environment, as an instructor or learner would; what it said.

    AssertionError if it fails.
    """
    with tempfile.TemporaryDirectory() as scratch:
        said = Path(scratch, "said")
        process = _forks.Process(target=_command, args=(str(folder), arguments, dict(os.environ), str(said)))
        process.start()
        process.join(300)
        if process.is_alive():
            process.kill()
            process.join()
        text = said.read_text(errors="replace")
    assert process.exitcode == 0, text
    return text


def _command(folder: str, arguments: tuple[str, ...], environment: dict[str, str], said: str) -> None:
    from nbgrader.apps import NbGraderApp

    output = os.open(said, os.O_WRONLY | os.O_CREAT)
    os.dup2(output, 1)
    os.dup2(output, 2)
    os.environ.clear()
    os.environ.update(environment, PATH=os.pathsep.join([str(Path(sys.executable).parent), environment["PATH"]]))
    os.chdir(folder)
    sys.argv = ["nbgrader", *arguments]
    NbGraderApp.launch_instance(list(arguments))
