"""Makes netlist nodes: the only place where the front end adds expressions.

Equal expressions become one node.  Constants are folded with the operator table itself, so folding cannot
disagree with the engines.  Only simplifications that the front end *relies on* are made here (a path
condition that is known to be 0 or 1); the passes do the rest.
"""

from __future__ import annotations

from typing import NamedTuple

from ..netlist import BIT, NOWHERE, Loc, Netlist, Node, Type, evaluate


class Value(NamedTuple):
    """A signal: a node of the netlist and the type the learner sees (fixed point included)."""

    node: int
    type: Type


class Refused(Exception):
    """A rule of the language is broken.  ``why`` says what hardware cannot do; ``instead`` what to write.

    Raised without a place by code that does not know one; :mod:`simkit.lang.source` adds line and caret.
    """

    def __init__(self, why: str, instead: str = "") -> None:
        super().__init__(f"{why} {instead}".strip())
        self.why = why
        self.instead = instead


class Builder:
    """Adds nodes to a netlist.  ``loc`` is the source place given to every node made next."""

    def __init__(self, netlist: Netlist) -> None:
        self.netlist = netlist
        self.loc: Loc = NOWHERE
        self._known: dict[tuple[object, ...], int] = {}

    def add(self, op: str, args: tuple[int, ...], kind: Type, attr: int = 0) -> int:
        """Node index of the expression; an equal one that exists already is used again."""
        key = (op, args, kind, attr)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._fold(op, args, kind, attr)
        return found

    def const(self, raw: int, kind: Type) -> int:
        """Node of a constant; ``raw`` must fit ``kind``."""
        return self.add("const", (), kind, raw)

    def known(self, node: int) -> int | None:
        """The raw value of a node if it is a constant, else None."""
        found = self.netlist.nodes[node]
        return found.attr if found.op == "const" else None

    def _fold(self, op: str, args: tuple[int, ...], kind: Type, attr: int) -> int:
        nodes = self.netlist.nodes
        if args and all(nodes[a].op == "const" for a in args):
            node = Node(op, args, kind, attr, self.loc)
            raw = evaluate(node, [nodes[a].attr for a in args], [nodes[a].type for a in args])
            return self.const(raw, kind)
        if op == "mux":
            simpler = self._fold_mux(args, kind)
            if simpler is not None:
                return simpler
        if op == "wrap" and nodes[args[0]].type == kind:
            return args[0]
        nodes.append(Node(op, args, kind, attr, self.loc))
        return len(nodes) - 1

    def _fold_mux(self, args: tuple[int, ...], kind: Type) -> int | None:
        condition, yes, no = args
        chosen = self.known(condition)
        if chosen is not None:
            return self._as(yes if chosen else no, kind)
        if yes == no:
            return self._as(yes, kind)
        if kind == BIT:  # path conditions: keep them as plain and/or/not
            if yes == condition:
                return self.either(condition, no)
            if no == condition:
                return self.both(condition, yes)
            a, b = self.known(yes), self.known(no)
            if (a, b) == (1, 0):
                return condition
            if (a, b) == (0, 1):
                return self.inverse(condition)
            if b == 0:
                return self.both(condition, yes)
            if a == 0:
                return self.both(self.inverse(condition), no)
            if a == 1:
                return self.either(condition, no)
            if b == 1:
                return self.either(self.inverse(condition), yes)
        return None

    def _as(self, node: int, kind: Type) -> int:
        return node if self.netlist.nodes[node].type == kind else self.add("wrap", (node,), kind)

    # --- bits ---

    @property
    def zero(self) -> int:
        return self.const(0, BIT)

    @property
    def one(self) -> int:
        return self.const(1, BIT)

    def both(self, a: int, b: int) -> int:
        """a and b"""
        ka, kb = self.known(a), self.known(b)
        if ka == 0 or kb == 1 or a == b:
            return a
        if kb == 0 or ka == 1:
            return b
        return self.add("and", (a, b), BIT)

    def either(self, a: int, b: int) -> int:
        """a or b"""
        ka, kb = self.known(a), self.known(b)
        if ka == 1 or kb == 0 or a == b:
            return a
        if kb == 1 or ka == 0:
            return b
        return self.add("or", (a, b), BIT)

    def inverse(self, a: int) -> int:
        """not a"""
        node = self.netlist.nodes[a]
        if node.op == "not":
            return node.args[0]
        return self.add("not", (a,), BIT)

    def choose(self, condition: int, yes: int, no: int, kind: Type) -> int:
        """``yes`` where the condition bit is 1, else ``no``."""
        return self.add("mux", (condition, yes, no), kind)
