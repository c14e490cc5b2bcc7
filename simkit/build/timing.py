"""How long the slowest way between registers takes, from a covered netlist and the fitted delays.

A wire's delay grows with the logarithm of the number of places that it leads to; a carry chain's with its length.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from .area import Area, is_block, pieces
from .mapping import MOST_INPUTS, WHOLE, Key, Mapper, _levels

DELAYS = (
    "register",
    "memory",
    "table",
    "wire",
    "fanout",
    "chain",
    "bit",
    "exit",
    "compressor",
    "multiplier",
    "partial",
    "setup",
    "control",
    "size",
    "link",
)
"""The model's constants, in ns: register to output; memory to output; a table; a wire; a wire's part for each
doubling of the places it leads to; on and off a carry chain; each of its bits; from
its last carry to a wire; a layer of compressors; a multiplier; joining partial
products; the last wire into a register; into its enable or reset; each doubling of the design's size; the port link's own period."""


class End(NamedTuple):
    """Where a way ends: ``how`` is ``data``, ``word``, ``control``, ``joined``, ``timer``, ``table``, ``block`` or ``link``.

    ``many`` is how many conditions meet at a joined control input, and how many levels of tables a table of constants has.
    """

    clock: int
    node: int
    how: str
    many: int = 1


@dataclass
class Graph:
    """What arrival times depend on: the made nodes in order, what they read, and where the signals lead."""

    order: list[int]
    reads: dict[int, list[int]]
    fanout: dict[int, int]
    inputs: dict[int, int]  # bits that each made node reads
    ends: list[End] = field(default_factory=list)
    size: float = 0.0
    linked: bool = False  # some ports hang on the port link, whose own registers limit the rate


def arrivals(mapper: Mapper, area: Area, delay: Mapping[str, float]) -> list[float]:
    """Shortest period of each clock in ns; 0 where nothing limits it."""
    return periods(mapper, graph_of(mapper, area), delay)


def graph_of(mapper: Mapper, area: Area) -> Graph:
    """The timing graph of a covered netlist."""
    made = area.covered.made
    reads = {i: sorted({_real(mapper, k) for k, _ in keys}) for i, keys in made.items()}
    graph = Graph([], reads, defaultdict(int), {i: len(keys) for i, keys in made.items()}, _ends(mapper))
    done: set[int] = set()
    for start in made:
        _visit(start, reads, done, graph.order)
    alone: dict[Key, int] = defaultdict(int)  # where one bit of a word leads to, such as one that chooses between words
    for index, keys in made.items():
        for source in reads[index]:
            graph.fanout[source] += mapper.bits(index) if mapper.bits(source) == 1 else 1
        for key, bit in keys:
            if bit >= WHOLE:
                alone[_real(mapper, key), bit] += mapper.bits(index)
    for (source, _), places in alone.items():
        graph.fanout[source] = max(graph.fanout[source], places)
    for number, placed in mapper.placed.items():
        for control in (*placed.enable, *placed.reset):
            graph.fanout[_real(mapper, control)] += max(mapper.register_bits(number) // 2, 1)
    pins = {
        name
        for point in mapper.net.endpoints
        if point.kind in ("digital_in", "digital_out")
        for name in point.ports.values()
    }
    names = [port.name for port in mapper.net.inputs] + [port.name for port in mapper.net.outputs]
    graph.linked = any(name not in pins for name in names)
    graph.size = math.log2(1 + sum(area.tables.values()) + area.flip_flops)
    return graph


def _real(mapper: Mapper, key: int) -> int:
    """The node that makes a signal; raw memory words are read through their leaf."""
    return mapper.made_from(key if key >= 0 else -1 - key)


def _visit(start: int, reads: dict[int, list[int]], done: set[int], order: list[int]) -> None:
    """Add a node behind everything that it reads."""
    stack = [(start, False)]
    while stack:
        index, ready = stack.pop()
        if ready:
            order.append(index)
        elif index not in done:
            done.add(index)
            stack.append((index, True))
            stack += [(k, False) for k in reads.get(index, ()) if k not in done and k != index]


def _ends(mapper: Mapper) -> list[End]:
    """Where ways end."""
    net = mapper.net
    found: list[End] = []
    for number, placed in mapper.placed.items():
        clock = net.regs[number].clock
        if net.regs[number].cross:
            continue
        found.append(End(clock, placed.word, "word") if placed.word >= 0 else End(clock, placed.data, "data"))
        for group in (placed.enable, placed.reset):
            found += [End(clock, c, "joined" if len(group) > 1 else "control", len(group)) for c in group]
    for i, timer in enumerate(net.timers):
        if mapper.live_timer(i):
            found += [End(timer.clock, timer.load, "timer"), End(timer.clock, mapper.leaf("expired", i), "timer")]
    reads = mapper.live_reads()
    mems = {net.reads[i].mem for i in reads}
    for i in reads:
        mem = net.mems[net.reads[i].mem]
        written = any(w.mem == net.reads[i].mem for w in net.writes)
        how = "block" if is_block(mem, written) else "timer" if written else "table"
        levels = max((mem.depth - 1).bit_length() - 2, 1)  # each address bit above three chooses between two tables
        found += [
            End(net.reads[i].clock, net.reads[i].addr, how, levels),
            End(net.reads[i].clock, net.reads[i].enable, "control"),
        ]
    found += [End(w.clock, n, "block") for w in net.writes if w.mem in mems for n in (w.addr, w.data, w.enable)]
    pins = {
        name for point in net.endpoints if point.kind in ("digital_in", "digital_out") for name in point.ports.values()
    }
    found += [End(o.clock, o.node, "link") for o in net.outputs if o.name not in pins and not o.clock]
    return found


def periods(mapper: Mapper, graph: Graph, delay: Mapping[str, float]) -> list[float]:
    """Shortest period of each clock from a timing graph."""
    arrival: dict[int, Times] = {}
    for index in graph.order:
        arrival[index] = _arrival(mapper, graph, delay, arrival, index)
    found = [0.0] * len(mapper.net.clocks)
    for end in graph.ends:
        clock, node = end.clock, end.node
        if end.how == "word":
            found[clock] = max(found[clock], _word(mapper, delay, node) + delay["wire"] + delay["setup"])
            continue
        source = mapper.made_from(node)
        if source in arrival and mapper.nodes[source].op != "const":
            found[clock] = max(found[clock], arrival[source][1] + _last(mapper, graph, delay, source, end))
    if graph.linked and found[0]:
        found[0] = max(found[0], delay["link"])
    return found


Times = tuple[float, float]
"""When the lowest and when the highest bit of a word is there: a carry chain starts before its arguments are complete."""


def _wire(graph: Graph, delay: Mapping[str, float], source: int) -> float:
    return delay["wire"] + delay["fanout"] * math.log2(max(graph.fanout[source], 1)) + delay["size"] * graph.size


def _arrival(
    mapper: Mapper, graph: Graph, delay: Mapping[str, float], arrival: Mapping[int, Times], index: int
) -> Times:
    node, kind = mapper.nodes[index], mapper.kind(index)
    if kind == "leaf":
        start = _start(mapper, delay, index)
        return start, start
    sources = [k for k in graph.reads.get(index, ()) if k != index and k in arrival]
    wires = [_wire(graph, delay, k) for k in sources]
    low = max((arrival[k][0] + wire for k, wire in zip(sources, wires, strict=True)), default=0.0)
    high = max((arrival[k][1] + wire for k, wire in zip(sources, wires, strict=True)), default=0.0)
    if kind == "chain":
        return _chain(mapper, delay, index, low, high)
    if kind == "slice":
        step = delay["table"]
    elif kind == "gate":
        inputs = max(sum(mapper.width[a] for a in node.args if not mapper.constant(a)), 1)
        if node.op in ("lt", "le"):
            inputs = min(inputs, mapper.compared_bits(index))
        step = (
            delay["table"]
            if inputs <= MOST_INPUTS
            else _levels(inputs) * delay["table"] + (_levels(inputs) - 1) * delay["wire"]
        )
    else:
        step = _block(mapper, delay, index)
        return high + step, high + step
    bit = mapper.bits(index) == 1
    return (high if bit else low) + step, high + step


def _chain(mapper: Mapper, delay: Mapping[str, float], index: int, low: float, high: float) -> Times:
    """A carry chain: its low end is there soon; its high end when the carry has come through, or the last argument's top bits have."""
    along = delay["bit"] * mapper.chain_bits(index)
    before = delay["compressor"] * _layers(mapper, index)
    first, last = low + before + delay["chain"], max(low + along, high) + before + delay["chain"]
    return (last + delay["exit"],) * 2 if mapper.nodes[index].op in ("lt", "le") else (first, last)  # type: ignore[return-value]


