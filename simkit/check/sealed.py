"""Opening a solution after an honest try.

Labs come without solutions.  An edition for self-paced learners (``tickbench author build --with-solutions``) has a file
``solutions.sealed`` beside each notebook.  It is sealed against a glance and a text search, not against somebody who wants to break it:
who grades, hands out labs without it.
"""

from __future__ import annotations

import base64
import json
import zlib
from pathlib import Path

from . import journal

SEALED = "solutions.sealed"
MOST = 1_000_000


def seal(lab: str, solutions: dict[str, str]) -> str:
    """The text of a sealed file: from exercise to the text of its solution."""
    packed = {name: base64.b64encode(zlib.compress(text.encode())).decode() for name, text in solutions.items()}
    return json.dumps({"form": 1, "lab": lab, "solutions": packed}, indent=1) + "\n"


def unseal(path: Path, exercise: str) -> str | None:
    """The solution of an exercise; None if the file is not there, is damaged or does not hold it."""
    try:
        packed = json.loads(path.read_text(encoding="utf-8"))["solutions"][exercise]
        return zlib.decompressobj().decompress(base64.b64decode(packed), MOST).decode()
    except (OSError, ValueError, KeyError, TypeError, zlib.error):
        return None


def may_open(standing: journal.Standing | None) -> str:
    """ "" if the solution may be opened: it passed, or enough different answers were checked; else what is missing."""
    tries = standing.tries if standing else 0
    if standing is not None and (standing.done or standing.solution or tries >= journal.ENOUGH_TRIES):
        return ""
    left = journal.ENOUGH_TRIES - tries
    return (
        f"a solution opens after {journal.ENOUGH_TRIES} different answers that were checked; "
        f"you have checked {tries}: try {left} more. The hints on the card help"
    )
