"""Cores written elsewhere, brought in through yosys: Verilog-2005, and VHDL where GHDL is installed."""

from .part import VerilogCore, VhdlCore
from .read import CoreFault, read_core

__all__ = ["CoreFault", "VerilogCore", "VhdlCore", "read_core"]
