"""A progress bar with the remaining time, for every run that takes longer than a second."""

from __future__ import annotations

import html
import time
from collections.abc import Iterator
from typing import Any

PATIENCE_S = 1.0
"""Real time after which a run shows a bar, s."""

PIECE_S = 0.1
"""Real time that a piece of a run should take, s."""


def pieces(start: int, stop: int, hz: float) -> Iterator[int]:
    """Ticks to run to, one after the other, from ``start`` to ``stop``; shows a bar while they take long.

    Piece by piece, so that the bar moves and an interrupt is heard.  ``hz`` is the number of ticks in a simulated second.
    """
    begun = told = time.monotonic()
    least = max(int(hz / 200), 1)  # what is fixed in the cost of a piece must not make the pieces ever smaller
    now, size, bar = start, least, None
    try:
        while now < stop:
            before, now = time.monotonic(), min(now + size, stop)
            yield now
            after = time.monotonic()
            size = max(int(size * min(max(PIECE_S / max(after - before, 1e-6), 0.25), 4.0)), least)
            if after - begun > PATIENCE_S and after - told > PIECE_S:
                bar, told = bar or Bar(), after
                bar.show((now - start) / (stop - start), after - begun)
    finally:
        if bar is not None:
            bar.end(
                f"{(now - start) / hz:.4g} s of the bench took {time.monotonic() - begun:.1f} s"
                + ("" if now >= stop else f"; stopped before {(stop - start) / hz:.4g} s")
            )


class Bar:
    """A bar in the output of the cell, replaced by a line when the run is over."""

    def __init__(self) -> None:
        from IPython.display import DisplayHandle

        self._handle: Any = DisplayHandle()
        self._there = False

    def show(self, part: float, elapsed_s: float) -> None:
        """Part of the run that is over (0 to 1), and the real time that it took."""
        left = elapsed_s / part - elapsed_s if part else float("inf")
        words = f"{100 * part:.0f} %, {left:.0f} s left" if left >= 1 else f"{100 * part:.0f} %, less than 1 s left"
        self._put(
            f'<progress max="1" value="{part:.4f}" aria-label="Progress of the run" style="width:16em"></progress> {words}',
            words,
        )

    def end(self, words: str) -> None:
        """Replace the bar by a line."""
        self._put(f"<small>{html.escape(words)}</small>", words)

    def _put(self, page: str, plain: str) -> None:
        bundle = {"text/html": page, "text/plain": plain}
        if self._there:
            self._handle.update(bundle, raw=True)
        else:
            self._handle.display(bundle, raw=True)
        self._there = True
