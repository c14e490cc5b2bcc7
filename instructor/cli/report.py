"""``tickbench report``, ``export`` and ``forget``: the cohort seen, its grades given out, one of it deleted."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import click


@click.command()
@click.argument("course", type=click.Path(file_okay=False, exists=True, path_type=Path))
@click.option("--lab", multiple=True, help="Only this lab (may be repeated).")
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), help="The page; default: COURSE/report.html")
@click.option(
    "--csv", "csv_folder", type=click.Path(file_okay=False, path_type=Path), help="Also the tables, as CSV files."
)
@click.option("--names", is_flag=True, help="Show learners by their ids instead of pseudonyms.")
@click.option("--similar/--no-similar", default=True, show_default=True, help="Also look for near-identical work.")
def report(
    course: Path, lab: tuple[str, ...], output: Path | None, csv_folder: Path | None, names: bool, similar: bool
) -> None:
    """One page on a cohort: scores, what each criterion found, what the class believes, how good each exercise is.

    COURSE is the folder with gradebook.db.  The page holds everything that it shows, and nothing leaves this machine.

    \b
    Example:
      tickbench report fans
      tickbench report fans --lab 05_keeping_time --csv tables --names

    Exit codes: 0 written; 1 the course cannot be read.
    """
    from ..grading.course import Course, CourseFault
    from ..report import read_cohort
    from ..report.page import as_html, write_csv
    from ..report.privacy import stored
    from ..report.similar import places_to_look

    try:
        there = Course(course)
        if not (there.root / "gradebook.db").is_file():
            raise CourseFault(f"there is no gradebook.db in {course}: grade first, tickbench grade {course}")
        cohort = read_cohort(there, set(lab) or None, names)
        lines = places_to_look(there, cohort) if similar else None
        path = output or there.root / "report.html"
        path.write_text(as_html(cohort, stored(there), lines, names), encoding="utf-8")
        click.echo(f"wrote {path}")
        for table in write_csv(cohort, csv_folder) if csv_folder else []:
            click.echo(f"wrote {table}")
    except (CourseFault, OSError, sqlite3.Error) as error:
        raise click.ClickException(str(error)) from None


@click.command()
@click.argument("learner")
@click.option("--course", "folder", required=True, type=click.Path(file_okay=False, exists=True, path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
def forget(learner: str, folder: Path, yes: bool) -> None:
    """Delete everything that a course folder stores of one learner, backups of the gradebook included.

    \b
    Example:
      tickbench forget ada --course fans
    """
    from ..grading.course import Course, CourseFault
    from ..report import privacy

    try:
        course = Course(folder)
        click.echo("This deletes, for good:")
        for path in privacy.traces(course, learner):
            click.echo(f"  {path}")
        click.echo(f"  the attempts of {learner} and the rows of {learner} in the gradebook")
        click.echo("  all backups of the gradebook, for they hold the same rows")
        if not yes:
            click.confirm(f"Delete {learner}?", abort=True)
        privacy.forget(course, learner)
    except (CourseFault, OSError, sqlite3.Error) as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"{learner} is deleted")


@click.command()
@click.argument("course", type=click.Path(file_okay=False, exists=True, path_type=Path))
@click.option(
    "--mapping", type=click.Path(dir_okay=False, exists=True, path_type=Path), help="TOML file with the columns."
)
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), help="The file; default: COURSE/grades.csv")
def export(course: Path, mapping: Path | None, output: Path | None) -> None:
    """Grades as a CSV file with the columns that a learning platform wants, lateness settled by the course's rules.toml.

    \b
    Example:
      tickbench export fans
      tickbench export fans --mapping columns.toml --output upload.csv

    A mapping:
      delimiter = ";"
      [columns]
      "Student ID" = "learner"
      "Keeping time" = "points:05_keeping_time"
      "Total (%)" = "percent"

    Exit codes: 0 written; 1 the course or the mapping cannot be read.
    """
    from .. import export as out
    from ..grading.course import Course, CourseFault
    from ..grading.writer import Writer

    try:
        there = Course(course)
        if not (there.root / "gradebook.db").is_file():
            raise CourseFault(f"there is no gradebook.db in {course}: grade first, tickbench grade {course}")
        with Writer(there) as writer:
            wanted = out.read_mapping(mapping, out.known_labs(writer))
            text = out.as_csv(out.rows_of(there, writer, wanted.labs), wanted)
        path = output or there.root / "grades.csv"
        path.write_text(text, encoding=wanted.encoding)
    except (CourseFault, OSError, LookupError, sqlite3.Error) as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"wrote {path}")
