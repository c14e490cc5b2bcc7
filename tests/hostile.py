"""Hands in every hostile submission to one class, grades the class, and looks for harm.

    python tests/hostile.py --json

prints ``cases``, ``escapes`` (read, reached, left or shown what it must not), ``points_gained`` (cases with more points than
their answers are worth), ``others_harmed`` (others' scores or files changed, or the batch stopped), all but the first to be
0; and ``weak_caught``: cases that the same look-out catches when the grader is weakened as the case says.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import nbformat

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.hostile_cases import CASES, SEND, Case, cell  # noqa: E402
from tests.instructor.conftest import RIGHT  # noqa: E402

SOURCE = ROOT / "tests" / "check" / "course" / "solutions" / "90_ticks"
DAEMON = "86399.125"  # seconds that a left-behind "sleep" would sleep: its name in the process list
HONEST = "ada"


class Stage:
    """A course in a temporary folder, and the things outside it that hostile code may try to reach."""

    def __init__(self, folder: Path) -> None:
        from instructor.author.build import build_lab

        self.folder, self.course = folder, folder / "course"
        self.labs = folder / "labs"
        build_lab(SOURCE, self.labs)
        os.environ.update(TICKBENCH_LABS=str(self.labs), TICKBENCH_SOLUTIONS=str(SOURCE.parent), CANARY="canary-env")
        for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
            os.environ.pop(name, None)
        (folder / "private.txt").write_text("canary-private")
        self.helper = subprocess.Popen(["sleep", "3000"])
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.abstract = socket.socket(socket.AF_UNIX)
        self.abstract.bind(f"\0tickbench-{os.getpid()}")
        self.abstract.listen()

    def close(self) -> None:
        self.helper.kill()
        self.helper.wait()
        self.listener.close()
        self.abstract.close()
        sweep()

    def names(self) -> dict[str, Any]:
        """What the hostile code may use: the worst case, in which it knows where everything is."""
        from simkit.check import load_lab

        return {
            "COURSE": str(self.course),
            "HOME": str(self.folder),
            "SOURCE": str(SOURCE),
            "HELPER": self.helper.pid,
            "PORT": self.listener.getsockname()[1],
            "ABSTRACT": f"tickbench-{os.getpid()}",
            "DAEMON": DAEMON,
            "ADA": load_lab(self.labs / "90_ticks")["90-a"].own(HONEST).ticks,
        }

    def make(self, course: Path) -> None:
        """A fresh course folder with the honest learner's work in it."""
        from click.testing import CliRunner

        from simkit.cli import main

        self.course = course
        result = CliRunner().invoke(main, ["course", str(course)])
        assert result.exit_code == 0, result.output
        self.hand_in(HONEST, Case("honest", "", answers=RIGHT))

    def hand_in(self, learner: str, case: Case) -> Path:
        notebook = nbformat.read(str(self.labs / "90_ticks" / "90_ticks.ipynb"), as_version=4)
        setup = "\n".join(f"{name} = {value!r}" for name, value in self.names().items())
        notebook.cells.insert(2, nbformat.v4.new_code_cell(setup))
        notebook.cells.insert(5, nbformat.v4.new_code_cell(masked(case.code)))
        for exercise, code in case.answers.items():
            cell(notebook, f"{exercise}-answer").source = code
        if case.change is not None:
            case.change(notebook)
        folder = self.course / "submitted" / learner / "90_ticks"
        folder.mkdir(parents=True)
        path = folder / "90_ticks.ipynb"
        if path.name not in case.files:
            path.write_text(nbformat.writes(notebook), encoding="utf-8")
        for name, content in case.files.items():
            self._put(folder / name, content)
        return path

    def _put(self, path: Path, content: Any) -> None:
        if isinstance(content, str):
            path.write_text(content)
        elif content[0] == "link":
            path.symlink_to(content[1].replace("COURSE", str(self.course)))
        elif content[0] == "pipe":
            os.mkfifo(path)
        else:
            with open(path, "wb") as file:
                file.truncate(content[1])


def masked(code: str) -> str:
    """The code with its mark in two parts, so that a traceback which quotes it does not count as an escape."""
    return code.replace("'ESCAPED'", "'ESC' 'APED'")


