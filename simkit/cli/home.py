"""Where things go that programs keep in the user's home, when that cannot be written: into the course folder."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

SPARE = Path(".tickbench") / "home"
JUPYTER = {
    "JUPYTER_CONFIG_DIR": "config",
    "JUPYTER_DATA_DIR": "data",
    "JUPYTER_RUNTIME_DIR": "runtime",
    "JUPYTERLAB_SETTINGS_DIR": "settings",
    "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
    "IPYTHONDIR": "ipython",
    "MPLCONFIGDIR": "matplotlib",
}


def refusal(folder: Path) -> str:
    """Why no file can be made in a folder, or in the nearest one above it that is there; "" if one can."""
    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    try:
        with tempfile.NamedTemporaryFile(dir=there):
            return ""
    except OSError as error:
        return error.strerror or str(error)


def elsewhere(folder: Path) -> dict[str, str]:
    """Environment variables that move what cannot be written in its usual place into ``folder``; none set by the user is changed."""
    from ..build.tools import cache_folder

    moved = {}
    if refusal(jupyter_folder()):
        moved = {name: str(folder / SPARE / part) for name, part in JUPYTER.items()}
    if refusal(cache_folder()):
        moved["TICKBENCH_CACHE"] = str(folder / SPARE / "cache")
    return {name: place for name, place in moved.items() if not os.environ.get(name)}


def jupyter_folder() -> Path:
    """The folder in which a running Jupyter keeps its files."""
    if os.environ.get("JUPYTER_RUNTIME_DIR"):
        return Path(os.environ["JUPYTER_RUNTIME_DIR"])
    try:
        from jupyter_core.paths import jupyter_runtime_dir

        return Path(jupyter_runtime_dir())
    except ImportError:
        return Path.home()
