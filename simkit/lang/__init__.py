"""The design language: hardware written as Python classes, read from their source, turned into a netlist.

In reading order: :mod:`declare` and :mod:`design` (what a learner writes), :mod:`steps` (words that are functions),
:mod:`source` (places and errors), :mod:`build` and :mod:`arithmetic` (nodes), :mod:`parts` and :mod:`queues` (what
declarations become), :mod:`evaluate` and :mod:`execute` (expressions and statements), :mod:`circuit` (all together).
"""

from ..netlist import BIT as bit
from ..netlist import Type, make
from .build import Refused
from .circuit import compile_design
from .declare import (
    AnalogIn,
    AnalogOut,
    Clock,
    DigitalIn,
    DigitalOut,
    Fifo,
    Handshake,
    HostReg,
    HostStream,
    Interrupt,
    Ram,
    Reg,
    Regs,
    Rom,
    Synchronizer,
    ThermocoupleIn,
)
from .design import Design, clocked, combinational, operation, sequenced
from .source import HardwareError, at_caller
from .steps import bits, cat, const, rem, resize, scalb, tick, unsafe_cross, until, wait


@at_caller
def unsigned(n: int) -> Type:
    """Whole numbers from 0 to 2**n - 1."""
    return make("unsigned", n)


@at_caller
def signed(n: int) -> Type:
    """Whole numbers from -2**(n-1) to 2**(n-1) - 1, two's complement."""
    return make("signed", n)


@at_caller
def ufixed(left: int, right: int) -> Type:
    """Numbers made of bits of weight 2**left down to 2**right, never negative."""
    return make("ufixed", left, right)


@at_caller
def sfixed(left: int, right: int) -> Type:
    """Numbers made of bits of weight -2**left, 2**(left-1) … 2**right, two's complement."""
    return make("sfixed", left, right)


__all__ = [
    "AnalogIn",
    "AnalogOut",
    "Clock",
    "Design",
    "DigitalIn",
    "DigitalOut",
    "Fifo",
    "Handshake",
    "HardwareError",
    "HostReg",
    "HostStream",
    "Interrupt",
    "Ram",
    "Refused",
    "Reg",
    "Regs",
    "Rom",
    "Synchronizer",
    "ThermocoupleIn",
    "bit",
    "bits",
    "cat",
    "clocked",
    "combinational",
    "compile_design",
    "const",
    "operation",
    "rem",
    "resize",
    "scalb",
    "sequenced",
    "sfixed",
    "signed",
    "tick",
    "ufixed",
    "unsafe_cross",
    "unsigned",
    "until",
    "wait",
]
