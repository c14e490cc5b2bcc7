"""Designs as plain data: types, the netlist, its operators, its rules, its JSON form."""

from .check import BadNetlist, check
from .json_form import from_json, to_json
from .model import (
    NOWHERE,
    Clock,
    Endpoint,
    Input,
    Loc,
    Loop,
    Mem,
    Netlist,
    Node,
    Output,
    Read,
    Reg,
    Signal,
    Timer,
    Write,
)
from .ops import OPS, Op, evaluate
from .types import BIT, Type, TypeFault, make, parse

__all__ = [
    "BIT",
    "NOWHERE",
    "OPS",
    "BadNetlist",
    "Clock",
    "Endpoint",
    "Input",
    "Loc",
    "Loop",
    "Mem",
    "Netlist",
    "Node",
    "Op",
    "Output",
    "Read",
    "Reg",
    "Signal",
    "Timer",
    "Type",
    "TypeFault",
    "Write",
    "check",
    "evaluate",
    "from_json",
    "make",
    "parse",
    "to_json",
]
