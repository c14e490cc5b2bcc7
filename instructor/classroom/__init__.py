"""A small class on one machine: JupyterHub with nbgrader's exchange.

``tickbench course DIR --hub`` writes a ``jupyterhub_config.py`` that calls :func:`configure`; the tests run it with a real hub.
Learners and instructors are accounts of the machine, so the kernel of the operating system keeps them apart; nbgrader takes a
learner's name from the account.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

NBGRADER = """\"\"\"nbgrader's configuration of everybody in this class; written by tickbench.\"\"\"

c = get_config()
c.CourseDirectory.course_id = {course_id!r}
c.Exchange.root = {exchange!r}
"""
INSTRUCTOR = """
from instructor.nbgrader_config import configure

configure(c, {root!r}, course_id={course_id!r})
"""
LEARNERS_HAVE_NOT = ("formgrader", "course_list")


def configure(
    c: Any,
    root: Path | str,
    instructors: Iterable[str],
    learners: Iterable[str],
    exchange: Path | str = "/srv/nbgrader/exchange",
    course_id: str = "tickbench",
) -> None:
    """Set up a hub.

    Parameters
    ----------
    c : JupyterHub's configuration object
    root : the course folder, owned by the instructor, readable by nobody else
    instructors, learners : names of accounts on this machine
    exchange : folder through which work is handed out and in; made if it is not there, and ``settings`` beside it

    Raises
    ------
    ValueError
        If somebody is both, or nobody is an instructor.
    """
    instructors, learners = set(instructors), set(learners)
    if not instructors or instructors & learners:
        raise ValueError("name at least one instructor, and nobody as both instructor and learner")
    root, exchange = Path(root).resolve(), Path(exchange)
    settings = exchange.parent / "settings"  # where learners can read it: the course folder is the instructor's alone
    make_exchange(exchange)
    write_settings(settings, root, exchange, course_id)
    c.Authenticator.allowed_users = instructors | learners
    c.Authenticator.admin_users = set()
    c.Spawner.default_url = "/lab"
    c.Spawner.pre_spawn_hook = _Prepare(settings, root, instructors)
    c.JupyterHub.load_groups = {"instructors": {"users": sorted(instructors)}, "learners": {"users": sorted(learners)}}


class _Prepare:
    """Tells a server whose it is, before it starts."""

    def __init__(self, settings: Path, root: Path, instructors: set[str]) -> None:
        self.settings, self.root, self.instructors = settings, root, instructors

    def __call__(self, spawner: Any) -> None:
        teaches = spawner.user.name in self.instructors
        spawner.environment = {
            **spawner.environment,
            "JUPYTER_CONFIG_PATH": str(self.settings / ("instructor" if teaches else "learner")),
        }
        if teaches:
            spawner.notebook_dir = str(self.root)


def make_exchange(folder: Path) -> None:
    """The exchange, writable by all, in which nobody can delete what is another's."""
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o1777)


def write_settings(folder: Path, root: Path, exchange: Path, course_id: str) -> None:
    """nbgrader's configuration for learners and for instructors; every account may read it, for it holds nothing secret."""
    common = NBGRADER.format(course_id=course_id, exchange=str(exchange))
    for who, text in {
        "learner": common,
        "instructor": common + INSTRUCTOR.format(root=str(root), course_id=course_id),
    }.items():
        (folder / who).mkdir(parents=True, exist_ok=True)
        (folder / who / "nbgrader_config.py").write_text(text, encoding="utf-8")
    off = {f"nbgrader.server_extensions.{name}": False for name in LEARNERS_HAVE_NOT}
    server = {"ServerApp": {"jpserver_extensions": off}}
    (folder / "learner" / "jupyter_server_config.json").write_text(json.dumps(server, indent=1), encoding="utf-8")
