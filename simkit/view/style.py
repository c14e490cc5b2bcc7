"""One look for every picture: colours, lines, hatches, sizes.  Plain data; importing it loads no plotting library.

Series colours are those of the eight-colour set of M. Okabe and K. Ito, "Color Universal Design" (2002, revised
2008, jfly.uni-koeln.de/color), which people with the common kinds of colour blindness can tell apart.  Only the
four that reach a contrast of 3:1 (WCAG 2.2, criterion 1.4.11) on white *and* on a dark page are drawn where the
page is not known; on paper known to be dark, sky blue and orange take the place of blue and vermillion.
Nothing is told by colour alone: every series has a line style, a marker and a hatch of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

BLUE, VERMILLION, GREEN, PURPLE = "#0072B2", "#D55E00", "#009E73", "#CC79A7"
ORANGE, SKY = "#E69F00", "#56B4E9"

SERIES = (BLUE, VERMILLION, GREEN, PURPLE)
LINES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (6, 2, 1, 2)), (0, (1, 1.2)))
MARKERS = ("o", "s", "^", "D")
HATCHES = ("", "///", "...", "xxx")

MOST_CURVES = len(SERIES) * len(LINES)
"""Curves in one pair of axes that can be told apart."""

COLOUR_MAP = "cividis"
"""Map for waterfalls: ordered by lightness, made for colour-vision deficiency.

J. Nuñez, C. Anderton, R. Renslow, PLoS ONE 13(7), 2018.
"""

FONT = ("DejaVu Sans",)
"""Comes with matplotlib, so it is there on every machine."""

WIDTH = 8.6
"""Width of a picture in inches; at 100 dots per inch it fits the output column of a notebook."""

DPI = 100
TEXT = 10.0
SMALL = 9.0


@dataclass(frozen=True)
class Theme:
    """Colours that depend on the page.  ``paper`` is ``"none"`` where the page shows through."""

    name: str
    paper: str
    ink: str
    faint: str
    fill: float
    series: tuple[str, str, str, str]


THEMES = {
    "any": Theme("any", "none", "#767676", "#9a9a9a", 0.22, SERIES),
    "light": Theme("light", "#ffffff", "#222222", "#8a8a8a", 0.16, SERIES),
    "dark": Theme("dark", "#111111", "#e4e4e4", "#8c8c8c", 0.38, (SKY, ORANGE, GREEN, PURPLE)),
}
"""``any`` is transparent, its ink readable on white and on black; the other two are opaque, for print and slides."""

_current = THEMES["any"]


def theme() -> Theme:
    """The theme in force."""
    return _current


def line(number: int) -> dict[str, Any]:
    """Colour and line style of a curve, counted from 0: the first four differ in both, the others in at least one.

    Raises ValueError for more curves than that gives.
    """
    if number >= MOST_CURVES:
        raise ValueError(
            f"{number + 1} curves cannot be told apart: draw at most {MOST_CURVES} in one pair of axes, or give panels"
        )
    turn = number // len(SERIES)
    return {"color": _current.series[number % len(SERIES)], "ls": LINES[(number + turn) % len(LINES)]}


def use_theme(name: str) -> None:
    """Draw from now on for ``"any"`` page (default), a ``"light"`` or a ``"dark"`` one; ValueError for another name."""
    global _current
    if name not in THEMES:
        raise ValueError(f"there is no theme {name!r}; themes: {', '.join(THEMES)}")
    _current = THEMES[name]


def settings() -> dict[str, Any]:
    """The look as matplotlib parameters."""
    ink, faint = _current.ink, _current.faint
    return {
        "font.family": "sans-serif",
        "font.sans-serif": list(FONT),
        "font.size": TEXT,
        "axes.titlesize": TEXT + 1,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.labelsize": TEXT,
        "xtick.labelsize": SMALL,
        "ytick.labelsize": SMALL,
        "legend.fontsize": SMALL,
        "text.color": ink,
        "axes.labelcolor": ink,
        "axes.titlecolor": ink,
        "axes.edgecolor": ink,
        "xtick.color": ink,
        "ytick.color": ink,
        "legend.labelcolor": ink,
        "hatch.color": "edge",
        "hatch.linewidth": 0.8,
        "grid.color": faint,
        "grid.alpha": 0.45,
        "grid.linewidth": 0.6,
        "grid.linestyle": ":",
        "axes.facecolor": "none",
        "figure.facecolor": _current.paper,
        "savefig.facecolor": _current.paper,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.linewidth": 0.9,
        "lines.linewidth": 1.6,
        "legend.frameon": False,
        "figure.dpi": DPI,
        "axes.unicode_minus": True,
        "path.simplify": True,
        "svg.fonttype": "none",
    }


@contextmanager
def applied() -> Iterator[Theme]:
    """Within it, matplotlib draws in this look."""
    import matplotlib

    with matplotlib.rc_context(settings()):  # type: ignore[arg-type]  # keys are known only at run time
        yield _current


def contrast(one: str, other: str) -> float:
    """Contrast of two ``#rrggbb`` colours, 1 to 21, as WCAG 2.2 defines it."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
