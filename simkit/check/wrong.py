"""The form of ``wrong_answers.py``: likely wrong answers, each with the criterion and the hint that must catch it."""

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
