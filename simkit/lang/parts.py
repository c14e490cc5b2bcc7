"""What declarations turn into: registers, ports and the logic around them.

Each declaration of a design becomes one *part*.  While loops are being read, parts hand out values and take
writes; a write goes into a :class:`Drive`, which belongs to one loop.  When all loops are read, ``finish`` turns
the drives into netlist state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, NOWHERE, Endpoint, Input, Loc, Output, Reg, Type, make
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


class RegPart(Part):
    """Reg, DigitalOut, HostReg of access "ro": a register that a loop writes and, perhaps, a port that shows it."""

    def __init__(self, circuit: Circuit, declared: Any, name: str) -> None:
        super().__init__(circuit, declared, name)
        by = "user" if isinstance(declared, declare.Reg) else "port"
        self.storage = Storage(circuit, name, declared.kind, declared.reset, by)
        if by == "port":
            circuit.output(name, declared.kind, self.storage)
            terminal = getattr(declared, "terminal", "")
            options: dict[str, int | float | str | bool] = {}
            if isinstance(declared, declare.HostReg):
                options = {"access": declared.access, "unit": declared.unit}
            circuit.endpoint(Endpoint(name, declared.endpoint, terminal, declared.kind, {"value": name}, options))

    def value(self, ex: Executor) -> Value:
        return self.storage.read(ex)

    def store(self, ex: Executor, x: Any) -> None:
        self.storage.write(ex, x)

    def store_index(self, ex: Executor, i: Any, x: Any) -> None:
        raise Refused(
            f"{self.name} is one register of {self.storage.kind}; its bits cannot be assigned one by one.",
            "Put the whole value together, for example with cat(…), or declare Regs(bit, n).",
        )

    def finish(self) -> None:
        self.storage.finish()


class HostRegPart(Part):
    """HostReg of access "rw": the host writes it through two ports."""

    def __init__(self, circuit: Circuit, declared: declare.HostReg, name: str) -> None:
        super().__init__(circuit, declared, name)
        kind = declared.kind
        self.storage = Storage(circuit, name, kind, declared.reset, "port")
        write = circuit.input(f"{name}.write", BIT, strobe=True)
        data = circuit.input(f"{name}.data", kind)
        circuit.output(name, kind, self.storage)
        self.storage.set(circuit.b.choose(write, data, self.storage.leaf, kind))
        ports = {"write": f"{name}.write", "data": f"{name}.data", "value": name}
        circuit.endpoint(Endpoint(name, "host_reg", "", kind, ports, {"access": "rw", "unit": declared.unit}))

    def value(self, ex: Executor) -> Value:
        ex.at_clock(0, self.name)
        return self.storage.read(ex)

    def store(self, ex: Executor, x: Any) -> None:
        raise Refused(
            f'{self.name} is a HostReg of access "rw": the host writes it, and a register has one writer.',
            'Declare it with access="ro" if the design shall write it, or use a second register.',
        )


class DigitalInPart(Part):
    """An asynchronous line and, for each clock that reads it, its synchroniser registers."""

    declared: declare.DigitalIn

    def __init__(self, circuit: Circuit, declared: declare.DigitalIn, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.pin = circuit.input(name, declared.kind)
        self.chains: dict[int, Storage] = {}
        circuit.endpoint(
            Endpoint(name, "digital_in", declared.terminal, declared.kind, {"value": name}, {"sync": declared.sync})
        )

    def value(self, ex: Executor) -> Value:
        clock = ex.loop.clock
        if self.declared.sync == 0:
            ex.at_clock(0, self.name)
            return Value(self.pin, self.declared.kind)
        if clock not in self.chains:
            suffix = "" if clock == 0 else "." + self.circuit.netlist.clocks[clock].name
            self.chains[clock] = synchronise(
                self.circuit, f"{self.name}.sync{suffix}", self.declared.kind, self.pin, 0, clock, self.declared.sync, 0
            )
        return Value(self.chains[clock].leaf, self.declared.kind)

    def store(self, ex: Executor, x: Any) -> None:
        raise Refused(f"{self.name} is an input: the bench drives it.", "Declare a DigitalOut to drive a line.")


def synchronise(
    circuit: Circuit, name: str, kind: Type, source: int, source_clock: int, clock: int, stages: int, reset: Any
) -> Storage:
    """A chain of registers of ``clock``; the first one samples ``source``.  Gives the last one."""
    storage = None
    for stage in range(1, stages + 1):
        storage = Storage(circuit, f"{name}{stage}", kind, reset, "sync")
        cross = CROSSING_PS if stage == 1 and clock != source_clock else 0
        storage.set(source, clock, cross)
        source = storage.leaf
    assert storage is not None
    return storage


class AnalogInPart(Part):
    """A converter's newest code and its strobe; ``read()`` adds a register for a sample that waits to be read."""

    declared: declare.AnalogIn
    waiting = ("read",)
    attributes = ("valid", "value", "missed")

    def __init__(self, circuit: Circuit, declared: declare.AnalogIn, name: str) -> None:
        super().__init__(circuit, declared, name)
        kind = declared.kind
        self.code = circuit.input(f"{name}.value", kind)
        self.valid = circuit.input(f"{name}.valid", BIT, strobe=True)
        self.box: tuple[Storage, Storage, Storage] | None = (
            None  # the sample, whether it is unread, how many were missed
        )
        self.taken = Drive(
            f"{name}.read()", BIT, circuit.b.zero, verb="uses", why="a sample that one takes, the other misses"
        )
        self.endpoint = Endpoint(
            name, declared.endpoint, declared.terminal, kind, {"value": f"{name}.value", "valid": f"{name}.valid"}
        )
        circuit.endpoint(self.endpoint)

    def _mailbox(self) -> tuple[Storage, Storage, Storage]:
        if self.box is None:
            make_one = lambda what, kind, by: Storage(self.circuit, f"{self.name}.{what}", kind, 0, by)  # noqa: E731
            self.box = (
                make_one("sample", self.declared.kind, "port"),
                make_one("unread", BIT, "port"),
                make_one("missed", COUNT, "count"),
            )
            self.endpoint.ports["missed"] = f"{self.name}.missed"
        return self.box

    def attribute(self, ex: Executor, name: str) -> Value:
        ex.at_clock(0, self.name)
        if name == "valid":
            return Value(self.valid, BIT)
        if name == "value":
            return Value(self.code, self.declared.kind)
        if name == "missed":
            return Value(self._mailbox()[2].leaf, COUNT)
        return super().attribute(ex, name)

    def wait(self, ex: Executor, name: str, args: list[Any]) -> Wait:
        if name != "read":
            return super().wait(ex, name, args)
        take_args(f"{self.name}.read", args, 0)
        ex.at_clock(0, self.name)
        sample, unread, _ = self._mailbox()
        b = self.circuit.b
        return Wait(
            ready=lambda: b.either(self.valid, unread.leaf),
            take=lambda: ex.drive(self.taken, b.one),
            result=lambda: Value(sample.leaf, self.declared.kind),
        )

    def finish(self) -> None:
        if self.box is None:
            return
        sample, unread, missed = self.box
        b = self.circuit.b
        sample.set(b.choose(self.valid, self.code, sample.leaf, self.declared.kind))
        unread.set(b.both(b.inverse(self.circuit.total(self.taken)), b.either(self.valid, unread.leaf)))
        missed.set(count_up(self.circuit, missed, b.both(self.valid, unread.leaf)))


