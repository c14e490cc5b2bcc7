"""Passes: each keeps its contract, keeps the rules of a netlist, and changes no value."""

from __future__ import annotations

import pytest

from simkit.engines import make_engine
from simkit.netlist import (
    BIT,
    Clock,
    Endpoint,
    Input,
    Loc,
    Loop,
    Netlist,
    Node,
    Output,
    Reg,
    Timer,
    Type,
    check,
    make,
    to_json,
)
from simkit.netlist.passes import PASSES, Pass, fold, prune, run_passes, share
from simkit.netlist.text import to_text
from tests.agreement import TICKS, changes, first_difference
from tests.netlist.random_netlists import random_events, random_netlist

U, S = (lambda n: make("unsigned", n)), (lambda n: make("signed", n))


@pytest.mark.parametrize("step", PASSES, ids=lambda p: p.name)
@pytest.mark.parametrize("seed", [3, 8, 14, 16])
def test_each_pass_keeps_rules_and_values(step: Pass, seed: int) -> None:
    net = random_netlist(seed)
    before = to_json(net)
    after = check(step.apply(net))
    assert to_json(net) == before, "the pass changed its input"
    events = random_events(net, seed, TICKS)
    first, second = (changes(make_engine(n, seed), n, events, [TICKS]) for n in (net, after))
    assert first_difference({k: v for k, v in first.items() if k in second}, second) == ""


def test_the_pipeline_leaves_nothing_to_do() -> None:
    for seed in range(6):
        once = check(run_passes(random_netlist(seed)))
        assert len(run_passes(once).nodes) == len(once.nodes)


def test_expose_finds_every_register_and_input() -> None:
    net = Netlist(
        "n",
        clocks=[Clock("fabric", 1)],
        inputs=[Input("i", U(3), 0)],
        regs=[Reg("r", BIT, 0, 0, 0)],
        nodes=[Node("const", (), BIT, 1)],
    )
    assert set(run_passes(net).signals()) == {"i", "r"}


def folded(op: str, kinds: list[Type], result: Type, constants: dict[int, int] | None = None, attr: int = 0) -> str:
    """What a node over inputs (constants where given) becomes: the text of the node that the output takes."""
    net = Netlist("n", clocks=[Clock("fabric", 1)])
    for i, kind in enumerate(kinds):
        if constants and i in constants:
            net.nodes.append(Node("const", (), kind, constants[i]))
        else:
            net.inputs.append(Input(f"i{i}", kind, 0))
            net.nodes.append(Node("input", (), kind, len(net.inputs) - 1))
    net.nodes.append(Node(op, tuple(range(len(kinds))), result, attr))
    net.outputs = [Output("o", result, 0, len(kinds))]
    after = check(fold(check(net)))
    node = after.nodes[after.outputs[0].node]
    return (
        after.inputs[node.attr].name if node.op == "input" else f"const {node.attr}" if node.op == "const" else node.op
    )


@pytest.mark.parametrize(
    ("op", "kinds", "result", "constants", "wanted"),
    [
        ("add", [U(8), U(8)], U(8), {0: 250, 1: 10}, "const 4"),
        ("add", [U(8), U(1)], U(8), {1: 0}, "i0"),
        ("add", [U(8), U(1)], U(9), {1: 0}, "wrap"),
        ("add", [U(8), U(1)], U(8), {1: 1}, "add"),
        ("sub", [U(8), U(1)], U(8), {0: 0}, "sub"),
        ("mul", [S(8), S(4)], S(12), {1: 0}, "const 0"),
        ("mul", [S(8), S(4)], S(8), {1: 1}, "i0"),
        ("div", [S(8), S(4)], S(8), {1: 0}, "div"),
        ("and", [U(4), U(8)], U(4), {1: 0x0F}, "i0"),
        ("and", [U(4), U(8)], U(4), {1: 0x07}, "and"),
        ("and", [S(4), U(4)], U(8), {1: 15}, "and"),
        ("and", [S(4), S(2)], S(4), {1: -1}, "i0"),
        ("or", [U(8), U(8)], U(8), {0: 0}, "i1"),
        ("mux", [BIT, U(8), U(8)], U(8), {0: 1}, "i1"),
        ("mux", [BIT, U(8), U(8)], U(8), {0: 0}, "i2"),
        ("mux", [BIT, BIT, BIT], BIT, {1: 1, 2: 0}, "i0"),
        ("wrap", [U(8)], U(8), {}, "i0"),
        ("wrap", [U(8)], S(8), {}, "wrap"),
        ("shl", [U(8), U(3)], U(8), {1: 0}, "i0"),
        ("bits", [U(8)], U(8), {}, "i0"),
        ("cat", [U(8)], U(8), {}, "i0"),
    ],
)
def test_identities(op: str, kinds: list[Type], result: Type, constants: dict[int, int], wanted: str) -> None:
    assert folded(op, kinds, result, constants) == wanted


def test_share_keeps_the_first_of_equals() -> None:
    nodes = [
        Node("input", (), U(8), 0, Loc("a", 1)),
        Node("input", (), U(8), 0, Loc("a", 2)),
        Node("not", (0,), U(8)),
        Node("not", (1,), U(8)),
    ]
    net = Netlist(
        "n", clocks=[Clock("fabric", 1)], inputs=[Input("i", U(8), 0)], nodes=nodes, outputs=[Output("o", U(8), 0, 3)]
    )
    after = check(share(check(net)))
    assert [n.loc.line for n in after.nodes] == [1, 0] and after.outputs[0].node == 1


def test_prune_keeps_what_was_asked_for_by_name() -> None:
    kinds = ("user", "local", "state", "local", "count", "sync", "local", "port")
    regs = [Reg(f"r{i}", BIT, 0, 0, 0, kind=kind) for i, kind in enumerate(kinds)]
    nodes = [
        Node("const", (), BIT, 0),
        *(Node("reg", (), BIT, i) for i in range(len(regs))),
        Node("expired", (), BIT, 0),
        Node("not", (9,), BIT),
    ]
    net = Netlist(
        "n",
        clocks=[Clock("fabric", 1)],
        regs=regs,
        timers=[Timer("t", 4, 0, 0, 0, 11)],
        nodes=[*nodes, Node("const", (), U(4), 3)],
    )
    net.regs[0].next = 4  # r0 takes r3, so r3 is needed
    net.loops = [Loop("l", "sequenced", 0, state="r2", late="r6")]
    net.endpoints = [Endpoint("e", "host_reg", "", BIT, {"value": "r7"})]
    after = check(prune(check(net)))
    assert [r.name for r in after.regs] == ["r0", "r2", "r3", "r4", "r6", "r7"]
    assert after.timers == [] and "not" not in [n.op for n in after.nodes]
    assert set(after.signals()) == {r.name for r in after.regs}


def test_show_prints_each_pass_with_source_lines() -> None:
    net = random_netlist(2)
    net.nodes[0] = net.nodes[0]._replace(loc=Loc("guard.py", 17, 4))
    shown: list[str] = []
    run_passes(net, shown.append)
    assert [text.split(":")[0] for text in shown] == [f"--- after {p.name}" for p in PASSES]
    assert "guard.py:17" in shown[0] and "timer t0" in to_text(net)
