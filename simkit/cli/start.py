"""``tickbench start``: the labs in a folder of the learner's own, and JupyterLab there."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import click


@click.command()
@click.argument("folder", metavar="[DIR]", default="my-labs", type=click.Path(file_okay=False, path_type=Path))
@click.option("--no-browser", is_flag=True, help="Do not open a browser; print the address.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port of the server (default: 8888 or the next free one).")
@click.option("--learner", default="", help="Your id in the course; your own numbers in the labs follow from it.")
@click.option("--copy-only", is_flag=True, help="Copy the labs and stop.")
def start(folder: Path, no_browser: bool, port: int | None, learner: str, copy_only: bool) -> None:
    """Copy the labs into DIR (my-labs if not given) and open JupyterLab there.

    Run it again at any time: your work is never overwritten; a newer edition of a file that you have changed is put
    beside it, and its name is printed.

    \b
    Example:
      tickbench start
      tickbench start "my course" --no-browser --port 8900

    Exit codes: 0 done; 1 the folder cannot be used, or the port is taken.
    """
    from .places import NotFound

    try:
        prepare(folder, learner)
    except NotFound as error:
        raise click.ClickException(str(error)) from None
    except OSError as error:
        raise click.ClickException(f"the folder {folder} cannot be used: {error.strerror or error}") from None
    if port is not None and not _free(port):
        raise click.ClickException(f"port {port} is in use by another program: choose another with --port")
    if not copy_only:
        from ..build.warm import in_background
        from .home import elsewhere

        moved = elsewhere(folder.resolve())
        if moved:
            click.echo(f"your home cannot be written: {', '.join(moved)} point into {folder}")
        os.environ.update(moved)
        if in_background():
            click.echo("the synthesis tools are being prepared in the background (once, about a minute)")
        _open_jupyter(folder, no_browser, port)


def prepare(folder: Path, learner: str = "") -> None:
    """Copy the labs and say what was done."""
    from importlib.metadata import version

    from ..check.identity import FILE
    from . import start_page
    from .copy import copy_labs
    from .places import labs_folder

    copied = copy_labs(labs_folder(), folder, version("tickbench"))
    if learner:
        (folder / FILE).write_text(learner.strip() + "\n", encoding="utf-8")
    start_page.write(folder.resolve())
    new = {path.parent.name for path, outcome in copied if outcome == "new" and path.suffix == ".ipynb"}
    click.echo(f"{len(new)} lab{'s' * (len(new) != 1)} copied to {folder}" if new else f"your labs are in {folder}")
    for path, outcome in copied:
        if outcome == "beside":
            click.echo(f"  a newer edition is beside your own: {path}")
        elif outcome == "updated":
            click.echo(f"  brought up to date (you had not changed it): {path}")


def _free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def _open_jupyter(folder: Path, no_browser: bool, port: int | None) -> None:
    """Become JupyterLab, with the learner's folder as its root, open on the start page."""
    from .start_page import NAME

    options = ["--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate"]
    options.append(f"--LabApp.default_url=/lab/tree/{NAME}")
    options += ["--no-browser"] if no_browser else []
    options += [f"--port={port}", "--ServerApp.port_retries=0"] if port is not None else []
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--allow-root")  # Jupyter refuses root otherwise; in a container root is all there is
    os.chdir(folder)
    sys.stdout.flush()
    command = [sys.executable, "-m", "jupyterlab", *options]
    if os.name == "posix":
        os.execv(sys.executable, command)
    try:  # Windows: a program that becomes another one gives the prompt back at once, and spaces in its path are lost
        raise SystemExit(subprocess.run(command, check=False).returncode)
    except KeyboardInterrupt:
        raise SystemExit(0) from None
