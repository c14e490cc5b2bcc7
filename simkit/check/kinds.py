"""The kinds of answers.  Each says how the learner's object becomes data, and how data becomes an answer again.

``collect(thing)`` runs where the learner's code is and returns plain data (what JSON can hold);
``restore(data)`` runs in the judge and trusts nothing in it.  Data of an array is its bytes (base64), dtype and
shape.  Nothing is ever pickled.

Answers that are code (:mod:`.programs`) are *live*: they stay where they are, and the judge calls them over a pipe.
"""

from __future__ import annotations

import base64
import dis
import inspect
import math
import numbers
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import CodeType
from typing import Any

import numpy as np

MAX_BYTES = 16 * 1024 * 1024
MAX_TEXT = 100_000


class NotDone(Exception):
    """The answer is still the placeholder that the lab came with."""


class WrongKind(Exception):
    """The answer is not what the exercise asks for; the text says what was given and what is wanted.

    ``line`` and ``source`` locate it in the learner's cell where that is known.
    """

    def __init__(self, what: str, line: int = 0, source: str = "") -> None:
        super().__init__(what)
        self.line, self.source = line, source


class Kind:
    """One kind of answer."""

    live = False
    """True if the answer is code, or has a part that is: then :meth:`connect` gives the judge what it may call."""

    def collect(self, thing: Any) -> Any:
        """The answer as plain data; raises :class:`NotDone` or :class:`WrongKind`."""
        raise NotImplementedError

    def restore(self, data: Any) -> Any:
        """The answer from data; raises :class:`WrongKind`."""
        raise NotImplementedError

    def describe(self) -> str:
        """What is wanted, as "a number in us"."""
        raise NotImplementedError

    def functions(self, thing: Any, path: str = "") -> dict[str, Any]:
        """The functions in the learner's object, each by its place in the answer; none unless live."""
        return {}

    def connect(self, restored: Any, caller: Any, tell: bool, path: str = "") -> Any:
        """The restored answer with what can be called in place; ``tell`` says whether the code's own words may be told."""
        return restored


def unfinished(thing: Any) -> bool:
    """True for the placeholders that the generated labs carry: ``None`` and ``...``."""
    return thing is None or thing is Ellipsis


def _type_name(thing: Any) -> str:
    if isinstance(thing, type):
        return f"the class {thing.__name__}"
    words = {
        "str": "a text",
        "int": "a whole number",
        "float": "a number",
        "bool": "True or False",
        "function": "a function",
        "ndarray": "an array",
    }
    return words.get(type(thing).__name__, f"a {type(thing).__name__}")


@dataclass(frozen=True)
class Number(Kind):
    """A number; ``whole`` asks for an integer, ``unit`` is shown.  One-element arrays are taken too."""

    unit: str = ""
    whole: bool = False

    def describe(self) -> str:
        return ("a whole number" if self.whole else "a number") + (f" in {self.unit}" if self.unit else "")

    def collect(self, thing: Any) -> int | float:
        if unfinished(thing):
            raise NotDone
        if isinstance(thing, np.ndarray) and thing.size == 1:
            thing = thing.reshape(())[()]
        if isinstance(thing, (bool, np.bool_)) or not isinstance(thing, numbers.Real):
            raise WrongKind(f"{_type_name(thing)} was given; {self.describe()} is wanted")
        return self._plain(int(thing) if isinstance(thing, numbers.Integral) else float(thing))

    def restore(self, data: Any) -> int | float:
        if isinstance(data, bool) or not isinstance(data, (int, float)):
            raise WrongKind(f"{self.describe()} is wanted")
        return self._plain(data)

    def _plain(self, value: int | float) -> int | float:
        if isinstance(value, float) and not math.isfinite(value):
            raise WrongKind(f"{value} was given; {self.describe()} is wanted")
        if isinstance(value, int) and value.bit_length() > 1000:
            raise WrongKind("the number has more than 1000 bits")
        if not self.whole:
            return value
        if value != int(value):
            raise WrongKind(f"{value:g} was given; {self.describe()} is wanted")
        return int(value)


@dataclass(frozen=True)
class Text(Kind):
    """A text, or one of ``choices`` (compared without regard to case and outer spaces)."""

    choices: Sequence[str] = ()

    def describe(self) -> str:
        return "one of " + ", ".join(repr(choice) for choice in self.choices) if self.choices else "a text"

    def collect(self, thing: Any) -> str:
        if unfinished(thing) or thing == "":
            raise NotDone
        return self.restore(thing)

    def restore(self, data: Any) -> str:
        if not isinstance(data, str):
            raise WrongKind(f"{_type_name(data)} was given; {self.describe()} is wanted")
        if len(data) > MAX_TEXT:
            raise WrongKind(f"the text is longer than {MAX_TEXT} characters")
        if not self.choices:
            return data
        for choice in self.choices:
            if choice.casefold() == data.strip().casefold():
                return choice
        raise WrongKind(f"{data[:60]!r} was given; {self.describe()} is wanted")