def sweep() -> int:
    """End what hostile code left running; how many there were."""
    left = 0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if DAEMON in (folder / "cmdline").read_text().split("\0"):
                os.kill(int(folder.name), 9)
                left += 1
        except (OSError, ValueError):
            continue
    return left


# --- the look-out: the same for the real and the weakened grader ---

CANARIES = ("canary-env", "canary-private", "mine.ticks * 0.025\\n### END", "let everyone guess")
LIVE = ("<script", "<img src=x onerror", "<b onclick", "<svg", "<iframe")


def seen_escapes(stage: Stage, notebook: Any) -> list[str]:
    """What shows in a graded notebook, or beside the grader, that must not."""
    found = []
    text = json.dumps([c.get("outputs", []) for c in notebook.cells])
    if "ESCAPED" in text or any(canary in text for canary in CANARIES):
        found.append("the code got where it must not")
    if (stage.course / "left_by_hostile").exists():
        (stage.course / "left_by_hostile").unlink()
        found.append("a file was left in the course")
    if sweep():
        found.append("a process was left running")
    return found + live_markup(notebook)


def live_markup(notebook: Any) -> list[str]:
    """Markup of the learner's that a browser would act on."""
    for c in notebook.cells:
        shown = [c.source] if c.cell_type == "markdown" else []
        for output in c.get("outputs", []):
            data = output.get("data", {})
            shown += [str(text) for mime, text in data.items() if mime not in ("text/plain", "image/png")]
        if any(mark in text for text in shown for mark in LIVE):
            return ["live markup is shown"]
        if any("application/javascript" in o.get("data", {}) for o in c.get("outputs", [])):
            return ["a program is shown"]
    return []


def size_of(notebook: Any) -> int:
    return len(nbformat.writes(notebook))


# --- the real grader ---


def real(stage: Stage) -> dict[str, dict[str, Any]]:
    """Grade all cases as one class; per case: escapes, gained, harmed."""
    import dataclasses

    from instructor.grading import hands
    from instructor.grading.batch import Batch
    from instructor.grading.course import Course
    from instructor.grading.hands import LocalHands
    from instructor.run import best_runner

    hands.LIMITS = dataclasses.replace(hands.LIMITS, cell_seconds=3.0, seconds=60.0, memory=4 * 1024**3)
    stage.make(stage.folder / "course")
    cases = {f"m{index:02}": case for index, case in enumerate(CASES)}
    for learner, case in cases.items():
        stage.hand_in(learner, case)
    runner = best_runner()
    try:
        course = Course(stage.course)
        outcomes = {o.learner: o for o in Batch(course, LocalHands(runner, 2)).run(stage.course / "submitted")}
    finally:
        runner.close()
    honest = outcomes.get(HONEST)
    others = [] if honest is not None and honest.score == honest.max_score else ["the honest learner's score changed"]
    if stage.helper.poll() is not None:
        others.append("a process of the grader was ended")
    others += [
        f"{learner} has scores that nobody gave" for learner in scores(stage.course) if learner not in {*cases, HONEST}
    ]
    found = {}
    for learner, case in cases.items():
        outcome = outcomes.get(learner)
        path = stage.course / "autograded" / learner / "90_ticks" / "90_ticks.ipynb"
        if outcome is None or not outcome.graded or not path.is_file():
            found[learner] = {"escapes": [], "gained": 0, "harmed": [f"not graded: {outcome and outcome.error}"]}
            continue
        notebook = nbformat.read(str(path), as_version=4)
        given = sum(scores(stage.course)[learner].values())
        harmed = ["a huge notebook"] if size_of(notebook) > 2_000_000 else []
        found[learner] = {
            "escapes": seen_escapes(stage, notebook) + kept_links(stage, outcome),
            "gained": given - case.honest,
            "harmed": harmed + (["lost points"] if given < case.honest else []),
        }
    found[HONEST] = {"escapes": [], "gained": 0, "harmed": others}
    return found


def scores(course: Path) -> dict[str, dict[str, float]]:
    from nbgrader.api import Gradebook

    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        return {
            s.student.id: {g.name: g.auto_score for n in s.notebooks for g in n.grades}
            for s in book.assignment_submissions("90_ticks")
        }


