"""``tickbench author``: what authors of labs run."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from simkit.check import AuthorError, KitFault
from simkit.cli.places import NotFound, labs_folder, solutions_folder


@click.group()
def author() -> None:
    """For authors of labs.

    \b
    Example:
      tickbench author build 05_keeping_time
    """


@author.command()
@click.argument("number")
@click.argument("title")
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
def new(number: str, title: str, solutions: Path | None) -> None:
    """Begin a lab: write a small one that works, to be changed into your own.

    \b
    Example:
      tickbench author new 13 "Two fans in step"
    """
    from ..author.new import new_lab

    try:
        folder = new_lab(number, title, solutions or solutions_folder())
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None
    click.echo(
        f"wrote {folder}; next: tickbench author build {folder.name}, then tickbench author verify {folder.name}"
    )


@author.command()
@click.argument("lab", nargs=-1)
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
@click.option("--labs", type=click.Path(file_okay=False, path_type=Path), help="Folder to build into.")
@click.option("--check", "only_check", is_flag=True, help="Write nothing; say which files are out of date.")
@click.option(
    "--with-solutions",
    is_flag=True,
    help="For self-paced learners: also solutions.sealed, which opens after an honest try.  Needs --labs.",
)
def build(
    lab: tuple[str, ...], solutions: Path | None, labs: Path | None, only_check: bool, with_solutions: bool
) -> None:
    """Build the learners' labs from their sources: all, or those named.

    \b
    Example:
      tickbench author build                     all labs
      tickbench author build 05_keeping_time     one lab
      tickbench author build --check             exit code 1 if labs/ is out of date
      tickbench author build --with-solutions --labs self-paced     an edition for people who learn alone

    Exit codes: 0 done; 1 an error in a source (its file and line are printed) or, with --check, labs out of date.
    """
    from ..author.build import build_lab, out_of_date
    from ..author.sealed import write_sealed

    if with_solutions and labs is None:
        raise click.UsageError("say with --labs where the edition with solutions goes: labs/ itself never holds any")
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
                if with_solutions:
                    click.echo(f"sealed {write_sealed(folder, labs)}")
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None
    if stale:
        raise SystemExit(1)


@author.command()
@click.argument("lab", nargs=-1)
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
@click.option("--labs", type=click.Path(file_okay=False, path_type=Path), help="Folder of the built labs.")
@click.option("--learner", default="learner", show_default=True, help="With whose numbers to prove it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--mutants", is_flag=True, help="Also change each solution's designs and see whether the checks notice.")
@click.option("--most", default=40, show_default=True, help="How many mutants of each exercise.")
def verify(
    lab: tuple[str, ...],
    solutions: Path | None,
    labs: Path | None,
    learner: str,
    as_json: bool,
    mutants: bool,
    most: int,
) -> None:
    """Prove labs: the solution scores full marks, the learners' version nothing, each wrong answer is caught as meant.

    \b
    Example:
      tickbench author verify 05_keeping_time
      tickbench author verify --json
      tickbench author verify 05_keeping_time --mutants       some minutes: what do the checks miss?

    Exit codes: 0 all in order; 1 a fault was found (each is printed), or a source has an error.
    """
    from ..author.mutants import survey
    from ..author.verify import verify as prove

    proofs, rows = [], []
    try:
        solutions, labs = solutions or solutions_folder(), labs or labs_folder()
        for folder in _chosen(solutions, lab):
            proofs.append(prove(folder, labs, learner))
            rows.append(proofs[-1].as_json())
            if not as_json:
                _show_proof(proofs[-1])
            if mutants:
                found = survey(folder, learner, most)
                rows[-1] |= found.as_json()
                if not as_json:
                    _show_mutants(found)
    except (AuthorError, KitFault, NotFound) as error:
        raise click.ClickException(str(error)) from None
    if as_json:
        click.echo(json.dumps({"labs": rows}, indent=1, ensure_ascii=False))
    if any(proof.faults for proof in proofs):
        raise SystemExit(1)


@author.command()
@click.argument("old")
@click.argument("new")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--text/--no-text", "with_text", default=True, help="Also what learners read, line by line.")
def diff(old: str, new: str, as_json: bool, with_text: bool) -> None:
    """What a new version of a lab changes for learners, and whose work must be graded again.

    OLD and NEW are folders with a lab's source, or REVISION:FOLDER for a version that git has.

    \b
    Example:
      tickbench author diff HEAD~1:solutions/05_keeping_time solutions/05_keeping_time

    Exit codes: 0 compared; 1 an error in a source.
    """
    from ..author.diff import difference, version

    try:
        with version(old) as before, version(new) as after:
            found = difference(before, after)
    except AuthorError as error:
        raise click.ClickException(str(error)) from None
    if as_json:
        click.echo(json.dumps(found.as_json(), indent=1, ensure_ascii=False))
        return
    _show_difference(found)
    if with_text:
        click.echo("\n".join(found.text))


def _show_difference(found: Any) -> None:
    if found.old_points != found.new_points:
        click.echo(f"points of the lab: {found.old_points:g} -> {found.new_points:g}")
    for change in found.changes:
        click.echo(f"{change.exercise}: {'grade again' if change.regrade else 'scores stand'}")
        for line in change.lines:
            click.echo(f"  {line}")
    if not found.changes:
        click.echo("no exercise has changed" + ("; the text has" if found.text else ", nor has the text"))
    elif found.regrade:
        click.echo(f"submissions to grade again: those with answers to {', '.join(found.regrade)}")


@author.command()
@click.argument("lab", nargs=-1)
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
@click.option("--output", type=click.Path(file_okay=False, path_type=Path), default=Path("book"), show_default=True)
@click.option("--modules", type=click.Path(exists=True, file_okay=False, path_type=Path), help="node_modules folder.")
@click.option("--slides/--no-slides", "with_slides", default=True, help="Also slides for the classroom.")
def book(lab: tuple[str, ...], solutions: Path | None, output: Path, modules: Path | None, with_slides: bool) -> None:
    """The course on paper: exercise manual, solution manual, teaching notes (HTML made for print), and slides.

    \b
    Example:
      tickbench author book                         all labs, into book/
      tickbench author book 05_keeping_time --output /tmp/book

    Slides fetch reveal.js from the network.  For slides that need none:  npm install reveal.js@4 requirejs@2  and
    --modules node_modules.
    """
    from ..author.book import write_book
    from ..author.slides import write_slides

    try:
        folders = _chosen(solutions or solutions_folder(), lab)
        for path in write_book(folders, output, lambda line: click.echo(line, err=True)):
            click.echo(f"wrote {path}")
        for folder in folders if with_slides else []:
            click.echo(f"wrote {write_slides(folder, output / 'slides', modules)}")
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None


@author.command()
@click.argument("lab")
@click.option("--solutions", type=click.Path(file_okay=False, path_type=Path), help="Folder of the sources.")
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), help="Where to write; default: LAB.html")
@click.option("--with-solutions", is_flag=True, help="With the solutions in place.")
@click.option("--open/--no-open", "show", default=True, help="Open it in the browser.")
def preview(lab: str, solutions: Path | None, output: Path | None, with_solutions: bool, show: bool) -> None:
    """A lab as a page, run from top to bottom, as its learners will see it.

    \b
    Example:
      tickbench author preview 05_keeping_time
    """
    import webbrowser

    from ..author.book import as_html, learners_view, solution_manual
    from ..author.source import read_source

    try:
        source = read_source(_chosen(solutions or solutions_folder(), (lab,))[0])
        notebook = (solution_manual if with_solutions else learners_view)(source)
    except (AuthorError, NotFound) as error:
        raise click.ClickException(str(error)) from None
    path = output or Path(f"{source.name}.html")
    path.write_text(as_html(notebook, source.lab.title), encoding="utf-8")
    click.echo(f"wrote {path}")
    if show:
        webbrowser.open(path.resolve().as_uri())


def _show_proof(proof: Any) -> None:
    click.echo(
        f"{proof.lab}: {proof.exercises} exercises; solution {'full marks' if proof.solution_full else 'NOT full marks'}; "
        f"learner's version {'zero' if proof.release_zero else 'NOT zero'}; "
        f"{proof.wrong_answers_caught} of {proof.wrong_answers} wrong answers caught"
    )
    for fault in proof.faults:
        click.echo("  " + fault.replace("\n", "\n    "))


def _show_mutants(found: Any) -> None:
    caught, escaped = found.of("caught"), found.of("escaped")
    click.echo(
        f"  mutants: {len(caught)} of {len(caught) + len(escaped)} caught; no difference seen in "
        f"{len(found.of('alike'))}, allowed {len(found.of('allowed'))}, no design {len(found.of('refused'))}"
    )
    for mutant in escaped:
        click.echo(f"    passes: {mutant}")


def _chosen(solutions: Path, names: tuple[str, ...]) -> list[Path]:
    from ..author.build import sources

    found = {path.name: path for path in sources(solutions)}
    for name in names:
        if Path(name).name not in found:
            raise click.ClickException(
                f"there is no lab {name!r} in {solutions}; there is: {', '.join(found) or 'none'}"
            )
    return [found[Path(name).name] for name in names] or list(found.values())