@dataclass(frozen=True)
class Array(Kind):
    """A small array.  ``shape`` may hold None for any length; lists and tuples of numbers are taken too."""

    shape: tuple[int | None, ...] = (None,)
    dtype: str = "float64"
    unit: str = ""

    def describe(self) -> str:
        size = " x ".join("any" if n is None else str(n) for n in self.shape)
        return f"an array of {size} numbers" + (f" in {self.unit}" if self.unit else "")

    def collect(self, thing: Any) -> dict[str, Any]:
        if unfinished(thing) or (isinstance(thing, (list, tuple)) and any(unfinished(item) for item in thing)):
            raise NotDone
        try:
            array = np.ascontiguousarray(thing)
        except (ValueError, TypeError):
            raise WrongKind(f"{_type_name(thing)} was given; {self.describe()} is wanted") from None
        if array.dtype.kind not in "iufb":
            raise WrongKind(f"{_type_name(thing)} was given; {self.describe()} is wanted")
        array = self._fitting(array.reshape(np.shape(thing)))
        return {"dtype": self.dtype, "shape": list(array.shape), "bytes": base64.b64encode(array.tobytes()).decode()}

    def restore(self, data: Any) -> np.ndarray:
        try:
            raw = base64.b64decode(data["bytes"], validate=True)
            shape = tuple(data["shape"])
            if data["dtype"] != self.dtype or not all(type(n) is int and n >= 0 for n in shape):
                raise ValueError
            return self._fitting(np.frombuffer(raw, self.dtype).reshape(shape))
        except (ValueError, TypeError, KeyError):
            raise WrongKind(f"{self.describe()} is wanted") from None

    def _fitting(self, array: np.ndarray) -> np.ndarray:
        same = len(array.shape) == len(self.shape)
        if not same or any(want not in (None, have) for have, want in zip(array.shape, self.shape, strict=True)):
            raise WrongKind(f"an array of shape {array.shape} was given; {self.describe()} is wanted")
        if array.nbytes > MAX_BYTES:
            raise WrongKind(f"the array is larger than {MAX_BYTES} bytes")
        return array.astype(self.dtype)


@dataclass(frozen=True)
class Record(Kind):
    """Several values under names, given as a dict: ``Record(choice=Text(("A", "B")), ticks=Number(whole=True))``."""

    parts: Mapping[str, Kind] = field(default_factory=dict)

    def __init__(self, **parts: Kind) -> None:
        object.__setattr__(self, "parts", parts)

    @property
    def live(self) -> bool:  # type: ignore[override]
        return any(kind.live for kind in self.parts.values())

    def functions(self, thing: Any, path: str = "") -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, kind in self.parts.items():
            found |= kind.functions(thing[name], f"{path}/{name}")
        return found

    def connect(self, restored: Any, caller: Any, tell: bool, path: str = "") -> Any:
        return {name: kind.connect(restored[name], caller, tell, f"{path}/{name}") for name, kind in self.parts.items()}

    def describe(self) -> str:
        return "a dict with " + ", ".join(f"{name!r} ({kind.describe()})" for name, kind in self.parts.items())

    def collect(self, thing: Any) -> dict[str, Any]:
        if unfinished(thing) or (isinstance(thing, Mapping) and any(unfinished(value) for value in thing.values())):
            raise NotDone
        self._named(thing)
        return {name: self._part(name, kind.collect, thing[name]) for name, kind in self.parts.items()}

    def restore(self, data: Any) -> dict[str, Any]:
        self._named(data)
        return {name: self._part(name, kind.restore, data[name]) for name, kind in self.parts.items()}

    def _named(self, thing: Any) -> None:
        if not isinstance(thing, Mapping):
            raise WrongKind(f"{_type_name(thing)} was given; {self.describe()} is wanted")
        missing = [name for name in self.parts if name not in thing]
        if missing:
            raise WrongKind(f"{missing[0]!r} is missing; {self.describe()} is wanted")

    def _part(self, name: str, convert: Any, value: Any) -> Any:
        try:
            return convert(value)
        except WrongKind as error:
            raise WrongKind(f"{name!r}: {error}") from None


