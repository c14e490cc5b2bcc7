"""Makes the README's picture: lab 05's solution in JupyterLab, run, scrolled to a design and its verdict.

``python tests/view/readme_picture.py`` writes ``instructor/guide/lab.png``.  The learner's folder holds the solution here, so that
the picture shows a verdict with everything passed.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import jupytext
import nbformat

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.view.labserver import chromium, open_and_run, running_lab  # noqa: E402

LAB = "05_keeping_time"
OUT = ROOT / "instructor" / "guide" / "lab.png"


def solved(folder: Path) -> str:
    """The lab with its solution, without the marks and the instructor's cells; gives the notebook's name."""
    book = jupytext.read(ROOT / "solutions" / LAB / "lab.md")
    book.cells = [cell for cell in book.cells if "instructor" not in cell.metadata.get("tags", [])]
    for cell in book.cells:
        cell.source = "\n".join(line for line in cell.source.splitlines() if " SOLUTION" not in line)
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(book, folder / f"{LAB}.ipynb")
    shutil.copy(ROOT / "solutions" / LAB / "exercises.py", folder)
    return f"{LAB}.ipynb"


def main() -> None:
    with tempfile.TemporaryDirectory() as name, running_lab(Path(name)) as lab, chromium() as browser:
        book = solved(lab.folder)
        page = browser.new_page(viewport={"width": 1080, "height": 1800}, device_scale_factor=1)
        open_and_run(page, lab, book, ".jp-OutputArea-output")
        page.keyboard.press("Control+b")  # the file list takes room and shows nothing
        verdict = page.locator(".jp-OutputArea-output", has_text="an ordinary pulse reads its ticks").first
        for _ in range(120):
            page.mouse.wheel(0, 600)
            page.wait_for_timeout(500)
            if verdict.count():
                break
        page.wait_for_timeout(15_000)
        for _ in range(3):  # cells above may still change their height
            verdict.evaluate("card => card.scrollIntoView({block: 'end'})")
            page.wait_for_timeout(1500)
        OUT.parent.mkdir(exist_ok=True)
        page.screenshot(path=OUT)


if __name__ == "__main__":
    main()
