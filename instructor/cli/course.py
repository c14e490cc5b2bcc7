"""``tickbench course``: a folder from which nbgrader can hand out and grade the labs."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

CONFIG = '''"""nbgrader's configuration for this course; nbgrader reads it when it is started in this folder."""

from pathlib import Path

from instructor.nbgrader_config import configure

c = get_config()
configure(c, Path(__file__).parent, course_id={course_id!r})
'''


HUB = '''"""JupyterHub for this class, on one machine, with accounts of the machine.

Write the names of the accounts below, then start it as root:  jupyterhub -f {path}
JupyterHub and its proxy:  pip install jupyterhub  and  npm install -g configurable-http-proxy
Put it behind a web server that speaks https before anybody uses it over a network.
"""

from instructor.classroom import configure

c = get_config()
configure(
    c,
    root={root!r},  # owned by the instructor's account, mode 700
    instructors={{"teacher"}},
    learners={{"ada", "bob"}},
    exchange="/srv/nbgrader/exchange",
    course_id={course_id!r},
)
'''


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
@click.option("--course-id", default="tickbench", show_default=True, help="nbgrader's name for the course.")
@click.option("--lab", multiple=True, help="Only this lab (may be repeated).")
@click.option("--hub", is_flag=True, help="Also write jupyterhub_config.py, for a class on one machine.")
def course(folder: Path, course_id: str, lab: tuple[str, ...], hub: bool) -> None:
    """Make DIR ready for nbgrader: its configuration, and in source/ the labs, with solutions where they are installed.

    Files that are there already are left as they are.

    \b
    Example:
      tickbench course fans
      cd fans && nbgrader generate_assignment 05_keeping_time && nbgrader release_assignment 05_keeping_time

    Exit codes: 0 done; 1 a lab is not there, or its source has an error.
    """
    from simkit.check import AuthorError
    from simkit.cli.places import NotFound

    from ..grading.course import Course

    try:
        folder.mkdir(parents=True, exist_ok=True)
        config = folder / "nbgrader_config.py"
        if not config.exists():
            config.write_text(CONFIG.format(course_id=course_id), encoding="utf-8")
        hub_config = folder.resolve() / "jupyterhub_config.py"
        if hub and not hub_config.exists():
            text = HUB.format(path=hub_config, root=str(folder.resolve()), course_id=course_id)
            hub_config.write_text(text, encoding="utf-8")
            click.echo(f"wrote {hub_config}: put in the names of the accounts")
        for name in put_sources(folder / "source", set(lab)):
            click.echo(f"source/{name}")
        _ = Course(folder).secret
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None
    except OSError as error:
        raise click.ClickException(f"the folder {folder} cannot be used: {error.strerror or error}") from None
    click.echo(f"next: cd {folder} && nbgrader generate_assignment LAB")


def put_sources(target: Path, wanted: set[str]) -> list[str]:
    """Write the labs' sources for nbgrader; returns the names of those that are new."""
    from simkit.cli.places import NotFound, lab_folders, labs_folder, solutions_folder

    from ..author.build import EXTRAS, sources, with_solutions, write_notebook
    from ..author.source import read_source

    try:
        solutions = {path.name: path for path in sources(solutions_folder())}
    except NotFound:
        solutions = {}
    folders = {path.name: path for path in lab_folders(labs_folder())} | solutions
    unknown = wanted - set(folders)
    if unknown:
        raise NotFound(f"there is no lab {sorted(unknown)[0]!r}; there is: {', '.join(sorted(folders)) or 'none'}")
    new = []
    for name, folder in sorted(folders.items()):
        if (target / name).exists() or (wanted and name not in wanted):
            continue
        (target / name).mkdir(parents=True)
        if name in solutions:
            write_notebook(with_solutions(read_source(folder)), target / name / f"{name}.ipynb")
        else:
            shutil.copy(folder / f"{name}.ipynb", target / name)
        shutil.copy(folder / "exercises.py", target / name)
        for extra in EXTRAS:
            if (folder / extra).is_dir():
                shutil.copytree(folder / extra, target / name / extra)
        new.append(name)
    return new
