"""Beginning a lab: a small one that works, to be changed into one's own."""

from __future__ import annotations

import re
from pathlib import Path

from simkit.check import AuthorError

TEMPLATE = Path(__file__).parent / "template"
FILES = {"lab.md": "lab.md.in", "exercises.py": "exercises.py.in", "wrong_answers.py": "wrong.py.in"}


def new_lab(number: str, title: str, solutions: Path) -> Path:
    """Write ``solutions/NN_title`` with a lab of two exercises that ``author verify`` finds in order; its folder.

    Raises
    ------
    AuthorError
        If the number is not of two digits or is taken, or the title makes no name for a folder.
    """
    if not re.fullmatch(r"\d\d", number):
        raise AuthorError(f"{number!r} is no lab number: write two digits, as 13")
    words = re.findall(r"[a-z0-9]+", title.lower())
    if not words:
        raise AuthorError(f"{title!r} makes no name for a folder: use letters")
    if '"' in title or "\\" in title or "\n" in title:
        raise AuthorError("leave quotation marks, backslashes and line ends out of the title")
    taken = sorted(path.name for path in solutions.glob(f"{number}_*"))
    if taken:
        raise AuthorError(f"number {number} is taken by {taken[0]}: choose another")
    folder = solutions / f"{number}_{'_'.join(words)}"
    folder.mkdir(parents=True)
    for name, pattern in FILES.items():
        text = (TEMPLATE / pattern).read_text(encoding="utf-8")
        (folder / name).write_text(text.format(number=number, title=title, name=folder.name), encoding="utf-8")
    return folder
