"""What an author writes in ``exercises.py``: a lab, its exercises, their criteria and hints.

The file is copied to the learners, so it holds no answers: a judge *runs* the answer and compares it with
what the bench did, or with a formula worked out from the learner's own parameters.  A complete small lab is in
``tests/check/course/solutions/90_ticks/``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from .draw import Draw
from .kinds import Kind
from .look import Look

Plain = int | float | str | bool | None


class AuthorError(Exception):
    """A lab's source breaks a rule.  ``file`` and ``line`` say where; the text says what to do."""

    def __init__(self, what: str, file: str = "", line: int = 0) -> None:
        place = f"{file}:{line}: " if file and line else f"{file}: " if file else ""
        super().__init__(place + what)
        self.file, self.line, self.what = file, line, what


class AnswerFault(Exception):
    """Raised by a judge when an answer cannot be judged further; the text is shown to the learner.

    Every criterion that has no result yet then fails.  ``hint`` may name one of the exercise's hints.
    """

    def __init__(self, what: str, hint: str = "") -> None:
        super().__init__(what)
        self.hint = hint


@dataclass(frozen=True)
class Hint:
    """Help in three steps: a question that points, the idea, a worked step on *other* numbers.  Never the solution."""

    nudge: str
    idea: str
    worked: str

    def steps(self) -> tuple[str, str, str]:
        return (self.nudge, self.idea, self.worked)


@dataclass(frozen=True)
class Criterion:
    """One property of a right answer.

    Parameters
    ----------
    name : short name, unique in the exercise; ``wrong_answers.py`` refers to it
    text : what is asked, as the verdict's line shows it: "counts on across a wrap"
    points : this criterion's share; the shares of an exercise add up to its points
    hint : the key of the hint for a failure for which the judge names no other
    """

    name: str
    text: str
    points: float
    hint: str = ""


@dataclass(frozen=True)
class Result:
    """What a judge found for one criterion.

    ``measured`` and ``wanted`` are plain values (number, text, bool or None); ``wanted`` may be text such as
    ``"40 ± 1"``, and None where it would give the answer away.  ``hint`` names the hint for *this* failure; empty
    means the criterion's own.  ``look`` says where to see the failure (:meth:`Played.look`, :func:`~simkit.check.seen`),
    or is a function that does: it is called only where a learner's check fails, so it may run the design once more.
    Without it, or where it gives None, the check chooses a moment of the last run that was looked at; False: there is no
    moment that shows it.
    """

    name: str
    passed: bool
    measured: Any = None
    wanted: Any = None
    unit: str = ""
    hint: str = ""
    look: Look | Callable[[], Look | None] | bool | None = field(default=None, compare=False)


Judge = Callable[[Any, "Parameters", int], Iterable[Result]]


class Parameters(Mapping[str, Any]):
    """A learner's own numbers, by attribute or by key: ``mine.rate`` or ``mine["rate"]``."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = dict(values)

    def __getitem__(self, name: str) -> Any:
        return self._values[name]

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name not in self._values:
            raise AttributeError(f"no parameter {name!r}; there are: {', '.join(self._values) or 'none'}")
        return self._values[name]

    def __iter__(self) -> Any:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return f"Parameters({', '.join(f'{name}={value!r}' for name, value in self._values.items())})"


def _no_parameters(rng: Draw) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Exercise:
    """One graded exercise.

    Parameters
    ----------
    id : "05-b": the lab's number, a dash, a letter; also the grade id of its check cell
    title : a few words
    points : the sum of its criteria's points
    objective : the verb from the lab's "what you will be able to do" that this exercise proves
    kind : what an answer is: :class:`answers.Design`, :class:`answers.Number` and so on
    criteria : in the order in which they are shown
    judge : ``judge(answer, parameters, seed)`` yields a :class:`Result` per criterion.  ``answer`` is a checked
        :class:`~simkit.netlist.Netlist` for a design, a plain value or array for a value, and for a program or function
        a :class:`~simkit.check.live.LiveAnswer`, which the judge calls as if it were the function.  It runs in a process
        that never saw the learner's code.  A criterion without a result fails.  Random stimuli come from ``seed``
    hints : key to :class:`Hint`
    parameters : ``parameters(rng)`` draws the learner's own numbers from a :class:`Draw`
    answer : the name that the notebook gives the answer, used in "there is no ... yet"
    shares : the id of an earlier exercise whose own numbers this one uses too (give both the same ``parameters``)
    """

    id: str
    title: str
    points: float
    objective: str
    kind: Kind
    criteria: Sequence[Criterion]
    judge: Judge
    hints: Mapping[str, Hint] = field(default_factory=dict)
    parameters: Callable[[Draw], Mapping[str, Any]] = _no_parameters
    answer: str = ""
    shares: str = ""

    def __post_init__(self) -> None:
        where = f"exercise {self.id!r}"
        names = [criterion.name for criterion in self.criteria]
        if not names:
            raise AuthorError(f"{where} has no criteria: give at least one Criterion")
        for name in names:
            if names.count(name) > 1:
                raise AuthorError(f"{where}: two criteria are called {name!r}: give each its own name")
        if any(not 0 < criterion.points < 1000 for criterion in self.criteria):
            raise AuthorError(f"{where}: a criterion's points must be above 0")
        total = sum(criterion.points for criterion in self.criteria)
        if abs(total - self.points) > 1e-9:
            raise AuthorError(
                f"{where}: its criteria add up to {total:g} points, not to its {self.points:g}: make them agree"
            )
        for criterion in self.criteria:
            if criterion.hint and criterion.hint not in self.hints:
                raise AuthorError(
                    f"{where}: criterion {criterion.name!r} names the hint {criterion.hint!r}, which is not in hints="
                )

    def own(self, learner: str) -> Parameters:
        """The learner's own numbers."""
        return Parameters(self.parameters(Draw("parameters", learner, self.shares or self.id)))


class Lab:
    """A lab's exercises, in order.  ``exercises.py`` makes exactly one and calls it ``lab``."""

    def __init__(self, name: str, title: str, exercises: Sequence[Exercise] = ()) -> None:
        self.name = name
        self.title = title
        self.exercises: dict[str, Exercise] = {}
        for exercise in exercises:
            self.add(exercise)

    def add(self, exercise: Exercise) -> Exercise:
        """Put one more exercise at the end; its id must be new."""
        if exercise.id in self.exercises:
            raise AuthorError(f"two exercises have the id {exercise.id!r}: give each its own")
        self.exercises[exercise.id] = exercise
        return exercise

    def __getitem__(self, exercise: str) -> Exercise:
        if exercise not in self.exercises:
            raise KeyError(
                f"lab {self.name} has no exercise {exercise!r}; it has {', '.join(self.exercises) or 'none'}"
            )
        return self.exercises[exercise]

    @property
    def points(self) -> float:
        return sum(exercise.points for exercise in self.exercises.values())
