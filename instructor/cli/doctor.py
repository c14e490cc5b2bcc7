"""``tickbench doctor``: what this computer can do, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterator

import click

from simkit.cli.computer import Finding, findings


@click.command()
@click.option("--grading", is_flag=True, help="Also try the sandboxes in which learners' notebooks are graded.")
def doctor(grading: bool) -> None:
    """Say what this computer can do, what it lacks, and how to mend that.  No network is needed.

    \b
    Example:
      tickbench doctor
      tickbench doctor --grading

    Exit codes: 0 all that is needed is there; 1 something is not.
    """
    good = True
    for found in (*findings(), *(_sandboxes() if grading else ())):
        good = good and (found.fine or not found.needed)
        click.echo(f"{'ok     ' if found.fine else 'MISSING' if found.needed else 'none   '}  {found.text}")
        if not found.fine and found.fix:
            click.echo(f"         to mend it: {found.fix}")
    raise SystemExit(0 if good else 1)


def _sandboxes() -> Iterator[Finding]:
    from ..run import SANDBOXES

    working = 0
    for kind in SANDBOXES:
        runner = kind()
        try:
            why = runner.missing()
        finally:
            runner.close()
        working += not why
        name = kind.__name__.removesuffix("Runner").lower()
        yield Finding(not why, False, f"sandbox {name}: {why or 'keeps notebooks from ' + runner.protects}")
    yield Finding(
        working > 0,
        True,
        "a sandbox for grading (without one, tickbench grade refuses unless you say --trust)",
        "apt-get install bubblewrap, on Linux",
    )
