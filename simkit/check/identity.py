"""Who the learner is.  The id decides their own numbers; it is never sent anywhere."""

from __future__ import annotations

import os
from pathlib import Path

DEFAULT = "learner"
FILE = Path(".tickbench") / "learner"


def learner(folder: Path | None = None) -> str:
    """The learner's id: ``TICKBENCH_LEARNER``, else ``JUPYTERHUB_USER``, else the file that ``tickbench start`` wrote
    above ``folder`` (the present one if None), else "learner"."""
    for name in ("TICKBENCH_LEARNER", "JUPYTERHUB_USER"):
        if os.environ.get(name, "").strip():
            return os.environ[name].strip()
    here = (folder or Path.cwd()).resolve()
    for above in (here, *here.parents):
        try:
            text = (above / FILE).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            continue
        if text:
            return text[:200]
    return DEFAULT
