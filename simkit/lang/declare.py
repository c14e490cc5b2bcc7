"""What a design is made of: declarations, written as class attributes or made in ``__init__``.

A declaration holds parameters only.  What it turns into stands in
:mod:`~simkit.lang.channels`, :mod:`~simkit.lang.memories` and :mod:`~simkit.lang.queues`.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from ..netlist import BIT, NOWHERE, Type, make
from .build import Refused
from .source import at_caller, caller, fitting


def _type(kind: Any, who: str) -> Type:
    if not isinstance(kind, Type):
        raise Refused(
            f"{who} needs a type, not {kind!r}.", "Write for example unsigned(8), signed(16), sfixed(3, -12) or bit."
        )
    return kind


def _count(number: Any, who: str, what: str, most: int) -> int:
    if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= most:
        raise Refused(f"{who}: {what} is {number!r}.", f"It is a whole number from 1 to {most}.")
    return number


def _nothing(self: Any) -> None:
    """Stands for the ``__init__`` of declarations without parameters."""


class Located(type):
    """Metaclass of declarations: a parameter that breaks a rule is reported at the line that declares."""

    @at_caller
    def __call__(cls, *args: Any, **options: Any) -> Any:
        made = cls.__init__ if cls.__init__ is not object.__init__ else _nothing  # type: ignore[misc]
        fitting(made, cls.__name__, (None, *args), options)
        item = super().__call__(*args, **options)
        item.loc = caller()
        return item


class Declared(metaclass=Located):
    """Base of everything that becomes hardware.

    As a class attribute it is a template: each instance of the design has one of its own.
    """

    name = ""
    loc = NOWHERE
    writable = False

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, instance: Any, owner: type | None = None) -> Any:
        if instance is None:
            return self
        own = instance.__dict__.setdefault("_declared", {})
        if self.name not in own:
            own[self.name] = copy.copy(self)
        return own[self.name]

    @at_caller
    def __set__(self, instance: Any, value: Any) -> None:
        raise Refused(
            f"{self.name} is declared as {type(self).__name__} and cannot be replaced from Python.",
            "Give its start value where it is declared; loops assign to it inside their methods.",
        )


class Reg(Declared):
    """A register: ``count = Reg(unsigned(8), reset=0)``.

    Read, it gives its value at the start of the tick; an assignment is seen from the next tick on.
    ``reset`` is its value in tick 0 (a number that ``kind`` holds exactly).
    """

    writable = True

    def __init__(self, kind: Type, reset: int | float | Fraction = 0) -> None:
        self.kind = _type(kind, type(self).__name__)
        self.reset = reset


class Regs(Declared):
    """``n`` registers of one type, read and written by index: ``taps = Regs(signed(16), 8)``.

    A constant index costs nothing; a signal index costs a multiplexer.  ``reset`` is one value for all or a list of ``n``.
    """

    def __init__(self, kind: Type, n: int, reset: int | float | Sequence[int | float] = 0) -> None:
        self.kind = _type(kind, "Regs")
        self.n = _count(n, "Regs", "the number of registers", 4096)
        self.reset = list(reset) if isinstance(reset, Sequence) else [reset] * n
        if len(self.reset) != n:
            raise Refused(
                f"Regs: {len(self.reset)} start values for {n} registers.", "Give one value for all, or one for each."
            )


class Ram(Declared):
    """A memory of ``depth`` words: ``store = Ram(signed(16), 1024)``.  Becomes block RAM.

    ``self.store[i] = v`` writes (one loop only).  ``v = self.store.read(i)`` takes one tick and gives the word as
    it was at the start of the tick in which it was asked for.
    """

    def __init__(self, kind: Type, depth: int, init: Sequence[int | float] = ()) -> None:
        self.kind = _type(kind, type(self).__name__)
        self.depth = _count(depth, type(self).__name__, "the depth", 1 << 22)
        self.init = list(init)
        if len(self.init) > depth:
            raise Refused(f"{type(self).__name__}: {len(self.init)} start values for {depth} words.")


class Rom(Ram):
    """A memory that nobody writes: ``sine = Rom(signed(16), values)``."""

    def __init__(self, kind: Type, values: Sequence[int | float]) -> None:
        if len(values) == 0:
            raise Refused("Rom: there are no words in it.", "Give at least one value.")
        super().__init__(kind, len(values), values)


class Fifo(Declared):
    """A queue of at most ``depth`` words: ``queue = Fifo(signed(24), 16)``.

    ``put(v)`` and ``get()`` wait, in a sequenced loop; ``try_put(v)`` and ``try_get()`` never wait and tell by a bit
    whether a word moved.  ``valid`` (a word is there), ``value`` (the oldest word), ``ready`` (there is room), ``count``.
    A word put in tick *t* can be taken in tick *t* + 1.  If the two sides belong to loops of different clocks, the
    queue is built with Gray-coded pointers and ``depth`` must be a power of two; a word is then taken at the
    reader's third or fourth clock edge after the one that put it, at the earliest.
    """

    def __init__(self, kind: Type, depth: int) -> None:
        self.kind = _type(kind, "Fifo")
        self.depth = _count(depth, "Fifo", "the depth", 1 << 20)


class Channel(Declared):
    """Base of everything that is wired to a terminal of the bench by its name."""

    endpoint = ""

    def __init__(self, terminal: str, kind: Type) -> None:
        if not isinstance(terminal, str) or not terminal:
            raise Refused(
                f"{type(self).__name__} needs the name of a bench terminal, not {terminal!r}.",
                f'Write for example {type(self).__name__}("fan A bearing").',
            )
        self.terminal = terminal
        self.kind = _type(kind, type(self).__name__)


class DigitalIn(Channel):
    """An input line: ``door = DigitalIn("switch")``.  Read it like a register.

    The line is asynchronous, so ``sync`` registers stand between pin and design; a change is seen that many
    ticks after the tick in which it reached the pin.
    """

    endpoint = "digital_in"

    def __init__(self, terminal: str, kind: Type = BIT, *, sync: int = 2) -> None:
        super().__init__(terminal, kind)
        if isinstance(sync, bool) or not isinstance(sync, int) or not 0 <= sync <= 8:
            raise Refused(
                f"DigitalIn: sync is {sync!r}.", "It is the number of synchroniser registers, 0 to 8; 2 is usual."
            )
        self.sync = sync


class DigitalOut(Channel):
    """An output line: ``lamp = DigitalOut("lamp")``.  Assign to it like a register."""

    endpoint = "digital_out"
    writable = True

    def __init__(self, terminal: str, kind: Type = BIT, *, reset: int = 0) -> None:
        super().__init__(terminal, kind)
        self.reset = reset


class AnalogIn(Channel):
    """An analog input: ``accel = AnalogIn("fan A bearing")``.  Delivers raw signed codes.

    ``v = self.accel.read()`` waits, in a sequenced loop, for a sample that has not been read; ``self.accel.missed``
    counts samples that were never read.  In a clocked loop ``self.accel.valid`` is 1 in the tick in which a sample
    arrives and ``self.accel.value`` is the newest one.
    """

    endpoint = "analog_in"

    def __init__(self, terminal: str, kind: Type | None = None) -> None:
        super().__init__(terminal, make("signed", 24) if kind is None else kind)


class ThermocoupleIn(AnalogIn):
    """A thermocouple input: as :class:`AnalogIn`, slow, raw codes of the voltage."""

    endpoint = "thermocouple_in"


class AnalogOut(Channel):
    """An analog output: ``drive = AnalogOut("fan A speed")``.  Takes raw signed codes.

    Assign to it like a register, or ``self.drive.write(v)``, which waits until the converter took the code.
    ``self.drive.ready`` is 1 in the tick in which the converter takes what stands there.
    """

    endpoint = "analog_out"
    writable = True

    def __init__(self, terminal: str, kind: Type | None = None, *, reset: int = 0) -> None:
        super().__init__(terminal, make("signed", 16) if kind is None else kind)
        self.reset = reset


class HostReg(Declared):
    """A register that the host sees: ``limit = HostReg(unsigned(16), reset=900)``.

    ``access="rw"``: the host writes it, the design reads it.  ``access="ro"``: the design writes it, the host reads it.
    ``unit`` is for people.
    """

    endpoint = "host_reg"

    def __init__(self, kind: Type, access: str = "rw", *, reset: int | float = 0, unit: str = "") -> None:
        self.kind = _type(kind, "HostReg")
        if access not in ("rw", "ro"):
            raise Refused(
                f"HostReg: access is {access!r}.", 'Write "rw" (the host writes) or "ro" (the design writes).'
            )
        self.access = access
        self.reset = reset
        self.unit = unit

    @property
    def writable(self) -> bool:  # type: ignore[override]
        return self.access == "ro"


class HostStream(Declared):
    """A queue between design and host: ``log = HostStream(signed(24), 1024, "to_host")``.

    Used like a :class:`Fifo`: ``put``/``try_put`` towards the host, ``get``/``try_get`` with ``"from_host"``.
    ``overflow`` counts words that ``try_put`` (or the host) offered to a full queue; ``underflow``, with ``"from_host"``, counts
    the times ``try_get`` found none.
    """

    endpoint = "host_stream"

    def __init__(self, kind: Type, depth: int, direction: str = "to_host") -> None:
        self.kind = _type(kind, "HostStream")
        self.depth = _count(depth, "HostStream", "the depth", 1 << 20)
        if direction not in ("to_host", "from_host"):
            raise Refused(f"HostStream: direction is {direction!r}.", 'Write "to_host" or "from_host".')
        self.direction = direction


class Interrupt(Declared):
    """Calls the host: ``alarm = Interrupt()``; ``self.alarm.request()``; ``self.alarm.pending`` until acknowledged."""

    endpoint = "interrupt"


class Synchronizer(Declared):
    """Carries one bit to loops of another clock: assign in one loop, read in any.

    A reader sees the value through ``stages`` registers of its own clock.  Only one bit: the bits of a
    wider value may arrive in different ticks (use :class:`Handshake` or :class:`Fifo`).
    """

    writable = True

    def __init__(self, kind: Type = BIT, *, reset: int = 0, stages: int = 2) -> None:
        self.kind = _type(kind, "Synchronizer")
        if self.kind != BIT:
            raise Refused(
                f"a Synchronizer carries one bit, not {self.kind}: the bits of a wider value may arrive in different ticks.",
                "Use Handshake (one value at a time) or Fifo (many).",
            )
        self.stages = _count(stages, "Synchronizer", "stages", 8)
        self.reset = reset


class Handshake(Declared):
    """Carries whole values to another clock, one at a time: ``put(v)`` waits until the other side took it, ``get()`` waits for one.

    ``try_put``/``try_get`` never wait and tell by a bit; ``ready``, ``valid``, ``value`` as for :class:`Fifo`.
    """

    def __init__(self, kind: Type) -> None:
        self.kind = _type(kind, "Handshake")


class Clock(metaclass=Located):
    """A clock of ``hz`` hertz (int, or a Fraction): ``fast = Clock(100_000_000)``.

    Loops take it as ``@clocked(clock=fast)``.  A design whose attribute ``clock`` is a Clock uses it as its fabric clock.
    """

    def __init__(self, hz: int | Fraction, name: str = "") -> None:
        if isinstance(hz, bool) or not isinstance(hz, int | Fraction | float) or not 1 <= hz <= 10**12:
            raise Refused(f"Clock: {hz!r} is not a rate.", "Give it in hertz, from 1 to 10**12.")
        self.hz = Fraction(repr(hz)) if isinstance(hz, float) else Fraction(hz)
        if self.hz.denominator > 10**9:
            raise Refused(f"Clock: {hz!r} Hz cannot be kept exactly.", "Round it to a nanohertz or coarser.")
        self.name = name

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = self.name or name
