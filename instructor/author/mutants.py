"""Mutants: wrong answers made by machine, to find what a lab's criteria miss.

Every design that a solution holds is changed in one place at a time (:mod:`.mutation`), and the exercise's own check
judges the result.  A mutant that passes is set beside the right design in simulation (:mod:`.alike`): either the two
do not differ, or the lab lets a wrong design through.  An author who finds that the change is allowed by the task
says so in ``wrong_answers.py``: ``allowed = [Allowed("05-b", "wait(3) -> wait(4)", "the latency is free")]``.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simkit.check import Lab
from simkit.check.cells import checked_exercise
from simkit.check.collected import answer_at
from simkit.check.draw import public_seed
from simkit.check.judging import Answer
from simkit.check.kinds import Design, Kind, Record
from simkit.check.rebuild import is_answer
from simkit.check.run import Cell, Job, JudgeProcess, JudgeTask, Limits, run_job
from simkit.check.wrong import Allowed
from simkit.netlist import Netlist

from .alike import no_difference_seen, same_circuit
from .build import build_lab, with_solutions
from .mutation import Mutation, mutations
from .source import Source, read_source
from .verify import load_allowed

LIMITS = Limits(cell_seconds=60.0, seconds=3600.0, cpu_seconds=-1, restarts=20)
MOST = 40


@dataclass(frozen=True)
class Mutant:
    """A changed answer and what became of it.

    ``fate``: "caught" (a criterion fails), "escaped" (it passes and behaves differently), "alike" (it passes and no
    difference was seen), "allowed" (the author says that the task permits it), "refused" (it is no design: the
    language rejects it, so it says nothing about the criteria).
    """

    exercise: str
    mutation: Mutation
    fate: str

    def __str__(self) -> str:
        return f"{self.exercise}, line {self.mutation.line}, {self.mutation.kind}: {self.mutation.change}"


@dataclass
class Survey:
    """All mutants of one lab."""

    lab: str
    mutants: list[Mutant] = field(default_factory=list)

    def of(self, fate: str) -> list[Mutant]:
        return [mutant for mutant in self.mutants if mutant.fate == fate]

    def as_json(self) -> dict[str, Any]:
        """``mutants`` counts those that are designs and differ from the right one."""
        caught, escaped = self.of("caught"), self.of("escaped")
        return {
            "mutants": len(caught) + len(escaped),
            "mutants_caught": len(caught),
            "mutants_escaped": [str(mutant) for mutant in escaped],
            "mutants_alike": len(self.of("alike")),
            "mutants_allowed": len(self.of("allowed")),
            "mutants_refused": len(self.of("refused")),
        }


def survey(folder: Path, learner: str = "learner", most: int = MOST) -> Survey:
    """Make and judge the mutants of a lab, at most ``most`` of each exercise (a fixed choice among all)."""
    source = read_source(folder)
    allowed = load_allowed(folder, source.lab)
    found = Survey(source.name)
    with tempfile.TemporaryDirectory(prefix="tickbench-") as scratch, JudgeProcess() as judges:
        place = build_lab(folder, Path(scratch))
        cells, tried, right = _cells(source, most)
        result = run_job(Job(cells, str(place), learner, LIMITS, show=False))
        for exercise, mutation, cell in tried:
            answer = answer_at(exercise, cell, cells, result)
            wanted = result.answers.get(right[exercise].index)
            task = JudgeTask(place, source.lab[exercise], answer, learner, public_seed(learner, exercise))
            fate = _fate(source.lab, task, judges, wanted, mutation, allowed)
            found.mutants.append(Mutant(exercise, mutation, fate))
    return found


def _cells(source: Source, most: int) -> tuple[list[Cell], list[tuple[str, Mutation, Cell]], dict[str, Cell]]:
    """All cells to run; each mutant with its check cell; the right check cell of each exercise."""
    cells: list[Cell] = []
    tried: list[tuple[str, Mutation, Cell]] = []
    right: dict[str, Cell] = {}
    answers: list[str] = []

    def add(text: str, exercise: str = "", may_fail: bool = False) -> Cell:
        cells.append(Cell(len(cells), text, exercise, may_fail))
        return cells[-1]

    for cell in with_solutions(source).cells:
        if cell.cell_type != "code" or "instructor" in cell.metadata.get("tags", []):
            continue
        exercise = checked_exercise(cell.source)
        own = add(cell.source, exercise, "raises-exception" in cell.metadata.get("tags", []))
        answers += [cell.source] if is_answer(cell) else []
        if not exercise:
            continue
        right[exercise] = own
        changed = _chosen([m for text in answers for m in mutations(text)], exercise, most)
        if changed and _has_design(source.lab[exercise].kind):
            for mutation in changed:
                add(mutation.code, may_fail=True)
                tried.append((exercise, mutation, add(cell.source, exercise, True)))
            for text in answers:
                add(text)
        answers = []
    return cells, tried, right


def _chosen(found: list[Mutation], exercise: str, most: int) -> list[Mutation]:
    """At most ``most`` of them, the same ones every time, in the order of the source."""
    if len(found) <= most:
        return found
    kept = set(random.Random(exercise).sample(range(len(found)), most))
    return [mutation for index, mutation in enumerate(found) if index in kept]


def _has_design(kind: Kind) -> bool:
    return isinstance(kind, Design) or (isinstance(kind, Record) and any(map(_has_design, kind.parts.values())))


def _fate(
    lab: Lab,
    task: JudgeTask,
    judges: JudgeProcess,
    wanted: Answer | None,
    mutation: Mutation,
    allowed: list[Allowed],
) -> str:
    if task.answer.status != "given" or wanted is None:
        return "refused"
    kind = lab[task.exercise.id].kind
    mine, right = list(_designs(kind, task.answer.data)), list(_designs(kind, wanted.data))
    if len(mine) == len(right) and all(map(same_circuit, mine, right)) and mine:
        return "alike"
    if not judges.judge(task).passed:
        return "caught"
    if any(a.exercise == task.exercise.id and a.change == mutation.change for a in allowed):
        return "allowed"
    return "alike" if len(mine) == len(right) and all(map(no_difference_seen, right, mine)) else "escaped"


def _designs(kind: Kind, data: Any) -> Iterator[Netlist]:
    if isinstance(kind, Design):
        yield kind.restore(data)
    elif isinstance(kind, Record):
        for name, part in kind.parts.items():
            yield from _designs(part, data[name])
