"""On a computer without what only POSIX systems have: the learner's commands, checks and builds do the same there.

``elsewhere/sitecustomize.py`` takes those modules and functions from the kit, in every process started with that folder on its path.  What this
cannot show is how Windows and macOS themselves behave.
"""

import ast
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from tests.cli.conftest import RIGHT

ROOT = Path(__file__).parents[2]
COMMAND = "from simkit.cli import main; main()"
RUN_IN = "Lüfter haus/ä b"
PROGRAM = """def watch(host, limit):
    host.limit = limit
    host.alarm.wait()
    host.alarm.acknowledge()
    return host.count
check("91-a", watch)"""
LEVEL = """def level(samples):
    return float(np.sqrt(np.mean(samples ** 2)))
check("91-b", level)"""


@pytest.fixture
def there(tmp_path):
    folder = tmp_path / RUN_IN
    folder.mkdir(parents=True)
    return folder


def python(code, *arguments, folder, timeout=120, **more):
    """Run code there; the process as it ended."""
    path = os.pathsep.join([str(Path(__file__).parent / "elsewhere"), str(ROOT)])
    environment = {**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "cp1252", **more}
    return subprocess.run(
        [sys.executable, "-X", "warn_default_encoding", "-c", code, *map(str, arguments)],
        cwd=folder,
        env=environment,
        capture_output=True,
        encoding="cp1252",
        timeout=timeout,
        check=False,
    )


def good(done, code=0):
    assert done.returncode == code, done.stderr[-3000:]
    ours = [
        line for line in done.stderr.splitlines() if "EncodingWarning" in line and f"{os.sep}simkit{os.sep}" in line
    ]
    assert ours == []
    return done.stdout


def test_the_kit_is_without_them_there(there):
    code = """import simkit.cli.start as one, simkit.check.run.pipes as other
try:
    one.os.fork
except AttributeError:
    print("no fork,", one.os.name)
try:
    other.select.select([0], [], [], 0)
except OSError as error:
    print(error.errno)"""
    assert good(python(code, folder=there)).split("\n")[:2] == ["no fork, nt", "10038"]


def test_start_check_and_progress_there(there):
    assert "1 lab copied to kurs" in good(python(COMMAND, "start", "kurs", "--copy-only", folder=there))
    assert "ok       a port for JupyterLab" in good(python(COMMAND, "doctor", folder=there))
    assert json.loads((there / "kurs" / ".tickbench" / "editions.json").read_text())["90_ticks/exercises.py"]
    lab = there / "kurs" / "90_ticks"
    book = nbformat.read(lab / "90_ticks.ipynb", as_version=4)
    for cell in book.cells:
        cell.source = (
            RIGHT.get(cell["id"].removesuffix("-answer"), cell.source)
            if cell["id"].endswith("-answer")
            else cell.source
        )
    nbformat.write(book, lab / "90_ticks.ipynb")
    said = good(python(COMMAND, "check", "kurs/90_ticks/90_ticks.ipynb", folder=there), 1)
    assert (
        "4 of 7 points" in said and "? passed" in said
    )  # this stream cannot show the mark, and the word stands beside it
    judged = good(python("from simkit.check import check; print(check('90-a', 1.0).status)", folder=lab))
    assert judged.strip().endswith("judged")
    assert "90  Counting ticks" in good(python(COMMAND, "progress", "kurs", folder=there))


def test_programs_and_an_endless_cell_there(there):
    """Answers that are code, in a process that cannot be forked; a time limit without timers that give a signal."""
    shutil.copy(ROOT / "tests" / "check" / "live_lab.py", there / "exercises.py")
    start = "import numpy as np\nfrom simkit.check import check"
    ever = "while True:\n    try:\n        while True: pass\n    except BaseException: pass"
    cells = [nbformat.v4.new_code_cell(source) for source in (start, PROGRAM, ever, LEVEL)]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), there / "live.ipynb")
    said = good(python(COMMAND, "check", "live.ipynb", "--json", "--cell-seconds", 6, folder=there), 3)
    (found,) = json.loads(said)["notebooks"]
    assert {one["id"]: one["score"] for one in found["exercises"]} == {"91-a": 2, "91-b": 2, "91-c": 0}
    assert "was stopped" in found["error"]


