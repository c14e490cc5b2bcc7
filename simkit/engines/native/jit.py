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
would not be unrolled anyway (see also :func:`_passes`)."""

LARGE = 1500
"""A module of this many lines is first compiled quickly (measured: 35 ms instead of 95 for 3700 lines), and with care once it
has run for a while: most runs of a check are over by then."""

_short_runs = False


def expect_short_runs() -> None:
    """From now on compile every program quickly first, whatever its length: for a process that makes many short runs.

    Measured on the checks of a lab: 5 ms instead of 20 for a program.
    """
    global _short_runs
    _short_runs = True


SHORT = ("instruction_combine", "simplify_cfg")
UNROLL = ("loop_simplify", "lcssa", "loop_rotate", "loop_unroll", *SHORT, "loop_strength_reduce")
"""Passes by their names in llvmlite.  The standard pipelines give a tenth more speed for three times the compile time."""


@lru_cache(maxsize=1)
def _target() -> llvm.Target:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    return llvm.Target.from_default_triple()


class Compiled:
    """Machine code of one module; it lives as long as this object.

    ``quick`` code is there two to three times sooner and runs slower; :meth:`thorough` gives the better one.
    """

    def __init__(self, text: str, quick: bool = False) -> None:
        self.text, self.quick = text, quick
        module = llvm.parse_assembly(text)
        machine = _target().create_target_machine(
            cpu=llvm.get_host_cpu_name(), features=llvm.get_host_cpu_features().flatten(), opt=0 if quick else 1
        )
        _optimise(module, machine, _passes(text, quick))
        self._engine = llvm.create_mcjit_compiler(module, machine)
        self._engine.finalize_object()
        self.run: Function = _PROTOTYPE(self._engine.get_function_address("run"))

    def thorough(self) -> Compiled:
        """The same program compiled with more care."""
        return _compiled(self.text, False)


def compiled(text: str, lasts: bool = False) -> Compiled:
    """Machine code for the text, quick code if the text is long and the run not sure to last.  The same text is compiled once.

    Code keeps no state, so engines may share it.
    """
    return _compiled(text, not lasts and (_short_runs or text.count("\n") >= LARGE))


@lru_cache(maxsize=64)
def _compiled(text: str, quick: bool) -> Compiled:
    return Compiled(text, quick)


def _passes(text: str, quick: bool) -> Sequence[str]:
    if quick:
        return ("simplify_cfg",)
    # Where runs are short, careful code is made only for one that lasts; unrolled, 200 s of lab 12's log take 187 ms instead of 276.
    return (*SHORT, *UNROLL) if text.count("\n") < (LARGE if _short_runs else SMALL) else SHORT


def _optimise(module: llvm.ModuleRef, machine: llvm.TargetMachine, names: Sequence[str]) -> None:
    builder = llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=2))
    passes = llvm.create_new_function_pass_manager()
    for name in names:
        getattr(passes, f"add_{name}_pass")()
    for function in module.functions:
        if not function.is_declaration:
            passes.run(function, builder)
