"""How much of the chip a covered netlist takes, part by part."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..netlist import Mem
from .mapping import Covered, Mapper, _tree, _zeros_below

SHARED = {"sub": "difference", "lt": "difference", "div": "division", "rem": "division", "mod": "division"}
"""Operators that the tool makes once if their arguments are the same."""
SMALL_MEMORY = {"words": 64, "bits": 1024}
"""A written memory of at most so many words and bits becomes look-up tables used as memory (measured)."""
PIECE = 18
"""Bits of a factor that one multiplier of the chip takes."""
SHORT_CHAIN = 4
"""Chains of at most so many bits take no carry cells (measured)."""
PARTS = (
    "logic",
    "chain",
    "compressor",
    "enable",
    "timer",
    "shift",
    "product",
    "division",
    "memory",
    "collision",
    "few",
)
"""What look-up tables are counted for; ``few`` counts one for the whole design."""


@dataclass
class Area:
    """Counts before the model's weights: four-input tables by what they are for, the rest as it is."""

    tables: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PARTS, 0))
    flip_flops: int = 0
    block_rams: int = 0
    multipliers: int = 0
    covered: Covered = field(default_factory=Covered)


def area_of(mapper: Mapper) -> Area:
    """Count everything."""
    area = Area()
    area.tables["few"] = 1
    area.covered = mapper.cover(roots_of(mapper))
    area.tables["logic"] = area.covered.tables
    done: set[tuple[object, ...]] = set()
    for index in sorted(
        area.covered.made, key=lambda i: mapper.nodes[i].op == "lt"
    ):  # subtractions first: they compare as well
        node = mapper.nodes[index]
        key = (SHARED.get(node.op, ""), *node.args[:2])
        if key[0] and key in done:
            continue
        done.add(key)
        if node.op == "lt":  # the same chain says which of the two is greater
            done.add((key[0], *node.args[::-1]))
        _count_node(mapper, index, area)
    _count_registers(mapper, area)
    _count_timers(mapper, area)
    _count_memories(mapper, area)
    return area


def roots_of(mapper: Mapper) -> list[int]:
    """Nodes that registers, memories, timers and outputs take."""
    net = mapper.net
    found = [o.node for o in net.outputs]
    for placed in mapper.placed.values():
        found += [placed.data, *placed.enable, *placed.reset]
    for i, timer in enumerate(net.timers):
        if mapper.live_timer(i):
            found += [timer.load] if numbers_loaded(mapper, timer.value) else [timer.load, mapper.loads[i]]
    reads = mapper.live_reads()
    mems = {net.reads[i].mem for i in reads}
    found += [n for i in reads for n in (net.reads[i].enable, net.reads[i].addr)]
    found += [n for w in net.writes if w.mem in mems for n in _port(mapper, w.enable, w.addr, w.data)]
    return found


def _port(mapper: Mapper, enable: int, *values: int) -> list[int]:
    """What a write port takes; a value that is replaced by a constant while the port rests is not replaced on the chip."""
    found = [enable]
    for value in values:
        node = mapper.nodes[value]
        while node.op == "mux" and node.args[0] == enable:
            value = node.args[1]
            node = mapper.nodes[value]
        found.append(value)
    return found


def numbers_loaded(mapper: Mapper, value: int) -> int:
    """How many different numbers a timer may be loaded with (0 aside); 0 if they are no constants."""
    numbers: set[int] = set()
    todo = [value]
    while todo:
        node = mapper.nodes[todo.pop()]
        if node.op == "const":
            numbers |= {node.attr} - {0}
        elif node.op == "mux":
            todo += node.args[1:]
        elif node.op == "wrap":
            todo += node.args
        else:
            return 0
    return max(len(numbers), 1)


