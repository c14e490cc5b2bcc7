"""What the run function's loop carries, and what one edge leaves for its commit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from .irtext import I1, Value

FALSE = I1(0)
LISTS = ("done", "edge", "fraction", "regs", "timers", "reads")


@dataclass
class Ssa:
    """Everything that the loop carries from edge to edge; the last three lists are empty where state stays in the buffer."""

    special: Value
    dirty: Value
    done: list[Value]
    edge: list[Value]
    fraction: list[Value]
    regs: list[Value]
    timers: list[Value]
    reads: list[Value]

    def flat(self) -> list[Value]:
        return [self.special, self.dirty, *(value for part in LISTS for value in getattr(self, part))]

    def copied(self, special: Value, dirty: Value) -> Ssa:
        return Ssa(special, dirty, *([*getattr(self, part)] for part in LISTS))

    def renamed(self, name: Callable[[], str]) -> Ssa:
        """The same types under new names."""

        def fresh(value: Value) -> Value:
            return Value(value.type, name())

        return Ssa(fresh(self.special), fresh(self.dirty), *([fresh(v) for v in getattr(self, part)] for part in LISTS))


@dataclass
class Ports:
    """What the clocks' evaluation leaves for the commit: the write ports."""

    enable: dict[int, Value] = field(default_factory=dict)
    addr: dict[int, Value] = field(default_factory=dict)
    data: dict[int, Value] = field(default_factory=dict)
