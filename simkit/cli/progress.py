"""``tickbench progress``: what is done, and what to do next."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click


@click.command()
@click.argument("folder", metavar="[DIR]", default=".", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--time", "time_wanted", type=click.Choice(["on", "off"]), help="Note the time you spend from now on, or stop."
)
@click.option(
    "--agree",
    metavar="LAB",
    default="",
    help="Let your instructor see your tries in this lab, and the time to the first pass.",
)
def progress(folder: Path, as_json: bool, time_wanted: str | None, agree: str) -> None:
    """What you have done in the labs of DIR (the present folder if not given), and what to do next.

    It is read from a file of your own that every check writes (DIR/.tickbench/progress.jsonl).  Time is noted only if you ask for it.

    \b
    Example:
      tickbench progress my-labs
      tickbench progress my-labs --time on
      tickbench progress my-labs --agree 05_keeping_time

    With --agree a small file tries.json is put beside the notebook and handed in with it; read it, and delete it if you change your mind.

    Exit codes: 0 shown; 1 there are no labs here, or the file cannot be written.
    """
    import os

    from ..check import journal
    from ..check.desk import advice, states, text
    from ..check.identity import learner

    os.chdir(folder)
    labs = states(Path.cwd())
    if not labs and (default := Path.cwd() / "my-labs").is_dir():
        os.chdir(default)
        labs = states(default)
    if not labs:
        raise click.ClickException(f"there are no labs in {folder}: name the folder that tickbench start made")
    if time_wanted:
        fault = journal.append(journal.place(), event="time", learner=learner(), on=time_wanted == "on")
        if fault:
            raise click.ClickException(fault)
        click.echo(
            f"the time you spend is {'noted from now on' if time_wanted == 'on' else 'no longer noted'}", err=True
        )
    if agree:
        from ..check import agreed

        if not (Path(agree) / "exercises.py").is_file():
            raise click.ClickException(f"there is no lab {agree!r} in {Path.cwd()}")
        path = agreed.write(Path(agree), agreed.summary(journal.read(journal.place()), learner(), agree))
        click.echo(f"wrote {path}: it is handed in with the notebook", err=True)
    if as_json:
        rows = [asdict(standing) for lab in labs for _, _, standing in lab.rows]
        click.echo(json.dumps({"next": advice(labs), "exercises": rows}, indent=1, ensure_ascii=False))
    else:
        click.echo(text(labs))
