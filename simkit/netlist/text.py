"""A netlist as text for a person: one line a part, with the source line it came from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from .model import Input, Loc, Netlist, Node, Read, Reg, Timer


def to_text(netlist: Netlist) -> str:
    """The whole netlist, readable; ``%7`` is node 7.  There is no way back from this form (JSON is the form to keep)."""
    return "\n".join(_lines(netlist)) + "\n"


def _lines(net: Netlist) -> Iterator[str]:
    yield f"netlist {net.name}"
    for clock in net.clocks:
        yield f"  clock {clock.name} {clock.hz_num}/{clock.hz_den} Hz"
    for port in net.inputs:
        yield _placed(
            f"  input {port.name}: {port.type}{' strobe' if port.strobe else ''} @{net.clocks[port.clock].name}",
            port.loc,
        )
    for reg in net.regs:
        cross = f" cross {reg.cross} ps" if reg.cross else ""
        yield _placed(
            f"  reg {reg.name}: {reg.type} = {reg.reset} <- %{reg.next} @{net.clocks[reg.clock].name} {reg.kind}{cross}",
            reg.loc,
        )
    for timer in net.timers:
        yield _placed(
            f"  timer {timer.name}: {timer.width} bits = {timer.reset} <- %{timer.value} if %{timer.load}", timer.loc
        )
    for mem in net.mems:
        yield _placed(f"  mem {mem.name}: {mem.depth} x {mem.type}", mem.loc)
    for read in net.reads:
        yield _placed(f"  read {read.name}: {net.mems[read.mem].name}[%{read.addr}] if %{read.enable}", read.loc)
    for write in net.writes:
        yield _placed(
            f"  write {net.mems[write.mem].name}[%{write.addr}] <- %{write.data} if %{write.enable}", write.loc
        )
    for index, node in enumerate(net.nodes):
        yield _placed(
            f"  %{index}: {node.type} = {_expression(net, node)}{' as ' + node.name if node.name else ''}", node.loc
        )
    for output in net.outputs:
        yield _placed(f"  output {output.name}: {output.type} = %{output.node}", output.loc)


def _expression(net: Netlist, node: Node) -> str:
    if node.op == "const":
        return str(node.attr)
    leaves: dict[str, Sequence[Reg | Input | Read | Timer]] = {
        "reg": net.regs,
        "input": net.inputs,
        "rdata": net.reads,
        "expired": net.timers,
    }
    table = leaves.get(node.op)
    if table is not None:
        return f"{node.op} {table[node.attr].name}"
    low = f" from bit {node.attr}" if node.op == "bits" else ""
    return f"{node.op} {' '.join(f'%{a}' for a in node.args)}{low}"


def _placed(text: str, loc: Loc) -> str:
    return f"{text:<60} # {loc}" if loc.line else text