def chain_tables(bits: int) -> int:
    """Two tables for each carry cell, which does two bits; a short chain is made of tables alone, about one for each bit."""
    return bits if bits <= SHORT_CHAIN else 2 * (-(-bits // 2))


def _count_node(mapper: Mapper, index: int, area: Area) -> None:
    node, kind = mapper.nodes[index], mapper.kind(index)
    bits = mapper.chain_bits(index)
    if kind == "chain":
        area.tables["chain"] += chain_tables(bits)
        if node.op in ("add", "sub") and index not in mapper.sums and any(_odd(mapper, a) for a in node.args):
            area.tables["logic"] += 1  # the lowest bit is turned over, beside the chain
        if index in mapper.sums:
            area.tables["compressor"] += _compressors(mapper, mapper.sums[index].terms, bits)
    elif node.op in ("shl", "shr"):
        area.tables["shift"] += bits * min(mapper.width[node.args[1]], max(bits - 1, 1).bit_length())
    elif node.op == "mul":
        _count_product(mapper, index, area)
    elif node.op in ("div", "rem", "mod"):
        width = max(mapper.width[a] for a in node.args)
        area.tables["division"] += width * (
            chain_tables(2 * width) + 2 * width // 3
        )  # yosys subtracts over both halves in each step


def _odd(mapper: Mapper, index: int) -> bool:
    """True for an odd constant."""
    while mapper.nodes[index].op == "wrap":
        index = mapper.nodes[index].args[0]
    return mapper.nodes[index].op == "const" and bool(mapper.nodes[index].attr & 1)


def _compressors(mapper: Mapper, terms: list[int], bits: int) -> int:
    """Tables that bring the summands down to two: two for each full adder, which takes two bits out of a column and gives the next one.

    A signed summand is extended; above the widest one all columns are alike, so their adders are made once.  A product of several
    pieces brings half of them as summands: pairs are added by chains before.
    """
    terms = [t for t in terms if not mapper.constant(t)]
    top = min(max((_spread(mapper, t)[1] for t in terms), default=0) + 1, bits)
    columns = [0] * bits
    for term in terms:
        low, high = _spread(mapper, term)
        source = mapper.made_from(term)
        product = mapper.nodes[source].op == "mul" and mapper.refs[source] == 1 and mapper.width[term] > 1
        parts = _product_pieces(mapper, source) if product else 1
        signed = mapper.nodes[term].type.signed or mapper.nodes[term].op in ("sub", "neg")
        spans = (
            [(17 * i, 17 * i + 36) for i in range(parts // 2)]
            if parts > 1
            else [(low, top if signed else min(high, top))]
        )
        for first, end in spans:
            for column in range(first, min(end, bits)):
                columns[column] += 1
    adders = carried = 0
    for count in columns:
        carried = max(-(-(count + carried - 2) // 2), 0)
        adders += carried
    return 2 * adders


def _spread(mapper: Mapper, term: int) -> tuple[int, int]:
    """Lowest and one above the highest bit of a summand that are not always 0 (or the sign)."""
    low, index = 0, term
    while True:
        node = mapper.nodes[index]
        if node.op == "shl" and mapper.constant(node.args[1]):
            low += mapper.nodes[node.args[1]].attr
        elif node.op == "mul" and mapper.kind(index) == "wire":
            low += next(_zeros_below(mapper.nodes[a].attr) for a in node.args if mapper.constant(a))
        elif node.op != "wrap":
            return low, mapper.width[term]
        index = next(a for a in node.args if not mapper.constant(a))


def _product_pieces(mapper: Mapper, index: int) -> int:
    """Multipliers of the chip that a product takes."""
    wide, narrow = _factors(mapper, index)
    return pieces(wide) * pieces(narrow)


def _factors(mapper: Mapper, index: int) -> tuple[int, int]:
    """Widths of a product's factors, the wider one first."""
    a, b = (min(mapper.width[i], mapper.want[index].high) for i in mapper.nodes[index].args)
    return max(a, b), min(a, b)


def pieces(bits: int) -> int:
    """How many multipliers side by side a factor of so many bits takes: 18 bits fit one; a single bit left over takes tables."""
    return -(-bits // PIECE) - (bits > PIECE and bits % PIECE == 1)


def _count_product(mapper: Mapper, index: int, area: Area) -> None:
    n = _product_pieces(mapper, index)
    area.multipliers += n
    summed = any(mapper.made_from(term) == index for found in mapper.sums.values() for term in found.terms)
    if n > 1 and not (summed and mapper.refs[index] == 1):
        wide, narrow = _factors(mapper, index)
        area.tables["product"] += _joined(wide, narrow, mapper.want[index].high)


def _joined(wide: int, narrow: int, most: int) -> int:
    """Tables that join a product's pieces: the wider factor is cut, each piece multiplied by the other factor, which is cut too."""
    if wide <= PIECE:
        return 0
    cuts = -(-wide // PIECE)
    parts = [PIECE] * (cuts - 1) + [wide - PIECE * (cuts - 1)]
    bits = min(wide + narrow, most)
    if cuts == 2:  # the lowest piece's lower bits pass by
        outer = chain_tables(max(bits - PIECE, 0))
    else:  # three and more are compressed first
        outer = chain_tables(bits) + 2 * (cuts - 2) * max(bits - PIECE, 0)
    single = narrow if parts[-1] == 1 else 0
    return outer + single + sum(_joined(narrow, part, most) for part in parts if narrow > PIECE and part > 1)


def _count_registers(mapper: Mapper, area: Area) -> None:
    enables: set[tuple[frozenset[int], frozenset[int]]] = set()
    for number, placed in mapper.placed.items():
        area.flip_flops += mapper.register_bits(number)
        if len(placed.enable) > 1 or len(placed.reset) > 1 or (placed.enable and placed.reset):
            enables.add((placed.enable, placed.reset))
    for enable, reset in enables:
        area.tables["enable"] += max(_tree(len(enable)) + _tree(len(reset)), 1) + bool(enable and reset)


def _count_timers(mapper: Mapper, area: Area) -> None:
    for i, timer in enumerate(mapper.net.timers):
        if mapper.live_timer(i):
            area.flip_flops += timer.width
            one = numbers_loaded(mapper, timer.value) == 1  # then the registers take it by their reset input
            area.tables["timer"] += chain_tables(timer.width) + (0 if one else timer.width) + _tree(timer.width) + 1


def _count_memories(mapper: Mapper, area: Area) -> None:
    net, reads = mapper.net, mapper.live_reads()
    area.flip_flops += len(reads)  # the mark that a word was read
    for number in {net.reads[i].mem for i in reads}:
        mem, ports = net.mems[number], sum(net.reads[i].mem == number for i in reads)
        written = any(w.mem == number for w in net.writes)
        words = mem.type.width
        if is_block(mem, written):
            area.block_rams += ports * blocks(mem)
            if written and not _take_turns(mapper, number):
                area.flip_flops += 2 * words + (mem.depth - 1).bit_length() + 2
                area.tables["collision"] += 2 * words + (mem.depth - 1).bit_length() + 4
        elif written:
            area.tables["memory"] += ports * 4 * -(-words // 4) * -(-mem.depth // 16)
            area.flip_flops += ports * words
        else:
            area.tables["memory"] += ports * words * (mem.depth // 16 + 2 if mem.depth > 16 else 1)
            area.flip_flops += ports * words


def _take_turns(mapper: Mapper, number: int) -> bool:
    """True if a memory is never read and written in one tick, seen from states that exclude each other.

    Else the tool adds registers that give the old word if both fall on one address.
    """
    net = mapper.net
    reads = [_states(mapper, r.enable) for r in net.reads if r.mem == number]
    writes = [_states(mapper, w.enable) for w in net.writes if w.mem == number]
    return all(any(a in w and w[a] != value for a, value in r.items()) for r in reads for w in writes)


def _states(mapper: Mapper, enable: int) -> dict[int, int]:
    """Comparisons with constants that have to hold for a port to act: node and constant."""
    found: dict[int, int] = {}
    todo = [enable]
    while todo:
        node = mapper.nodes[todo.pop()]
        if node.op == "and":
            todo += node.args
        elif node.op == "eq":
            a, b = (mapper.nodes[i] for i in node.args)
            if b.op == "const":
                found[node.args[0]] = b.attr
            elif a.op == "const":
                found[node.args[1]] = a.attr
    return found


def is_block(mem: Mem, written: bool) -> bool:
    """True if the memory goes into block RAM."""
    bits = mem.depth * mem.type.width
    return mem.depth > SMALL_MEMORY["words"] or bits > SMALL_MEMORY["bits"]


def blocks(mem: Mem) -> int:
    """Blocks of 18 Kibit, each 1, 2, 4, 9, 18 or 36 bits wide."""
    shapes = ((16384, 1), (8192, 2), (4096, 4), (2048, 9), (1024, 18), (512, 36))
    return min(-(-mem.depth // deep) * -(-mem.type.width // wide) for deep, wide in shapes)
