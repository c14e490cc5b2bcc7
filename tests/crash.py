"""Kills the grader with signal 9 at random moments, runs it again, and counts what was lost.

    python tests/crash.py --kills 100 --json

prints ``kills``, ``midway`` (how many of them fell between the first and the last submission that the killed run would have graded),
``lost`` (submissions without their right scores, or kept attempts that cannot be read back),
``duplicated`` (rows or attempts that are there twice), ``manual_changed`` (points and comments given by hand that are not as
they were), and ``orphans`` (processes of killed runs that lived on, and what they are): all but the first two to be 0.
Every fifth killed run has a warmed process of its own, and may be killed while that starts.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from instructor.run import best_runner  # noqa: E402
from tests.instructor.conftest import CLASS, SCORES, SOURCE  # noqa: E402

LEARNERS = {f"{name}{number}": name for number in (1, 2) for name in CLASS}
BY_HAND = {"bob1": 1.5, "dee2": 0.25}
COMMENT = "seen in the lab"
PATIENCE_S = 30.0  # a judge or a warmed process that was just started notices when it has imported what it needs
MARK = "TICKBENCH_CRASH_TEST"  # in the environment of every process that a run starts


def prepare(folder: Path) -> Path:
    """A course in which some points and comments were given by hand, and everything has been handed in anew since."""
    import nbformat
    from nbgrader.api import Gradebook

    from instructor.author.build import build_lab

    build_lab(SOURCE, folder / "labs")
    os.environ.update(TICKBENCH_LABS=str(folder / "labs"), TICKBENCH_SOLUTIONS=str(SOURCE.parent))
    course = folder / "course"
    for learner, name in LEARNERS.items():
        notebook = nbformat.read(str(folder / "labs" / "90_ticks" / "90_ticks.ipynb"), as_version=4)
        for exercise, code in CLASS[name].items():
            next(c for c in notebook.cells if c["id"] == f"{exercise}-answer").source = code
        target = course / "submitted" / learner / "90_ticks"
        target.mkdir(parents=True)
        nbformat.write(notebook, str(target / "90_ticks.ipynb"))
    from instructor.grading.course import Course
    from instructor.grading.writer import Writer

    with Writer(Course(course)) as writer:
        writer.prepare("90_ticks")
    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        for learner, points in BY_HAND.items():
            book.add_student(learner)
            book.add_submission("90_ticks", learner)
            book.find_grade("90-b", "90_ticks", "90_ticks", learner).manual_score = points
            book.find_comment("90-b-answer", "90_ticks", "90_ticks", learner).manual_comment = COMMENT
        book.db.commit()
    return course


def grade(course: Path, runner: Any) -> None:
    from instructor.grading.batch import Batch
    from instructor.grading.course import Course
    from instructor.grading.hands import LocalHands
    from instructor.grading.writer import back_up

    back_up(Course(course))
    for _ in Batch(Course(course), LocalHands(runner, 2)).run(course / "submitted"):
        pass


def killed(course: Path, runner: Any, after: float) -> bool:
    """Grade in a process of its own, killed after so many seconds; True if it had not ended by then.

    ``runner`` None: with a warmed process of its own.
    """
    child = os.fork()
    if child == 0:
        os.setsid()
        try:
            grade(course, runner or best_runner())
        finally:
            os._exit(0)
    until = time.monotonic() + after
    while time.monotonic() < until:
        if os.waitpid(child, os.WNOHANG)[0]:
            return False
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True


def graded(course: Path) -> int:
    """How many submissions have been graded so far."""
    return sum(1 for _ in (course / ".tickbench" / "graded").glob("*/*.json"))


def damage(course: Path) -> Counter[str]:
    """What is wrong in a course that should be graded in full."""
    from nbgrader.api import Gradebook

    found: Counter[str] = Counter()
    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        submissions = book.assignment_submissions("90_ticks")
        found["duplicated"] += len(submissions) - len({s.student.id for s in submissions})
        found["duplicated"] += len(book.students) - len({s.id for s in book.students})
        graded = {
            s.student.id: sorted((g.name, g.auto_score) for n in s.notebooks for g in n.grades) for s in submissions
        }
        manual = {
            (s.student.id, g.name): g.manual_score
            for s in submissions
            for n in s.notebooks
            for g in n.grades
            if g.manual_score is not None
        }
        comments = {
            s.student.id: c.manual_comment
            for s in submissions
            for n in s.notebooks
            for c in n.comments
            if c.manual_comment
        }
    for learner, name in LEARNERS.items():
        found["lost"] += [points for _, points in graded.get(learner, [])] != SCORES[name]
        found["lost"] += not _readable(course / "autograded" / learner / "90_ticks" / "90_ticks.ipynb")
    found["manual_changed"] += manual != {(learner, "90-b"): points for learner, points in BY_HAND.items()}
    found["manual_changed"] += comments != dict.fromkeys(BY_HAND, COMMENT)
    found.update(_attempts(course))
    return found


def _readable(path: Path) -> bool:
    try:
        return bool(json.loads(path.read_text(encoding="utf-8"))["cells"])
    except (OSError, ValueError, KeyError):
        return False


def _attempts(course: Path) -> Counter[str]:
    import hashlib

    found: Counter[str] = Counter()
    folder = course / ".tickbench" / "attempts"
    entries = []
    for line in (folder / "attempts.jsonl").read_text(encoding="utf-8").splitlines():
        try:
            entries.append(json.loads(line))
        except ValueError:
            continue  # torn by a kill; the attempt is logged again below it
    found["duplicated"] += len(entries) - len({entry["attempt"] for entry in entries})
    found["lost"] += len(set(LEARNERS) - {entry["learner"] for entry in entries})
    for entry in entries:
        for blob in entry["files"].values():
            path = folder / "files" / blob[:2] / blob[2:]
            found["lost"] += not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != blob
    return found


def orphans() -> list[str]:
    """Processes of killed runs that live on: all that bear this run's mark, without what the runner itself keeps warm."""
    until = time.monotonic() + PATIENCE_S
    while _marked() and time.monotonic() < until:
        time.sleep(0.02)
    return sorted(_marked().values())