class AnalogOutPart(RegPart):
    """The register with the code, and the strobe by which the converter says that it took it."""

    waiting = ("write",)
    attributes = ("ready",)

    def __init__(self, circuit: Circuit, declared: declare.AnalogOut, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.ready = circuit.input(f"{name}.ready", BIT, strobe=True)
        circuit.netlist.endpoints[-1].ports["ready"] = f"{name}.ready"

    def attribute(self, ex: Executor, name: str) -> Value:
        if name != "ready":
            return super().attribute(ex, name)
        ex.at_clock(0, self.name)
        return Value(self.ready, BIT)

    def wait(self, ex: Executor, name: str, args: list[Any]) -> Wait:
        if name != "write":
            return super().wait(ex, name, args)
        (x,) = take_args(f"{self.name}.write", args, 1)
        ex.at_clock(0, self.name)
        return Wait(begin=lambda: self.storage.write(ex, x), ready=lambda: self.ready, check_now=False)


class InterruptPart(Part):
    """A request that stands until the host acknowledges it."""

    instant = ("request",)
    attributes = ("pending",)

    def __init__(self, circuit: Circuit, declared: declare.Interrupt, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.storage = Storage(circuit, name, BIT, 0, "port")
        self.acknowledge = circuit.input(f"{name}.acknowledge", BIT, strobe=True)
        self.asked = Drive(f"{name}.request()", BIT, circuit.b.zero, verb="uses")
        circuit.output(name, BIT, self.storage)
        circuit.endpoint(Endpoint(name, "interrupt", "", BIT, {"request": name, "acknowledge": f"{name}.acknowledge"}))

    def attribute(self, ex: Executor, name: str) -> Value:
        if name != "pending":
            return super().attribute(ex, name)
        ex.at_clock(0, self.name)
        return Value(self.storage.leaf, BIT)

    def call(self, ex: Executor, name: str, args: list[Any]) -> None:
        if name != "request":
            return super().call(ex, name, args)
        take_args(f"{self.name}.request", args, 0)
        ex.at_clock(0, self.name)
        ex.drive(self.asked, self.circuit.b.one)

    def finish(self) -> None:
        b = self.circuit.b
        held = b.both(self.storage.leaf, b.inverse(self.acknowledge))
        self.storage.set(b.either(self.circuit.total(self.asked), held))


class SynchronizerPart(Part):
    """A one-bit register and, for each clock that reads it, a chain of registers."""

    declared: declare.Synchronizer

    def __init__(self, circuit: Circuit, declared: declare.Synchronizer, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.storage = Storage(circuit, name, BIT, declared.reset)
        self.chains: dict[int, list[Storage]] = {}

    def value(self, ex: Executor) -> Value:
        clock = ex.loop.clock
        if clock not in self.chains:
            clock_name = self.circuit.netlist.clocks[clock].name
            self.chains[clock] = [
                Storage(self.circuit, f"{self.name}.{clock_name}{stage + 1}", BIT, self.declared.reset, "sync")
                for stage in range(self.declared.stages)
            ]
        return Value(self.chains[clock][-1].leaf, BIT)

    def store(self, ex: Executor, x: Any) -> None:
        self.storage.write(ex, x)

    def finish(self) -> None:
        self.storage.finish()
        for clock, chain in self.chains.items():
            source, cross = self.storage.leaf, CROSSING_PS if clock != self.storage.reg.clock else 0
            for stage in chain:
                stage.set(source, clock, cross)
                source, cross = stage.leaf, 0


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


def new_input(name: str, kind: Type, strobe: bool) -> Input:
    """An input port of the fabric clock."""
    return Input(name, kind, 0, strobe)


def new_output(name: str, kind: Type, node: int) -> Output:
    """An output port; its clock is that of the register behind it, set at the end."""
    return Output(name, kind, 0, node)
