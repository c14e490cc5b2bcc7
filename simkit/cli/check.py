"""``tickbench check``: run notebooks and print what their checks say."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command()
@click.argument("notebooks", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
@click.option(
    "--cell-seconds",
    default=30.0,
    show_default=True,
    type=click.FloatRange(0.1, 3600),
    help="Stop a cell that takes longer.",
)
@click.option(
    "--hints", default=1, show_default=True, type=click.IntRange(1, 3), help="How many steps of each hint to show."
)
@click.option("--learner", default="", help="Use this learner's numbers instead of yours.")
def check(notebooks: tuple[Path, ...], as_json: bool, cell_seconds: float, hints: int, learner: str) -> None:
    """Run notebooks (.ipynb, or their text form .md or .py) and print what their checks say.

    The notebooks themselves are not changed; your progress is noted as by the checks in them, but not with another's
    --learner.  Their code runs with your rights: check only notebooks that you trust.

    \b
    Example:
      tickbench check my-labs/05_keeping_time/05_keeping_time.ipynb
      tickbench check my-labs/*/*.ipynb --json

    Exit codes: 0 every criterion passed; 1 some did not; 3 a notebook could not be read or run to its end.
    """
    from ..check import AuthorError, KitFault
    from ..check.headless import Report, check_notebook
    from ..check.run import JudgeProcess, Limits

    reports = []
    with JudgeProcess() as judges:
        for path in notebooks:
            try:
                folder, release = find_lab(path)
                report = check_notebook(path, folder, judges, release, Limits(cell_seconds=cell_seconds), learner)
            except (LabUnknown, AuthorError) as error:
                report = Report(path, [], str(error))
            except KitFault as error:
                raise click.ClickException(
                    f"{path}: tickbench itself is at fault, not your notebook: {error}"
                ) from None
            reports.append(report)
            if report.unsaved:
                click.echo(f"{path}: {report.unsaved}", err=True)
            if not as_json:
                _show(report, hints)
    if as_json:
        click.echo(json.dumps({"notebooks": [report.as_json() for report in reports]}, indent=1, ensure_ascii=False))
    raise SystemExit(exit_code(reports))


class LabUnknown(Exception):
    """No lab fits the notebook."""


def find_lab(path: Path) -> tuple[Path, Path | None]:
    """The folder of the lab's ``exercises.py``, and the notebook as handed out if it is known.

    The lab is the one in the notebook's folder, else the installed lab of the notebook's name, or of its folder's name.
    """
    from .places import NotFound, labs_folder

    try:
        labs = labs_folder()
    except NotFound:
        labs = Path("labs")
    here = path.resolve().parent
    names = [path.stem, here.name]
    release = next((labs / name / f"{name}.ipynb" for name in names if (labs / name / f"{name}.ipynb").is_file()), None)
    if (here / "exercises.py").is_file():
        return here, release
    if release is not None:
        return release.parent, release
    if not path.is_file():
        raise LabUnknown("there is no such file")
    raise LabUnknown(f"no lab fits: there is no exercises.py beside it, and no installed lab is called {path.stem}")


def exit_code(reports: list) -> int:
    """0, 1 or 3, as the command's help says."""
    if any(report.error and not report.verdicts for report in reports):
        return 3
    if any(report.error for report in reports) and not all(v.passed for report in reports for v in report.verdicts):
        return 3
    return 0 if all(verdict.passed for report in reports for verdict in report.verdicts) else 1


def _show(report, hints: int) -> None:  # type: ignore[no-untyped-def]
    from dataclasses import replace

    click.echo(f"{report.path}: {report.score:g} of {report.max_score:g} points")
    if report.error:
        click.echo(f"  note: {report.error}")
    for verdict in report.verdicts:
        click.echo("  " + replace(verdict, hints=hints).text().replace("\n", "\n  "))
