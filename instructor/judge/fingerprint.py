"""What decides a score, as one short text for each exercise: if it has changed, what was graded must be graded again.

It covers the judge and everything in ``exercises.py`` that it uses, the draw of the learner's numbers, the kind of the
answer, the criteria's names and points, and the lab's data files.  Comments, hints, and the words of criteria do not count.
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from simkit.check import Exercise, Lab


def fingerprints(lab: Lab, folder: Path) -> dict[str, str]:
    """Exercise id to fingerprint, for the lab in ``folder``."""
    parts = _definitions(folder / "exercises.py")
    data = _files(folder / "data")
    return {
        name: _digest(judged(exercise, parts) + drawn(exercise, parts) + data)
        for name, exercise in lab.exercises.items()
    }


def numbers_fingerprints(lab: Lab, folder: Path) -> dict[str, str]:
    """Exercise id to a fingerprint of how a learner's own numbers are drawn."""
    parts = _definitions(folder / "exercises.py")
    return {name: _digest(drawn(exercise, parts)) for name, exercise in lab.exercises.items()}


def judged(exercise: Exercise, parts: dict[str, str]) -> str:
    """All that decides the points of an answer, apart from the learner's numbers."""
    shares = [(criterion.name, criterion.points) for criterion in exercise.criteria]
    return repr((exercise.id, exercise.points, shares, exercise.kind)) + _with_uses(exercise.judge, parts)


def drawn(exercise: Exercise, parts: dict[str, str]) -> str:
    """All that decides the learner's numbers."""
    return (exercise.shares or exercise.id) + _with_uses(exercise.parameters, parts)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _definitions(path: Path) -> dict[str, str]:
    """Top-level name to the syntax tree, as text, of what defines it."""
    found: dict[str, str] = {}
    for step in ast.parse(path.read_text(encoding="utf-8")).body:
        for name in _names(step):
            found[name] = found.get(name, "") + ast.dump(_without_words(step))
    return found


def _names(step: ast.stmt) -> list[str]:
    if isinstance(step, (ast.FunctionDef, ast.ClassDef)):
        return [step.name]
    if isinstance(step, (ast.Import, ast.ImportFrom)):
        return [(alias.asname or alias.name).split(".")[0] for alias in step.names]
    return [node.id for node in ast.walk(step) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)]


def _without_words(step: ast.stmt) -> ast.stmt:
    """Without docstrings."""
    for node in ast.walk(step):
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and ast.get_docstring(node) is not None:
            node.body = node.body[1:] or [ast.Pass()]
    return step


def _with_uses(function: Callable[..., Any], parts: dict[str, str]) -> str:
    """A function's definition and all that it uses of its module; of a nameless function, the whole module."""
    start = getattr(function, "__name__", "<lambda>")
    if start not in parts:
        return "".join(parts[name] for name in sorted(parts) if name != "lab")
    reached, waiting = set(), [start]
    while waiting:
        name = waiting.pop()
        if name not in reached and name in parts:
            reached.add(name)
            waiting += [other for other in parts if f"'{other}'" in parts[name]]
    return "".join(parts[name] for name in sorted(reached) if name != "lab")


def _files(folder: Path) -> str:
    if not folder.is_dir():
        return ""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    return "".join(path.name + hashlib.sha256(path.read_bytes()).hexdigest() for path in files)
