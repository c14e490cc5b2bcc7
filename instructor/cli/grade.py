"""``tickbench grade``: grade a class's submissions into nbgrader's gradebook."""

from __future__ import annotations

import json
import sqlite3
import sys
import time
from pathlib import Path

import click


class CannotGrade(click.ClickException):
    """Nothing could be graded: the course, the sandbox or the disk; the shell sees 3."""

    exit_code = 3


@click.command()
@click.argument("submissions", type=click.Path(file_okay=False, exists=True, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of lines.")
@click.option("--learner", multiple=True, help="Only this learner (may be repeated).")
@click.option("--lab", multiple=True, help="Only this lab (may be repeated).")
@click.option(
    "--jobs", "-j", default=1, show_default=True, type=click.IntRange(1, 256), help="Submissions run at the same time."
)
@click.option(
    "--scheduler", metavar="ADDRESS", default="", help="Send the work to the Dask scheduler there, as tcp://host:8786."
)
@click.option(
    "--verbose", "-v", is_flag=True, help="Print a line for every submission, not only where there is something to say."
)
@click.option("--again", is_flag=True, help="Grade also what is graded already.")
@click.option("--reason", default="", help="Why, for the history of scores that change.")
@click.option(
    "--trust",
    is_flag=True,
    help="Run notebooks without a sandbox, with your own rights. They could then read and "
    "change your files, the gradebook among them: only for notebooks that you have read.",
)
def grade(
    submissions: Path,
    as_json: bool,
    learner: tuple[str, ...],
    lab: tuple[str, ...],
    jobs: int,
    scheduler: str,
    verbose: bool,
    again: bool,
    reason: str,
    trust: bool,
) -> None:
    """Grade submissions in nbgrader's layout, submitted/LEARNER/LAB/*.ipynb, into the gradebook.db beside it.

    SUBMISSIONS is the folder "submitted", or the course folder that holds it.  What is graded already is left as it is, so
    a run that was stopped can be started again; if an exercise was mended, only that exercise is judged again, and the earlier
    scores are kept in .tickbench/history with the reason.  Points and comments given by hand are never changed.

    \b
    Example:
      tickbench grade course/submitted --jobs 4
      tickbench grade course --lab 05_keeping_time --json

    Exit codes: 0 all graded; 1 some were not graded (each is named); 3 nothing could be graded.
    """
    from ..grading.batch import Batch
    from ..grading.cluster import ClusterHands
    from ..grading.course import Course, CourseFault
    from ..grading.hands import LocalHands
    from ..grading.writer import back_up
    from ..run import NoSandbox, best_runner

    outcomes = []
    try:
        root, folder = course_of(submissions)
        course = Course(root)
        runner = None if scheduler else best_runner(trust)
        try:
            hands = LocalHands(runner, jobs) if runner is not None else ClusterHands(scheduler, trust)
            back_up(course)
            batch = Batch(course, hands, again, reason)
            for outcome in followed(batch, batch.run(folder, set(learner) or None, set(lab) or None), as_json):
                outcomes.append(outcome)
                if not as_json and (verbose or outcome.error):
                    _show(outcome)
        finally:
            if runner is not None:
                runner.close()
    except (CourseFault, NoSandbox, OSError, sqlite3.Error) as error:
        raise CannotGrade(str(error)) from None
    if as_json:
        click.echo(json.dumps({"submissions": [o.as_json() for o in outcomes]}, indent=1, ensure_ascii=False))
    else:
        _sum_up(outcomes, folder)
    raise SystemExit(0 if all(o.graded for o in outcomes) and outcomes else 1 if any(o.graded for o in outcomes) else 3)


def followed(batch, outcomes, silent: bool):  # type: ignore[no-untyped-def]
    """The outcomes, with a bar on the terminal that shows how far the run is, its rate and the time left."""
    if silent or not sys.stderr.isatty():
        yield from outcomes
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    rate = TextColumn("{task.fields[rate]}")
    columns = (
        TextColumn("grading"),
        BarColumn(),
        MofNCompleteColumn(),
        rate,
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    begun = time.monotonic()
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("grading", total=None, rate="")
        for done, outcome in enumerate(outcomes, 1):
            per_minute = 60 * done / max(time.monotonic() - begun, 1e-6)
            progress.update(task, total=batch.total, completed=done, rate=f"{per_minute:.0f}/min")
            yield outcome


def course_of(submissions: Path) -> tuple[Path, Path]:
    """The course folder and its folder of submissions."""
    submissions = submissions.resolve()
    return (
        (submissions, submissions / "submitted")
        if (submissions / "submitted").is_dir()
        else (submissions.parent, submissions)
    )


def _show(outcome) -> None:  # type: ignore[no-untyped-def]
    what = f"{outcome.score:g} of {outcome.max_score:g}" if outcome.graded else "NOT GRADED"
    what += "" if outcome.fresh else " (graded before)"
    click.echo(f"{outcome.learner}  {outcome.lab}  {what}" + (f"  note: {outcome.error}" if outcome.error else ""))


def _sum_up(outcomes: list, folder: Path) -> None:
    if not outcomes:
        click.echo(f"no submissions in {folder}: the layout is LEARNER/LAB/*.ipynb", err=True)
        return
    bad = sum(not o.graded for o in outcomes)
    click.echo(f"{len(outcomes) - bad} graded" + (f", {bad} not graded" if bad else ""))
