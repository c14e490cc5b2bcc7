"""IR text to machine code in this process."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import llvmlite.binding as llvm

Function = Any
"""A ctypes function ``f(state address) -> status``; calling it releases Python's global lock."""

_PROTOTYPE = ctypes.CFUNCTYPE(ctypes.c_int64, ctypes.c_void_p)
SMALL = 500
"""Modules of fewer lines get their loop unrolled, which pays (measured: 1.3 times the ticks for 10 ms); a larger one
would not be unrolled anyway."""

SHORT = ("instruction_combine", "simplify_cfg")
UNROLL = ("loop_simplify", "lcssa", "loop_rotate", "loop_unroll", *SHORT, "loop_strength_reduce")
"""Passes by their names in llvmlite.  The standard pipelines give a tenth more speed for three times the compile time."""


@lru_cache(maxsize=1)
def _target() -> llvm.Target:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    return llvm.Target.from_default_triple()


class Compiled:
    """Machine code of one module; it lives as long as this object."""

    def __init__(self, text: str) -> None:
        module = llvm.parse_assembly(text)
        machine = _target().create_target_machine(cpu=llvm.get_host_cpu_name(), features=llvm.get_host_cpu_features().flatten(), opt=1)
        _optimise(module, machine, (*SHORT, *UNROLL) if text.count("\n") < SMALL else SHORT)
        self._engine = llvm.create_mcjit_compiler(module, machine)
        self._engine.finalize_object()
        self.run: Function = _PROTOTYPE(self._engine.get_function_address("run"))


@lru_cache(maxsize=64)
def compiled(text: str) -> Compiled:
    """Machine code for the text; the same text is compiled once.  Code keeps no state, so engines may share it."""
    return Compiled(text)


def _optimise(module: llvm.ModuleRef, machine: llvm.TargetMachine, names: Sequence[str]) -> None:
    builder = llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=2))
    passes = llvm.create_new_function_pass_manager()
    for name in names:
        getattr(passes, f"add_{name}_pass")()
    for function in module.functions:
        if not function.is_declaration:
            passes.run(function, builder)
