"""Verilog identifiers for the names of a design: the same netlist always gets the same ones."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from ..netlist import NOWHERE, Loc, Netlist

RESERVED = frozenset(
    """
always and assign automatic begin buf bufif0 bufif1 case casex casez cell cmos config deassign default defparam design
disable edge else end endcase endconfig endfunction endgenerate endmodule endprimitive endspecify endtable endtask event
for force forever fork function generate genvar highz0 highz1 if ifnone incdir include initial inout input instance
integer join large liblist library localparam macromodule medium module nand negedge nmos nor noshowcancelled not notif0
notif1 or output parameter pmos posedge primitive pull0 pull1 pulldown pullup pulsestyle_ondetect pulsestyle_onevent
rcmos real realtime reg release repeat rnmos rpmos rtran rtranif0 rtranif1 scalared showcancelled signed small specify
specparam strong0 strong1 supply0 supply1 table task time tran tranif0 tranif1 tri tri0 tri1 triand trior trireg unsigned
use uwire vectored wait wand weak0 weak1 while wire wor xnor xor
""".split()
)
"""Reserved words of IEEE 1364-2005, annex B (list from memory), which no identifier may be."""

SYSTEMVERILOG = frozenset(
    "bit byte int logic do final interface package program property sequence static struct this type "
    "union unique var virtual void with assert break class const continue enum export extends import "
    "inside local new null packed priority protected pure rand ref return super tagged".split()
)
"""Words that tools with SystemVerilog switched on would trip over."""


class Named(NamedTuple):
    """What a Verilog identifier stands for: ``kind`` is ``clock``, ``input``, ``output``, ``reg``, ``timer``, ``mem``, ``read`` or ``node``."""

    kind: str
    name: str
    loc: Loc


class Identifiers:
    """Hands out identifiers; ``of`` maps (kind, index) to the identifier, ``named`` the identifier to what it is."""

    def __init__(self, netlist: Netlist) -> None:
        self.of: dict[tuple[str, int], str] = {}
        self.named: dict[str, Named] = {}
        parts: tuple[tuple[str, Sequence[Any]], ...] = (
            ("clock", netlist.clocks),
            ("input", netlist.inputs),
            ("output", netlist.outputs),
            ("reg", netlist.regs),
            ("mem", netlist.mems),
            ("read", netlist.reads),
            ("timer", netlist.timers),
        )
        for kind, items in parts:
            for index, item in enumerate(items):
                self.add(kind, index, item.name, getattr(item, "loc", NOWHERE))

    def add(self, kind: str, index: int, name: str, loc: Loc) -> str:
        """A new identifier for a part of the design."""
        base = re.sub(r"\W", "_", name, flags=re.ASCII) or kind
        if base[0].isdigit() or base in RESERVED or base in SYSTEMVERILOG:
            base = f"{kind}_{base}"
        found = base if base not in self.named else f"{base}_{kind}"
        number = 2
        while found in self.named:
            found, number = f"{base}_{number}", number + 1
        self.of[kind, index] = found
        self.named[found] = Named(kind, name, loc)
        return found
