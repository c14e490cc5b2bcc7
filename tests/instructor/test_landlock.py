"""The fallback without namespaces: what code inside it cannot do."""

from __future__ import annotations

import os
import textwrap

import pytest

from instructor.run import LandlockRunner
from simkit.check.run import Cell, Job, Limits

TRIES = {
    "read a file of the system": "open('/etc/passwd').read()",
    "read another folder": "open({outside!r}).read()",
    "list another folder": "os.listdir(os.path.dirname({outside!r}))",
    "write there": "open({outside!r}, 'w')",
    "read about processes": "os.listdir('/proc')",
    "open a network socket": "socket.socket(socket.AF_INET)",
    "open a local socket": "socket.socket(socket.AF_UNIX)",
    "signal the grader": "os.kill({pid}, 0)",
    "leave its group": "os.setsid()",
    "write into the kit": "open(simkit.__file__, 'a')",
    "limit another process": "resource.prlimit({pid}, resource.RLIMIT_NOFILE)",
}
CELL = """
import os, socket, resource, simkit
try:
    {what}
    print("DONE")
except (OSError, PermissionError) as error:
    print("refused", type(error).__name__)
"""


def test_what_is_outside_stays_out_of_reach(tmp_path):
    lab = tmp_path / "lab"
    lab.mkdir()
    (lab / "data.txt").write_text("for the lab")
    outside = tmp_path / "outside.txt"
    outside.write_text("private")
    for folder in (tmp_path, lab):
        folder.chmod(0o755)
    outside.chmod(0o666)
    runner = LandlockRunner()
    if runner.missing():
        pytest.skip(runner.missing())
    names = {"outside": str(outside), "pid": os.getpid()}
    cells = [Cell(i, CELL.format(what=what.format(**names))) for i, what in enumerate(TRIES.values())]
    cells.append(Cell(99, textwrap.dedent("print(open('data.txt').read()); open('mine', 'w').write('x')")))
    result = runner.run(Job(cells, str(lab), "ada", Limits(restarts=0)))
    said = {name: result.outputs[i][0]["text"] for i, name in enumerate(TRIES)}
    assert all(text.startswith("refused") for text in said.values()), said
    assert result.outputs[99][0]["text"].strip() == "for the lab" and result.ends[99][0] == "ok"
    assert outside.read_text() == "private" and not (lab / "mine").exists()
