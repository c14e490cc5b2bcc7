"""How much of the chip a covered netlist takes, part by part."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..netlist import Mem
from .mapping import Covered, Mapper, _tree

BLOCK_BITS = 18 * 1024
SMALL_MEMORY = {"words": 64, "bits": 1024}
"""A written memory of at most so many words and bits becomes look-up tables used as memory (measured)."""
PARTS = ("logic", "chain", "compressor", "enable", "timer", "shift", "product", "division", "memory", "few")
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
    for index in area.covered.made:
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
        found += [placed.data, *placed.enable, *([placed.reset] if placed.reset is not None else [])]
    for i, timer in enumerate(net.timers):
        if mapper.live_timer(i):
            found += [timer.load, timer.value]
    reads = mapper.live_reads()
    mems = {net.reads[i].mem for i in reads}
    found += [n for i in reads for n in (net.reads[i].addr, net.reads[i].enable)]
    found += [n for w in net.writes if w.mem in mems for n in (w.addr, w.data, w.enable)]
    return found


def chain_tables(bits: int) -> int:
    """Two tables for each carry cell, which does two bits."""
    return 2 * (-(-bits // 2))


def _count_node(mapper: Mapper, index: int, area: Area) -> None:
    node, kind = mapper.nodes[index], mapper.kind(index)
    bits = mapper.chain_bits(index)
    if kind == "chain":
        area.tables["chain"] += chain_tables(bits)
        if index in mapper.sums:
            area.tables["compressor"] += 2 * bits * (len(mapper.sums[index].terms) - 2)
    elif node.op in ("shl", "shr"):
        area.tables["shift"] += bits * min(mapper.width[node.args[1]], max(bits - 1, 1).bit_length())
    elif node.op == "mul":
        _count_product(mapper, index, area)
    elif node.op in ("div", "rem", "mod"):
        width = max(mapper.width[a] for a in node.args)
        area.tables["division"] += width * (chain_tables(width + 1) + width)


def pieces(bits: int, signed: bool) -> int:
    """How many multipliers side by side a factor of so many bits takes: 18 bits fit one, further ones bring 17 each."""
    return 1 if bits <= 18 else -(-(bits - signed) // 17)


def _count_product(mapper: Mapper, index: int, area: Area) -> None:
    a, b = mapper.nodes[index].args
    signed = any(mapper.nodes[i].type.signed for i in (a, b))
    wide = [min(mapper.width[i], mapper.want[index].high) for i in (a, b)]
    n = pieces(wide[0], signed) * pieces(wide[1], signed)
    area.multipliers += n
    if n > 1:
        area.tables["product"] += (n - 1) * chain_tables(min(sum(wide), mapper.want[index].high))


def _count_registers(mapper: Mapper, area: Area) -> None:
    enables: set[tuple[frozenset[int], int | None]] = set()
    for number, placed in mapper.placed.items():
        area.flip_flops += mapper.register_bits(number)
        if len(placed.enable) > 1 or (placed.enable and placed.reset is not None):
            enables.add((placed.enable, placed.reset))
    for enable, reset in enables:
        area.tables["enable"] += max(_tree(len(enable)), 1) + (reset is not None)


def _count_timers(mapper: Mapper, area: Area) -> None:
    for i, timer in enumerate(mapper.net.timers):
        if mapper.live_timer(i):
            area.flip_flops += timer.width
            area.tables["timer"] += chain_tables(timer.width) + timer.width + _tree(timer.width) + 1


def _count_memories(mapper: Mapper, area: Area) -> None:
    net, reads = mapper.net, mapper.live_reads()
    area.flip_flops += len(reads)  # the mark that a word was read
    for number in {net.reads[i].mem for i in reads}:
        mem, ports = net.mems[number], sum(net.reads[i].mem == number for i in reads)
        written = any(w.mem == number for w in net.writes)
        words = mem.type.width
        if is_block(mem, written):
            area.block_rams += ports * blocks(mem)
        elif written:
            area.tables["memory"] += ports * 4 * -(-words // 4) * -(-mem.depth // 16)
            area.flip_flops += ports * words
        else:
            area.tables["memory"] += ports * words * max(mem.depth // 16, 1)
            area.flip_flops += ports * words


def is_block(mem: Mem, written: bool) -> bool:
    """True if the memory goes into block RAM."""
    bits = mem.depth * mem.type.width
    return mem.depth > SMALL_MEMORY["words"] or bits > SMALL_MEMORY["bits"]


def blocks(mem: Mem) -> int:
    """Blocks of 18 Kibit, each 1, 2, 4, 9, 18 or 36 bits wide."""
    shapes = ((16384, 1), (8192, 2), (4096, 4), (2048, 9), (1024, 18), (512, 36))
    return min(-(-mem.depth // deep) * -(-mem.type.width // wide) for deep, wide in shapes)
