"""A submission put back into the form of the notebook that was handed out.

Structure, ids, points and locked text come from the release; the submission gives only the text of answer cells,
its version of the lab's other cells, and cells of its own; where a person will grade, also the outputs that it holds.  Nothing in the submission's metadata is believed beyond
"this cell's name is ...".  Every repair is said in a line.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from typing import Any

MAX_OWN_CELLS = 2000


def rebuild(release: Any, submission: Any) -> tuple[Any, list[str]]:
    """The rebuilt notebook and the repairs that were made, in words."""
    notes: list[str] = []
    found = _Match(release, submission, notes)
    cells: list[Any] = [*found.own(-1)]
    read = any(graded_by_hand(cell) for cell in release.cells)
    for index, original in enumerate(release.cells):
        cells.append(_merged(original, found.by_release.get(index), notes))
        if read and original.cell_type == "code" and not is_locked(original):
            cells[-1].outputs = _saved(found.by_release.get(index))
        cells += found.own(index)
    notebook = copy.deepcopy(release)
    notebook.cells = cells
    return notebook, notes


def name_of(cell: Any) -> str:
    """The grade id in a cell's metadata, "" if it has none that could be one."""
    marked = cell.metadata.get("nbgrader")
    name = marked.get("grade_id") if isinstance(marked, dict) else None
    return name if isinstance(name, str) else ""


def is_locked(cell: Any) -> bool:
    return bool(cell.metadata.get("nbgrader", {}).get("locked"))


def is_answer(cell: Any) -> bool:
    return bool(cell.metadata.get("nbgrader", {}).get("solution"))


def graded_by_hand(cell: Any) -> bool:
    """True for an answer to which a person gives the points."""
    marked = cell.metadata.get("nbgrader", {})
    return bool(marked.get("grade") and marked.get("solution"))


class _Match:
    """Which cell of the submission stands for which of the release, and which are the learner's own."""

    def __init__(self, release: Any, submission: Any, notes: list[str]) -> None:
        self.by_release: dict[int, list[Any]] = {}
        self._own: dict[int, list[Any]] = {}
        named = {name_of(cell): i for i, cell in enumerate(release.cells) if name_of(cell)}
        by_id = {cell.get("id"): i for i, cell in enumerate(release.cells) if cell.get("id")}
        by_text = {(cell.cell_type, cell.source): i for i, cell in enumerate(release.cells) if not name_of(cell)}
        after, own = -1, 0
        for cell in submission.cells:
            index = named.get(name_of(cell))
            if index is None:
                index = by_id.get(cell.get("id"), by_text.get((cell.cell_type, cell.source)))
            if index is None and own < MAX_OWN_CELLS:
                own += 1
                self._own.setdefault(after, []).append(_plain(cell, f"own-{own}"))
            elif index is not None:
                self.by_release.setdefault(index, []).append(cell)
                after = index
        self._say_doubles(release, notes)

    def own(self, after: int) -> Iterable[Any]:
        """The learner's own cells that follow a cell of the release (-1: before the first)."""
        return self._own.get(after, [])

    def _say_doubles(self, release: Any, notes: list[str]) -> None:
        for index, cells in self.by_release.items():
            name = name_of(release.cells[index])
            if len(cells) > 1 and name and not is_locked(release.cells[index]):
                notes.append(f"the cell {name} is there {len(cells)} times: put together in their order")
            elif len(cells) > 1 and name:
                notes.append(f"the cell {name} is there {len(cells)} times: taken once")


def _merged(original: Any, cells: list[Any] | None, notes: list[str]) -> Any:
    """A cell of the release with the submission's text where it may have one."""
    cell = copy.deepcopy(original)
    name = name_of(original)
    if not cells:
        if name and is_answer(original):
            notes.append(f"the answer cell {name} is missing: taken as it was handed out")
        elif name:
            notes.append(f"the cell {name} is missing: restored")
        elif original.cell_type == "code":
            notes.append("a code cell of the lab is missing: restored")
        return cell
    if is_locked(original):
        if any(found.source.strip() != original.source.strip() for found in cells):
            notes.append(f"the locked cell {name} was edited: restored")
        return cell
    texts = [found.source for found in cells]
    if name and any(found.cell_type != original.cell_type for found in cells):
        notes.append(f"the cell {name} was turned into {cells[0].cell_type}: read as {original.cell_type}")
    if not name:  # an example cell: a copy of it is one of the learner's own experiments; the last one counts
        texts = texts[-1:]
    cell.source = "\n\n".join(dict.fromkeys(texts))
    return cell


def _saved(cells: list[Any] | None) -> list[Any]:
    """The outputs that a submission holds for a cell of the release."""
    last = cells[-1] if cells else {}
    return copy.deepcopy(last.get("outputs", [])) if last.get("cell_type") == "code" else []


def _plain(cell: Any, name: str) -> Any:
    """A learner's own cell under a name of ours, without metadata that could mean anything to a grader."""
    kept = copy.deepcopy(cell)
    kept["id"] = name
    kept.metadata = type(cell.metadata)()
    if kept.cell_type == "code":
        kept.outputs = []
    return kept
