"""Cores written elsewhere, brought in through yosys: Verilog-2005, and VHDL where GHDL is installed."""

from .part import VerilogCore, VhdlCore
from .read import CoreFault, keep_reading, read_core

__all__ = ["CoreFault", "VerilogCore", "VhdlCore", "keep_reading", "read_core"]