DESIGN = """from simkit import Design, DigitalOut, Reg, clocked, unsigned

class Blink(Design):
    lamp = DigitalOut("Lämpchen")
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1
        self.lamp = self.n > 127
"""
BUILD = """import time
from blink import Blink
from simkit.build import Cancelled, build
print(build(Blink))
begun = time.monotonic()
try:
    build(Blink, again=True, cancel=lambda: time.monotonic() > begun + 0.5)
except Cancelled as end:
    print(end)"""


def test_a_build_there_and_one_that_is_stopped(there):
    from simkit.build.tools import cache_folder, is_warm, warm_up

    if not is_warm():
        warm_up()
    (there / "blink.py").write_text(DESIGN, encoding="utf-8")
    cache = there / "C: builds"  # a colon ends a folder's name for the tools
    cache.mkdir()
    for tools in cache_folder().glob("tools-*"):
        (cache / tools.name).symlink_to(tools, target_is_directory=True)
    said = good(python(BUILD, folder=there, TICKBENCH_CACHE=str(cache)))
    assert "flip-flops" in said and "MHz" in said
    assert said.strip().endswith("stopped during yosys")
    assert not list((cache / "builds").glob(".making-*"))


GUARDED = {
    "fcntl": {"check/journal.py", "build/tools.py"},
    "resource": {"check/run/session.py"},
}
"""Where the kit imports what Windows lacks, each time inside of a function and with another way out."""


def test_no_module_of_the_kit_imports_them_at_the_top():
    found = {name: set() for name in GUARDED}
    for path in (ROOT / "simkit").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        top = {id(node) for node in tree.body}
        for node in ast.walk(tree):
            names = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [getattr(node, "module", None)]
                if isinstance(node, ast.ImportFrom) and not node.level
                else []
            )
            for name in {"fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "readline", "syslog"} & set(names):
                assert id(node) not in top, f"{path} imports {name} for everybody"
                found.setdefault(name, set()).add(path.relative_to(ROOT / "simkit").as_posix())
    assert found == GUARDED


WINDOWS = r"C:\Users\Jürgen <b>\new labs\x.py"


@pytest.mark.parametrize("path", [WINDOWS, "/Users/ä b/<i>labs/x.py"])
def test_names_of_files_in_texts_data_and_pages(path):
    """Backslashes, drive letters and signs that mean something in HTML come through as they are."""
    from simkit import HardwareError, compile_design
    from simkit.check import Criterion, Exercise, answers, collect, judge
    from simkit.check.card import bundle
    from simkit.emit import verilog
    from simkit.netlist import from_json, to_json

    names = written_at(path, DESIGN)
    netlist = compile_design(names["Blink"])
    shown = Path(path).name  # here the whole name for a path of Windows
    assert {reg.loc.file for reg in from_json(to_json(netlist)).regs} == {shown}
    text = verilog.emit(netlist).text
    assert f"// {shown}:5" in text and json.dumps(shown)[1:-1] in text
    wrong = written_at(path, DESIGN.replace("self.n > 127", "str(self.n)"))["Blink"]
    with pytest.raises(HardwareError) as told:
        compile_design(wrong)
    assert told.value.filename == path
    exercise = Exercise(
        "9-a", "T", 1, "o", kind=answers.Design(), judge=lambda *given: [], criteria=[Criterion("c", "c", 1)]
    )
    page = bundle(judge(exercise, collect(exercise, wrong), "ada", 1))["text/html"]
    assert "<b>" not in page and "<i>" not in page


def written_at(path, source):
    """The names that a file of this path would make, if it were there."""
    import linecache

    linecache.cache[path] = (len(source), None, source.splitlines(keepends=True), path)
    names = {"__name__": "made_there"}
    exec(compile(source, path, "exec"), names)
    return names


def test_the_start_page_links_with_slashes(tmp_path, monkeypatch):
    """On Windows a folder's name has backslashes; a link in a page has slashes."""
    from pathlib import PureWindowsPath

    from simkit.check import desk

    lab = type(
        "Lab", (), {"number": "05", "title": "Ä <b>", "minutes": "90", "state": "begun", "score": 1, "points": 2}
    )()
    lab.notebook = type("There", (PureWindowsPath,), {"is_file": lambda self: True})(r"C:\my labs\05_ä b\05.ipynb")
    monkeypatch.setattr(desk, "needed", lambda lab, there: "")
    cells = desk._cells(lab, PureWindowsPath(r"C:\my labs"), {"05"})
    assert 'href="05_%C3%A4%20b/05.ipynb"' in cells and "<b>" not in cells
