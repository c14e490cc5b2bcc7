"""Queues and handshakes: how words travel between loops, between clocks, and to and from the host.

**One clock.**  Words lie in a memory with a synchronous read port that always looks one word ahead, so the oldest
word is on show and the memory still becomes block RAM.  A word that is written into the place the port is just looking
at is shown from a bypass register in the next tick.

**Two clocks.**  Each side counts with one bit more than the address and shows the other side its count in Gray code
(one bit changes at a time, so a count sampled in the middle of a change is the old one or the new one, never a third).
Empty: the Gray counts are equal.  Full: they differ in exactly the two highest bits.  (Cummings, "Simulation and
Synthesis Techniques for Asynchronous FIFO Design", SNUG San Jose 2002; the rule from memory, checked by brute force in
tests/lang/test_queues.py.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Endpoint, Type, make
from . import arithmetic, declare
from .build import Builder, Refused, Value
from .parts import COUNT, CROSSING_PS, Drive, Part, Storage, Wait, count_up, take_args

if TYPE_CHECKING:
    from .circuit import Circuit
    from .execute import Executor


class QueueSides:
    """What the loops on both sides of a queue see and decide; subclasses build the storage."""

    put_drive: Drive
    data_drive: Drive
    get_drive: Drive
    ready: int  # bit: there is room
    valid: int  # bit: a word is there
    value: int  # the oldest word
    giver: Storage  # a register of the side that puts: it knows that side's clock
    taker: Storage  # a register of the side that gets

    def __init__(self, circuit: Circuit, name: str, kind: Type) -> None:
        b = circuit.b
        side, why = f"the put side of {name}", "a word that one takes, the other never sees"
        self.put_drive = Drive(side, BIT, b.zero, once="a queue takes one word in a tick", verb="uses")
        self.data_drive = Drive(side, kind, b.const(0, kind), verb="uses")
        self.get_drive = Drive(
            f"the get side of {name}", BIT, b.zero, once="a queue gives one word in a tick", verb="uses", why=why
        )

    def finish(self, circuit: Circuit, put: int, data: int, get: int, put_clock: int, get_clock: int) -> None:
        """Close the circuit: ``put`` and ``get`` are 1 in the ticks in which a word really moves."""
        raise NotImplementedError


def _increment(b: Builder, storage: Storage, last: int) -> int:
    kind = storage.kind
    more = b.add("add", (storage.leaf, b.const(1, kind)), kind)
    if last == kind.high:
        return more
    return b.choose(b.add("eq", (storage.leaf, b.const(last, kind)), BIT), b.const(0, kind), more, kind)


class OneClockQueue(QueueSides):
    """Both sides belong to one clock."""

    def __init__(self, circuit: Circuit, name: str, kind: Type, depth: int) -> None:
        super().__init__(circuit, name, kind)
        b = circuit.b
        self.kind, self.depth = kind, depth
        self.pointer = make("unsigned", max(1, (depth - 1).bit_length()))
        self.mem = circuit.memory(f"{name}.words", kind, depth)
        self.read_index, self.ahead = circuit.read_port(f"{name}.ahead", self.mem, kind)
        self.count = Storage(circuit, f"{name}.count", make("unsigned", depth.bit_length()), 0, "port")
        self.giver = self.taker = self.count
        self.first = Storage(circuit, f"{name}.first", self.pointer, 0, "port")
        self.free = Storage(circuit, f"{name}.free", self.pointer, 0, "port")
        self.bypass = Storage(circuit, f"{name}.bypass", BIT, 0, "port")
        self.newest = Storage(circuit, f"{name}.newest", kind, 0, "port")
        size = self.count.kind
        self.valid = b.add("ne", (self.count.leaf, b.const(0, size)), BIT)
        self.ready = b.add("ne", (self.count.leaf, b.const(depth, size)), BIT)
        self.value = b.choose(self.bypass.leaf, self.newest.leaf, self.ahead, kind)

    def finish(self, circuit: Circuit, put: int, data: int, get: int, put_clock: int, get_clock: int) -> None:
        b, clock, size = circuit.b, put_clock, self.count.kind
        first = b.choose(get, _increment(b, self.first, self.depth - 1), self.first.leaf, self.pointer)
        free = b.choose(put, _increment(b, self.free, self.depth - 1), self.free.leaf, self.pointer)
        up = b.add("add", (self.count.leaf, b.const(1, size)), size)
        down = b.add("sub", (self.count.leaf, b.const(1, size)), size)
        changed = b.choose(put, up, down, size)
        self.count.set(b.choose(b.add("xor", (put, get), BIT), changed, self.count.leaf, size), clock)
        self.first.set(first, clock)
        self.free.set(free, clock)
        self.bypass.set(b.both(put, b.add("eq", (self.free.leaf, first), BIT)), clock)
        self.newest.set(b.choose(put, data, self.newest.leaf, self.kind), clock)
        read = circuit.netlist.reads[self.read_index]
        read.clock, read.addr, read.enable = clock, first, b.one
        circuit.write_port(self.mem, clock, self.free.leaf, data, put)


class TwoClockQueue(QueueSides):
    """The sides belong to two clocks."""

    def __init__(self, circuit: Circuit, name: str, kind: Type, depth: int) -> None:
        super().__init__(circuit, name, kind)
        if depth & (depth - 1) or depth < 2:
            raise Refused(
                f"{name} joins two clocks; its depth is {depth}: a Gray-coded count only works for a power of two.",
                f"Make the depth {max(2, 1 << (depth - 1).bit_length())}.",
            )
        b = circuit.b
        self.kind = kind
        bits = depth.bit_length() - 1
        self.counter, self.pointer = make("unsigned", bits + 1), make("unsigned", bits)
        self.mem = circuit.memory(f"{name}.words", kind, depth)
        self.read_index, self.value = circuit.read_port(f"{name}.ahead", self.mem, kind)
        make_one = lambda what, by="port": Storage(circuit, f"{name}.{what}", self.counter, 0, by)  # noqa: E731
        self.put_count, self.put_gray = make_one("put_count"), make_one("put_gray")
        self.get_count, self.get_gray = make_one("get_count"), make_one("get_gray")
        self.giver, self.taker = self.put_count, self.get_count
        self.put_seen = [make_one("put_seen1", "sync"), make_one("put_seen2", "sync")]
        self.get_seen = [make_one("get_seen1", "sync"), make_one("get_seen2", "sync")]
        self.valid = b.add("ne", (self.get_gray.leaf, self.put_seen[1].leaf), BIT)
        top = b.const(3 << (bits - 1), self.counter)
        full_code = b.add("xor", (self.get_seen[1].leaf, top), self.counter)
        self.ready = b.add("ne", (self.put_gray.leaf, full_code), BIT)

    def _step(self, b: Builder, count: Storage, gray: Storage, move: int, clock: int) -> int:
        after = b.choose(
            move, b.add("add", (count.leaf, b.const(1, self.counter)), self.counter), count.leaf, self.counter
        )
        count.set(after, clock)
        half = b.add("shr", (after, b.const(1, BIT)), self.counter)
        gray.set(b.add("xor", (after, half), self.counter), clock)
        return after

    def finish(self, circuit: Circuit, put: int, data: int, get: int, put_clock: int, get_clock: int) -> None:
        b = circuit.b
        self._step(b, self.put_count, self.put_gray, put, put_clock)
        after = self._step(b, self.get_count, self.get_gray, get, get_clock)
        for source, chain, clock in (
            (self.put_gray, self.put_seen, get_clock),
            (self.get_gray, self.get_seen, put_clock),
        ):
            chain[0].set(source.leaf, clock, CROSSING_PS)
            chain[1].set(chain[0].leaf, clock)
        read = circuit.netlist.reads[self.read_index]
        read.clock, read.addr, read.enable = get_clock, b.add("bits", (after,), self.pointer), b.one
        circuit.write_port(self.mem, put_clock, b.add("bits", (self.put_count.leaf,), self.pointer), data, put)


class OneWord(QueueSides):
    """A single word that crosses clocks by a request and an acknowledge bit, each toggled once a word."""

    def __init__(self, circuit: Circuit, name: str, kind: Type) -> None:
        super().__init__(circuit, name, kind)
        b = circuit.b
        self.kind = kind
        bit = lambda what, by="port": Storage(circuit, f"{name}.{what}", BIT, 0, by)  # noqa: E731
        self.request, self.acknowledge = bit("request"), bit("acknowledge")
        self.giver, self.taker = self.request, self.acknowledge
        self.request_seen = [bit("request_seen1", "sync"), bit("request_seen2", "sync")]
        self.acknowledge_seen = [bit("acknowledge_seen1", "sync"), bit("acknowledge_seen2", "sync")]
        self.word = Storage(circuit, f"{name}.word", kind, 0, "port")
        self.sample = Storage(circuit, f"{name}.sample", kind, 0, "sync")
        self.ready = b.add("eq", (self.request.leaf, self.acknowledge_seen[1].leaf), BIT)
        self.valid = b.add("ne", (self.request_seen[1].leaf, self.acknowledge.leaf), BIT)
        self.value = self.sample.leaf

    def finish(self, circuit: Circuit, put: int, data: int, get: int, put_clock: int, get_clock: int) -> None:
        b = circuit.b
        self.request.set(b.add("xor", (self.request.leaf, put), BIT), put_clock)
        self.word.set(b.choose(put, data, self.word.leaf, self.kind), put_clock)
        self.acknowledge.set(b.add("xor", (self.acknowledge.leaf, get), BIT), get_clock)
        # The word stands still from before the request is seen until after it is acknowledged, so its bits
        # cannot be caught in the middle of a change.
        self.sample.set(self.word.leaf, get_clock, CROSSING_PS)
        for source, chain, clock in (
            (self.request, self.request_seen, get_clock),
            (self.acknowledge, self.acknowledge_seen, put_clock),
        ):
            chain[0].set(source.leaf, clock, CROSSING_PS)
            chain[1].set(chain[0].leaf, clock)


class QueuePart(Part):
    """Fifo and Handshake as loops see them."""

    waiting = ("get", "put")
    instant = ("try_get", "try_put")
    attributes = ("valid", "value", "ready")

    def __init__(self, circuit: Circuit, declared: Any, name: str) -> None:
        super().__init__(circuit, declared, name)
        self.kind: Type = declared.kind
        self.depth: int = getattr(declared, "depth", 1)  # a handshake holds one word
        self.sides = self._build(circuit, declared, name)
        self.lost: Storage | None = None

    def _build(self, circuit: Circuit, declared: Any, name: str) -> QueueSides:
        if isinstance(declared, declare.Handshake):
            return OneWord(circuit, name, declared.kind)
        if len(circuit.clocks_touching(declared)) > 1:
            return TwoClockQueue(circuit, name, declared.kind, declared.depth)
        return OneClockQueue(circuit, name, declared.kind, declared.depth)

    def may(self, side: str) -> None:
        """Refuse a side that loops do not have (streams)."""

    def attribute(self, ex: Executor, name: str) -> Any:
        if name in ("valid", "value"):
            ex.reads(self.sides.taker)
            return Value(self.sides.valid, BIT) if name == "valid" else Value(self.sides.value, self.kind)
        if name == "ready":
            ex.reads(self.sides.giver)
            return Value(self.sides.ready, BIT)
        if name == "count" and isinstance(self.sides, OneClockQueue):
            ex.reads(self.sides.count)
            return Value(self.sides.count.leaf, self.sides.count.kind)
        if name == "depth":
            return self.depth
        return super().attribute(ex, name)

    def _put(self, ex: Executor, x: Any) -> None:
        word = arithmetic.store(self.circuit.b, x, self.kind, f"a word of {self.name}").node
        ex.drive(self.sides.data_drive, word)
        ex.drive(self.sides.put_drive, self.circuit.b.one)

    def call(self, ex: Executor, name: str, args: list[Any]) -> Value:
        if name == "try_get":
            self.may("get")
            take_args(f"{self.name}.try_get", args, 0)
            ex.drive(self.sides.get_drive, self.sides.valid)
            self.asked(ex)
            return Value(self.sides.valid, BIT)
        if name == "try_put":
            self.may("put")
            (x,) = take_args(f"{self.name}.try_put", args, 1)
            word = arithmetic.store(self.circuit.b, x, self.kind, f"a word of {self.name}").node
            ex.drive(self.sides.data_drive, word)
            ex.drive(self.sides.put_drive, self.sides.ready)
            self.offered(ex)
            return Value(self.sides.ready, BIT)
        return super().call(ex, name, args)

    def offered(self, ex: Executor) -> None:
        """A word was offered and perhaps refused (streams count that)."""

    def asked(self, ex: Executor) -> None:
        """A word was asked for and perhaps none was there (streams count that)."""

    def wait(self, ex: Executor, name: str, args: list[Any]) -> Wait:
        b, sides = self.circuit.b, self.sides
        if name == "get":
            self.may("get")
            take_args(f"{self.name}.get", args, 0)
            ex.own(sides.get_drive, "uses")
            held = ex.keep(Value(sides.value, self.kind))

            def take() -> None:
                ex.drive(sides.get_drive, b.one)
                held.set()

            return Wait(ready=lambda: sides.valid, take=take, result=held.get)
        if name == "put":
            self.may("put")
            (x,) = take_args(f"{self.name}.put", args, 1)
            word = ex.keep(Value(arithmetic.store(b, x, self.kind, f"a word of {self.name}").node, self.kind))
            return Wait(begin=word.set, ready=lambda: sides.ready, take=lambda: self._put(ex, word.get()))
        return super().wait(ex, name, args)

    def finish(self) -> None:
        total = self.circuit.total
        sides = self.sides
        put_clock = sides.put_drive.owner.clock if sides.put_drive.owner else 0
        get_clock = sides.get_drive.owner.clock if sides.get_drive.owner else put_clock
        if not sides.put_drive.owner:
            put_clock = get_clock
        sides.finish(
            self.circuit, total(sides.put_drive), total(sides.data_drive), total(sides.get_drive), put_clock, get_clock
        )


class StreamPart(QueuePart):
    """HostStream: a queue whose far side is the host."""

    declared: declare.HostStream

    def __init__(self, circuit: Circuit, declared: declare.HostStream, name: str) -> None:
        self.to_host = declared.direction == "to_host"
        super().__init__(circuit, declared, name)
        b, sides = circuit.b, self.sides
        self.lost = Storage(circuit, f"{name}.overflow", COUNT, 0, "count")
        self.refused = Drive(f"{name} (offered)", BIT, b.zero)
        self.empty = Drive(f"{name} (asked)", BIT, b.zero)
        ports = {role: f"{name}.{role}" for role in ("valid", "data", "ready", "overflow")}
        if self.to_host:
            self.far = circuit.input(f"{name}.ready", BIT, strobe=True)
            circuit.output_node(f"{name}.valid", BIT, sides.valid)
            circuit.output_node(f"{name}.data", self.kind, sides.value)
        else:
            self.far = circuit.input(f"{name}.valid", BIT, strobe=True)
            self.far_data = circuit.input(f"{name}.data", self.kind)
            circuit.output_node(f"{name}.ready", BIT, sides.ready)
            self.missing = Storage(circuit, f"{name}.underflow", COUNT, 0, "count")
            ports["underflow"] = f"{name}.underflow"
        options: dict[str, int | float | str | bool] = {"direction": declared.direction, "depth": declared.depth}
        circuit.endpoint(Endpoint(name, "host_stream", "", self.kind, ports, options))

    def _build(self, circuit: Circuit, declared: Any, name: str) -> QueueSides:
        return OneClockQueue(circuit, name, declared.kind, declared.depth)

    def may(self, side: str) -> None:
        if (side == "put") != self.to_host:
            raise Refused(
                f'{self.name} is a stream "{self.declared.direction}": this side of it belongs to the host.',
                f"Here a loop may only {'put' if self.to_host else 'get'}.",
            )

    def attribute(self, ex: Executor, name: str) -> Any:
        ex.at_clock(0, self.name)
        if name == "overflow":
            return Value(self.lost.leaf, COUNT)  # type: ignore[union-attr]
        if name == "underflow" and not self.to_host:
            return Value(self.missing.leaf, COUNT)
        if name in ("valid", "value") and self.to_host or name == "ready" and not self.to_host:
            self.may("get" if self.to_host else "put")
        return super().attribute(ex, name)

    def offered(self, ex: Executor) -> None:
        ex.at_clock(0, self.name)
        ex.drive(self.refused, self.circuit.b.inverse(self.sides.ready))

    def asked(self, ex: Executor) -> None:
        if not self.to_host:
            ex.at_clock(0, self.name)
            ex.drive(self.empty, self.circuit.b.inverse(self.sides.valid))

    def finish(self) -> None:
        b, total, sides = self.circuit.b, self.circuit.total, self.sides
        assert self.lost is not None
        if self.to_host:
            put, data, get = total(sides.put_drive), total(sides.data_drive), b.both(self.far, sides.valid)
            refused = total(self.refused)
        else:
            put, data, get = b.both(self.far, sides.ready), self.far_data, total(sides.get_drive)
            refused = b.both(self.far, b.inverse(sides.ready))
            self.missing.set(count_up(self.circuit, self.missing, total(self.empty)))
        sides.finish(self.circuit, put, data, get, 0, 0)
        self.lost.set(count_up(self.circuit, self.lost, refused))
