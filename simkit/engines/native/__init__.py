"""The fast engine: a netlist as LLVM IR, compiled in milliseconds.

Read in this order: :mod:`.layout` (where everything lives in the state buffer), :mod:`.expr` (nodes as IR),
:mod:`.program` and :mod:`.tick` (the run function and one clock's edge in it), :mod:`.quiet` (events, and the exact
skipping of idle ticks), :mod:`.calm` (free-running counters beside an idle design), :mod:`.chunks` (large designs in
pieces), :mod:`.jit` (IR to machine code), :mod:`.engine` (the Python side: events, recordings, stopping).
"""

from .engine import NativeEngine

__all__ = ["NativeEngine"]
