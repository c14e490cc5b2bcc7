"""From a netlist to a chip: synthesis, place and route, report, bitstream; an estimate at once; cores from elsewhere."""

from .faults import BuildFault, Cancelled, ToolFault
from .flow import build
from .report import Report
from .tools import is_warm, warm_up

__all__ = ["BuildFault", "Cancelled", "Report", "ToolFault", "build", "is_warm", "warm_up"]
