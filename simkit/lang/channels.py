"""What a design shows to the world and takes from it: registers with ports, lines, converters, interrupts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Endpoint, Type
from . import declare
from .build import Refused, Value
from .parts import COUNT, CROSSING_PS, Drive, Part, Storage, Wait, count_up, take_args

if TYPE_CHECKING:
    from .circuit import Circuit
    from .execute import Executor


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
