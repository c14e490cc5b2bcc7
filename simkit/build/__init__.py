"""From a netlist to a chip: synthesis, place and route, report, bitstream; an estimate at once; cores from elsewhere.

In reading order: :mod:`tools` and :mod:`cache` (how tools run, what is kept), :mod:`flow` with :mod:`suited`, :mod:`parts` and
:mod:`board` (the stages), :mod:`rawpath`, :mod:`explain` and :mod:`report` (what came out, in the learner's lines);
:mod:`configure` (what a bitstream is packed from, made when it is asked for);
:mod:`still`, :mod:`ranges`, :mod:`balance`, :mod:`linear`, :mod:`mapping`, :mod:`area`, :mod:`timing`, :mod:`estimate` and
:mod:`calibrate` (the estimate);
:mod:`cores` (Verilog and VHDL from elsewhere); :mod:`pictures`.
"""

from .cores import CoreFault, VerilogCore, VhdlCore, read_core
from .estimate import Estimate, estimate
from .faults import BuildFault, Cancelled, ToolFault
from .flow import build
from .report import Report
from .tools import is_warm, warm_up

__all__ = [
    "BuildFault",
    "Cancelled",
    "CoreFault",
    "Estimate",
    "Report",
    "ToolFault",
    "VerilogCore",
    "VhdlCore",
    "build",
    "estimate",
    "is_warm",
    "read_core",
    "warm_up",
]
