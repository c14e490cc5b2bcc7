"""Shows how far a build is: a line below the notebook cell, or whatever the caller wants."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator

from .tools import Progress


@contextlib.contextmanager
def shown(progress: Progress | None) -> Iterator[Progress]:
    """``progress`` itself, or a line of the running notebook, or nothing outside one."""
    if progress is not None:
        yield progress
        return
    handle = _notebook_line()
    if handle is None:
        yield lambda stage, done: None
        return
    try:
        yield lambda stage, done: handle.update(_Line(stage, done))
    finally:
        handle.update(_Line("", 1.0))


def _notebook_line():
    """A display that can be changed, if a notebook kernel is running."""
    kernel = sys.modules.get("ipykernel.kernelapp")
    if kernel is None or not kernel.IPKernelApp.initialized():
        return None
    from IPython.display import display

    return display(_Line("starting", 0.0), display_id=True)


class _Line:
    """One line of progress, for a notebook (HTML) and for anything else (text)."""

    def __init__(self, stage: str, done: float) -> None:
        self.stage, self.done = stage, done

    def __repr__(self) -> str:
        return f"{self.stage}: {100 * self.done:.0f} %" if self.stage else ""

    def _repr_html_(self) -> str:
        if not self.stage:
            return ""
        return f'<label>build: {self.stage} <progress max="1" value="{self.done:.2f}"></progress></label>'
