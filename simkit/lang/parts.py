"""What declarations turn into: registers, ports and the logic around them.

Each declaration of a design becomes one *part*.  While loops are being read, parts hand out values and take
writes; a write goes into a :class:`Drive`, which belongs to one loop.  When all loops are read, ``finish`` turns
the drives into netlist state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, NOWHERE, Loc, Reg, Type, make
from . import arithmetic, declare
from .build import Refused, Value

if TYPE_CHECKING:
    from .circuit import Circuit
    from .execute import Executor

CROSSING_PS = 100
"""Set-up and hold window of a register that samples another clock, in picoseconds (common practice for the order, no source)."""

COUNT = make("unsigned", 32)
"""Type of every count of late turns, missed samples and lost words; counts stop at the top, they never wrap."""


@dataclass(eq=False)
class Drive:
    """Something that loops decide in each tick: ``default`` where they do not.  One loop owns it.

    ``once`` is for what can be used one time in a tick only: it says why, and a second use is refused.
    ``verb`` and ``why`` tell what a second loop would do to it, and why it may not.
    """

    name: str
    kind: Type
    default: int
    owner: Any = None
    first: Loc = NOWHERE
    once: str = ""
    verb: str = "writes"
    why: str = "two drivers on one wire"


@dataclass
class Wait:
    """How an operation that waits goes on.

    ``begin`` acts in the tick in which the operation is reached.  ``ready`` gives the bit that ends the wait (None: the next tick
    does); it is asked in the same tick too if ``check_now``.  ``take`` acts in the tick in which the wait ends; ``result`` is the
    value in the tick after.  With ``same_tick`` the code behind runs in the very tick in which ``ready`` is 1.
    """

    begin: Callable[[], None] | None = None
    ready: Callable[[], int] | None = None
    check_now: bool = True
    take: Callable[[], None] | None = None
    result: Callable[[], Value] | None = None
    same_tick: bool = False


class Part:
    """Base of all parts: what a learner may not do with it is refused here, in words."""

    instant: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()
    attributes: tuple[str, ...] = ()

    def __init__(self, circuit: Circuit, declared: declare.Declared, name: str) -> None:
        self.circuit = circuit
        self.declared = declared
        self.name = name
        self.what = type(declared).__name__

    def value(self, ex: Executor) -> Value:
        """The part used as a value in an expression."""
        raise Refused(f"{self.name} is {a_or_an(self.what)} and has no value of its own.", self._offer())

    def store(self, ex: Executor, x: Any) -> None:
        """An assignment to the part."""
        raise Refused(f"nothing can be assigned to {self.name}: it is {a_or_an(self.what)}.", self._offer())

    def attribute(self, ex: Executor, name: str) -> Any:
        """``part.name`` in an expression."""
        raise Refused(f"{self.what} {self.name} has no {name!r}.", self._offer())

    def call(self, ex: Executor, name: str, args: list[Any]) -> Any:
        """``part.name(args)`` that takes no tick."""
        raise Refused(f"{self.what} {self.name} has no operation {name!r}.", self._offer())

    def wait(self, ex: Executor, name: str, args: list[Any]) -> Wait:
        """``part.name(args)`` that takes ticks."""
        raise Refused(f"{self.what} {self.name} has no operation {name!r}.", self._offer())

    def index(self, ex: Executor, i: Any) -> Any:
        """``part[i]`` in an expression."""
        raise Refused(f"{self.what} {self.name} has no elements.", self._offer())

    def store_index(self, ex: Executor, i: Any, x: Any) -> None:
        """``part[i] = x``."""
        raise Refused(f"{self.what} {self.name} has no elements to assign to.", self._offer())

    def finish(self) -> None:
        """Called once when all loops have been read."""

    def _offer(self) -> str:
        uses = [f"{self.name}.{n}" for n in self.attributes] + [
            f"{self.name}.{n}(…)" for n in (*self.waiting, *self.instant)
        ]
        return f"It offers {', '.join(uses)}." if uses else f"Use it by its name alone: self.{self.name}."


def a_or_an(noun: str) -> str:
    """``noun`` with its article."""
    return f"{'an' if noun[0] in 'AEIOU' else 'a'} {noun}"


def element_number(name: str, i: Any, count: int, noun: str) -> int:
    """A constant index, or a refusal in words."""
    if isinstance(i, bool) or not isinstance(i, int) or not 0 <= i < count:
        raise Refused(
            f"{name} has {noun}s 0 to {count - 1}; there is no {noun} {i!r}.", f"The last one is {count - 1}."
        )
    return i


def take_args(name: str, args: list[Any], count: int) -> list[Any]:
    """``args`` if there are ``count`` of them."""
    if len(args) != count:
        raise Refused(f"{name} takes {count or 'no'} value{'s' if count != 1 else ''}, not {len(args)}.")
    return args


class Storage:
    """A netlist register that one loop writes."""

    def __init__(
        self, circuit: Circuit, name: str, kind: Type, reset: Any = 0, by: str = "user", loc: Loc = NOWHERE
    ) -> None:
        self.circuit = circuit
        self.name = name
        self.kind = kind
        raw = arithmetic.constant(kind, reset)
        self.index = len(circuit.netlist.regs)
        circuit.netlist.regs.append(Reg(name, kind, raw, 0, 0, loc if loc.line else circuit.b.loc, by))
        self.leaf = circuit.b.add("reg", (), kind, self.index)
        self.drive = Drive(name, kind, self.leaf)

    @property
    def reg(self) -> Reg:
        return self.circuit.netlist.regs[self.index]

    def read(self, ex: Executor) -> Value:
        """Its value at the start of the tick."""
        ex.reads(self)
        return Value(self.leaf, self.kind)

    def write(self, ex: Executor, x: Any) -> None:
        """Its value from the next tick on."""
        ex.drive(self.drive, arithmetic.store(self.circuit.b, x, self.kind, self.name).node)

    def set(self, node: int, clock: int = 0, cross: int = 0) -> None:
        """For registers that no loop writes: what they take at each edge."""
        self.reg.next = node
        self.reg.clock = clock
        self.reg.cross = cross

    def finish(self) -> None:
        """Take what the owning loop decided."""
        self.set(self.circuit.total(self.drive), self.circuit.clock_of(self.drive, self.index))


def count_up(circuit: Circuit, counter: Storage, by: int) -> int:
    """Next value of a count: one more where bit ``by`` is 1, but never past the top."""
    b = circuit.b
    below = b.add("ne", (counter.leaf, b.const(COUNT.high, COUNT)), BIT)
    more = b.add("add", (counter.leaf, b.const(1, COUNT)), COUNT)
    return b.choose(b.both(by, below), more, counter.leaf, COUNT)
