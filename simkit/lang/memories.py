"""Arrays: of registers, and of words in a memory that is read a tick later."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, make
from . import arithmetic, declare
from .build import Refused, Value
from .parts import Drive, Part, Storage, Wait, element_number, take_args

if TYPE_CHECKING:
    from .circuit import Circuit
    from .execute import Executor


class RegsPart(Part):
    """An array of registers; a signal index becomes a multiplexer."""

    declared: declare.Regs

    def __init__(self, circuit: Circuit, declared: declare.Regs, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.items = [Storage(circuit, f"{name}[{i}]", declared.kind, reset) for i, reset in enumerate(declared.reset)]

    def __len__(self) -> int:
        return len(self.items)

    def element(self, i: Any) -> Storage:
        return self.items[element_number(self.name, i, len(self.items), "element")]

    def _offer(self) -> str:
        return f"Name one element: self.{self.name}[i]."

    def index(self, ex: Executor, i: Any) -> Value:
        if not isinstance(i, Value):
            return self.element(i).read(ex)
        b, kind = self.circuit.b, self.declared.kind
        check_index(self.name, i)
        chosen = b.const(0, kind)
        for k, item in enumerate(self.items):
            if i.type.holds(k):
                chosen = b.choose(b.add("eq", (i.node, b.const(k, i.type)), BIT), item.read(ex).node, chosen, kind)
        return Value(chosen, kind)

    def store_index(self, ex: Executor, i: Any, x: Any) -> None:
        if not isinstance(i, Value):
            return self.element(i).write(ex, x)
        b, kind = self.circuit.b, self.declared.kind
        check_index(self.name, i)
        new = arithmetic.store(b, x, kind, self.name).node
        for k, item in enumerate(self.items):
            if i.type.holds(k):
                hit = b.add("eq", (i.node, b.const(k, i.type)), BIT)
                ex.drive(item.drive, b.choose(hit, new, ex.driven(item.drive), kind))
        return None

    def finish(self) -> None:
        for item in self.items:
            item.finish()


def check_index(name: str, i: Value) -> None:
    """Refuse an index that is not an unsigned integer."""
    if i.type.kind not in ("unsigned", "bit"):
        raise Refused(
            f"an index of {name} is unsigned; this one is {i.type}.",
            f"Write unsigned({i.type.width})(…) around it if it is never negative.",
        )


@dataclass(eq=False)
class ReadPort:
    """A loop's own port to a memory."""

    addr: Drive
    enable: Drive
    index: int
    leaf: int


@dataclass(eq=False)
class RamPart(Part):
    """A memory with one writing loop and a read port for each reading loop."""

    circuit: Circuit
    declared: Any
    name: str
    ports: dict[Any, ReadPort] = field(default_factory=dict)

    waiting = ("read",)
    instant = ("request",)
    attributes = ("word",)

    def __post_init__(self) -> None:
        super().__init__(self.circuit, self.declared, self.name)
        kind, depth = self.declared.kind, self.declared.depth
        init = tuple(arithmetic.constant(kind, v) for v in self.declared.init)
        self.mem = self.circuit.memory(self.name, kind, depth, init)
        self.address_type = make("unsigned", max(1, (depth - 1).bit_length()))
        b = self.circuit.b
        port = f"the write port of {self.name}"
        self.enable = Drive(port, BIT, b.zero, once="a memory stores one word in a tick", verb="uses")
        self.addr = Drive(port, self.address_type, b.const(0, self.address_type), verb="uses")
        self.data = Drive(port, kind, b.const(0, kind), verb="uses")

    def _address(self, i: Any) -> int:
        b = self.circuit.b
        if not isinstance(i, Value):
            return b.const(element_number(self.name, i, self.declared.depth, "word"), self.address_type)
        check_index(self.name, i)
        if i.type.width > self.address_type.width:
            raise Refused(
                f"the address is {i.type} but {self.name} has {self.declared.depth} words: an address of more than "
                f"{self.address_type.width} bits reaches past its end.",
                f"Write resize(…, unsigned({self.address_type.width})) if the value stays below {self.declared.depth}.",
            )
        return b.add("wrap", (i.node,), self.address_type)

    def _port(self, ex: Executor) -> ReadPort:
        if ex.loop not in self.ports:
            b, n = self.circuit.b, len(self.ports)
            addr = Drive(f"{self.name} (read address)", self.address_type, b.const(0, self.address_type))
            enable = Drive(f"{self.name} (read)", BIT, b.zero, once="a loop reads one word of a memory in a tick")
            index, leaf = self.circuit.read_port(f"{self.name}.word{n or ''}", self.mem, self.declared.kind)
            self.ports[ex.loop] = ReadPort(addr, enable, index, leaf)
        return self.ports[ex.loop]

    def _ask(self, ex: Executor, i: Any) -> None:
        port = self._port(ex)
        ex.drive(port.addr, self._address(i))
        ex.drive(port.enable, self.circuit.b.one)

    def attribute(self, ex: Executor, name: str) -> Any:
        if name == "word":
            return Value(self._port(ex).leaf, self.declared.kind)
        if name == "depth":
            return self.declared.depth
        return super().attribute(ex, name)

    def call(self, ex: Executor, name: str, args: list[Any]) -> None:
        if name != "request":
            return super().call(ex, name, args)
        return self._ask(ex, *take_args(f"{self.name}.request", args, 1))

    def wait(self, ex: Executor, name: str, args: list[Any]) -> Wait:
        if name != "read":
            return super().wait(ex, name, args)
        (i,) = take_args(f"{self.name}.read", args, 1)
        return Wait(begin=lambda: self._ask(ex, i), result=lambda: Value(self._port(ex).leaf, self.declared.kind))

    def index(self, ex: Executor, i: Any) -> Value:
        raise Refused(
            f"a memory answers one tick later, so {self.name}[…] has no value in this tick.",
            f"Write v = self.{self.name}.read(i) on a line of its own in a sequenced loop.",
        )

    def store_index(self, ex: Executor, i: Any, x: Any) -> None:
        if isinstance(self.declared, declare.Rom):
            raise Refused(f"{self.name} is a Rom: its words never change.", "Use a Ram to write words.")
        ex.drive(self.addr, self._address(i))
        ex.drive(self.data, arithmetic.store(self.circuit.b, x, self.declared.kind, self.name).node)
        ex.drive(self.enable, self.circuit.b.one)

    def finish(self) -> None:
        total = self.circuit.total
        if self.enable.owner is not None:
            self.circuit.write_port(
                self.mem, self.enable.owner.clock, total(self.addr), total(self.data), total(self.enable)
            )
        for loop, port in self.ports.items():
            read = self.circuit.netlist.reads[port.index]
            read.clock, read.addr, read.enable = loop.clock, total(port.addr), total(port.enable)