def kept_links(stage: Stage, outcome: Any) -> list[str]:
    """Solutions among the kept files of the attempts would mean that a link was followed."""
    files = stage.course / ".tickbench" / "attempts" / "files"
    return (
        ["a link was followed"]
        if any(b"let everyone guess" in p.read_bytes() for p in files.rglob("*") if p.is_file())
        else []
    )


# --- the weakened grader ---


def weak(stage: Stage, case: Case, index: int) -> list[str]:
    """Grade one case with the weakness that it names; what the look-out sees."""
    stage.make(stage.folder / f"weak{index:02}")
    (stage.course / "gradebook.db").write_bytes(b"")
    path = stage.hand_in("mal", case)
    return {"runner": weak_runner, "stock": weak_stock, "raw": weak_raw, "display": weak_display, "links": weak_links}[
        case.weak
    ](stage, case, path)


def weak_runner(stage: Stage, case: Case, path: Path) -> list[str]:
    """No sandbox, and no limits to speak of."""
    import dataclasses
    import sqlite3

    from instructor.grading.engine import grade_notebook
    from instructor.judge import Judges
    from instructor.run import PlainRunner
    from simkit.check import load_lab
    from simkit.check.cells import read_notebook
    from simkit.check.run import Limits

    with sqlite3.connect(stage.course / "gradebook.db") as book:
        book.execute("create table if not exists grade (points)")
    limits = dataclasses.replace(
        Limits(), cell_seconds=30.0, seconds=60.0, memory=-1, file_bytes=-1, cpu_seconds=-1, restarts=0
    )
    folder = stage.labs / "90_ticks"
    if "leaves a file" in case.name:
        Path("/tmp/left").touch()
    with Judges(b"weak") as judges:
        graded = grade_notebook(
            load_lab(folder),
            folder,
            read_notebook(folder / "90_ticks.ipynb"),
            read_notebook(path),
            "mal",
            PlainRunner(),
            judges,
            limits,
        )
    Path("/tmp/left").unlink(missing_ok=True)
    return seen_escapes(stage, graded.notebook)


def weak_stock(stage: Stage, case: Case, path: Path) -> list[str]:
    """The learner's process decides: the submission as it is, its outputs read by nbgrader's own rules."""
    from nbclient import NotebookClient
    from nbclient.exceptions import DeadKernelError
    from nbgrader.utils import determine_grade, is_grade

    shutil.copy(stage.labs / "90_ticks" / "exercises.py", path.parent)
    notebook = nbformat.read(str(path), as_version=4)
    os.environ["TICKBENCH_LEARNER"] = "mal"
    quiet = ["--log-level=ERROR"]
    try:
        NotebookClient(
            notebook,
            timeout=60,
            allow_errors=True,
            resources={"metadata": {"path": str(path.parent)}},
            extra_arguments=quiet,
        ).execute()
    except DeadKernelError:
        return ["points are lost: the kernel is dead"]
    finally:
        del os.environ["TICKBENCH_LEARNER"]
    given = 0.0
    for c in notebook.cells:
        if is_grade(c):
            try:
                given += determine_grade(c)[0] or 0.0
            except (KeyError, ValueError):
                return ["the whole submission fails"]
    found = [f"{given:g} points instead of {case.honest:g}"] if given != case.honest else []
    found += ["a huge notebook"] if size_of(notebook) > 2_000_000 else []
    return found + ["the code got where it must not"] * (
        "ESCAPED" in json.dumps([c.get("outputs", []) for c in notebook.cells])
    )


def weak_raw(stage: Stage, case: Case, path: Path) -> list[str]:
    """The judge gets the object itself, or a netlist that nobody has checked."""
    from simkit.check import AnswerFault, load_lab
    from simkit.netlist import json_form

    lab = load_lab(stage.labs / "90_ticks")
    names: dict[str, Any] = {}
    if case.answers:
        exercise, code = next(iter(case.answers.items()))
        exec(code, names)
        answer = names[lab[exercise].answer]
    else:
        notebook = nbformat.read(str(path), as_version=4)
        text = cell(notebook, "90-c-answer").source
        exec(SEND + next(line for line in text.splitlines() if line.startswith("DATA = ")), names)
        exercise = "90-c"
        checked, json_form.checked = json_form.checked, lambda netlist: netlist
        try:
            answer = json_form.from_json(names["DATA"])
        except ValueError:
            answer = names["DATA"]
        finally:
            json_form.checked = checked
    try:
        results = list(lab[exercise].judge(answer, lab[exercise].own("mal"), 1))
    except (
        AnswerFault,
        MemoryError,
        ArithmeticError,
        LookupError,
        ValueError,
        TypeError,
        RecursionError,
        AttributeError,
    ) as error:
        return [f"the judge fails: {type(error).__name__}"]
    return ["points are gained"] if any(result.passed for result in results) else []


