"""Proof that a lab does what its author says: the solution scores full marks, the learner's version nothing, and each
likely wrong answer fails the criterion, with the hint, that is meant to catch it."""

from __future__ import annotations

import importlib.util
import re
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simkit.check import Answer, AuthorError, Lab, Verdict
from simkit.check.cells import checked_exercise, code_cells
from simkit.check.collected import answer_at, answers_of
from simkit.check.draw import public_seed
from simkit.check.rebuild import is_answer
from simkit.check.run import Cell, Job, JudgeProcess, JudgeTask, Limits, RunResult, run_job
from simkit.check.run.live import ChildCaller
from simkit.check.wrong import Allowed, WrongAnswer

from .build import build_lab, for_learners, out_of_date, with_solutions
from .prose import faults_of_text, words_kept_out
from .source import Source, read_source

BUDGET = 60.0
"""Seconds that a lab's whole solution may run."""
ALT = re.compile(r'<img [^>]*alt="[^"]')
LIMITS = Limits(cell_seconds=120.0, seconds=1200.0, cpu_seconds=-1, restarts=0)


@dataclass
class Proof:
    """What was found for one lab.  ``faults`` are lines for the author; a lab without any is in order."""

    lab: str
    exercises: int = 0
    solution_full: bool = False
    release_zero: bool = False
    wrong_answers: int = 0
    wrong_answers_caught: int = 0
    seconds: float = 0.0
    faults: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        return {
            "lab": self.lab,
            "exercises": self.exercises,
            "solution_full": self.solution_full,
            "release_zero": self.release_zero,
            "wrong_answers": self.wrong_answers,
            "wrong_answers_caught": self.wrong_answers_caught,
            "seconds": round(self.seconds, 1),
            "faults": self.faults,
        }


def verify(folder: Path, labs: Path | None = None, learner: str = "learner") -> Proof:
    """Prove one lab; ``labs`` is where its built version must be up to date (None: not looked at)."""
    source = read_source(folder)
    wrong = load_wrong_answers(folder, source.lab)
    proof = Proof(source.name, len(source.lab.exercises), wrong_answers=len(wrong))
    proof.faults += faults_of_text(source, words_kept_out(folder.parent))
    if labs is not None:
        proof.faults += [
            f"labs/{source.name}/{name} is out of date: run tickbench author build"
            for name in out_of_date(folder, labs)
        ]
    with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch, JudgeProcess() as judges:
        place = build_lab(folder, Path(scratch))
        judge = _Judge(source.lab, place, learner, judges)
        _prove_solution(source, wrong, judge, proof)
        _prove_release(source, judge, proof)
    return proof


def load_wrong_answers(folder: Path, lab: Lab) -> list[WrongAnswer]:
    """The list in ``wrong_answers.py``, checked against the lab; empty if there is no such file."""
    found = list(getattr(_wrong_module(folder), "wrong_answers", []))
    for entry in found:
        _check_entry(entry, lab, folder / "wrong_answers.py")
    return found


def load_allowed(folder: Path, lab: Lab) -> list[Allowed]:
    """The list ``allowed`` in ``wrong_answers.py``, checked against the lab; empty if there is none."""
    found = list(getattr(_wrong_module(folder), "allowed", []))
    for entry in found:
        if entry.exercise not in lab.exercises:
            raise AuthorError(
                f"allowed change {entry.change!r}: there is no exercise {entry.exercise!r}",
                str(folder / "wrong_answers.py"),
                1,
            )
    return found


def _wrong_module(folder: Path) -> Any:
    path = folder / "wrong_answers.py"
    if not path.is_file():
        return None
    name = f"tickbench_wrong_{folder.name}"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    before, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    try:
        spec.loader.exec_module(module)
    except Exception as error:
        raise AuthorError(f"{type(error).__name__}: {error}", str(path), 1) from error
    finally:
        sys.dont_write_bytecode = before
    return module


def _check_entry(entry: WrongAnswer, lab: Lab, path: Path) -> None:
    where = f"wrong answer {entry.name!r}"
    if entry.exercise not in lab.exercises:
        raise AuthorError(f"{where}: there is no exercise {entry.exercise!r}", str(path), 1)
    exercise = lab[entry.exercise]
    if entry.fails and entry.fails not in {criterion.name for criterion in exercise.criteria}:
        raise AuthorError(f"{where}: {entry.exercise} has no criterion {entry.fails!r}", str(path), 1)
    if entry.hint and entry.hint not in exercise.hints:
        raise AuthorError(f"{where}: {entry.exercise} has no hint {entry.hint!r}", str(path), 1)


class _Judge:
    """Runs cells in the lab's built folder and judges what they give."""

    def __init__(self, lab: Lab, place: Path, learner: str, judges: JudgeProcess) -> None:
        self.lab, self.place, self.learner, self.judges = lab, place, learner, judges

    def run(self, cells: list[Cell]) -> RunResult:
        def call(answer: Answer, caller: ChildCaller) -> Verdict:
            return self.judges.judge(self._task(answer), caller)

        return run_job(Job(cells, str(self.place), self.learner, LIMITS, every_check=True), judge=call)

    def _task(self, answer: Answer) -> JudgeTask:
        seed = public_seed(self.learner, answer.exercise)
        return JudgeTask(self.place, self.lab[answer.exercise], answer, self.learner, seed)

    def verdict(self, exercise: str, cell: Cell | None, cells: list[Cell], result: RunResult) -> Verdict:
        if cell is not None and cell.index in result.live:
            return result.live[cell.index]
        return self.judges.judge(self._task(answer_at(exercise, cell, cells, result)))


