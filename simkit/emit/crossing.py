"""Registers that sample another clock: a plain flip-flop for synthesis, one that may settle at random for simulation."""

from __future__ import annotations

from ..netlist import Netlist
from .expressions import declared, literal
from .identifiers import Identifiers

SETTLE = """\
    // 64 random bits for one unsettled sample (splitmix64); the same in every simulator of the kit
    function [63:0] settle_bits(input [63:0] start);
        reg [63:0] z;
        begin
            z = start;
            z = (z ^ (z >> 30)) * 64'hBF58476D1CE4E5B9;
            z = (z ^ (z >> 27)) * 64'h94D049BB133111EB;
            settle_bits = z ^ (z >> 31);
        end
    endfunction"""


def settle_function() -> str:
    return f"`ifdef SIMULATION\n{SETTLE}\n`endif"


class Crossing:
    """The text of one crossing register."""

    def __init__(self, netlist: Netlist, names: Identifiers, index: int) -> None:
        self.net, self.names, self.index = netlist, names, index
        loc = netlist.regs[index].loc
        base = names.of["reg", index]
        self.part = {
            role: names.add("cross", 8 * index + i, f"{base}_{role}", loc)
            for i, role in enumerate(("was", "before", "changed", "edges", "dice"))
        }

    def text(self) -> str:
        net, reg, part = self.net, self.net.regs[self.index], self.part
        source = net.nodes[reg.next]
        name, came = self.names.of["reg", self.index], self.names.of[source.op, source.attr]
        start = literal(net.regs[source.attr].reset if source.op == "reg" else 0, reg.type)
        width, at = reg.type.width, f"always @(posedge {self.names.of['clock', reg.clock]})"
        copies = -(-width // 64)
        salt = self.index * 0xD1B54A32D192ED03 & (2**64 - 1)
        dice = f"{{{copies}{{{part['dice']}}}}}"
        return f"""\
`ifdef SIMULATION
    // {name} samples {came} of another clock; bits that changed less than {reg.cross} ps ago settle at random
    reg {declared(reg.type)}{part["was"]} = {start};
    reg {declared(reg.type)}{part["before"]} = {literal(0, reg.type)};
    reg signed [63:0] {part["changed"]} = -64'sd1000000000000000000;
    reg [63:0] {part["edges"]} = 64'd0;
    reg [63:0] {part["dice"]};
    always @({came}) if ({came} !== {part["was"]}) begin
        if ({part["changed"]} != $signed($time)) {part["before"]} = {part["was"]};
        {part["changed"]} = $time;
        {part["was"]} = {came};
    end
    {at} begin
        {part["dice"]} = settle_bits(SETTLE_SEED + 64'd{salt} + {part["edges"]} * 64'h9E3779B97F4A7C15);
        if ($signed($time) - {part["changed"]} < 64'sd{reg.cross})
            {name} <= ({came} & {dice}) | ({part["before"]} & ~{dice});
        else
            {name} <= {came};
        {part["edges"]} <= {part["edges"]} + 64'd1;
    end
`else
    {at} {name} <= {came};
`endif"""
