"""The form given to synthesis means the same as the design."""

from __future__ import annotations

import random

import pytest

from simkit.build.suited import suited
from simkit.engines import Events, Recording, make_engine
from simkit.netlist import Clock, Input, Netlist, Node, Output, check, make
from simkit.netlist.types import BIT

TYPES = [make("unsigned", 3), make("signed", 3), make("signed", 5), make("unsigned", 1), make("signed", 1)]


@pytest.mark.parametrize("op", ["lt", "le"])
@pytest.mark.parametrize("left", TYPES, ids=str)
@pytest.mark.parametrize("right", TYPES, ids=str)
def test_every_pair_of_values_compares_the_same(op, left, right):
    net = Netlist("pair", [Clock("c", 1)], [Input("a", left, 0), Input("b", right, 0)])
    net.nodes = [Node("input", (), left, 0), Node("input", (), right, 1), Node(op, (0, 1), BIT)]
    net.outputs = [Output("y", BIT, 0, 2)]
    made = check(suited(check(net)))
    assert not [
        n for n in made.nodes if n.op == "le" or (n.op == "lt" and any(made.nodes[a].type.signed for a in n.args))
    ]
    pairs = [(a, b) for a in range(left.low, left.high + 1) for b in range(right.low, right.high + 1)]
    events = [(t, name, value) for t, pair in enumerate(pairs) for name, value in zip("ab", pair, strict=True)]
    engine = make_engine(made, 1, "reference")
    recording = Recording(["y"])
    engine.record(recording)
    engine.run(len(pairs), Events.of(made, events))
    wanted = [int(a < b if op == "lt" else a <= b) for a, b in pairs]
    assert [recording.trace("y").at(t) for t in range(len(pairs))] == wanted


@pytest.mark.parametrize("width", [19, 24, 34])
@pytest.mark.parametrize("sign", ["signed", "unsigned"])
def test_a_wide_square_is_the_same_number_from_three_products(sign, width):
    kind, result = make(sign, width), make(sign, 2 * width)
    net = Netlist("square", [Clock("c", 1)], [Input("a", kind, 0)])
    net.nodes = [Node("input", (), kind, 0), Node("mul", (0, 0), result)]
    net.outputs = [Output("y", result, 0, 1)]
    made = check(suited(check(net)))
    assert sum(node.op == "mul" for node in made.nodes) == 3
    rng = random.Random(width)
    edges = (kind.low, kind.low + 1, -1, 0, 1, 2**17 - 1, 2**17, 2**18 - 1, kind.high)
    values = [v for v in edges if kind.low <= v <= kind.high]
    values += [rng.randint(kind.low, kind.high) for _ in range(200)]
    engine = make_engine(made, 1, "reference")
    recording = Recording(["y"])
    engine.record(recording)
    engine.run(len(values), Events.of(made, [(t, "a", value) for t, value in enumerate(values)]))
    assert [recording.trace("y").at(t) for t in range(len(values))] == [result.wrap(v * v) for v in values]


def test_a_product_cut_short_and_a_narrow_square_stay():
    for width, out in ((24, 24), (18, 36), (35, 70)):
        kind = make("signed", width)
        net = Netlist("square", [Clock("c", 1)], [Input("a", kind, 0)])
        net.nodes = [Node("input", (), kind, 0), Node("mul", (0, 0), make("signed", out))]
        net.outputs = [Output("y", make("signed", out), 0, 1)]
        assert sum(node.op == "mul" for node in suited(check(net)).nodes) == 1
