"""The report's pictures, as SVG text that says in words what it shows."""

from __future__ import annotations

import html
import io
import re

import numpy as np

from simkit.view import style
from simkit.view.picture import Picture, new

from .cohort import LabScores
from .statistics import difficulty, discrimination

MOST_FINDINGS = 12


def as_svg(picture: Picture) -> str:
    """A picture for inside a page, with its text as text, and its alternative text for whoever cannot see it."""
    out = io.StringIO()
    with style.applied():
        picture.savefig(out, format="svg", metadata={"Date": None})
    body = re.sub(r"^.*?(?=<svg)", "", out.getvalue(), flags=re.S)
    body = re.sub(r'(width|height)="[\d.]+pt" ?', "", body, count=2)
    label = html.escape(picture.alt, quote=True)
    return body.replace("<svg ", f'<svg role="img" aria-label="{label}" focusable="false" ', 1)


def score_histogram(scores: LabScores) -> Picture:
    """How the sums of points are spread."""
    sums = np.nansum(scores.scores, axis=1)
    most = float(scores.most.sum())
    edges = np.linspace(0, most, min(11, int(most) + 2))
    with style.applied():
        picture = new(style.WIDTH, 2.6)
        ax = picture.subplots()
        counts, _ = np.histogram(sums, edges)
        bars = ax.bar(edges[:-1], counts, np.diff(edges), align="edge", color=style.BLUE, alpha=0.8, edgecolor="white")
        ax.bar_label(bars, labels=[str(int(n)) if n else "" for n in counts])
        ax.axvline(float(np.median(sums)), color=style.VERMILLION, linestyle="--")
        ax.annotate(
            f"median {np.median(sums):g}",
            (float(np.median(sums)), max(counts) * 1.06),
            xytext=(4, 0),
            textcoords="offset points",
            annotation_clip=False,
        )
        ax.set_xlabel(f"points of {most:g}")
        ax.set_ylabel("learners")
        ax.set_ylim(0, max(counts) * 1.2)
    low = int((sums < 0.4 * most).sum())
    return _told(
        picture,
        f"Histogram of the points of {len(sums)} learners: median {np.median(sums):g} of {most:g}; "
        f"{low} learners have less than 40 percent.",
    )


def item_chart(scores: LabScores) -> Picture:
    """Difficulty and discrimination of each exercise, side by side."""
    names = scores.exercises
    easy, sharp = difficulty(scores.scores, scores.most), discrimination(scores.scores)
    rows = np.arange(len(names))[::-1]
    with style.applied():
        picture = new(style.WIDTH, 0.9 + 0.32 * len(names))
        left, right = picture.subplots(1, 2, sharey=True)
        bars = left.barh(rows, easy * 100, color=style.BLUE, alpha=0.8)
        left.bar_label(bars, fmt="%.0f %%", padding=3)
        left.set(xlim=(0, 118), xlabel="mean points, in percent", yticks=rows, yticklabels=names, title="Difficulty")
        right.barh(rows, np.nan_to_num(sharp), color=style.GREEN, alpha=0.8, hatch="///", edgecolor="white")
        for row, value in zip(rows, sharp, strict=True):
            right.text(
                max(np.nan_to_num(value), 0) + 0.03, row, "-" if np.isnan(value) else f"{value:.2f}", va="center"
            )
        right.axvline(0.2, color=style.VERMILLION, linestyle="--", linewidth=1)
        right.set(
            xlim=(min(-0.1, np.nanmin([*sharp, 0]) - 0.05), 1.1),
            xlabel="correlation with the other exercises",
            title="Discrimination",
        )
    hardest = names[int(np.nanargmin(easy))] if len(easy) and not np.isnan(easy).all() else "none"
    weak = [name for name, value in zip(names, sharp, strict=True) if value < 0.2]
    return _told(
        picture,
        f"Two bar charts over {len(names)} exercises. The hardest is {hardest}. "
        f"Discrimination below 0.2: {', '.join(weak) or 'none'}.",
    )


def criteria_chart(scores: LabScores) -> Picture:
    """The criteria that most answers failed."""
    found = [f for f in scores.findings() if f.failed][:MOST_FINDINGS]
    with style.applied():
        picture = new(style.WIDTH, 0.9 + 0.34 * max(1, len(found)))
        ax = picture.subplots()
        rows = np.arange(len(found))[::-1]
        bars = ax.barh(
            rows, [100 * f.share for f in found], color=style.VERMILLION, alpha=0.75, hatch="...", edgecolor="white"
        )
        ax.bar_label(bars, labels=[f"{f.failed} of {f.judged}" for f in found], padding=3)
        ax.set(
            xlim=(0, 118),
            xlabel="failed, in percent of the answers that were judged",
            yticks=rows,
            yticklabels=[f"{f.exercise}  {_short(f.text)}" for f in found],
        )
    said = "; ".join(f"{f.exercise}, {f.text}: {f.failed} of {f.judged}" for f in found[:3])
    return _told(picture, f"Bar chart of the criteria that failed most. {said or 'No criterion failed'}.")


def overview(scores: LabScores, names: dict[str, str]) -> Picture:
    """Learners by exercises, the share of the points as a number on a tint."""
    order = np.argsort(-np.nansum(scores.scores, axis=1), kind="stable")
    share = scores.scores[order] / scores.most
    with style.applied():
        picture = new(style.WIDTH, 0.8 + 0.2 * max(1, len(order)))
        ax = picture.subplots()
        ax.imshow(share, cmap="Blues", vmin=0, vmax=2.2, aspect="auto")
        for (row, column), value in np.ndenumerate(share):
            ax.text(
                column,
                row,
                "-" if np.isnan(value) else f"{100 * value:.0f}",
                ha="center",
                va="center",
                fontsize=style.SMALL - 1,
                color="#222222",
            )
        ax.set_xticks(range(len(scores.exercises)), scores.exercises)
        ax.set_yticks(range(len(order)), [names[scores.learners[i]] for i in order], fontsize=style.SMALL - 1)
        ax.xaxis.tick_top()
        ax.tick_params(length=0)
    return _told(
        picture,
        f"Table of {len(order)} learners by {len(scores.exercises)} exercises, percent of the points, best first; "
        "the same numbers are in the table of scores.",
    )


def _told(picture: Picture, alt: str) -> Picture:
    picture.alt = alt
    return picture


def _short(text: str) -> str:
    return text if len(text) <= 52 else text[:49] + "..."
