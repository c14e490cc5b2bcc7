"""The verdict as a card for a notebook: plain HTML that opens and closes without a kernel, by mouse or by keyboard.

A criterion's hint comes in three steps, each of which the learner opens; "Show me" is a picture of the moment in which
the answer goes wrong.  Passed and failed are told by a word and a mark, not by colour.  Whatever shows no HTML gets the
verdict's text.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import Any

from .look import Look
from .verdict import TO_DO, Line, Verdict, shown

STEPS = ("A nudge", "The idea", "A worked step, with other numbers")
MOST_PICTURES = 3
"""In one card.  A picture takes a fifth of a second, and one mistake often fails many criteria."""

STYLE = """<style>
.tb-card{border:1px solid #767676;border-radius:6px;padding:.6em .9em;margin:.3em 0;max-width:62em;line-height:1.45}
.tb-card p{margin:.2em 0}.tb-card ul{list-style:none;margin:.4em 0;padding:0}
.tb-card li{margin:.45em 0;padding-left:.7em;border-left:4px solid #767676}
.tb-card li.tb-passed{border-left-color:#009E73}.tb-card li.tb-failed{border-left:4px double #D55E00}
.tb-card summary{cursor:pointer;text-decoration:underline;padding:.15em 0;width:fit-content}
.tb-card summary:focus-visible{outline:3px solid #0072B2;outline-offset:2px}
.tb-card details details{margin-left:1.2em}.tb-card pre{white-space:pre-wrap;margin:.3em 0}
.tb-card .tb-word{font-weight:bold}
</style>"""


def bundle(verdict: Verdict, notes: Sequence[str] = ()) -> dict[str, str]:
    """The card for Jupyter's display: HTML, and the text for everything else; ``notes`` stand at its end."""
    text = "\n".join([verdict.text(), *(f"  {note}" for note in notes)])
    return {"text/plain": text, "text/html": page(verdict, notes)}


def page(verdict: Verdict, notes: Sequence[str] = ()) -> str:
    """The card as HTML."""
    title = f"{verdict.id}  {verdict.title}: {verdict.score:g} of {verdict.max_score:g} points"
    if verdict.status == "todo":
        title += f" - {TO_DO}"
    parts = [STYLE, f'<section class="tb-card" aria-label="{_safe("Check of " + title)}">']
    parts.append(f"<p><strong>{_safe(title)}</strong></p>")
    if verdict.message and verdict.status != "todo":
        parts.append(f'<pre tabindex="0">{_safe(verdict.message)}</pre>')
    if verdict.status == "judged":
        looks: dict[Look, str] = {}
        parts += ["<ul>", *(_item(line, looks) for line in verdict.lines), "</ul>"]
    parts += [f"<p>{_safe(note)}</p>" for note in notes]
    return "".join([*parts, "</section>"])


def _item(line: Line, looks: dict[Look, str]) -> str:
    sign, word, kind = ("✓", "passed", "tb-passed") if line.passed else ("✗", "failed", "tb-failed")
    unit = f" {line.unit}" if line.unit else ""
    text = f'<span class="tb-word"><span aria-hidden="true">{sign}</span> {word}</span> {_safe(line.text)}'
    for name, value in (("measured", line.measured), ("wanted", line.wanted)):
        text += f"; {name} <strong>{_safe(shown(value) + unit)}</strong>" if value is not None else ""
    return f'<li class="{kind}">{text}{"" if line.passed else _hint(line.hint, line.text) + _show(line, looks)}</li>'


def _hint(steps: Sequence[str], about: str) -> str:
    """The steps, each inside the one before it, so that they are opened in order."""
    inner = ""
    for name, step in reversed(list(zip(STEPS, steps, strict=False))):
        label = f'<span hidden=""> for: {_safe(about)}</span>'
        inner = f'<details class="tb-hint"><summary>{name}{label}</summary><p>{_safe(step)}</p>{inner}</details>'
    return inner


def _show(line: Line, looks: dict[Look, str]) -> str:
    look = line.look
    if look is None:
        return ""
    if look in looks:
        return f"<p>See the picture of “{_safe(looks[look])}”: {_safe(look.text())}.</p>"
    if len(looks) == MOST_PICTURES:
        return f"<p>Look at {_safe(look.text())}. Its picture comes when a criterion above is met.</p>"
    looks[look] = line.text
    picture = figure(look)._repr_mimebundle_()[0]["text/html"]
    return (
        f'<details class="tb-show"><summary>Show me: tick {look.tick}</summary>'
        f"<p>In {_safe(look.text())}.</p>{picture}</details>"
    )


def figure(look: Look) -> Any:
    """The moment as a timing diagram: what was driven, what the answer did, and what is expected where that is known."""
    from ..view.timing import timing_diagram

    return timing_diagram(
        [_row(strip) for strip in look.strips],
        look.start,
        look.stop,
        ("tick", _unit(look.stop)),
        tick_s=25e-9,
        marks=[(look.tick, "look here")],
        names=("yours", "expected"),
        title=look.note,
    )


def _unit(ticks: int) -> str:
    """The unit of time that keeps the axis' numbers short."""
    return "us" if ticks < 400_000 else "ms" if ticks < 400_000_000 else "s"


def _row(strip: Any) -> Any:
    import numpy as np

    from ..engines.api import Trace
    from ..netlist.types import parse
    from ..view.rows import Bus, Curve, Level

    def trace(pairs: Sequence[tuple[int, int]]) -> Trace:
        return Trace(strip.name, np.array([tick for tick, _ in pairs]), np.array([value for _, value in pairs]))

    kind = parse(strip.type)
    expected = trace(strip.expected) if strip.expected else None
    if strip.curve:
        return Curve(trace(strip.changes), expected=expected, type=kind)
    if kind.width == 1:
        return Level(trace(strip.changes), expected=expected)
    return Bus(trace(strip.changes), expected=expected, type=kind, base=strip.base)


def _safe(text: str) -> str:
    return html.escape(text)
