"""What is done to every netlist between the front end and the engines: one visible tuple of passes.

Each pass is a pure function from a checked netlist to a checked netlist that means the same: equal values of
every signal in every tick.  Nodes stay in evaluation order.  The input is never changed.

The folding pass knows no operator's meaning: constants go through :func:`simkit.netlist.ops.evaluate`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from .model import Input, Netlist, Node, Reg
from .ops import evaluate
from .text import to_text
from .types import Type

REMOVABLE = ("local", "sync")
"""Kinds of register that nobody asked for by name: they may go when nothing reads them."""


class Pass(NamedTuple):
    """One step of the pipeline: its name, its function, and what it promises."""

    name: str
    apply: Callable[[Netlist], Netlist]
    contract: str


def run_passes(netlist: Netlist, show: Callable[[str], object] | None = None) -> Netlist:
    """The netlist after every pass.  ``show`` (for example ``print``) gets the text after each one."""
    for step in PASSES:
        netlist = step.apply(netlist)
        if show is not None:
            show(f"--- after {step.name}: {step.contract}\n{to_text(netlist)}")
    return netlist


# --- expose ----------------------------------------------------------------------------------------


def expose(netlist: Netlist) -> Netlist:
    """Add a leaf for each register and input that has none, so that ``signals()`` finds it."""
    seen = {(node.op, node.attr) for node in netlist.nodes if node.op in ("reg", "input")}
    nodes = list(netlist.nodes)
    parts: tuple[tuple[str, Sequence[Reg | Input]], ...] = (("reg", netlist.regs), ("input", netlist.inputs))
    for op, items in parts:
        nodes += [Node(op, (), item.type, i, item.loc) for i, item in enumerate(items) if (op, i) not in seen]
    return dataclasses.replace(netlist, nodes=nodes)


# --- fold ------------------------------------------------------------------------------------------


def fold(netlist: Netlist) -> Netlist:
    """Replace what is constant by its constant, and what equals one of its arguments by that argument."""
    nodes: list[Node] = []
    place: list[int] = []
    for node in netlist.nodes:
        found = _simpler(moved(node, place), nodes) if node.args else node
        if isinstance(found, Node):
            place.append(len(nodes))
            nodes.append(found)
        else:  # the node equals an earlier one
            place.append(found)
    return _renumber(netlist, nodes, place)


def _simpler(node: Node, nodes: list[Node]) -> Node | int:
    """``node``, or a constant, or the index of an earlier node with the same value."""
    args = [nodes[a] for a in node.args]
    if all([a.op == "const" for a in args]):
        raw = evaluate(node, [a.attr for a in args], [a.type for a in args])
        return Node("const", (), node.type, raw, node.loc, node.name)
    rule = _IDENTITIES.get(node.op)
    same = rule(node, args) if rule is not None else None
    if same is None:
        return node
    if isinstance(same, Node):
        return same
    return same if _alike(nodes[same].type, node.type) else node._replace(op="wrap", args=(same,), attr=0)


def _alike(a: Type, b: Type) -> bool:
    return a is b or (a.left - a.right == b.left - b.right and a.signed == b.signed)


def _is(node: Node, value: int) -> bool:
    return node.op == "const" and node.attr == value


def _zero(node: Node) -> Node:
    return Node("const", (), node.type, 0, node.loc, node.name)


def _neutral_right(value: int) -> Callable[[Node, list[Node]], int | None]:
    return lambda node, args: node.args[0] if _is(args[1], value) else None


def _neutral(value: int) -> Callable[[Node, list[Node]], int | None]:
    def rule(node: Node, args: list[Node]) -> int | None:
        if _is(args[1], value):
            return node.args[0]
        return node.args[1] if _is(args[0], value) else None

    return rule


def _fold_mul(node: Node, args: list[Node]) -> Node | int | None:
    if _is(args[0], 0) or _is(args[1], 0):
        return _zero(node)
    return _neutral(1)(node, args)


def _fold_and(node: Node, args: list[Node]) -> Node | int | None:
    if _is(args[0], 0) or _is(args[1], 0):
        return _zero(node)
    if node.args[0] == node.args[1]:
        return node.args[0]
    for here, other in ((0, 1), (1, 0)):  # all ones wherever the other argument has a bit
        if args[here].op == "const" and _all_ones(args[here], args[other].type, node.type):
            return node.args[other]
    return None


def _all_ones(constant: Node, other: Type, result: Type) -> bool:
    needed = result.width if other.signed else min(other.width, result.width)
    ones = (1 << needed) - 1
    return constant.attr & ones == ones and (constant.type.signed or constant.type.width >= needed)


def _fold_or(node: Node, args: list[Node]) -> int | None:
    return node.args[0] if node.args[0] == node.args[1] else _neutral(0)(node, args)


def _fold_mux(node: Node, args: list[Node]) -> int | None:
    if args[0].op == "const":
        return node.args[1] if args[0].attr else node.args[2]
    if node.args[1] == node.args[2]:
        return node.args[1]
    if _is(args[1], 1) and _is(args[2], 0) and args[1].type.width == 1:
        return node.args[0]
    return None


def _fold_wrap(node: Node, args: list[Node]) -> Node | int | None:
    if _alike(args[0].type, node.type):
        return node.args[0]
    if args[0].op == "wrap" and node.type.width <= args[0].type.width:
        return args[0].args[0]
    return None


def _fold_bits(node: Node, args: list[Node]) -> int | None:
    return node.args[0] if node.attr == 0 else None


def _same_arguments(value: int) -> Callable[[Node, list[Node]], Node | None]:
    def rule(node: Node, args: list[Node]) -> Node | None:
        return Node("const", (), node.type, value, node.loc, node.name) if node.args[0] == node.args[1] else None

    return rule


def _fold_not(node: Node, args: list[Node]) -> int | None:
    inner = args[0]
    return inner.args[0] if inner.op == "not" and node.type.width <= inner.type.width else None


def _fold_cat(node: Node, args: list[Node]) -> int | None:
    return node.args[0] if len(node.args) == 1 else None


_IDENTITIES: dict[str, Callable[[Node, list[Node]], Node | int | None]] = {
    "add": _neutral(0),
    "sub": _neutral_right(0),
    "mul": _fold_mul,
    "div": _neutral_right(1),
    "and": _fold_and,
    "or": _fold_or,
    "xor": _neutral(0),
    "not": _fold_not,
    "shl": _neutral_right(0),
    "shr": _neutral_right(0),
    "mux": _fold_mux,
    "wrap": _fold_wrap,
    "bits": _fold_bits,
    "cat": _fold_cat,
    "eq": _same_arguments(1),
    "le": _same_arguments(1),
    "ne": _same_arguments(0),
    "lt": _same_arguments(0),
}


# --- share -----------------------------------------------------------------------------------------


def share(netlist: Netlist) -> Netlist:
    """Keep one of several equal nodes: the first, so that its source line is the earliest."""
    nodes: list[Node] = []
    place: list[int] = []
    known: dict[tuple[object, ...], int] = {}
    for node in netlist.nodes:
        node = moved(node, place)
        index = known.setdefault((node.op, node.args, node.type, node.attr), len(nodes))
        if index == len(nodes):
            nodes.append(node)
        place.append(index)
    return _renumber(netlist, nodes, place)


# --- prune -----------------------------------------------------------------------------------------


def prune(netlist: Netlist) -> Netlist:
    """Drop nodes that nothing needs, and registers and timers that nobody reads and nobody named."""
    named = {name for loop in netlist.loops for name in (loop.state, loop.late)}
    named |= {name for point in netlist.endpoints for name in point.ports.values()}
    kept = [i for i, reg in enumerate(netlist.regs) if reg.kind not in REMOVABLE or reg.name in named]
    roots = [output.node for output in netlist.outputs]
    roots += [n for read in netlist.reads for n in (read.addr, read.enable)]
    roots += [n for write in netlist.writes for n in (write.addr, write.data, write.enable)]
    live, regs, timers = _reach(netlist, roots, kept)
    for index, node in enumerate(netlist.nodes):  # leaves that only make something visible
        if (node.op == "reg" and node.attr in regs) or node.op == "input":
            live[index] = 1
    return _keep(netlist, live, sorted(regs), sorted(timers))


def _reach(netlist: Netlist, roots: Iterable[int], kept: Iterable[int]) -> tuple[bytearray, set[int], set[int]]:
    """Nodes, registers and timers that the roots and the kept registers need."""
    nodes, live = netlist.nodes, bytearray(len(netlist.nodes))
    regs, timers = set(kept), set()
    todo = [*roots, *(netlist.regs[i].next for i in regs)]
    while todo:
        index = todo.pop()
        if live[index]:
            continue
        live[index] = 1
        node = nodes[index]
        todo += node.args
        if node.op == "reg" and node.attr not in regs:
            regs.add(node.attr)
            todo.append(netlist.regs[node.attr].next)
        elif node.op == "expired" and node.attr not in timers:
            timers.add(node.attr)
            todo += (netlist.timers[node.attr].load, netlist.timers[node.attr].value)
    return live, regs, timers


def _keep(netlist: Netlist, live: bytearray, regs: list[int], timers: list[int]) -> Netlist:
    """The netlist with only the given parts."""
    new_index = {
        "reg": {old: new for new, old in enumerate(regs)},
        "expired": {old: new for new, old in enumerate(timers)},
    }
    nodes: list[Node] = []
    place = [-1] * len(netlist.nodes)
    for index, node in enumerate(netlist.nodes):
        if not live[index]:
            continue
        place[index] = len(nodes)
        if node.args:
            args = tuple([place[a] for a in node.args])
            nodes.append(node if args == node.args else node._replace(args=args))
        else:
            moved = new_index[node.op][node.attr] if node.op in new_index else node.attr
            nodes.append(node if moved == node.attr else node._replace(attr=moved))
    smaller = dataclasses.replace(
        netlist, regs=[netlist.regs[i] for i in regs], timers=[netlist.timers[i] for i in timers]
    )
    return _renumber(smaller, nodes, place)


def moved(node: Node, place: Sequence[int]) -> Node:
    """The node over new places of its arguments."""
    args = tuple([place[a] for a in node.args])
    return node if args == node.args else Node(node.op, args, node.type, node.attr, node.loc, node.name)


def _renumber(netlist: Netlist, nodes: list[Node], place: list[int]) -> Netlist:
    """The netlist over new ``nodes``; ``place[i]`` is where node *i* went."""
    change = dataclasses.replace
    if place == list(range(len(place))):
        return change(netlist, nodes=nodes)
    return change(
        netlist,
        nodes=nodes,
        regs=[change(r, next=place[r.next]) for r in netlist.regs],
        timers=[change(t, load=place[t.load], value=place[t.value]) for t in netlist.timers],
        reads=[change(r, addr=place[r.addr], enable=place[r.enable]) for r in netlist.reads],
        writes=[change(w, addr=place[w.addr], data=place[w.data], enable=place[w.enable]) for w in netlist.writes],
        outputs=[change(o, node=place[o.node]) for o in netlist.outputs],
    )


PASSES: tuple[Pass, ...] = (
    Pass("expose", expose, "every register and input has a leaf, so that it can be looked at by name"),
    Pass("fold", fold, "no operator has only constant arguments; none that equals its argument is left"),
    Pass("share", share, "no two nodes are equal"),
    Pass("prune", prune, "every node, local register and timer is needed by something a person can see"),
)
