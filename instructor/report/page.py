"""The report as one HTML page with everything inside, and as CSV files."""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path
from typing import Any

import jinja2
import numpy as np
from markupsafe import Markup

from simkit.view import style

from .cohort import Cohort, LabScores
from .figures import as_svg, criteria_chart, item_chart, overview, score_histogram
from .statistics import Reliability, difficulty, discrimination, reliability

HERE = Path(__file__).parent


def as_html(cohort: Cohort, stored: list[tuple[str, str, str]], similar: list[str] | None, real_names: bool) -> str:
    """The page.  ``similar`` are lines on near-identical work, None to leave that part out."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE), autoescape=True, undefined=jinja2.StrictUndefined
    )
    return environment.get_template("report.html.j2").render(
        course_id=cohort.course_id,
        made=datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
        root=str(cohort.root),
        real_names=real_names,
        labs=[_lab(cohort, name) for name in cohort.labs],
        similar=similar,
        stored=stored,
    )


def write_csv(cohort: Cohort, folder: Path) -> list[Path]:
    """One file for each table of each lab."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, scores in cohort.labs.items():
        for table in tables(scores, cohort.names):
            path = folder / f"{name}_{table['file']}.csv"
            with open(path, "w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file)
                writer.writerow(table["heads"])
                writer.writerows([[harmless(cell) for cell in row] for row in table["rows"]])
            written.append(path)
    return written


def harmless(cell: Any) -> Any:
    """A cell that a spreadsheet will not take for a formula: learners choose their ids and their answers."""
    return "'" + cell if isinstance(cell, str) and cell[:1] in "=+-@\t\r" else cell


def _lab(cohort: Cohort, name: str) -> dict[str, Any]:
    scores = cohort.labs[name]
    texts = {(e.id, c.name): c.text for e in scores.lab.exercises.values() for c in e.criteria}
    beliefs = [
        {
            "hint": hint,
            "exercise": exercise,
            "text": texts[exercise, criterion],
            "count": count,
            "percent": f"{share:.0%}",
        }
        for hint, exercise, criterion, count, share in scores.beliefs()
    ]
    return {
        "name": name,
        "title": scores.lab.title,
        "learners": len(scores.learners),
        "missing": len(scores.missing),
        "reliability": _reliabilities(scores),
        "beliefs": beliefs,
        "figures": _figures(scores, cohort.names),
        "stuck": [(cohort.names[learner], why) for learner, why in scores.stuck()],
        "tables": tables(scores, cohort.names),
    }


def _figures(scores: LabScores, names: dict[str, str]) -> list[dict[str, Any]]:
    before = style.theme().name
    style.use_theme("light")
    try:
        drawn = {
            "What failed": criteria_chart(scores),
            "Points": score_histogram(scores),
            "Exercises": item_chart(scores),
            "Everybody": overview(scores, names),
        }
        return [{"title": title, "svg": Markup(as_svg(p)), "caption": p.alt} for title, p in drawn.items()]
    finally:
        style.use_theme(before)


def _reliabilities(scores: LabScores) -> str:
    return (
        f"Cronbach's alpha over the exercises: {_said(reliability(scores.scores))}. "
        f"KR-20 over the criteria: {_said(reliability(scores.passes))}."
    )


def _said(found: Reliability) -> str:
    if found.why:
        return f"cannot be told, {found.why}"
    return f"{found.value:.2f} (95 % interval {found.low:.2f} to {found.high:.2f}, {found.learners} learners, {found.items} items)"


def tables(scores: LabScores, names: dict[str, str]) -> list[dict[str, Any]]:
    """The tables behind the pictures: ``title``, ``file``, ``heads``, ``rows``."""
    easy, sharp = difficulty(scores.scores, scores.most), discrimination(scores.scores)
    exercises = scores.lab.exercises.values()
    return [
        {
            "title": "Scores by learner and exercise",
            "file": "scores",
            "heads": ["learner", *scores.exercises, f"sum of {scores.most.sum():g}", "note"],
            "rows": [
                [names[who], *_plain(row), float(np.nansum(row)), scores.notes.get(who, "")]
                for who, row in zip(scores.learners, scores.scores, strict=True)
            ],
        },
        {
            "title": "Exercises",
            "file": "exercises",
            "heads": [
                "exercise",
                "title",
                "points",
                "mean share of the points",
                "discrimination",
                "learners who showed their tries",
                "median of their tries",
                "median minutes to the first pass",
            ],
            "rows": [
                [e.id, e.title, float(e.points), *_plain(np.round([a, b], 3)), *_plain(scores.effort(e.id))]
                for e, a, b in zip(exercises, easy, sharp, strict=True)
            ],
        },
        {
            "title": "Criteria, and the hints that learners got",
            "file": "criteria",
            "heads": ["exercise", "criterion", "judged", "failed", "hints (learners)"],
            "rows": [
                [
                    f.exercise,
                    f.text,
                    float(f.judged),
                    float(f.failed),
                    "; ".join(f"{h} ({n})" for h, n in f.hints.most_common()),
                ]
                for f in scores.findings()
            ],
        },
    ]


def _plain(row: Any) -> list[Any]:
    return ["" if np.isnan(value) else float(value) for value in row]
