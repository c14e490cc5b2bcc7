"""The bench's host on both sides of a call.

:class:`ServedHost` is the judge's side: it holds the real :class:`~simkit.host.Host` and does what it is asked, within
limits.  :class:`FarHost` is what the learner's function gets: the same attributes, each access a question to the other side.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from ...host import Host, HostFault, HostTimeout, Interrupt, LinkDown, ReadStream, Register, UnknownName, WriteStream
from ...units import Duration
from .values import BadValue, pack, unpack

Ask = Callable[[dict[str, Any]], dict[str, Any]]

KINDS: dict[type, str] = {Register: "register", ReadStream: "read", WriteStream: "write", Interrupt: "interrupt"}
FAULTS: dict[str, type[HostFault]] = {
    "HostFault": HostFault,
    "HostTimeout": HostTimeout,
    "LinkDown": LinkDown,
    "UnknownName": UnknownName,
}
SHOWN = {  # what may be read off each kind of item, without time passing
    "read": ("available", "moved", "timeouts", "overflow", "queued", "depth", "buffer"),
    "write": ("waiting", "moved", "timeouts", "underflow", "queued", "depth", "buffer"),
    "interrupt": ("pending",),
}
MAX_WORDS = 1_000_000


class OutOfTime(BaseException):
    """The function has used up its simulated time, or its accesses.  Not an Exception, so that it is not swallowed."""


class _Within:
    """Stands for what runs the design, up to a tick."""

    def __init__(self, runner: Any, last: int) -> None:
        self._runner, self._last = runner, last

    def __getattr__(self, name: str) -> Any:
        return getattr(self._runner, name)

    def advance_to(self, tick: int) -> None:
        self._runner.advance_to(min(tick, self._last))
        if tick > self._last:
            raise OutOfTime


class ServedHost:
    """The judge's side.

    Parameters
    ----------
    host : the host of a loaded rig
    within : simulated time that may pass from now on
    accesses : how many questions are answered
    """

    def __init__(self, host: Host, within: Duration, accesses: int) -> None:
        self.host, self.within, self.accesses = host, within, accesses
        runner = host.link.runner
        self._real, self._guard = runner, _Within(runner, runner.tick_of(runner.now + within))

    def names(self) -> dict[str, str]:
        """What there is: name to kind."""
        return {name: KINDS[type(item)] for name, item in self.host.items.items()}

    def clock(self) -> list[int]:
        """Where simulated time stands: ticks since reset; and a tick in picoseconds, as a fraction."""
        tick = self._real.tick_length.ps
        return [self._real.ticks, tick.numerator, tick.denominator]

    def serve(self, question: dict[str, Any]) -> dict[str, Any]:
        """The answer to a question, as data, and in ``at`` the tick in which it is given."""
        reply = self._answer(question)
        reply["at"] = self._real.ticks
        return reply

    def _answer(self, question: dict[str, Any]) -> dict[str, Any]:
        self.accesses -= 1
        if self.accesses < 0:
            return {"over": "it asked the host for too much"}
        self.host.link.runner = self._guard
        try:
            return {"value": pack(_listed(self._do(question)))}
        except OutOfTime:
            return {"over": f"it was not done within {self.within} of simulated time"}
        except HostFault as fault:
            kind = type(fault).__name__
            return {"fault": [kind if kind in FAULTS else "HostFault", str(fault)]}
        except (BadValue, LookupError, TypeError, ValueError, ArithmeticError) as error:
            return {"fault": ["HostFault", f"the host cannot do that: {str(error)[:200]}"]}
        finally:
            self.host.link.runner = self._real

    def _do(self, question: dict[str, Any]) -> Any:
        name, what = question["item"], question["do"]
        args = [unpack(value) for value in question["args"]]
        if name == "":
            return self._of_host(what, args)
        item = self.host.items[name]
        kind = KINDS[type(item)]
        if what == "show" and args[0] in SHOWN.get(kind, ()):
            return getattr(item, args[0])
        return _ACTIONS[kind, what](item, *args)

    def _of_host(self, what: str, args: list[Any]) -> Any:
        if what == "now":
            return self.host.link.runner.now
        if what == "wait":
            return self.host.wait(_duration(args[0]))
        raise KeyError(what)


def _duration(value: Any) -> Duration:
    if not isinstance(value, Duration):
        raise TypeError(f"a duration is wanted, as ms(5), not {value!r}")
    return value


def _read(item: Any, count: Any, timeout: Any) -> Any:
    if count is not None and (type(count) is not int or not 0 <= count <= MAX_WORDS):
        raise ValueError(f"a stream reads 0 to {MAX_WORDS} words at once, not {count!r}")
    return item.read(count, None if timeout is None else _duration(timeout))


def _write(item: Any, values: Any, timeout: Any) -> Any:
    if not hasattr(values, "__len__") or len(values) > MAX_WORDS:
        raise ValueError(f"a stream takes a list of at most {MAX_WORDS} words at once")
    return item.write(values, None if timeout is None else _duration(timeout))


_ACTIONS: dict[tuple[str, str], Callable[..., Any]] = {
    ("register", "get"): lambda item: item.read(),
    ("register", "set"): lambda item, value: item.write(value),
    ("read", "read"): _read,
    ("write", "write"): _write,
    ("interrupt", "wait"): lambda item, timeout: item.wait(None if timeout is None else _duration(timeout)),
    ("interrupt", "acknowledge"): lambda item: item.acknowledge(),
}


def _listed(value: Any) -> Any:
    """Words wider than 64 bits cross as a list."""
    return value.tolist() if getattr(getattr(value, "dtype", None), "kind", "") == "O" else value


# --- the learner's side ---


class _Line:
    """Puts a question and gives the value, or raises what the host raised.

    Simulated time stands still between two questions, so the program need not ask what time it is: each answer says it.
    ``clock`` is None where other hosts in the same call could move the time as well.
    """

    LOOKS = 50  # at the clock without a question; one that looks at nothing else must ask, and so be stopped some time

    def __init__(self, ask: Ask, number: int, clock: list[int] | None = None) -> None:
        self._ask, self._number, self.clock = ask, number, clock
        self._looks = 0

    def now(self) -> Duration:
        """Simulated time since reset."""
        self._looks += 1
        if self.clock is None or self._looks > self.LOOKS:
            return self("", "now")
        at, ps, per = self.clock
        return Duration(Fraction(at * ps, per))

    def __call__(self, item: str, do: str, *args: Any) -> Any:
        reply = self._ask({"host": self._number, "item": item, "do": do, "args": [pack(_listed(a)) for a in args]})
        self._looks = 0
        if self.clock is not None:
            self.clock[0] = reply["at"]
        if "over" in reply:
            raise OutOfTime(reply["over"])
        if "fault" in reply:
            kind, text = reply["fault"]
            raise FAULTS.get(kind, HostFault)(text)
        return unpack(reply["value"])


class FarHost:
    """The host as a function that is judged sees it: registers, streams and interrupts as attributes.

    Differences from :class:`simkit.host.Host`: the link cannot be interrupted from here, and buffers cannot be resized.
    """

    def __init__(self, names: dict[str, str], ask: Ask, number: int, clock: list[int] | None = None) -> None:
        self.__dict__.update(_names=names, _line=_Line(ask, number, clock), _prefix="")

    def wait(self, duration: Duration) -> None:
        """Let simulated time pass."""
        self._line("", "wait", duration)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        full = self._prefix + name
        if any(known.startswith(full + ".") for known in self._names):
            part = FarHost.__new__(FarHost)
            part.__dict__.update(self.__dict__, _prefix=full + ".")
            return part
        if name == "now" and full not in self._names:  # a register of that name goes first
            return self._line.now()
        return self[full]

    def __setattr__(self, name: str, value: Any) -> None:
        self[self._prefix + name] = value

    def __getitem__(self, name: str) -> Any:
        kind = self._kind(name)
        return self._line(name, "get") if kind == "register" else _FAR[kind](self._line, name)

    def __setitem__(self, name: str, value: Any) -> None:
        if self._kind(name) != "register":
            raise HostFault(f"{name} is no register: nothing can be assigned to it")
        self._line(name, "set", value)

    def __dir__(self) -> list[str]:
        own = {name[len(self._prefix) :].split(".")[0] for name in self._names if name.startswith(self._prefix)}
        return sorted(own | {"now", "wait"})

    def _kind(self, name: str) -> str:
        if name in self._names:
            return self._names[name]
        close = difflib.get_close_matches(name, self._names, 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise UnknownName(
            f"the design shows the host nothing called {name!r}.{guess} There is: {', '.join(self._names) or 'nothing'}"
        )


class _FarItem:
    kind = ""

    def __init__(self, line: _Line, name: str) -> None:
        self._line, self.name = line, name

    def __getattr__(self, name: str) -> Any:
        if name not in SHOWN[self.kind]:
            raise AttributeError(f"{self.name} has no {name!r}; it has {', '.join(SHOWN[self.kind])}")
        return self._line(self.name, "show", name)


class _FarReadStream(_FarItem):
    kind = "read"

    def read(self, count: int | None = None, timeout: Duration | None = None) -> Any:
        return self._line(self.name, "read", count, timeout)


class _FarWriteStream(_FarItem):
    kind = "write"

    def write(self, values: Any, timeout: Duration | None = None) -> None:
        self._line(self.name, "write", values, timeout)


class _FarInterrupt(_FarItem):
    kind = "interrupt"

    def wait(self, timeout: Duration | None = None) -> Duration:
        return self._line(self.name, "wait", timeout)

    def acknowledge(self) -> None:
        self._line(self.name, "acknowledge")


_FAR: dict[str, type[_FarItem]] = {"read": _FarReadStream, "write": _FarWriteStream, "interrupt": _FarInterrupt}
