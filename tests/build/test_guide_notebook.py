"""The live demonstration of the guide in a real kernel: misses, names the lines, one register more, meets."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
from jupytext.myst import myst_to_notebook
from nbclient import NotebookClient

GUIDE = Path(__file__).parents[2] / "instructor" / "guide" / "one_register_more.md"


def test_the_chain_misses_and_one_register_more_meets():
    notebook = nbformat.v4.upgrade(myst_to_notebook(GUIDE.read_text(encoding="utf-8")))
    NotebookClient(notebook, timeout=300, kernel_name="python3").execute()
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    said = [
        "\n".join(
            out.get("text", "") + out.get("data", {}).get("text/plain", "") + out.get("data", {}).get("text/html", "")
            for out in cell.outputs
        )
        for cell in cells
    ]
    assert re.search(r"\d+ MHz reached, 150 asked: missed\n\d+ MHz reached, 150 asked: met", said[3])
    lines = cells[0].source.splitlines()
    for words in ("product = ", "total = ", "self.over = "):
        number = next(i for i, line in enumerate(lines, 1) if words in line)
        assert re.search(rf"\b(line |:){number}\b", said[0]), (words, number)
    assert "missed by" in said[0] and "missed by" not in said[2]
