"""Notebooks as the kit sees them: reading one, its code cells, and which exercise a cell checks."""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

from .run import Cell

MAX_NOTEBOOK = 100 * 1024 * 1024
TEXT_FORMS = (".md", ".py")


class Unreadable(Exception):
    """A notebook that cannot be read; one line that says why."""


def read_notebook(path: Path) -> Any:
    """The notebook in ``path``: ``.ipynb``, or jupytext's text forms ``.md`` (MyST) and ``.py``.

    Raises
    ------
    Unreadable
        If there is no such file, or it is not a notebook.
    """
    try:
        if path.stat().st_size > MAX_NOTEBOOK:
            raise Unreadable(
                f"the file is larger than {MAX_NOTEBOOK // 1024**2} MB; clear its outputs and save it again"
            )
        text = path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise Unreadable("there is no such file") from None
    except UnicodeDecodeError as error:
        raise Unreadable(f"the file is not UTF-8 text (byte {error.start})") from None
    except OSError as error:
        raise Unreadable(f"the file cannot be read: {error.strerror}") from None
    return parse_text(text, path.suffix) if path.suffix in TEXT_FORMS else parse_notebook(text)


def parse_text(text: str, suffix: str) -> Any:
    """A notebook from jupytext's text form."""
    import jupytext

    from .quick import nbformat  # noqa: F401  first, so that jupytext finds it loaded

    return jupytext.reads(text, fmt="md:myst" if suffix == ".md" and "{code-cell}" in text else suffix.lstrip("."))


def parse_notebook(text: str) -> Any:
    """A notebook from ``.ipynb`` text, in today's format; raises :class:`Unreadable`."""
    from .quick import nbformat

    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"not a whole notebook: the JSON text is damaged ({_first_line(error)})") from None
    if not isinstance(raw, dict) or not isinstance(raw.get("cells", raw.get("worksheets")), list):
        raise Unreadable("not a notebook: it holds no list of cells")
    raw["cells"] = [_sound(cell) for cell in raw["cells"] if isinstance(cell, dict)] if "cells" in raw else None
    if raw["cells"] is None:
        del raw["cells"]
    try:
        notebook = nbformat.reads(json.dumps(raw), as_version=4)
    except Exception as error:  # noqa: BLE001  nbformat has no common exception; whatever it finds, the file is at fault
        raise Unreadable(f"not a notebook: {_first_line(error)}") from None
    return notebook


def _sound(cell: dict[str, Any]) -> dict[str, Any]:
    """A cell with the fields that every reader relies on, of the right types."""
    source = cell.get("source", "")
    if isinstance(source, list):
        source = "".join(part for part in source if isinstance(part, str))
    kind = cell.get("cell_type")
    sound = {
        "cell_type": kind if kind in ("code", "markdown", "raw") else "raw",
        "source": source if isinstance(source, str) else "",
        "metadata": cell["metadata"] if isinstance(cell.get("metadata"), dict) else {},
    }
    if isinstance(cell.get("id"), str):
        sound["id"] = cell["id"]
    if isinstance(cell.get("attachments"), dict):
        sound["attachments"] = cell["attachments"]
    if sound["cell_type"] == "code":
        outputs = cell.get("outputs")
        sound["outputs"] = [o for o in outputs if isinstance(o, dict)] if isinstance(outputs, list) else []
        sound["execution_count"] = None
    return sound


def _first_line(error: Exception) -> str:
    lines = str(error).strip().splitlines()
    return (lines[0] if lines else type(error).__name__)[:120]


def checked_exercise(source: str) -> str:
    """The exercise whose check a code cell ends with, as in ``check("05-b", PulseTimer)``; "" for other cells."""
    if "check(" not in source:
        return ""
    try:
        body = ast.parse(source).body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return ""
    last = body[-1] if body else None
    if not isinstance(last, ast.Expr) or not isinstance(last.value, ast.Call) or not last.value.args:
        return ""
    function, first = last.value.func, last.value.args[0]
    name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    return first.value if name == "check" and isinstance(first, ast.Constant) and isinstance(first.value, str) else ""


def code_cells(notebook: Any) -> list[Cell]:
    """The code cells of a notebook, each with the exercise that it checks."""
    return [
        Cell(index, cell.source, checked_exercise(cell.source), "raises-exception" in _tags(cell))
        for index, cell in enumerate(notebook.cells)
        if cell.cell_type == "code" and cell.source.strip()
    ]


def _tags(cell: Any) -> list[str]:
    tags = cell.metadata.get("tags")
    return tags if isinstance(tags, list) else []
