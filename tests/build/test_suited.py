"""The form given to synthesis means the same as the design."""

from __future__ import annotations

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