def _layers(mapper: Mapper, index: int) -> int:
    """Layers of compressors before the chain of a sum: each makes two numbers of three.  A single bit can be the chain's first carry."""
    if index not in mapper.sums:
        return 0
    terms = mapper.sums[index].terms
    many = len(terms) - any(mapper.width[term] == 1 for term in terms)
    return math.ceil(math.log(many / 2, 1.5))


def _word(mapper: Mapper, delay: Mapping[str, float], index: int) -> float:
    """When a memory's word is there."""
    net = mapper.net
    read = net.reads[mapper.nodes[index].attr]
    return (
        delay["memory"]
        if is_block(net.mems[read.mem], any(w.mem == read.mem for w in net.writes))
        else delay["register"]
    )


def _start(mapper: Mapper, delay: Mapping[str, float], index: int) -> float:
    node, net = mapper.nodes[index], mapper.net
    if node.op == "const":
        return 0.0
    if node.op == "rdata":
        return _word(mapper, delay, index) + delay["wire"] + delay["table"]
    if node.op == "expired":
        return delay["register"] + _levels(net.timers[node.attr].width) * (delay["wire"] + delay["table"])
    return delay["register"]


def _block(mapper: Mapper, delay: Mapping[str, float], index: int) -> float:
    """Time through a chain, multiplier, shifter or divider."""
    node, bits = mapper.nodes[index], mapper.chain_bits(index)
    chain = delay["chain"] + delay["bit"] * bits
    hop = delay["table"] + delay["wire"]
    if node.op in ("shl", "shr"):
        return mapper.width[node.args[1]] * hop + delay["fanout"] * math.log2(max(bits, 2))
    if node.op == "mul":
        n = pieces(mapper.width[node.args[0]]) * pieces(mapper.width[node.args[1]])
        return delay["multiplier"] + (
            math.ceil(math.log2(n)) * (delay["partial"] + delay["bit"] * bits) if n > 1 else 0.0
        )
    if node.op in ("div", "rem", "mod"):
        return max(mapper.width[a] for a in node.args) * (chain + hop)
    return 0.0  # bits side by side


def _last(mapper: Mapper, graph: Graph, delay: Mapping[str, float], source: int, end: End) -> float:
    """From the last node into what takes it."""
    wire = _wire(graph, delay, source)
    if end.how in ("link", "timer"):
        return wire + delay["table"] + delay["setup"]
    if end.how == "table":
        return wire + end.many * (delay["table"] + delay["wire"]) + delay["setup"]
    if end.how == "joined":  # in the table that makes this condition if it has inputs to spare, else in further ones
        spare = MOST_INPUTS - graph.inputs[source] if mapper.kind(source) in ("slice", "gate") else 0
        levels = 0 if end.many - 1 <= spare else _levels(end.many)
        return wire + levels * (delay["table"] + delay["wire"]) + delay["control"]
    if end.how in ("control", "block"):
        return wire + delay["control"]
    if mapper.kind(source) in ("slice", "gate", "chain"):
        return delay["setup"]
    return wire + delay["setup"]
