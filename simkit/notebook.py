"""What the kit changes in a Jupyter session: an error of a design shows the learner's line and nothing of the kit."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from types import TracebackType
from typing import Any

from .lang import HardwareError


def install() -> None:
    """If this Python runs in IPython, let it show a :class:`HardwareError` as it shows a syntax error in a cell."""
    module = sys.modules.get("IPython")
    shell = module.get_ipython() if module is not None else None
    if shell is not None:
        shell.set_custom_exc((HardwareError,), _show)


def pieces(start: int, stop: int, hz: float) -> Iterator[int]:
    """Ticks at which a long run should look up, the last of them ``stop``; in a notebook they move a progress bar."""
    module = sys.modules.get("IPython")
    shell = module.get_ipython() if module is not None else None
    if getattr(shell, "kernel", None) is None:
        return iter((stop,))
    from .view.progress import pieces as shown

    return shown(start, stop, hz)


def _show(
    shell: Any,
    kind: type[HardwareError],
    error: HardwareError,
    trace: TracebackType | None,
    tb_offset: int | None = None,
) -> list[str]:
    lines = shell.SyntaxTB.structured_traceback(kind, error, [])
    shell._showtraceback(kind, error, lines)
    return lines
