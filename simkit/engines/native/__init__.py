"""The fast engine: a netlist as LLVM IR, compiled in milliseconds.

Read in this order: :mod:`.layout` (where everything lives in the state buffer), :mod:`.expr` (nodes as IR),
:mod:`.program` (the run function: edges, commits, skipping), :mod:`.jit` (IR to machine code),
:mod:`.engine` (the Python side: events, recordings, stopping).
"""

from .engine import NativeEngine

__all__ = ["NativeEngine"]
