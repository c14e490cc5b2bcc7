"""From a learner's object to data, and from data to a verdict.

The two halves run in one process when a learner checks, and in two when the grader works: :func:`collect`
where the learner's code is, :func:`judge` in a process that never saw it.  Both are the same code either way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from .drive import watched
from .kinds import NotDone, WrongKind
from .live.call import Caller, Gone, LocalCaller, Message, Serve
from .look import Look
from .model import AnswerFault, Exercise, Result
from .moment import choose
from .verdict import Verdict, refused, todo, verdict_of


class KitFault(Exception):
    """The kit or the lab's author is at fault, not the learner: loud, and no mark changes."""


@dataclass(frozen=True)
class Answer:
    """An answer as data.  ``status`` is "given", "todo" or "refused"; ``message`` says why it was refused.

    ``functions`` are there only in the learner's own process, for answers that are code.
    """

    exercise: str
    status: str
    data: Any = None
    message: str = ""
    functions: Mapping[str, Callable[[list[Any]], Any]] = field(default_factory=dict, compare=False, repr=False)


class NoCaller:
    """For a live answer that nobody can call any more."""

    def call(self, message: Message, serve: Serve) -> Message:
        raise Gone("is not there to be called: the check's cell must run to its end")


def collect(exercise: Exercise, thing: Any) -> Answer:
    """The learner's object as data.  Never raises for anything that the object does."""
    try:
        data = exercise.kind.collect(thing)
        return Answer(exercise.id, "given", data, functions=exercise.kind.functions(thing))
    except NotDone:
        return Answer(exercise.id, "todo")
    except WrongKind as error:
        return Answer(exercise.id, "refused", message=_located(str(error), error.line, error.source))
    except SyntaxError as error:  # the language's errors are SyntaxErrors with the learner's line
        return Answer(
            exercise.id, "refused", message=_located(error.msg, error.lineno or 0, error.text or "", error.offset or 0)
        )
    except RecursionError:
        return Answer(exercise.id, "refused", message="the design refers to itself without end")
    except Exception as error:  # noqa: BLE001  the learner's __init__ may raise anything; it becomes their verdict
        return Answer(exercise.id, "refused", message=raised(error))


def judge(
    exercise: Exercise, answer: Answer, learner: str, seed: int, caller: Caller | None = None, tell: bool = True
) -> Verdict:
    """Verdict on an answer.

    Parameters
    ----------
    seed : decides the stimuli; ``learner`` decides the parameters
    caller : carries calls to an answer that is code; without it, to the functions in the answer
    tell : False if the stimuli are private: then nothing that the learner's code says is repeated, and no run is shown

    Raises
    ------
    KitFault
        If the judge itself fails or breaks its contract.
    """
    if answer.status == "todo":
        return todo(exercise)
    if answer.status != "given":
        return refused(exercise, answer.message)
    try:
        restored = exercise.kind.restore(answer.data)
    except WrongKind as error:
        return refused(exercise, _located(str(error), error.line, error.source))
    if exercise.kind.live:
        caller = caller or (LocalCaller(answer.functions) if answer.functions else NoCaller())
        restored = exercise.kind.connect(restored, caller, tell)
    results: dict[str, Result] = {}
    before: dict[int, int] = {}
    try:
        with watched() as runs:
            for result in exercise.judge(restored, exercise.own(learner), seed):
                _take(exercise, results, result, _look(result, restored, runs, before) if tell else None)
                before = {id(run): len(run.asked) for run in runs}
    except AnswerFault as fault:
        return verdict_of(exercise, results, message=str(fault), hint=_known(exercise, fault.hint))
    except (KitFault, MemoryError):
        raise
    except Exception as error:
        raise KitFault(f"the judge of {exercise.id} failed: {type(error).__name__}: {error}") from error
    return verdict_of(exercise, results)


def _look(result: Result, restored: Any, runs: list[Any], before: dict[int, int]) -> Look | None:
    """Where a failure can be seen: where the judge says, else a moment of a run of the learner's own design."""
    if result.passed or result.look is False:
        return None
    found = result.look() if callable(result.look) else result.look
    if isinstance(found, Look):
        return found
    own = list(restored.values()) if isinstance(restored, dict) else [restored]
    return choose(result, [run for run in runs if any(run.given is part for part in own)], before)


def _take(exercise: Exercise, results: dict[str, Result], result: Result, look: Look | None) -> None:
    if result.name not in {criterion.name for criterion in exercise.criteria}:
        raise KitFault(
            f"the judge of {exercise.id} gave a result for {result.name!r}, which is not one of its criteria"
        )
    if result.name in results:
        raise KitFault(f"the judge of {exercise.id} gave two results for {result.name!r}")
    _known(exercise, result.hint)
    results[result.name] = Result(
        result.name, bool(result.passed), result.measured, result.wanted, result.unit, result.hint, look
    )


def _known(exercise: Exercise, hint: str) -> str:
    if hint and hint not in exercise.hints:
        raise KitFault(f"the judge of {exercise.id} names the hint {hint!r}, which is not one of its hints")
    return hint


def _located(what: str, line: int, source: str, column: int = 0) -> str:
    """The message with the learner's line below it, and a caret where the column is known."""
    if not source.strip():
        return f"{what} (line {line})" if line else what
    text = source.rstrip()
    cut = len(text) - len(text.lstrip())
    shown = [what, f"  line {line}: {text.lstrip()}"]
    if column > cut:
        shown.append(" " * (len(f"  line {line}: ") + column - 1 - cut) + "^")
    return "\n".join(shown)


def raised(error: BaseException) -> str:
    """What the learner's own code raised, with the last line of theirs that took part."""
    import linecache

    place = ""
    trace = error.__traceback__
    while trace is not None:
        code = trace.tb_frame.f_code
        if not trace.tb_frame.f_globals.get("__name__", "").split(".")[0] == "simkit":
            line = linecache.getline(code.co_filename, trace.tb_lineno).strip()
            place = f"\n  line {trace.tb_lineno}: {line}" if line else f"\n  line {trace.tb_lineno}"
        trace = trace.tb_next
    return f"your code raised {type(error).__name__}: {str(error)[:300]}{place}"
