"""The graded notebook as people will see it: verdicts in the check cells, and nothing of a learner's that can run.

The value of a check cell becomes the points as a number, which is how nbgrader reads a score.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from nbconvert.preprocessors.sanitize import SanitizeHTML
from nbformat.notebooknode import NotebookNode, from_dict

from simkit.check import Verdict
from simkit.check.rebuild import name_of

from .formulas import mathml

MAX_OUTPUT = 500_000  # characters of one cell's outputs that are kept for the reader


def put_verdicts(notebook: Any, verdicts: dict[str, Verdict], notes: list[str]) -> None:
    """Replace the outputs of every check cell by its verdict; notes go to the cell they speak of, else to the first."""
    rest = [note for note in notes if not any(name in note for name in verdicts)]
    for cell in notebook.cells:
        verdict = verdicts.get(name_of(cell))
        if verdict is None or cell.cell_type != "code":
            continue
        said = [note for note in notes if verdict.id in note] + rest
        rest = []
        text = "".join(f"note: {note}\n" for note in said) + verdict.text() + "\n"
        cell.outputs = [
            _output("stream", name="stdout", text=text),
            _output(
                "execute_result",
                data={"text/plain": repr(float(verdict.score))},
                metadata={},
                execution_count=None,
            ),
        ]


SAVED = "as the learner saved it; not run again:\n"


def put_outputs(notebook: Any, outputs: dict[int, list[dict[str, Any]]], keep: bool = False) -> None:
    """Give the cells the outputs of the run, those that are sound and not too large.

    ``keep`` leaves those that the cells have already, with a line that says whose they are: a person will read a text about them, and
    the run has drawn nothing.
    """
    for index, cell in enumerate(notebook.cells):
        if cell.cell_type != "code":
            continue
        saved = sound_outputs(cell.outputs) if keep else []
        cell.outputs = (
            [_output("stream", name="stdout", text=SAVED), *saved] if saved else sound_outputs(outputs.get(index, []))
        )


def sound_outputs(outputs: Any) -> list[Any]:
    """Those outputs that are of a known form, as long as they are not too large together."""
    kept, size = [], 0
    for output in outputs:
        sound = _sound(output)
        size += len(str(sound))
        if sound is not None and size <= MAX_OUTPUT:
            kept.append(sound)
    return kept


def _sound(output: dict[str, Any]) -> Any:
    """An output of a known form, rebuilt from its parts; None for anything else."""
    kind = output.get("output_type")
    if kind == "stream" and output.get("name") in ("stdout", "stderr") and isinstance(output.get("text"), str):
        return _output("stream", name=output["name"], text=output["text"])
    if kind in ("execute_result", "display_data") and isinstance(output.get("data"), dict):
        data = {k: v for k, v in output["data"].items() if isinstance(k, str) and isinstance(v, str)}
        count = {"execution_count": None} if kind == "execute_result" else {}
        return _output(kind, data=data, metadata={}, **count)
    if kind == "error":
        lines = output.get("traceback")
        lines = [line for line in lines if isinstance(line, str)] if isinstance(lines, list) else []
        return _output(
            "error", ename=str(output.get("ename"))[:200], evalue=str(output.get("evalue"))[:2000], traceback=lines
        )
    return None


def _output(kind: str, **fields: Any) -> NotebookNode:
    """An output as nbformat makes it, without its check against the schema, which takes longer than judging some answers."""
    return from_dict({"output_type": kind, **fields})


def make_harmless(notebook: Any, release: Any) -> None:
    """Take everything that could run in a reader's browser out of the learner's cells and outputs."""
    ours = {(cell.cell_type, cell.source) for cell in release.cells}
    clean = _cleaner()
    for index, cell in enumerate(notebook.cells):
        if (cell.cell_type, cell.source) in ours and cell.cell_type != "code":
            continue
        cell.pop("attachments", None)
        notebook.cells[index], _ = clean.preprocess_cell(cell, {}, index)
        for output in notebook.cells[index].get("outputs", []):
            _draw_formula(output)


def _draw_formula(output: Any) -> None:
    """A formula that a cell displayed, as MathML: pages for people load nothing that could draw LaTeX."""
    data = output.get("data", {})
    if "text/latex" in data:
        latex = data.pop("text/latex").strip().strip("$").removeprefix("\\displaystyle")
        data["text/html"] = mathml(latex.strip(), "block")


@lru_cache(maxsize=1)
def _cleaner() -> SanitizeHTML:
    return SanitizeHTML(enabled=True)
