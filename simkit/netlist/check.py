"""The netlist's rules.  A loaded netlist is hostile until it has passed here.

:func:`check` looks at every field of every part: types, indices, order of nodes, one clock to a cone, sizes.
What passes can be run by any engine without further looking.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .model import Input, Netlist, Node, Output, Read, Write
from .ops import LEAVES, OPS
from .types import MAX_WIDTH, Type

LIMITS = {
    "nodes": 200_000,
    "regs": 50_000,
    "timers": 5_000,
    "mems": 1_000,
    "reads": 5_000,
    "writes": 5_000,
    "inputs": 5_000,
    "outputs": 5_000,
    "clocks": 16,
    "endpoints": 5_000,
    "loops": 5_000,
    "warnings": 5_000,
}
MAX_MEMORY_BITS = 64 * 1024 * 1024
MAX_NODE_BITS = 16_000_000


class BadNetlist(ValueError):
    """A netlist that breaks a rule; the text says which part and which rule."""


def _require(condition: bool, what: str) -> None:
    if not condition:
        raise BadNetlist(what)


def check(netlist: Netlist) -> Netlist:
    """Return ``netlist`` unchanged if it keeps every rule; raise :class:`BadNetlist` if not."""
    for part, limit in LIMITS.items():
        size = len(getattr(netlist, part))
        _require(size <= limit, f"{size} {part}: at most {limit} are allowed")
    _check_clocks(netlist)
    _check_storage(netlist)
    for index, node in enumerate(netlist.nodes):
        _check_node(netlist, index, node)
    _require(sum(n.type.width for n in netlist.nodes) <= MAX_NODE_BITS, "the expressions together are too wide")
    _check_uses(netlist)
    _check_clock_of_cones(netlist)
    _check_names(netlist)
    return netlist


def _check_clocks(netlist: Netlist) -> None:
    _require(len(netlist.clocks) >= 1, "a netlist needs a clock")
    for clock in netlist.clocks:
        _require(_whole(clock.hz_num, 1, 10**12) and _whole(clock.hz_den, 1, 10**9), f"clock {clock.name!r}: bad rate")
        _require(clock.hz_num <= 10**12 * clock.hz_den, f"clock {clock.name!r} is faster than 1 THz")


def _check_storage(netlist: Netlist) -> None:
    clocks = len(netlist.clocks)
    for reg in netlist.regs:
        _require(_whole(reg.clock, 0, clocks - 1), f"register {reg.name!r}: no such clock")
        _require(_int(reg.reset) and reg.type.holds(reg.reset), f"register {reg.name!r}: reset value does not fit")
        _require(_whole(reg.cross, 0, 10**9), f"register {reg.name!r}: crossing window out of range")
    for timer in netlist.timers:
        _require(_whole(timer.clock, 0, clocks - 1), f"timer {timer.name!r}: no such clock")
        _require(_whole(timer.width, 1, 62), f"timer {timer.name!r}: 1 to 62 bits")
        _require(_whole(timer.reset, 0, 2**timer.width - 1), f"timer {timer.name!r}: reset value does not fit")
    bits = 0
    for mem in netlist.mems:
        _require(_whole(mem.depth, 1, MAX_MEMORY_BITS), f"memory {mem.name!r}: bad depth")
        bits += mem.depth * mem.type.width
        _require(len(mem.init) <= mem.depth, f"memory {mem.name!r}: more start values than words")
        low, high = mem.type.low, mem.type.high
        _require(
            all(_int(v) and low <= v <= high for v in mem.init), f"memory {mem.name!r}: a start value does not fit"
        )
    _require(bits <= MAX_MEMORY_BITS, f"{bits} bits of memory: at most {MAX_MEMORY_BITS} are allowed")
    access: tuple[Read | Write, ...] = (*netlist.reads, *netlist.writes)
    for way in access:
        _require(_whole(way.mem, 0, len(netlist.mems) - 1), "a memory port names no memory")
        _require(_whole(way.clock, 0, clocks - 1), "a memory port names no clock")
    for port in _ports(netlist):
        _require(_whole(port.clock, 0, clocks - 1), f"port {port.name!r}: no such clock")
    for loop in netlist.loops:
        _require(
            _whole(loop.clock, 0, clocks - 1) and _whole(loop.period, 0, 2**62), f"loop {loop.name!r}: bad numbers"
        )


def _check_node(netlist: Netlist, index: int, node: Node) -> None:
    """A judge checks thousands of nodes: words are made only where a rule is broken."""
    fault = _fault_of(netlist, index, node)
    if fault:
        raise BadNetlist(f"node {index} ({node.op!s:.20}): {fault}")


def _fault_of(netlist: Netlist, index: int, node: Node) -> str:
    """The rule that a node breaks, "" for none."""
    op, args, kind, attr = node.op, node.args, node.type, node.attr
    if not (isinstance(kind, Type) and 1 <= kind.width <= MAX_WIDTH):
        return "bad type"
    for arg in args:
        if not _whole(arg, 0, index - 1):
            return "an argument does not stand before it"
    if not _int(attr):
        return "bad attribute"
    if op in LEAVES:
        return "takes no arguments" if args else _fault_of_leaf(netlist, node)
    if op not in OPS:
        return "unknown operator"
    arity = OPS[op].arity
    if not (len(args) == arity if arity is not None else 1 <= len(args) <= 4096):
        return "wrong number of arguments"
    nodes = netlist.nodes
    if op in ("eq", "ne", "lt", "le", "parity"):
        return "" if _is_bit(kind) else "the result is one bit"
    if op == "mux":
        return "" if _is_bit(nodes[args[0]].type) else "the first argument is one bit"
    if op in ("shl", "shr"):
        count = nodes[args[1]].type
        return "" if not count.signed and count.width <= 64 else "the shift count is unsigned, at most 64 bits"
    if op == "cat":
        whole = sum([nodes[arg].type.width for arg in args])
        return "" if not kind.signed and kind.width == whole else "the widths do not add up"
    if op == "bits":
        inside = not kind.signed and 0 <= attr and attr + kind.width <= nodes[args[0]].type.width
        return "" if inside else "outside the argument"
    return ""


def _is_bit(kind: Type) -> bool:
    return kind.width == 1 and not kind.signed


def _fault_of_leaf(netlist: Netlist, node: Node) -> str:
    op, attr = node.op, node.attr
    if op == "const":
        return "" if node.type.holds(attr) else "the constant does not fit its type"
    tables: dict[str, Sequence[Any]] = {
        "reg": netlist.regs,
        "input": netlist.inputs,
        "rdata": netlist.reads,
        "expired": netlist.timers,
    }
    table = tables[op]
    if not 0 <= attr < len(table):
        return "reads nothing that exists"
    if op == "expired":
        return "" if _is_bit(node.type) else "the result is one bit"
    item = table[attr]
    read = netlist.mems[item.mem].type if op == "rdata" else item.type
    return "" if same_bits(node.type, read) else "has another type than what it reads"


def same_bits(a: Type, b: Type) -> bool:
    """True if the two types spell the same raw values."""
    return a.width == b.width and a.signed == b.signed


def _check_uses(netlist: Netlist) -> None:
    """Everything that takes a node takes one that exists and has the right shape."""

    def node(index: int, what: str, kind: Type | None = None, bit: bool = False) -> None:
        _require(_whole(index, 0, len(netlist.nodes) - 1), f"{what}: no such node")
        found = netlist.nodes[index].type
        if kind is not None:
            _require(same_bits(found, kind), f"{what}: {found} where {kind} is needed")
        if bit:
            _require(found.width == 1 and not found.signed, f"{what}: one bit is needed, not {found}")

    for reg in netlist.regs:
        node(reg.next, f"register {reg.name!r}", reg.type)
    for timer in netlist.timers:
        node(timer.load, f"timer {timer.name!r} load", bit=True)
        node(timer.value, f"timer {timer.name!r} value")
        kind = netlist.nodes[timer.value].type
        _require(
            not kind.signed and kind.width == timer.width,
            f"timer {timer.name!r}: value is {kind}, not unsigned({timer.width})",
        )
    for read in netlist.reads:
        node(read.addr, f"read port {read.name!r} address")
        _require(not netlist.nodes[read.addr].type.signed, f"read port {read.name!r}: a signed address")
        node(read.enable, f"read port {read.name!r} enable", bit=True)
    for write in netlist.writes:
        node(write.addr, "write port address")
        _require(not netlist.nodes[write.addr].type.signed, "write port: a signed address")
        node(write.data, "write port data", netlist.mems[write.mem].type)
        node(write.enable, "write port enable", bit=True)
    for output in netlist.outputs:
        node(output.node, f"output {output.name!r}", output.type)


def _check_clock_of_cones(netlist: Netlist) -> None:
    """No expression mixes clocks; state takes expressions of its own clock, except through ``cross``."""
    if len(netlist.clocks) == 1 and not any(reg.cross for reg in netlist.regs):
        return  # every part has been found to name this clock
    clock_of: list[int] = []  # -1: a constant, belongs to any clock
    for index, item in enumerate(netlist.nodes):
        if item.op == "reg":
            clock_of.append(netlist.regs[item.attr].clock)
        elif item.op == "input":
            clock_of.append(netlist.inputs[item.attr].clock)
        elif item.op == "rdata":
            clock_of.append(netlist.reads[item.attr].clock)
        elif item.op == "expired":
            clock_of.append(netlist.timers[item.attr].clock)
        else:
            found = {clock_of[arg] for arg in item.args} - {-1}
            _require(len(found) <= 1, f"node {index} ({item.op}) mixes two clocks")
            clock_of.append(found.pop() if found else -1)

    def belongs(index: int, clock: int, what: str) -> None:
        _require(clock_of[index] in (-1, clock), f"{what} takes a value of another clock")

    for reg in netlist.regs:
        if reg.cross == 0:
            belongs(reg.next, reg.clock, f"register {reg.name!r}")
        else:
            _require(
                netlist.nodes[reg.next].op in ("reg", "input"),
                f"register {reg.name!r}: only a register or an input may cross clocks",
            )
    for timer in netlist.timers:
        belongs(timer.load, timer.clock, f"timer {timer.name!r}")
        belongs(timer.value, timer.clock, f"timer {timer.name!r}")
    for read in netlist.reads:
        belongs(read.addr, read.clock, f"read port {read.name!r}")
        belongs(read.enable, read.clock, f"read port {read.name!r}")
    for write in netlist.writes:
        for index in (write.addr, write.data, write.enable):
            belongs(index, write.clock, "a write port")
    for output in netlist.outputs:
        belongs(output.node, output.clock, f"output {output.name!r}")


def _ports(netlist: Netlist) -> tuple[Input | Output, ...]:
    return (*netlist.inputs, *netlist.outputs)


def _check_names(netlist: Netlist) -> None:
    ports = [port.name for port in _ports(netlist)]
    _require(len(ports) == len(set(ports)), "two ports share a name")
    regs = [reg.name for reg in netlist.regs]
    _require(len(regs) == len(set(regs)), "two registers share a name")
    known = set(ports) | set(regs)
    for endpoint in netlist.endpoints:
        for role, name in endpoint.ports.items():
            _require(name in known, f"endpoint {endpoint.name!r}: {role} names {name!r}, which does not exist")


def _int(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _whole(value: object, low: int, high: int) -> bool:
    return _int(value) and low <= value <= high  # type: ignore[operator]
