"""A call of the learner's function: what the judge holds, and what happens where the function is."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, Protocol

from ...host import Host
from ...units import Duration, s
from ..model import AnswerFault
from .host import FAULTS, FarHost, OutOfTime, ServedHost
from .values import BadValue, pack, unpack

Message = dict[str, Any]
Serve = Callable[[Message], Message]
Function = Callable[[list[Any]], Any]
"""Takes the arguments, gives the result as data."""

ACCESSES = 200_000
SIMULATED = s(10)
PLAIN_ERRORS = frozenset(
    "ArithmeticError AssertionError AttributeError EOFError ImportError IndexError KeyError MemoryError NameError "
    "NotImplementedError OSError OverflowError RecursionError RuntimeError StopIteration SyntaxError TimeoutError "
    "TypeError UnboundLocalError UnicodeError ValueError ZeroDivisionError".split()
) | set(FAULTS)


UNREADABLE = "ended its process, or gave out what cannot be read"


class Gone(Exception):
    """The other side does not answer any more; the text says why, as "took longer than 10 s"."""


class Caller(Protocol):
    """Carries a call to where the function is."""

    def call(self, message: Message, serve: Serve) -> Message:
        """The reply to a call; ``serve`` answers what the function asks meanwhile.  Raises :class:`Gone`."""


class LocalCaller:
    """Calls functions of this very process: a learner's own check."""

    def __init__(self, functions: Mapping[str, Function]) -> None:
        self._functions = functions

    def call(self, message: Message, serve: Serve) -> Message:
        def ask(question: Message) -> Message:
            return json.loads(json.dumps(serve(json.loads(json.dumps({"ask": question})))))

        return json.loads(json.dumps(run_call(self._functions, json.loads(json.dumps(message)), ask)))


def run_call(functions: Mapping[str, Function], message: Message, ask: Serve) -> Message:
    """Do a call where the function is: ``{"returned": data}`` or ``{"raised": [kind, text]}``."""
    from ..kinds import NotDone, WrongKind

    def far(data: dict[str, Any]) -> FarHost:
        if data["$"] != "host":
            raise BadValue(f"there is no value of the kind {data['$']!r}")
        return FarHost(data["of"], ask, data["number"], data["clock"] if message.get("hosts") == 1 else None)

    try:
        arguments = [unpack(value, far) for value in message["args"]]
        return {"returned": functions[message["call"]](arguments)}
    except OutOfTime as end:
        return {"raised": ["OutOfTime", str(end)]}
    except (BadValue, WrongKind) as error:
        return {"raised": ["WrongKind", str(error)]}
    except NotDone:
        return {"raised": ["NotDone", ""]}
    except SystemExit:
        return {"raised": ["SystemExit", "the program ended itself"]}
    except Exception as error:  # noqa: BLE001  the learner's function may raise anything; it becomes their verdict
        from ..judging import raised

        return {"raised": [type(error).__name__, raised(error)]}


class LiveAnswer:
    """An answer that is a function, as a judge holds it: call it as the function itself.

    ``answer(rig.host)``, ``answer(samples, 51200.0)``: arguments are plain values, arrays, durations, and hosts of loaded rigs.
    A host's simulated time may go on by ``within`` during the call, and the function may ask it ``accesses`` times.
    Gives what the function returned, as the exercise's kind has it.

    Raises
    ------
    AnswerFault
        If the function raised, gave something else than wanted, took too long, or ended its process.  Criteria judged
        before count; a judge that catches it may go on with the next.
    """

    def __init__(self, kind: Any, caller: Caller, path: str, tell: bool) -> None:
        self._kind, self._caller, self._path, self._tell = kind, caller, path, tell
        self._gone = ""

    def __call__(self, *arguments: Any, within: Duration = SIMULATED, accesses: int = ACCESSES) -> Any:
        if self._gone:
            raise AnswerFault(self._gone)
        hosts: list[ServedHost] = []

        def host(value: Any) -> Message:
            if not isinstance(value, Host):
                raise BadValue(f"a {type(value).__name__} cannot be given to a function that is judged")
            hosts.append(ServedHost(value, within, accesses))
            return {"$": "host", "of": hosts[-1].names(), "number": len(hosts) - 1, "clock": hosts[-1].clock()}

        packed = [pack(value, host) for value in arguments]
        message = {"call": self._path, "args": packed, "hosts": len(hosts)}
        try:
            return self._result(self._caller.call(message, _Questions(hosts)))
        except Gone as end:
            self._gone = f"your {self._kind.word} {end}"
            raise AnswerFault(self._gone) from None

    def _result(self, reply: Message) -> Any:
        from ..kinds import WrongKind

        if "raised" in reply:
            raise AnswerFault(self._why(reply["raised"]))
        try:
            return self._kind.result_of(reply["returned"])
        except (LookupError, BadValue, WrongKind, TypeError, ValueError, RecursionError) as error:
            why = str(error) if isinstance(error, WrongKind) else "not a plain value"
            raise AnswerFault(f"your {self._kind.word} gave something else than is wanted: {why[:300]}") from None

    def _why(self, raised: Any) -> str:
        """What the function raised.  Its own words could carry private stimuli out, so they are not always told."""
        word = self._kind.word
        if not (isinstance(raised, list) and len(raised) == 2 and all(isinstance(part, str) for part in raised)):
            return f"your {word} gave an answer that cannot be read"
        kind, text = raised
        if kind == "OutOfTime":
            return f"your {word} was stopped: it used up its time, or asked the host too often"
        if self._tell:
            return f"your {word}: {text[:1000]}" if kind in ("WrongKind", "SystemExit") else text[:1000]
        if kind in ("WrongKind", "NotDone"):
            return f"your {word} gave something else than {self._kind.wanted()}"
        if kind == "SystemExit":
            return f"your {word} ended itself"
        return f"your {word} raised {kind if kind in PLAIN_ERRORS else 'an exception of its own'}"


class _Questions:
    """Answers the questions of one call."""

    PATIENCE = 100  # questions after the end, by a function that goes on although it was told to stop

    def __init__(self, hosts: list[ServedHost]) -> None:
        self._hosts = hosts
        self._left = self.PATIENCE

    def __call__(self, message: Message) -> Message:
        question = message.get("ask")
        number = question.get("host") if isinstance(question, dict) else None
        if not isinstance(question, dict) or type(number) is not int or not 0 <= number < len(self._hosts):
            raise Gone("asked for something that cannot be read")
        reply = self._hosts[number].serve(question)
        self._left -= "over" in reply
        if self._left < 0:
            raise Gone("did not stop when its time was over")
        return reply
