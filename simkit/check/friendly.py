"""In a notebook: ``check("05-b", PulseTimer)`` before there is a PulseTimer says so, instead of a traceback.

Python looks the name up before ``check`` is called, so this hangs on IPython's hook for exceptions.  The cell still
ends with an error, which nbgrader reads as no points.
"""

from __future__ import annotations

import sys
from typing import Any

from .cells import checked_exercise
from .journal import clock


def install() -> None:
    """Take over ``NameError`` in the present Jupyter kernel, if there is one; other handlers stay as they are."""
    ipython = sys.modules.get("IPython")
    shell = ipython.get_ipython() if ipython is not None else None
    if shell is None or not hasattr(shell, "kernel") or NameError in shell.custom_exceptions:
        return
    shell.events.register("pre_run_cell", clock.tick)
    others = shell.CustomTB

    def handler(shell: Any, kind: type, error: Any, trace: Any, tb_offset: int | None = None) -> Any:
        if isinstance(error, NameError):
            return show(shell, kind, error, trace, tb_offset)
        return others(kind, error, trace, tb_offset=tb_offset)

    shell.set_custom_exc((*shell.custom_exceptions, NameError), handler)


def show(shell: Any, kind: type, error: NameError, trace: Any, tb_offset: int | None = None) -> None:
    """Show a ``NameError``: as a verdict if a check's own line raised it, else as IPython does."""
    text = explain(error, trace, shell.user_ns.get("In", [""])[-1])
    if text is None:
        shell.showtraceback((kind, error, trace), tb_offset=tb_offset)
    else:
        shell._showtraceback(kind, error, [text])


def explain(error: NameError, trace: Any, cell: str) -> str | None:
    """The verdict as text if the cell ends with a check and no function had been entered; else None."""
    from .notebook import missing

    frames = []
    while trace is not None:
        frames.append(trace.tb_frame.f_code.co_name)
        trace = trace.tb_next
    exercise = checked_exercise(cell)
    if not exercise or frames[-1] != "<module>":
        return None
    verdict = missing(exercise, getattr(error, "name", None) or "such name")
    return verdict.text() if verdict is not None else None
