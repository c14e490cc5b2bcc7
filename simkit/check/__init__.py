"""Exercises, checks and verdicts.

In a notebook (the lab's ``exercises.py`` lies beside it)::

    from simkit.check import check, parameters
    mine = parameters("05-a")            # the learner's own numbers
    check("05-a", 12.5)                  # prints one line per criterion

In ``exercises.py`` an author writes (see :class:`Exercise` for every field)::

    from simkit.check import Criterion, Exercise, Hint, Lab, Result, answers

    def judge_period(answer, mine, seed):
        wanted = mine.ticks * 0.025
        yield Result("period", abs(answer - wanted) < 0.01, answer, None, "us")   # the right value would give it away

    lab = Lab("05_keeping_time", "Keeping time", [
        Exercise("05-a", "Predict a period", points=1, objective="predict how long a loop takes",
                 kind=answers.Number(unit="us"), parameters=lambda rng: {"ticks": rng.integer(20, 60)},
                 criteria=[Criterion("period", "the period is right", points=1, hint="ticks")],
                 hints={"ticks": Hint("How long is one tick?", "A tick is 25 ns.", "4 ticks take 0.1 us.")},
                 judge=judge_period),
    ])

A judge that cannot go on raises :class:`AnswerFault`.  Where a failure can be seen it says with ``look=run.look("lamp", at=tick)``;
otherwise the check chooses a moment of the run that the judge looked at.
"""

from . import answers
from .desk import overview
from .draw import Draw
from .drive import Played, drive, endpoint, flip_flops
from .find import load_lab
from .friendly import install as _install
from .identity import learner
from .judging import Answer, KitFault, collect, judge
from .look import seen
from .model import (
    AnswerFault,
    AuthorError,
    Criterion,
    Exercise,
    Hint,
    Lab,
    Parameters,
    Result,
)
from .notebook import check, parameters, predict, solution, use_lab
from .verdict import Line, Verdict

__all__ = [
    "Answer",
    "AnswerFault",
    "AuthorError",
    "Criterion",
    "Draw",
    "Exercise",
    "Hint",
    "KitFault",
    "Lab",
    "Line",
    "Parameters",
    "Played",
    "Result",
    "Verdict",
    "answers",
    "check",
    "collect",
    "drive",
    "endpoint",
    "flip_flops",
    "judge",
    "learner",
    "load_lab",
    "overview",
    "parameters",
    "predict",
    "seen",
    "solution",
    "use_lab",
]

_install()
