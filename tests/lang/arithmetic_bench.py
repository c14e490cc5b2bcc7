"""Helpers for the tests of arithmetic: signals, constants, and the value of what was built."""

from __future__ import annotations

from fractions import Fraction

from simkit.lang.build import Builder, Value
from simkit.lang.constants import constant
from simkit.netlist import Clock, Input, Netlist, Node, Type, evaluate, parse


class Bench:
    """A netlist under construction whose inputs have given values."""

    def __init__(self) -> None:
        self.b = Builder(Netlist("bench", [Clock("clk", 40_000_000)]))
        self.inputs: list[int] = []

    def signal(self, kind: Type | str, number: float | Fraction = 0) -> Value:
        """An input signal that has the value ``number`` (not known to the builder)."""
        kind = parse(kind) if isinstance(kind, str) else kind
        self.b.netlist.inputs.append(Input(f"in{len(self.inputs)}", kind, 0))
        self.b.netlist.nodes.append(Node("input", (), kind, len(self.inputs)))
        self.inputs.append(constant(kind, number))
        return Value(len(self.b.netlist.nodes) - 1, kind)

    def raw(self, x: Value) -> int:
        """The raw value that ``x`` has."""
        nodes, values = self.b.netlist.nodes, []
        for node in nodes:
            if node.op == "const":
                values.append(node.attr)
            elif node.op == "input":
                values.append(self.inputs[node.attr])
            else:
                values.append(evaluate(node, [values[a] for a in node.args], [nodes[a].type for a in node.args]))
        assert nodes[x.node].type == x.type
        return values[x.node]

    def number(self, x: Value) -> Fraction:
        """The number that ``x`` means."""
        return self.raw(x) * x.type.step
