"""The form of ``wrong_answers.py``: likely wrong answers, each with the criterion and the hint that must catch it.

The file makes a list ``wrong_answers``, and may make a list ``allowed`` of changes that are not wrong.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WrongAnswer:
    """One wrong answer.

    Parameters
    ----------
    exercise : the exercise's id
    name : a few words, unique in the exercise
    code : runs just before the exercise's check cell, after the whole solution up to there, so it need only
        define the answer anew
    fails : the criterion that must fail ("" if the answer must be refused before any criterion is judged)
    hint : the key of the hint that must be shown ("" to leave it open)
    alone : True if every other criterion of the exercise must pass
    """

    exercise: str
    name: str
    code: str
    fails: str
    hint: str = ""
    alone: bool = False


@dataclass(frozen=True)
class Allowed:
    """A change of the solution that the task allows, so that no criterion need catch it.

    Parameters
    ----------
    exercise : the exercise's id
    change : as ``tickbench author verify --mutants`` prints it: ``"wait(3) -> wait(4)"``
    why : the reason, for the next author
    """

    exercise: str
    change: str
    why: str
