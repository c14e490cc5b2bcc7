"""A finished netlist used as a part of a design: the way in for cores that were not written in this language.

A core's inputs are registers of the design: a loop assigns to them, and the core sees the value from the next tick on, as
everybody sees a register.  Its outputs are read like registers.  All of a core runs on the fabric clock.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..netlist import Netlist, Type
from . import circuit, declare
from .build import Refused, Value
from .channels import RegPart
from .design import Design
from .parts import Part


class Core(Design):
    """A netlist as a part: ``self.mac = Core(netlist)``; ``self.mac.a = x`` and ``self.mac.y`` by the names of its ports.

    Raises Refused for a netlist of more than one clock.
    """

    def __init__(self, netlist: Netlist) -> None:
        if len(netlist.clocks) > 1:
            raise Refused(
                f"{netlist.name} has {len(netlist.clocks)} clocks; a core used as a part has one.",
                "Build and run it by itself, or split it.",
            )
        own = vars(self)
        registers = {port.name: declare.Reg(port.type) for port in netlist.inputs}
        own.update({_plain(name): register for name, register in registers.items()})
        body = own["_body"] = CoreBody(netlist, registers)
        own.update({_plain(port.name): CoreOutput(body, port.name, port.type) for port in netlist.outputs})


def _plain(name: str) -> str:
    return name.replace(".", "_")


class CoreBody(declare.Declared):
    """What is inside a core."""

    def __init__(self, netlist: Netlist, inputs: dict[str, declare.Reg]) -> None:
        self.netlist = netlist
        self.inputs = inputs


class CoreOutput(declare.Declared):
    """One output of a core."""

    def __init__(self, body: CoreBody, port: str, kind: Type) -> None:
        self.body = body
        self.port = port
        self.kind = kind


class CoreBodyPart(Part):
    """Copies the netlist of a core into the circuit."""

    declared: CoreBody

    def __init__(self, home: circuit.Circuit, declared: CoreBody, name: str) -> None:
        super().__init__(home, declared, name)
        self.prefix = name.removesuffix("_body")
        self.core = declared.netlist
        self.nodes: list[int] = []
        self.first = {part: len(getattr(home.netlist, part)) for part in ("regs", "timers", "mems", "reads", "writes")}
        self._copy_state()
        self._copy_nodes()

    def _copy_state(self) -> None:
        net, core, first = self.circuit.netlist, self.core, self.first
        net.regs += [replace(r, name=self.prefix + r.name, clock=0) for r in core.regs]
        net.timers += [replace(t, name=self.prefix + t.name, clock=0) for t in core.timers]
        net.mems += [replace(m, name=self.prefix + m.name) for m in core.mems]
        net.reads += [replace(r, name=self.prefix + r.name, mem=r.mem + first["mems"], clock=0) for r in core.reads]
        net.writes += [replace(w, mem=w.mem + first["mems"], clock=0) for w in core.writes]

    def _copy_nodes(self) -> None:
        b, first = self.circuit.b, self.first
        moved = {"reg": first["regs"], "rdata": first["reads"], "expired": first["timers"]}
        before = b.loc
        for node in self.core.nodes:
            b.loc = node.loc
            if node.op == "input":
                port = self.core.inputs[node.attr].name
                register = self.circuit.part(self.declared.inputs[port])
                assert isinstance(register, RegPart)
                self.nodes.append(register.storage.leaf)
            else:
                args = tuple(self.nodes[a] for a in node.args)
                self.nodes.append(b.add(node.op, args, node.type, node.attr + moved.get(node.op, 0)))
        b.loc = before

    def finish(self) -> None:
        """Everything that takes a node takes the copied one."""
        net, core, first, at = self.circuit.netlist, self.core, self.first, self.nodes
        for i, reg in enumerate(core.regs):
            net.regs[first["regs"] + i].next = at[reg.next]
        for i, timer in enumerate(core.timers):
            copy = net.timers[first["timers"] + i]
            copy.load, copy.value = at[timer.load], at[timer.value]
        for i, read in enumerate(core.reads):
            port = net.reads[first["reads"] + i]
            port.addr, port.enable = at[read.addr], at[read.enable]
        for i, write in enumerate(core.writes):
            there = net.writes[first["writes"] + i]
            there.addr, there.data, there.enable = at[write.addr], at[write.data], at[write.enable]


class CoreOutputPart(Part):
    """An output of a core, read like a register."""

    declared: CoreOutput

    def __init__(self, home: circuit.Circuit, declared: CoreOutput, name: str) -> None:
        super().__init__(home, declared, name)
        body = home.part(declared.body)
        assert isinstance(body, CoreBodyPart)
        index = next(o.node for o in body.core.outputs if o.name == declared.port)
        self.node = body.nodes[index]

    def value(self, ex: Any) -> Value:
        if ex.loop.clock != 0:
            raise Refused(
                f"{self.name} belongs to the fabric clock.",
                "Carry it across with a Synchronizer, a Handshake or a Fifo.",
            )
        return Value(self.node, self.declared.kind)


circuit.PARTS[CoreBody] = CoreBodyPart
circuit.PARTS[CoreOutput] = CoreOutputPart
