"""What a notebook calls: ``check``, ``parameters``, ``predict``.

When a grader runs the notebook it sets a *sink* (:func:`collect_into`): then ``check`` only hands the answer out
as data and judges nothing.
"""

from __future__ import annotations

import contextlib
import io
import sys
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from . import journal
from .draw import public_seed
from .find import load_lab
from .identity import learner
from .judging import Answer, collect, judge
from .model import Exercise, Lab, Parameters
from .noted import note_check
from .verdict import Verdict, refused, verdict_of

_sink: Callable[[Answer], None] | None = None
_lab: Lab | None = None


def collect_into(sink: Callable[[Answer], None] | None) -> None:
    """From now on hand answers to ``sink`` instead of judging them (None: judge again)."""
    global _sink
    _sink = sink


def use_lab(lab: Lab | None) -> None:
    """Take this lab instead of the one whose ``exercises.py`` lies in the present folder."""
    global _lab
    _lab = lab


def _present_lab() -> Lab | None:
    """The lab of the present folder; None if there is no ``exercises.py``."""
    if _lab is not None:
        return _lab
    try:
        return load_lab(Path.cwd())
    except FileNotFoundError:
        return None


def _exercise(exercise: str) -> Exercise | str:
    """The exercise, or why it cannot be found."""
    lab = _present_lab()
    if lab is None:
        return f"there is no exercises.py in {Path.cwd()}: open the notebook in its lab's own folder"
    if exercise not in lab.exercises:
        return f"this lab has no exercise {exercise!r}; it has {', '.join(lab.exercises)}"
    return lab[exercise]


def check(exercise: str, answer: Any, hints: int = 1) -> Verdict:
    """Judge an answer and show one line per criterion: in a notebook as a card, elsewhere as text.

    Parameters
    ----------
    exercise : "05-b"
    answer : what the exercise asks for: a design class, a number, a text, an array
    hints : how many steps of each hint the text shows: 1 a question, 2 also the idea, 3 also a worked step; on the
        card each step is opened by itself

    Returns
    -------
    Verdict
        Shown by Jupyter as the number of points.  Nothing that the answer does makes this raise.

    The learner's own progress is noted (see :mod:`.journal`).
    """
    found = _exercise(exercise)
    if isinstance(found, str):
        print(f"{exercise}: {found}")
        return Verdict(str(exercise), "", "refused", (), found)
    with _quiet():
        given = collect(found, answer)
    if _sink is not None:
        _sink(given)
        return verdict_of(found, {}, "collected")
    who = learner()
    with _quiet():
        verdict = judge(found, given, who, public_seed(who, found.id))
    verdict = replace(verdict, hints=min(max(int(hints), 1), 3), learner=who)
    _show(verdict, _note(found, given, verdict))
    return verdict


def _note(exercise: Exercise, given: Answer, verdict: Verdict) -> list[str]:
    """Write the check down in the learner's file; what the learner should know besides the verdict."""
    lab = _present_lab()
    if lab is None or verdict.status == "todo":
        return []
    path = journal.place()
    rows = journal.read(path, exercise.id)
    active_s = journal.clock.take() if journal.wants_time(rows) else None
    row, fault = note_check(path, lab.name, exercise, given, verdict, active_s)
    first = journal.prediction(rows, verdict.learner, lab.name, exercise.id)
    said = [f"you predicted first: {first}"] if first is not None else []
    return [*said, fault] if fault else said + _offer(lab, exercise, journal.standings([*rows, row]), verdict)


def _offer(
    lab: Lab, exercise: Exercise, standings: dict[tuple[str, str], journal.Standing], verdict: Verdict
) -> list[str]:
    """That the solution may be opened now, where there is one."""
    from .sealed import SEALED, may_open

    if verdict.passed or not Path(SEALED).is_file() or may_open(standings.get((lab.name, exercise.id))):
        return []
    return [f"you may open the solution: solution({exercise.id!r})"]


def _show(verdict: Verdict, notes: list[str]) -> None:
    """A card in a Jupyter kernel, lines of text elsewhere."""
    from .card import bundle

    if in_kernel():
        from IPython.display import publish_display_data

        publish_display_data(bundle(verdict, notes))
    else:
        text = "\n".join([verdict.text(), *(f"  {note}" for note in notes)])
        code = getattr(sys.stdout, "encoding", None) or "utf-8"
        print(
            text.encode(code, "replace").decode(code)
        )  # on Windows a file may not hold the marks; their words are beside them


def in_kernel() -> bool:
    """Whether a Jupyter kernel runs this, so that HTML can be shown."""
    module = sys.modules.get("IPython")
    shell = module.get_ipython() if module is not None else None
    return getattr(shell, "kernel", None) is not None


def solution(exercise: str) -> None:
    """Show the solution of an exercise, where the lab has one and an honest try was made.

    Honest: two different answers were checked, or the exercise is done.  That it was opened is noted in the learner's own file.
    """
    from .sealed import SEALED, may_open, unseal

    lab, found = _present_lab(), _exercise(exercise)
    if lab is None or isinstance(found, str):
        print(f"{exercise}: {found}")
        return
    text = unseal(Path(SEALED), exercise)
    if text is None:
        print(f"{exercise}: this lab came without solutions; ask whoever gave it to you")
        return
    path = journal.place()
    standing = journal.standings(journal.read(path, exercise)).get((lab.name, exercise))
    why = may_open(standing)
    if why:
        print(f"{exercise}: {why}")
        return
    if standing is not None and not standing.solution:
        fault = journal.append(path, event="solution", learner=learner(), lab=lab.name, exercise=exercise)
        print(fault or f"{exercise}: noted in your own progress that you opened the solution")
    print(text)


def missing(exercise: str, name: str) -> Verdict | None:
    """The verdict when the notebook has no ``name`` to check; None if there is no such exercise."""
    found = _exercise(exercise)
    if isinstance(found, str):
        return None
    return refused(found, f"there is no {name} yet: run the cell that makes it, then check again")


def parameters(exercise: str) -> Parameters:
    """The learner's own numbers for an exercise; :class:`KeyError` if there is no such exercise."""
    found = _exercise(exercise)
    if isinstance(found, str):
        raise KeyError(found)
    return found.own(learner())


def predict(exercise: str, value: Any) -> None:
    """Note down a prediction before running anything.  The first one is kept in the learner's own file and shown beside the
    check's verdict; it is not graded."""
    lab, found = _present_lab(), _exercise(exercise)
    if lab is None or isinstance(found, str):
        print(f"{exercise}: {found}")
        return
    given = collect(found, value)
    if given.status != "given" or _sink is not None:
        print(f"{exercise}: {given.message or 'write your prediction first'}" if _sink is None else "noted")
        return
    first = journal.prediction(journal.read(journal.place(), exercise), learner(), lab.name, exercise)
    if first is not None:
        print(f"{exercise}: your first prediction was {first}; it stays")
        return
    fault = journal.append(
        journal.place(), event="prediction", learner=learner(), lab=lab.name, exercise=exercise, value=given.data
    )
    print(fault or f"{exercise}: noted {given.data}")


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Nothing that runs inside reaches the notebook: a stray line on stderr would cost the cell its points."""
    with (
        warnings.catch_warnings(),
        contextlib.redirect_stdout(io.StringIO()),
        contextlib.redirect_stderr(io.StringIO()),
    ):
        warnings.simplefilter("ignore")
        yield
