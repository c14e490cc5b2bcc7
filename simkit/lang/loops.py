"""A loop of one particular design: its clock and period, and the down-counter that its waits use."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NoReturn

from ..netlist import BIT, Timer, Type, make
from .build import Builder, Value
from .design import LoopMethod
from .parts import Drive, Storage
from .source import code_of

if TYPE_CHECKING:
    from .circuit import Circuit
    from .execute import Executor


@dataclass(eq=False)
class LoopInfo:
    """A loop of one particular design: ``clock`` is an index, ``period`` in ticks (0: none)."""

    name: str
    kind: str
    design: Any
    method: LoopMethod
    clock: int = 0
    period: int = 0
    start: int | None = None  # bit: a multiple of the period
    late: Storage | None = None
    pause: Pause | None = None


class Pause:
    """The down-counter that a loop's ``wait`` uses; as wide as its longest wait, which is known at the end."""

    WIDE = make("unsigned", 62)

    def __init__(self, circuit: Circuit, loop: LoopInfo) -> None:
        b = circuit.b
        self.index = len(circuit.netlist.timers)
        circuit.netlist.timers.append(Timer(f"{loop.name}.timer", 1, 0, loop.clock, 0, 0, b.loc))
        self.expired = b.add("expired", (), BIT, self.index)
        self.loads = Drive(f"{loop.name} timer", BIT, b.zero)
        self.count = Drive(f"{loop.name} timer count", self.WIDE, b.const(0, self.WIDE))
        self.width = 1

    def load(self, ex: Executor, count: Value) -> None:
        """Count down from ``count``; zero is reached that many ticks after the next one."""
        self.width = max(self.width, count.type.width)
        ex.drive(self.count, ex.b.add("wrap", (count.node,), self.WIDE))
        ex.drive(self.loads, ex.b.one)

    def finish(self, circuit: Circuit) -> None:
        timer = circuit.netlist.timers[self.index]
        kind = make("unsigned", self.width)
        timer.width = self.width
        timer.load = circuit.total(self.loads)
        timer.value = narrow(circuit.b, circuit.total(self.count), kind)


def refuse_head(loop: LoopInfo, why: str, instead: str) -> NoReturn:
    """Refuse what stands in a loop's decorator."""
    code = code_of(loop.method.function)
    code.refuse(next((d for d in code.tree.decorator_list if isinstance(d, ast.Call)), code.tree), why, instead)


def asked(loop: LoopInfo, what: str, function: Callable[[Any], Any]) -> Any:
    """What a decorator's function gives for a loop's design."""
    try:
        return function(loop.design)
    except Exception as error:  # noqa: BLE001 - the learner's own function: whatever it raises is reported at this line
        text = f"{type(error).__name__}: {error}".removesuffix(".")
        refuse_head(loop, f"the {what} of {loop.name} could not be worked out: {text}.", "It is asked with the design.")


def narrow(b: Builder, node: int, kind: Type) -> int:
    """A tree of multiplexers over values that fit ``kind``, rebuilt in that type.

    Its parts are shared, so each is rebuilt once: one call for each way through it would double with every multiplexer.
    """
    nodes = b.netlist.nodes
    reached, waiting = {node}, [node]
    while waiting:
        found = nodes[waiting.pop()]
        inner = [arg for arg in found.args[1:] if arg not in reached] if found.op == "mux" else []
        reached.update(inner)
        waiting.extend(inner)
    made: dict[int, int] = {}
    for index in sorted(reached):  # arguments stand before what uses them
        found = nodes[index]
        if found.op == "mux":
            condition, yes, no = found.args
            made[index] = b.choose(condition, made[yes], made[no], kind)
        else:
            made[index] = b.add("wrap", found.args if found.op == "wrap" else (index,), kind)
    return made[node]