@dataclass(frozen=True)
class Port:
    """An endpoint that a design must have.

    Parameters
    ----------
    kind : "digital_in", "analog_out", "host_reg" and so on (see :class:`simkit.netlist.Endpoint`)
    name : its attribute name in the design; empty if any name will do
    terminal : the bench terminal it is wired to; empty if any will do
    type : the printed type, "unsigned(24)"; empty if any will do
    access : for host registers, "rw" or "ro"; empty if any will do
    """

    kind: str
    name: str = ""
    terminal: str = ""
    type: str = ""
    access: str = ""

    def __str__(self) -> str:
        words = [self.kind.replace("_", " ")]
        words += [f"called {self.name!r}"] if self.name else []
        words += [f"at the terminal {self.terminal!r}"] if self.terminal else []
        return " ".join(words)


@dataclass(frozen=True)
class Design(Kind):
    """A design: a subclass of :class:`simkit.Design` (made without arguments), an instance, or a compiled netlist.

    The judge gets the netlist, read from JSON and checked, with all of ``ports`` in place.
    """

    ports: Sequence[Port] = ()

    def describe(self) -> str:
        return "a design (a class made from Design)"

    def collect(self, thing: Any) -> Any:
        from ..netlist import Netlist, to_json

        if unfinished(thing):
            raise NotDone
        if not isinstance(thing, Netlist):
            thing = self._compiled(thing)
        self._check_ports(thing)
        text = to_json(thing)
        if len(text) > MAX_BYTES:
            raise WrongKind(f"the compiled design is larger than {MAX_BYTES} bytes")
        return text

    def restore(self, data: Any) -> Any:
        from ..netlist import BadNetlist, from_json

        if not isinstance(data, str) or len(data) > MAX_BYTES:
            raise WrongKind(f"{self.describe()} is wanted")
        try:
            netlist = from_json(data)
        except BadNetlist as error:
            raise WrongKind(f"the compiled design is not valid: {error}") from None
        self._check_ports(netlist)
        return netlist

    def _compiled(self, thing: Any) -> Any:
        from ..lang import Design as Source
        from ..lang import HardwareError, compile_design

        cls = thing if isinstance(thing, type) else type(thing)
        if not issubclass(cls, Source):
            raise WrongKind(f"{_type_name(thing)} was given; {self.describe()} is wanted")
        if _has_placeholder(cls):
            raise NotDone
        fault = None
        try:
            netlist = compile_design(thing)
        except HardwareError as error:  # perhaps because an empty operation of a part gives no value
            fault = error
        try:
            parts = list(_parts(cls() if thing is cls else thing, Source))
        except Exception:  # noqa: BLE001 - the learner's own code: compiling it has reported the place
            parts = []
        if any(_has_placeholder(type(part)) for part in parts):
            raise NotDone
        if fault is not None:
            raise fault
        return netlist

    def _check_ports(self, netlist: Any) -> None:
        for port in self.ports:
            alike = [
                e
                for e in netlist.endpoints
                if e.kind == port.kind and port.name in ("", e.name) and port.terminal in ("", e.terminal)
            ]
            if not alike:
                there = ", ".join(f"{e.name} ({e.kind.replace('_', ' ')})" for e in netlist.endpoints[:12]) or "none"
                raise WrongKind(f"the design needs a {port}; its endpoints are: {there}")
            if port.type and all(str(e.type) != port.type for e in alike):
                raise _at(alike[0].loc, f"the {port} must be {port.type}, not {alike[0].type}")
            if port.access and all(e.options.get("access") != port.access for e in alike):
                raise _at(alike[0].loc, f"the {port} needs access={port.access!r}")


def _at(loc: Any, what: str) -> WrongKind:
    return WrongKind(what, loc.line, loc.text)


def _has_placeholder(cls: type) -> bool:
    """True if a loop or operation of the class still has an empty body (``pass``, ``...``, a docstring)."""
    methods = [getattr(value, "__wrapped__", None) for value in vars(cls).values()]
    return any(inspect.isfunction(method) and is_empty(method.__code__) for method in methods)


def _parts(design: Any, base: type) -> Iterator[Any]:
    """The designs within a design, at every depth."""
    for part in vars(design).values():
        for one in part if isinstance(part, list | tuple) else (part,):
            if isinstance(one, base):
                yield one
                yield from _parts(one, base)


def is_empty(code: CodeType) -> bool:
    """True for the code of a body that does nothing."""
    names = [step.opname for step in dis.get_instructions(code) if step.opname not in ("RESUME", "NOP")]
    values = {step.argval for step in dis.get_instructions(code) if step.opname.endswith("_CONST")}
    return names in (["LOAD_CONST", "RETURN_VALUE"], ["RETURN_CONST"]) and values == {None}
