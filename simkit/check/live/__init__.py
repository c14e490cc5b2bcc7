"""Answers that are code: a judge calls the learner's function, and never holds it.

Calls, arguments, what the function asks of the host, and what it returns cross between the two sides as plain data
(:mod:`.values`).  :mod:`.call` is the judge's side and the learner's side of a call; :mod:`.host` serves the bench's host
to the function and stands for it there; :mod:`.serve` keeps a copy of the learner's process for calls that come later.
"""

from .call import Caller, Gone, LiveAnswer, LocalCaller
from .values import BadValue, pack, unpack

__all__ = ["BadValue", "Caller", "Gone", "LiveAnswer", "LocalCaller", "pack", "unpack"]
