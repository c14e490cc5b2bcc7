"""``tickbench author``: what authors of labs run."""

from __future__ import annotations

from pathlib import Path

import click

from simkit.check import AuthorError
from simkit.cli.places import NotFound, labs_folder, solutions_folder


@click.group()
def author() -> None:
    """For authors of labs.

    \b
    Example:
      tickbench author build 05_keeping_time
    """


@author.command()
@click.argument("lab", nargs=-1)
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
@click.option("--labs", type=click.Path(file_okay=False, path_type=Path), help="Folder to build into.")
@click.option("--check", "only_check", is_flag=True, help="Write nothing; say which files are out of date.")
def build(lab: tuple[str, ...], solutions: Path | None, labs: Path | None, only_check: bool) -> None:
    """Build the learners' labs from their sources: all, or those named.

    \b
    Example:
      tickbench author build                     all labs
      tickbench author build 05_keeping_time     one lab
      tickbench author build --check             exit code 1 if labs/ is out of date

    Exit codes: 0 done; 1 an error in a source (its file and line are printed) or, with --check, labs out of date.
    """
    from ..author.build import build_lab, out_of_date

    stale = False
    try:
        solutions, labs = solutions or solutions_folder(), labs or labs_folder()
        for folder in _chosen(solutions, lab):
            if only_check:
                files = out_of_date(folder, labs)
                stale = stale or bool(files)
                click.echo(f"{folder.name}: {'out of date: ' + ', '.join(files) if files else 'up to date'}")
            else:
                click.echo(f"built {build_lab(folder, labs)}")
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None
    if stale:
        raise SystemExit(1)


def _chosen(solutions: Path, names: tuple[str, ...]) -> list[Path]:
    from ..author.build import sources

    found = {path.name: path for path in sources(solutions)}
    for name in names:
        if Path(name).name not in found:
            raise click.ClickException(
                f"there is no lab {name!r} in {solutions}; there is: {', '.join(found) or 'none'}"
            )
    return [found[Path(name).name] for name in names] or list(found.values())
