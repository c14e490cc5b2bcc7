"""Long sums as trees: the same numbers, and additions that synthesis keeps apart."""

from __future__ import annotations

import random

from simkit import Design, HostReg, Regs, clocked, compile_design, resize, signed
from simkit.build.flow import keeping, text_for_synthesis
from simkit.build.suited import suited
from simkit.build.sums import kept_sums, sums_as_trees
from simkit.emit.verilog import emit
from simkit.engines import Events, Recording, make_engine
from simkit.netlist import Clock, Input, Netlist, Node, Output, check, make
from tests.build.postsynth import compare

TICKS = 60


def random_sum(rng: random.Random) -> Netlist:
    """Four to nine numbers of many types, added and taken away in any order, widened and cut short on the way."""

    def kind():
        return make(rng.choice(("signed", "unsigned")), rng.randint(8, 13))

    inputs = [kind() for _ in range(rng.randint(4, 9))]
    net = Netlist("numbers", [Clock("c", 1)], [Input(f"i{k}", t, 0) for k, t in enumerate(inputs)])
    net.nodes = [Node("input", (), t, k) for k, t in enumerate(inputs)]

    def add(node: Node) -> int:
        net.nodes.append(node)
        return len(net.nodes) - 1

    words = list(range(len(inputs)))
    while len(words) > 1:
        left, right = words.pop(rng.randrange(len(words))), words.pop(rng.randrange(len(words)))
        made = add(
            Node(
                rng.choice(("add", "add", "sub")),
                (left, right),
                make(rng.choice(("signed", "unsigned")), rng.randint(9, 18)),
            )
        )
        if rng.random() < 0.3:
            made = add(Node("wrap", (made,), make(rng.choice(("signed", "unsigned")), rng.randint(9, 20))))
        words.append(made)
    net.outputs = [Output("y", net.nodes[words[0]].type, 0, words[0])]
    if rng.random() < 0.3:  # an addition inside that something else takes as well
        inner = rng.choice([i for i, node in enumerate(net.nodes) if node.op in ("add", "sub")])
        net.outputs.append(Output("z", net.nodes[inner].type, 0, inner))
    return check(net)


def values(net: Netlist, like: Netlist, rng: random.Random) -> list[list[int]]:
    """What the outputs show for numbers at and between the ends of their types."""
    events = [
        (t, port.name, rng.choice((port.type.low, port.type.high, rng.randint(port.type.low, port.type.high))))
        for t in range(TICKS)
        for port in like.inputs
    ]
    engine = make_engine(net, 1, "reference")
    names = [port.name for port in like.outputs]
    recording = Recording(names)
    engine.record(recording)
    engine.run(TICKS, Events.of(net, events))
    return [[recording.trace(name).at(t) for t in range(TICKS)] for name in names]


def test_the_same_numbers():
    changed = 0
    for seed in range(300):
        net = random_sum(random.Random(seed))
        made = check(sums_as_trees(net))
        changed += made != net
        assert values(made, net, random.Random(seed)) == values(net, net, random.Random(seed)), seed
    assert changed > 60


class Eight(Design):
    """The sum of the last eight numbers."""

    x = HostReg(signed(16))
    total = HostReg(signed(19), access="ro")
    taps = Regs(signed(16), 8)

    @clocked
    def run(self):
        self.taps[0] = self.x
        for i in range(1, 8):
            self.taps[i] = self.taps[i - 1]
        self.total = sum(resize(tap, signed(19)) for tap in self.taps)


def test_a_sum_of_eight_is_three_additions_deep_and_each_as_narrow_as_it_can_be():
    made = suited(compile_design(Eight))
    inner = kept_sums(made)
    assert sorted(made.nodes[i].type.width for i in inner) == [17, 17, 17, 17, 18, 18]
    text, _ = text_for_synthesis(made, emit(made))
    assert text.count("(* keep *)") == 6
    again = suited(made)
    assert [n[:3] for n in again.nodes] == [n[:3] for n in made.nodes]


def test_synthesis_makes_a_carry_chain_of_each_addition():
    """Seven of 17 to 19 bits, two bits to a cell, and no table beside them."""
    done = compare(compile_design(Eight))
    assert done.difference == ""
    assert done.cells["CCU2C"] == 4 * 9 + 2 * 9 + 10 and done.cells.get("LUT4", 0) <= 2


class Three(Design):
    """A sum that the tool makes faster than a tree would be."""

    a, b, c = HostReg(signed(16)), HostReg(signed(16)), HostReg(signed(16))
    total = HostReg(signed(18), access="ro")

    @clocked
    def run(self):
        self.total = self.a + self.b + self.c


def test_a_sum_of_three_stays():
    assert kept_sums(suited(compile_design(Three))) == []
    assert (
        keeping("    wire a = b + c;\n    wire aa = b + c;", ["aa"])
        == "    wire a = b + c;\n    (* keep *) wire aa = b + c;"
    )


def test_a_sum_of_thousands_is_no_deeper_than_others():
    """Of words, which become a tree, and of bits, which are passed over once."""
    for width, wanted in ((8, 2046), (1, 0)):
        kind, result = make("unsigned", width), make("unsigned", 19)
        net = Netlist("thousands", [Clock("c", 1)], [Input(f"i{k}", kind, 0) for k in range(2048)])
        net.nodes = [Node("input", (), kind, k) for k in range(2048)]
        for k in range(1, 2048):
            net.nodes.append(Node("add", (2046 + k if k > 1 else 0, k), result))
        net.outputs = [Output("y", result, 0, len(net.nodes) - 1)]
        assert len(kept_sums(sums_as_trees(check(net)))) == wanted
