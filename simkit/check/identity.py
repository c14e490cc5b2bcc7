"""Who the learner is.  The id decides their own numbers; it is never sent anywhere."""

from __future__ import annotations

import os
from pathlib import Path

DEFAULT = "learner"
FILE = Path(".tickbench") / "learner"


def learner() -> str:
    """The learner's id: ``TICKBENCH_LEARNER``, else ``JUPYTERHUB_USER``, else the file that ``tickbench start`` wrote
    above the present folder, else "learner"."""
    for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
        if os.environ.get(name, "").strip():
            return os.environ[name].strip()
    here = Path.cwd()
    for folder in (here, *here.parents):
        try:
            text = (folder / FILE).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            continue
        if text:
            return text[:200]
    return DEFAULT
