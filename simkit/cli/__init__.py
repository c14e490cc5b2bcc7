"""The command ``tickbench``.

Commands are named here with the place of their code, which is imported only when the command runs: so
``tickbench --help`` is quick, and the learner's part does not load the instructor's.
"""

from __future__ import annotations

import importlib
import io
import sys

import click

# name: (module:attribute, one line for --help)
COMMANDS = {
    "start": ("simkit.cli.start:start", "Copy the labs into a folder of your own and open JupyterLab there."),
    "check": ("simkit.cli.check:check", "Run notebooks and print what their checks say."),
    "progress": ("simkit.cli.progress:progress", "What you have done, and what to do next."),
    "grade": ("instructor.cli.grade:grade", "Grade a class's submissions into nbgrader's gradebook."),
    "report": (
        "instructor.cli.report:report",
        "One page on a cohort: scores, misconceptions, how good each exercise is.",
    ),
    "export": ("instructor.cli.report:export", "Grades as a CSV file with the columns that a learning platform wants."),
    "forget": ("instructor.cli.report:forget", "Delete everything that a course folder stores of one learner."),
    "course": ("instructor.cli.course:course", "Make a folder from which nbgrader can hand out and grade the labs."),
    "doctor": ("instructor.cli.doctor:doctor", "Say what this computer can do, and what it lacks."),
    "author": ("instructor.cli.author:author", "For authors: build the learners' labs from their sources."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, name = COMMANDS[cmd_name][0].split(":")
        return getattr(importlib.import_module(module), name)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="tickbench")
def main() -> None:
    """Learn to build measurement and control logic for an FPGA, on a simulated bench.

    \b
    Example:
      tickbench start my-labs        copy the labs there and open JupyterLab
      tickbench check my-labs/05_keeping_time/05_keeping_time.ipynb

    Exit codes: 0 all well; 1 something was found wrong (the output says what); 2 the command was not understood.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(
            stream, io.TextIOWrapper
        ):  # one that cannot show a tick mark, as on Windows into a file, shows "?"
            stream.reconfigure(errors="replace")