def weak_display(stage: Stage, case: Case, path: Path) -> list[str]:
    """What learners wrote is shown as it is, pictures and pages included, as where a person grades code."""
    from instructor.grading import engine

    real = engine.make_harmless, engine.graded_by_hand
    engine.make_harmless = lambda notebook, release: None
    engine.graded_by_hand = lambda cell: cell.cell_type == "code"
    try:
        return weak_runner(stage, case, path)
    finally:
        engine.make_harmless, engine.graded_by_hand = real


def weak_links(stage: Stage, case: Case, path: Path) -> list[str]:
    """Read the folder as a careless collector would."""
    found = []
    for entry in path.parent.iterdir():
        if entry.is_dir():
            found += ["a link was followed"] * any(
                b"let everyone guess" in p.read_bytes() for p in entry.rglob("*") if p.is_file()
            )
        elif entry.is_fifo():
            found.append("reading would never end")
        elif entry.stat().st_size > 100 * 1024**2:
            found.append("a huge file would be read")
        else:
            found += ["a link was followed"] * (b"let everyone guess" in entry.read_bytes())
    return found


@contextmanager
def stage() -> Any:
    # Not below a private folder: children have another user id, and must fail for better reasons than that.
    with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
        os.chmod(folder, 0o755)
        made = Stage(Path(folder))
        try:
            yield made
        finally:
            made.close()


def run(with_weak: bool, only: str = "", weakened: Sequence[str] = ("",)) -> dict[str, Any]:
    """Everything; ``only`` keeps the cases with this in their name, ``weakened`` those that the weak grader gets, too."""
    from instructor.grading import engine

    # Every cell is run: otherwise some attacks would never begin.
    engine.needed_cells = lambda cells, read=(): list(cells)
    if only:
        CASES[:] = [case for case in CASES if only in case.name]
    begun = time.monotonic()
    with stage() as made:
        found = real(made)
        tried = [(index, case) for index, case in enumerate(CASES) if any(name in case.name for name in weakened)]
        unseen = [case.name for index, case in tried if with_weak and not weak(made, case, index)]
    names = {f"m{index:02}": case.name for index, case in enumerate(CASES)} | {HONEST: "the honest learner"}
    bad = {
        names[learner]: result
        for learner, result in found.items()
        if result["escapes"] or result["gained"] > 0 or result["harmed"]
    }
    return {
        "cases": len(CASES),
        "escapes": sum(len(r["escapes"]) for r in found.values()),
        "points_gained": sum(r["gained"] > 0 for r in found.values()),
        "others_harmed": sum(len(r["harmed"]) for r in found.values()),
        "weak_caught": len(tried) - len(unseen) if with_weak else None,
        "weak_not_caught": unseen,
        "bad": bad,
        "seconds": round(time.monotonic() - begun, 1),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--no-weak", action="store_true", help="leave out the runs with a weakened grader")
    parser.add_argument(
        "--weak", action="append", help="a weakened grader only for cases with this in their name (may be repeated)"
    )
    parser.add_argument("--only", default="", help="only cases with this in their name")
    parser.add_argument(
        "--sandbox", default="", help="only this one: zygote, bubblewrap or landlock (the best if not given)"
    )
    options = parser.parse_args()
    if options.sandbox:
        import instructor.run as sandboxes

        kind = getattr(sandboxes, f"{options.sandbox.capitalize()}Runner")
        sandboxes.SANDBOXES = (kind,)
    result = run(not options.no_weak, options.only, options.weak or [""])
    print(json.dumps(result, indent=1) if options.json else "\n".join(f"{k}: {v}" for k, v in result.items()))
    bad = result["escapes"] + result["points_gained"] + result["others_harmed"] + len(result["weak_not_caught"])
    raise SystemExit(1 if bad else 0)


if __name__ == "__main__":
    main()
