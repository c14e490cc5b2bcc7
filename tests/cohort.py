"""A class of invented learners with known misconceptions: ``python -m tests.cohort 05_keeping_time COURSE --learners 60``.

Strong learners solve nearly everything, weak ones little, and three groups share one mistake each, planted from the lab's list of
likely wrong answers.  The same seed gives the same class.
"""

from __future__ import annotations

import argparse
import json
import random
from dataclasses import dataclass
from pathlib import Path

from instructor.author.build import for_learners, with_solutions, write_notebook
from instructor.author.source import Source, read_source
from instructor.author.verify import load_wrong_answers
from simkit.check.cells import checked_exercise
from simkit.check.rebuild import is_answer
from simkit.check.wrong import WrongAnswer

SOLUTIONS = Path(__file__).parents[1] / "solutions"


@dataclass(frozen=True)
class Invented:
    """One learner: what is wrong, by exercise, and what was never begun."""

    name: str
    kind: str
    wrong: dict[str, WrongAnswer]
    left: frozenset[str]


def invent(
    source: Source, learners: int = 60, seed: int = 1, planted: list[tuple[str, str]] | None = None
) -> list[Invented]:
    """The class.  ``planted`` names the misconceptions as ``(exercise, name of the wrong answer)``; None chooses three."""
    rng = random.Random(seed)
    known = load_wrong_answers(source.folder, source.lab)
    by_exercise = {name: [w for w in known if w.exercise == name and w.hint] for name in source.lab.exercises}
    if planted is None:
        exercises = rng.sample([name for name, wrong in by_exercise.items() if wrong], 3)
        planted = [(name, rng.choice(by_exercise[name]).name) for name in exercises]
    beliefs = [next(w for w in known if (w.exercise, w.name) == key) for key in planted]
    return [
        _one(f"invented{number:02}", number, source, rng, by_exercise, beliefs) for number in range(1, learners + 1)
    ]


def _one(
    name: str,
    number: int,
    source: Source,
    rng: random.Random,
    by_exercise: dict[str, list[WrongAnswer]],
    beliefs: list[WrongAnswer],
) -> Invented:
    kind = ("strong", "believes 1", "weak", "believes 2", "middle", "believes 1", "strong", "believes 3")[number % 8]
    slips, gaps = {"strong": (0.04, 0.0), "weak": (0.35, 0.45)}.get(kind, (0.12, 0.06))
    wrong: dict[str, WrongAnswer] = {}
    left: set[str] = set()
    for exercise, choices in by_exercise.items():
        luck = rng.random()
        if luck < gaps:
            left.add(exercise)
        elif luck < gaps + slips and choices:
            wrong[exercise] = rng.choice(choices)
    if kind.startswith("believes"):
        belief = beliefs[int(kind[-1]) - 1]
        wrong[belief.exercise] = belief
        left.discard(belief.exercise)
    return Invented(name, kind, wrong, frozenset(left))


def write_submission(source: Source, one: Invented, course: Path) -> None:
    """Put the learner's notebook where nbgrader's layout has it."""
    notebook = for_learners(source)
    solved = [cell for cell in with_solutions(source).cells if "instructor" not in cell.metadata.get("tags", [])]
    waiting: list[int] = []
    for index, cell in enumerate(notebook.cells):
        if is_answer(cell):
            waiting.append(index)
        exercise = checked_exercise(cell.source) if cell.cell_type == "code" else ""
        if not exercise:
            continue
        for place in waiting if exercise not in one.left else []:
            notebook.cells[place].source = solved[place].source
        if exercise in one.wrong and waiting:
            notebook.cells[waiting[-1]].source += "\n\n" + one.wrong[exercise].code.strip("\n")
        waiting = []
    write_notebook(notebook, course / "submitted" / one.name / source.name / f"{source.name}.ipynb")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("lab")
    parser.add_argument("course", type=Path)
    parser.add_argument("--learners", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    source = read_source(SOLUTIONS / options.lab)
    people = invent(source, options.learners, options.seed)
    for one in people:
        write_submission(source, one, options.course)
    beliefs = {f"{w.exercise}: {w.name}" for p in people if p.kind.startswith("believes") for w in p.wrong.values()}
    print(json.dumps({"learners": len(people), "mistakes": sorted(beliefs)}, indent=1))


if __name__ == "__main__":
    main()
