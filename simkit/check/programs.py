"""Answers that are code: host programs, and functions of numbers.  They never leave the learner's process."""

from __future__ import annotations

import ast
import hashlib
import inspect
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from .kinds import Kind, NotDone, WrongKind, is_empty, unfinished
from .live.call import Caller, LiveAnswer
from .live.values import pack, unpack


@dataclass(frozen=True)
class Program(Kind):
    """A host program: a function that gets the host of a running bench, and perhaps plain values.

    The judge gets a :class:`~simkit.check.live.LiveAnswer` and calls it on a rig of its own: ``answer(rig.host)``.

    Parameters
    ----------
    takes : names of its arguments, as the task gives them
    result : the kind of value that it returns, checked; None if any plain value will do, or none
    """

    takes: Sequence[str] = ("host",)
    result: Kind | None = None

    live = True
    word = "program"

    def describe(self) -> str:
        return f"a {self.word} (a function of {', '.join(self.takes)})"

    def wanted(self) -> str:
        """What it is to return."""
        return self.result.describe() if self.result else "a plain value"

    def collect(self, thing: Any) -> Any:
        if unfinished(thing) or (inspect.isfunction(thing) and is_empty(thing.__code__)):
            raise NotDone
        if not callable(thing):
            raise WrongKind(f"this is no function; {self.describe()} is wanted")
        try:
            inspect.signature(thing).bind(*self.takes)
        except TypeError:
            raise WrongKind(f"the function's arguments do not fit; {self.describe()} is wanted") from None
        except ValueError:
            pass  # one without a signature, made elsewhere than in Python: calling it will show
        return {"code": _digest(thing)}

    def functions(self, thing: Any, path: str = "") -> dict[str, Callable[[list[Any]], Any]]:
        def call(arguments: list[Any]) -> Any:
            value = thing(*arguments)
            return self.result.collect(value) if self.result else pack(value)

        return {path: call}

    def result_of(self, data: Any) -> Any:
        """What the function returned, from data."""
        return self.result.restore(data) if self.result else unpack(data)

    def restore(self, data: Any) -> Any:
        return None  # nothing to be restored: it is called

    def connect(self, restored: Any, caller: Caller, tell: bool, path: str = "") -> LiveAnswer:
        return LiveAnswer(self, caller, path, tell)


@dataclass(frozen=True)
class Function(Program):
    """A function of numbers, such as a spectrum: ``Function(takes=("samples", "rate"), result=Array())``.

    The judge calls it with private inputs: ``answer(samples, 51200.0)``.  An array arrives as a numpy array.
    """

    takes: Sequence[str] = ("samples",)
    word = "function"


def _digest(thing: Any) -> str:
    """Equal for equal code, whatever its comments and spaces; "" where the code cannot be read."""
    try:
        text = ast.dump(ast.parse(textwrap.dedent(inspect.getsource(thing))))
    except (OSError, TypeError, ValueError, SyntaxError):
        return ""
    return hashlib.sha256(text.encode()).hexdigest()[:24]
