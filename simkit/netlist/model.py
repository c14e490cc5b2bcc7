"""The netlist: a design as plain data, and the one form that everything else in the kit reads.

A netlist is a synchronous circuit.  Everything a learner writes (sequenced loops, queues, channels,
host registers) has been turned into six kinds of state and one list of expressions:

==============  ==================================================================================
``regs``        a register: takes the value of node ``next`` at each edge of its clock
``timers``      a down-counter that can only be asked whether it is at zero.  At each edge: loads
                ``value`` if ``load``, else counts down to 0 and stays.  It exists apart from
                ``regs`` so that an engine may skip idle ticks: between two moments at which a
                timer reaches zero, nothing in the circuit can tell one count from another
``mems``        an array of words
``reads``       a synchronous read port: at each edge, if ``enable``, keeps ``mem[addr]`` as it was
                *before* this edge's writes; 0 where ``addr`` is beyond the depth
``writes``      a write port: at each edge, if ``enable``, stores ``data``; ignored beyond the depth
``inputs``      a value from outside.  It holds until changed; a *strobe* is 1 for one tick only
==============  ==================================================================================

``nodes`` is the list of word-level expressions.  A node's arguments stand before it, so the list is
its own evaluation order and there can be no combinational loop.  Each node computes with the exact
integers its arguments hold and wraps the result into its own type (see :mod:`simkit.netlist.ops`).

**One tick.**  Tick *k* of a clock: inputs take the values due in tick *k*; every node has its value;
at the edge that ends the tick, all state of that clock changes at once.  Edges of several clocks that
fall on the same picosecond all see the old state.  Edge *k* of a clock lies at
``floor(k * 10**12 / hz)`` picoseconds, so no clock drifts.

**Clock crossing.**  A register with ``cross`` set samples node ``next`` of *another* clock.  If that
source changed within ``cross`` picoseconds before the edge, each bit that changed settles at random to
its old or new value (:func:`simkit.netlist.ops.settle`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from .types import Type


class Loc(NamedTuple):
    """A place in the learner's source.  Lines count from 1, columns (characters, not bytes) from 0."""

    file: str
    line: int
    col: int = 0
    end_line: int = 0
    end_col: int = 0
    text: str = ""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


NOWHERE = Loc("", 0)


class Clock(NamedTuple):
    """A clock of ``hz_num / hz_den`` hertz.  Clock 0 is the fabric clock."""

    name: str
    hz_num: int
    hz_den: int = 1

    def edge_ps(self, k: int) -> int:
        """Time of edge *k* in picoseconds; tick *k* ends there.  Edge 0 lies one period after the start."""
        return (k + 1) * 10**12 * self.hz_den // self.hz_num


class Node(NamedTuple):
    """One expression: ``op`` applied to earlier nodes.

    ``attr`` is the operator's constant: the value of a ``const``, the index of a ``reg``, ``input``,
    ``rdata`` or ``expired`` leaf, the lowest bit of ``bits``; 0 elsewhere.
    """

    op: str
    args: tuple[int, ...]
    type: Type
    attr: int = 0
    loc: Loc = NOWHERE
    name: str = ""


@dataclass(slots=True)
class Reg:
    """A register.  ``kind`` says who made it: ``user``, ``local``, ``state``, ``port``, ``count`` or ``sync``.

    ``states`` names the values of a state register, in order.  ``cross`` is in picoseconds, 0 for none.
    """

    name: str
    type: Type
    reset: int
    clock: int
    next: int
    loc: Loc = NOWHERE
    kind: str = "user"
    states: tuple[str, ...] = ()
    cross: int = 0


@dataclass(slots=True)
class Timer:
    """A down-counter; ``reset`` is its count in tick 0."""

    name: str
    width: int
    reset: int
    clock: int
    load: int
    value: int
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Mem:
    """A memory of ``depth`` words; words beyond ``init`` start at 0."""

    name: str
    type: Type
    depth: int
    init: tuple[int, ...] = ()
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Read:
    """A synchronous read port; its word is the ``rdata`` leaf with this port's index, 0 in tick 0."""

    name: str
    mem: int
    clock: int
    addr: int
    enable: int
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Write:
    """A write port."""

    mem: int
    clock: int
    addr: int
    data: int
    enable: int
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Input:
    """A value from outside, changed only at the start of a tick of ``clock``; 0 until first set."""

    name: str
    type: Type
    clock: int
    strobe: bool = False
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Output:
    """A value that the outside sees: node ``node`` in the same tick."""

    name: str
    type: Type
    clock: int
    node: int
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Endpoint:
    """Ports that belong together: a channel, a host register, a stream, an interrupt.

    ``kind`` is one of ``digital_in``, ``digital_out``, ``analog_in``, ``analog_out``, ``thermocouple_in``,
    ``host_reg``, ``host_stream``, ``interrupt``.  ``terminal`` names the bench terminal it is wired to.
    ``ports`` maps a role (``value``, ``valid``, ``ready``, ``write`` …) to the name of an input, output or register.
    ``options`` holds further plain values (numbers, strings), for example ``access`` or ``depth``.
    """

    name: str
    kind: str
    terminal: str
    type: Type
    ports: dict[str, str]
    options: dict[str, int | float | str | bool] = field(default_factory=dict)
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Loop:
    """What a person should know of one loop; engines do not need it.

    ``period`` is in ticks, 0 for none.  ``state``, ``late`` and ``turns`` name registers ("" for none).
    """

    name: str
    kind: str
    clock: int
    period: int = 0
    state: str = ""
    late: str = ""
    loc: Loc = NOWHERE


@dataclass(slots=True)
class Signal:
    """A name under which a person may look at a value: a register, a port, a wire."""

    name: str
    type: Type
    clock: int
    node: int


@dataclass(slots=True, weakref_slot=True)
class Netlist:
    """A whole design.  See the module's text for what each part means."""

    name: str
    clocks: list[Clock] = field(default_factory=list)
    inputs: list[Input] = field(default_factory=list)
    regs: list[Reg] = field(default_factory=list)
    timers: list[Timer] = field(default_factory=list)
    mems: list[Mem] = field(default_factory=list)
    reads: list[Read] = field(default_factory=list)
    writes: list[Write] = field(default_factory=list)
    nodes: list[Node] = field(default_factory=list)
    outputs: list[Output] = field(default_factory=list)
    endpoints: list[Endpoint] = field(default_factory=list)
    loops: list[Loop] = field(default_factory=list)
    warnings: list[tuple[Loc, str]] = field(default_factory=list)

    def signals(self) -> dict[str, Signal]:
        """Every value that can be looked at by name: inputs, registers, read ports, outputs, named wires.

        A register needs a ``reg`` leaf to be looked at; :func:`simkit.netlist.passes.expose` makes one for each.
        """
        found: dict[str, Signal] = {}
        for index, node in enumerate(self.nodes):
            if node.op == "reg":
                reg = self.regs[node.attr]
                found.setdefault(reg.name, Signal(reg.name, reg.type, reg.clock, index))
            elif node.op == "input":
                port = self.inputs[node.attr]
                found.setdefault(port.name, Signal(port.name, port.type, port.clock, index))
        for output in self.outputs:
            found.setdefault(output.name, Signal(output.name, output.type, output.clock, output.node))
        return found