def _marked() -> dict[int, str]:
    """Process id and command."""
    import psutil

    kept = {os.getpid(), *(child.pid for child in psutil.Process().children())}
    found = {}
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if f"{MARK}={os.environ[MARK]}".encode() in (process / "environ").read_bytes():
                found[int(process.name)] = (process / "cmdline").read_bytes().replace(b"\0", b" ").decode()[:80]
        except OSError:
            continue  # it has ended, or is another user's
    return {pid: command for pid, command in found.items() if pid not in kept}


def run(kills: int, seed: int) -> dict[str, Any]:
    warnings.simplefilter("ignore")
    os.environ[MARK] = f"{os.getpid()}"
    rng = random.Random(seed)
    totals: Counter[str] = Counter(midway=0, lost=0, duplicated=0, manual_changed=0)
    with tempfile.TemporaryDirectory(prefix="crash-") as name:
        os.chmod(name, 0o755)
        fresh = prepare(Path(name))
        runner = best_runner()
        try:
            done = rounds = 0
            span = _measure(fresh, Path(name) / "first", runner)
            cold = _measure(fresh, Path(name) / "cold", None)
            while done < kills:
                course = Path(shutil.copytree(fresh, Path(name) / f"round{rounds}"))
                for _ in range(4):
                    if done < kills:
                        own = done % 5 == 4
                        before = graded(course)
                        if killed(course, None if own else runner, rng.uniform(0, cold if own else span)):
                            done += 1
                            totals["midway"] += before < graded(course) < len(LEARNERS)
                grade(course, runner)
                totals += damage(course)
                shutil.rmtree(course)
                rounds += 1
            alive = orphans()
        finally:
            runner.close()
    names = ("midway", "lost", "duplicated", "manual_changed")
    found = {"kills": done, "rounds": rounds, "seed": seed, **{name: totals[name] for name in names}}
    return found | {"orphans": len(alive), "alive": alive}


def _measure(fresh: Path, course: Path, runner: Any) -> float:
    """Seconds that a whole run takes, so that kills fall all over it."""
    shutil.copytree(fresh, course)
    begun = time.monotonic()
    killed(course, runner, math.inf)
    took = time.monotonic() - begun
    assert not +damage(course), damage(course)
    return took


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    options = parser.parse_args()
    result = run(options.kills, options.seed)
    print(json.dumps(result) if options.json else "\n".join(f"{k}: {v}" for k, v in result.items()))
    raise SystemExit(1 if any(result[k] for k in ("lost", "duplicated", "manual_changed", "orphans")) else 0)


if __name__ == "__main__":
    main()
