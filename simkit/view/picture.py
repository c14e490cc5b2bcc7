"""A figure that knows its alternative text and shows it in a notebook, in an exported page and in a terminal."""

from __future__ import annotations

import base64
import functools
import html
import io
from collections.abc import Callable
from typing import Any, ParamSpec

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from . import style

P = ParamSpec("P")
SHARPNESS = 2
"""Image dots per page dot, so that pictures are sharp on fine screens."""


class Picture(Figure):
    """A matplotlib figure with ``alt``: what a reader who cannot see it should notice.

    It belongs to no window and to no global list, so it may be made in any thread and needs no closing.
    """

    alt: str = ""

    def png(self, sharpness: float = SHARPNESS) -> bytes:
        """The picture as PNG, with the alternative text in its ``Description``."""
        out = io.BytesIO()
        with style.applied():
            self.savefig(out, format="png", dpi=style.DPI * sharpness, metadata={"Description": self.alt})
        return out.getvalue()

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict[str, str], dict[str, Any]]:
        """HTML with the alternative text for pages, PNG for print, plain text for a terminal.

        JupyterLab gives a bare image no alternative text, so the image goes inside HTML.
        """
        image = base64.b64encode(self.png()).decode("ascii")
        wide, high = (round(inches * style.DPI) for inches in self.get_size_inches())
        tag = (
            f'<img alt="{html.escape(self.alt)}" width="{wide}" style="max-width:100%;height:auto" '
            f'src="data:image/png;base64,{image}">'
        )
        data = {"text/plain": f"Picture: {self.alt}", "text/html": tag, "image/png": image}
        return data, {"image/png": {"width": wide, "height": high, "alt": self.alt}}

    def __repr__(self) -> str:
        return f"Picture: {self.alt}"


def new(width: float, height: float, *, constrained: bool = True) -> Picture:
    """An empty picture of the given size in inches."""
    picture = Picture(figsize=(width, height), layout="constrained" if constrained else None)
    FigureCanvasAgg(picture)
    return picture


def headline(picture: Picture, title: str) -> None:
    """A title at the top left of a whole picture."""
    if title:
        picture.suptitle(
            title,
            x=0.012,
            y=1 - 0.1 / picture.get_figheight(),
            ha="left",
            va="top",
            fontsize=style.TEXT + 1,
            fontweight="bold",
        )


def alt_text(figure: Figure, text: str) -> Figure:
    """Attach alternative text to a figure and return it: what to notice, not how it looks.

    Raises ValueError for an empty text.  Only a :class:`Picture` shows the text by itself; any other
    figure keeps it as an attribute.
    """
    if not text.strip():
        raise ValueError("an alternative text says what to notice in the picture; this one is empty")
    figure.alt = " ".join(text.split())  # type: ignore[attr-defined]
    return figure


def drawn(function: Callable[P, Picture]) -> Callable[P, Picture]:
    """Run a figure function inside the kit's look and insist on an alternative text."""

    @functools.wraps(function)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> Picture:
        with style.applied():
            picture = function(*args, **kwargs)
        assert picture.alt, f"{function.__name__} made a picture without alternative text"
        return picture

    return wrapper