def _prove_release(source: Source, judge: _Judge, proof: Proof) -> None:
    cells = code_cells(for_learners(source))
    result = judge.run(cells)
    answers = answers_of(source.lab, cells, result)
    where = {cell.exercise: cell for cell in cells if cell.exercise}
    verdicts = [judge.verdict(name, where.get(name), cells, result) for name in answers]
    proof.release_zero = all(verdict.score == 0 for verdict in verdicts)
    proof.faults += [f"{v.id}: the learner's version scores {v.score:g} before any work" for v in verdicts if v.score]
    proof.faults += [
        f"{v.id}: the learner's version should say that it is still to do, not: {v.message.splitlines()[0]}"
        for v in verdicts
        if v.status != "todo" and v.message
    ]
    proof.faults += _unexpected(cells, result, "the learner's version")


def _prove_solution(source: Source, wrong: list[WrongAnswer], judge: _Judge, proof: Proof) -> None:
    """One run: the solution, and after each check its wrong answers, each followed by the solution once more."""
    cells, solved, right, tried = _with_wrong(source, wrong)
    result = judge.run(cells)
    verdicts = [judge.verdict(cell.exercise, cell, cells, result) for cell in right]
    proof.solution_full = all(verdict.passed for verdict in verdicts)
    proof.faults += [
        f"{v.id}: the solution scores {v.score:g} of {v.max_score:g}\n{v.text()}" for v in verdicts if not v.passed
    ]
    own = [cell for cell in cells if cell.index not in {other.index for _, other in tried}]
    proof.faults += _unexpected(own, result, "the solution")
    proof.faults += _bare_pictures(own, result)
    proof.seconds = sum(result.seconds.get(cell.index, 0.0) for cell in solved)
    if proof.seconds > BUDGET:
        slow = max(solved, key=lambda cell: result.seconds.get(cell.index, 0.0))
        proof.faults.append(
            f"the solution runs for {proof.seconds:.0f} s, longer than {BUDGET:g} s; its slowest cell is {_first_line(slow)!r}"
        )
    for entry, cell in tried:
        fault = _escaped(entry, judge.verdict(entry.exercise, cell, cells, result), source.lab)
        proof.wrong_answers_caught += not fault
        proof.faults += [fault] if fault else []


def _with_wrong(
    source: Source, wrong: list[WrongAnswer]
) -> tuple[list[Cell], list[Cell], list[Cell], list[tuple[WrongAnswer, Cell]]]:
    """All cells to run; the solution's; those of them that check; each wrong answer with its own check cell."""
    cells: list[Cell] = []
    solved, right, tried = [], [], []
    answers: list[str] = []

    def add(text: str, exercise: str = "", may_fail: bool = False) -> Cell:
        cells.append(Cell(len(cells), text, exercise, may_fail))
        return cells[-1]

    for cell in with_solutions(source).cells:
        if cell.cell_type != "code" or "instructor" in cell.metadata.get("tags", []):
            continue
        exercise = checked_exercise(cell.source)
        own = add(cell.source, exercise, "raises-exception" in cell.metadata.get("tags", []))
        solved.append(own)
        answers += [cell.source] if is_answer(cell) else []
        if not exercise:
            continue
        right.append(own)
        for entry in (entry for entry in wrong if entry.exercise == exercise):
            add(entry.code)
            tried.append((entry, add(cell.source, exercise)))
            for text in answers:
                add(text)
        answers = []
    return cells, solved, right, tried


def _escaped(entry: WrongAnswer, verdict: Verdict, lab: Lab) -> str:
    """Why a wrong answer was not caught as it should be; "" if it was."""
    where = f"{entry.exercise}, wrong answer {entry.name!r}"
    if not entry.fails:
        return (
            ""
            if verdict.status == "refused"
            else f"{where} should be refused, but is {verdict.status}\n{verdict.text()}"
        )
    line = next(line for line in verdict.lines if line.name == entry.fails)
    if line.passed:
        return f"{where} passes the criterion {entry.fails!r}\n{verdict.text()}"
    if entry.hint and line.hint != lab[entry.exercise].hints[entry.hint].steps():
        return f"{where} fails {entry.fails!r} without the hint {entry.hint!r}\n{verdict.text()}"
    others = [other.name for other in verdict.lines if not other.passed and other.name != entry.fails]
    return f"{where} fails {', '.join(others)}, too\n{verdict.text()}" if entry.alone and others else ""


def _unexpected(cells: list[Cell], result: RunResult, what: str) -> list[str]:
    """Cells that failed although the lab does not say so, or did not fail although it does (tag raises-exception)."""
    faults = []
    for cell in cells:
        status, note = result.ends.get(cell.index, ("not run", "did not run"))
        if cell.may_fail and status == "ok":
            faults.append(f"{what}: the cell {_first_line(cell)!r} is tagged raises-exception and raises nothing")
        elif not cell.may_fail and status != "ok":
            faults.append(f"{what}: the cell {_first_line(cell)!r} fails: {note}")
    return faults


def _bare_pictures(cells: list[Cell], result: RunResult) -> list[str]:
    """Cells that show a picture without an alternative text."""
    bare = []
    for cell in cells:
        shown = [output.get("data", {}) for output in result.outputs.get(cell.index, [])]
        if any("image/png" in data and not ALT.search(str(data.get("text/html", ""))) for data in shown):
            bare.append(
                f"the picture of the cell {_first_line(cell)!r} has no alternative text: "
                "make it with simkit.view, or give it one with simkit.view.alt_text"
            )
    return bare


def _first_line(cell: Cell) -> str:
    return cell.source.strip().splitlines()[0][:60]
