"""IR text to machine code in this process."""

from __future__ import annotations

import ctypes
from functools import lru_cache
from typing import Any

import llvmlite.binding as llvm

Function = Any
"""A ctypes function ``f(state address) -> status``; calling it releases Python's global lock."""

_PROTOTYPE = ctypes.CFUNCTYPE(ctypes.c_int64, ctypes.c_void_p)
SMALL = 4000
"""Modules of fewer lines get the thorough treatment; larger ones a short list of passes that stay linear."""


@lru_cache(maxsize=1)
def _target() -> llvm.Target:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    return llvm.Target.from_default_triple()


class Compiled:
    """Machine code of one module; it lives as long as this object."""

    def __init__(self, text: str) -> None:
        module = llvm.parse_assembly(text)
        small = text.count("\n") < SMALL
        machine = _target().create_target_machine(cpu=llvm.get_host_cpu_name(), features=llvm.get_host_cpu_features().flatten(),
                                                  opt=2 if small else 1)
        _optimise(module, machine, small)
        self._engine = llvm.create_mcjit_compiler(module, machine)
        self._engine.finalize_object()
        self.run: Function = _PROTOTYPE(self._engine.get_function_address("run"))


def _optimise(module: llvm.ModuleRef, machine: llvm.TargetMachine, small: bool) -> None:
    builder = llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=2))
    passes = llvm.create_new_function_pass_manager()
    passes.add_instruction_combine_pass()
    passes.add_simplify_cfg_pass()
    function = module.get_function("run")
    passes.run(function, builder)
