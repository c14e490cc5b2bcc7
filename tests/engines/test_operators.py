"""Every row of the operator table, over widths and signs: reference, native engine and Icarus Verilog agree with Python's integers.

The wanted values are stated here once more, from the meaning of ``numeric_std`` (IEEE 1076-2008) in plain integer
arithmetic, so that a wrong row of the table cannot agree with itself.
"""

from __future__ import annotations

import itertools
import random

import pytest

from simkit.engines import NO_EVENTS, Events, Recording, make_engine
from simkit.engines.icarus import run_icarus
from simkit.netlist import BIT, OPS, Clock, Input, Netlist, Node, Output, Type, check, make
from tests.tools import needed

WIDTHS = (1, 31, 32, 33, 63, 64, 65)
TYPES = [make(kind, width) for width in WIDTHS for kind in ("unsigned", "signed")]
VECTORS = 6


def wanted(op: str, values: list[int], node: Node, types: list[Type]) -> int:
    """The exact result, before it is wrapped into the node's type."""
    a, b = values[0], values[-1]
    width = node.type.width
    sign = -1 if (a < 0) != (b < 0) else 1
    quotient = 0 if b == 0 else sign * (abs(a) // abs(b))
    table = {
        "add": a + b,
        "sub": a - b,
        "mul": a * b,
        "neg": -a,
        "div": quotient,
        "rem": 0 if b == 0 else a - quotient * b,
        "mod": 0 if b == 0 else a % b,
        "and": a & b,
        "or": a | b,
        "xor": a ^ b,
        "not": -a - 1,
        "shl": a * 2**b if op == "shl" and b < width else 0,
        "shr": a // 2**b if op == "shr" and b < 256 else -(a < 0),
        "eq": a == b,
        "ne": a != b,
        "lt": a < b,
        "le": a <= b,
        "wrap": a,
        "bits": a // 2**node.attr,
        "parity": bin(a % 2 ** types[0].width).count("1") % 2,
        "mux": [a, *values][-2] if a else values[-1],
    }
    if op == "cat":
        digits = "".join(format(v % 2**t.width, f"0{t.width}b") for v, t in zip(values, types, strict=True))
        return int(digits, 2)
    return int(table[op])


def test_every_row_is_complete() -> None:
    for name, row in OPS.items():
        assert row.name == name and row.doc and callable(row.python) and callable(row.llvm) and row.verilog
        assert row.prepare in ("result", "common", "own")


def cases(op: str) -> list[tuple[list[Type], Type, int]]:
    """(argument types, result type, attribute) over all widths and signs; results that cut, keep and extend."""
    rng = random.Random(op)
    count = OPS[op].arity or 3
    found = []
    for first in TYPES:
        for second in rng.sample(TYPES, 4) if count > 1 else TYPES[:1]:
            types = ([first, second] if count == 2 else [first] if count == 1 else [BIT, first, second])[:count]
            result, attr = rng.choice(TYPES), 0
            if op in ("eq", "ne", "lt", "le", "parity"):
                result = BIT
            if op in ("shl", "shr"):
                types[1] = make("unsigned", rng.choice((1, 6, 7, 64)))
            if op == "cat":
                types = types[1:] + [make("unsigned", 3)]
                result = make("unsigned", sum(t.width for t in types))
            if op == "bits":
                attr = rng.randrange(first.width)
                result = make("unsigned", rng.randint(1, first.width - attr))
            found.append((types, result, attr))
    return found


def edge_values(rng: random.Random, kind: Type) -> list[int]:
    corners = [v for v in (kind.low, kind.high, 0, 1, -1, kind.high // 3) if kind.holds(v)]
    return [rng.choice(corners) if rng.random() < 0.6 else rng.randint(kind.low, kind.high) for _ in range(VECTORS)]


def design(op: str) -> tuple[Netlist, list[list[int]], list[Node], list[list[Type]]]:
    """One netlist with one output a case; its inputs take a new vector in each tick."""
    rng = random.Random(op)
    net = Netlist(f"op_{op}", clocks=[Clock("fabric", 40_000_000)])
    stimulus: list[list[int]] = []
    made, made_types = [], []
    for types, result, attr in cases(op):
        args = []
        for kind in types:
            net.inputs.append(Input(f"i{len(net.inputs)}", kind, 0))
            net.nodes.append(Node("input", (), kind, len(net.inputs) - 1))
            args.append(len(net.nodes) - 1)
            stimulus.append(edge_values(rng, kind))
        node = Node(op, tuple(args), result, attr)
        net.nodes.append(node)
        net.outputs.append(Output(f"o{len(net.outputs)}", result, 0, len(net.nodes) - 1))
        made.append(node)
        made_types.append(types)
    return check(net), stimulus, made, made_types


def stimuli(net: Netlist, stimulus: list[list[int]]) -> Events:
    return Events.of(
        net, [(tick, f"i{i}", values[tick]) for i, values in enumerate(stimulus) for tick in range(VECTORS)]
    )


@pytest.mark.parametrize("op", OPS)
@pytest.mark.parametrize("kind", ["reference", "native"])
def test_engine_gives_the_exact_result_wrapped(op: str, kind: str) -> None:
    net, stimulus, nodes, types = design(op)
    engine, recording = make_engine(net, kind=kind), Recording([o.name for o in net.outputs])
    engine.record(recording)
    engine.run(VECTORS, stimuli(net, stimulus))
    inputs = iter(stimulus)
    for index, (node, kinds) in enumerate(zip(nodes, types, strict=True)):
        rows = list(itertools.islice(inputs, len(kinds)))
        for tick in range(VECTORS):
            values = [row[tick] for row in rows]
            found = recording.trace(f"o{index}").at(tick)
            assert found == node.type.wrap(wanted(op, values, node, kinds)), (op, values, kinds, node.type)


@pytest.mark.parametrize("op", OPS)
def test_verilog_gives_the_same(op: str) -> None:
    needed("iverilog", "vvp")
    net, stimulus, _, types = design(op)
    names = [
        o.name
        for o, kinds in zip(net.outputs, types, strict=True)
        if op not in ("div", "rem", "mod") or all(k.width <= 64 for k in kinds)
    ]  # Icarus 11 divides wider ones wrongly
    events = stimuli(net, stimulus)
    engine, wanted_recording = make_engine(net), Recording(names)
    engine.record(wanted_recording)
    engine.run(VECTORS, events)
    got = run_icarus(net, VECTORS, events, names)
    for name in names:
        a, b = wanted_recording.trace(name), got.trace(name)
        assert (a.ticks.tolist(), a.values.tolist()) == (b.ticks.tolist(), b.values.tolist()), name


def test_smallest_over_minus_one_does_not_trap() -> None:
    """-2**(n-1) / -1 overflows its own type; on x86 the plain instruction would stop the process."""
    for width in (8, 32, 64, 65):
        kind = make("signed", width)
        net = Netlist("trap", clocks=[Clock("fabric", 1_000_000)], inputs=[Input("a", kind, 0), Input("b", kind, 0)])
        net.nodes = [
            Node("input", (), kind, 0),
            Node("input", (), kind, 1),
            Node("div", (0, 1), make("signed", width + 1)),
            Node("rem", (0, 1), kind),
        ]
        net.outputs = [Output("q", make("signed", width + 1), 0, 2), Output("r", kind, 0, 3)]
        engine, recording = make_engine(check(net)), Recording(["q", "r"])
        engine.record(recording)
        engine.run(2, Events.of(net, [(0, "a", kind.low), (0, "b", -1)]))
        assert recording.trace("q").at(0) == 2 ** (width - 1)
        assert recording.trace("r").at(0) == 0
    engine.run(1, NO_EVENTS)
