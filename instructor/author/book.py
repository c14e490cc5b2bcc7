"""A course on paper: exercise manual, solution manual and teaching notes, each one HTML page made for print.

All three come from the labs' sources: cells tagged ``instructor`` make the teaching notes, solution regions the solution
manual, and the rest is common.  nbconvert writes the pages; pictures are inside, so a page is one file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

import nbformat
from nbconvert import HTMLExporter
from nbformat.notebooknode import NotebookNode

from simkit.check import Exercise

from .build import for_learners, with_solutions
from .execute import executed
from .source import BEGIN, END, Source, read_source
from .verify import load_wrong_answers

STYLE = """<style>
@page { margin: 18mm 16mm; }
.new-lab { break-before: page; }
h2, h3 { break-after: avoid; }
.jp-OutputArea, pre, table, img { break-inside: avoid; max-width: 100%; }
@media print { .jp-Cell { padding: 0; } .jp-Notebook { padding: 0; } a { color: inherit; } }
</style>"""
FOR_INSTRUCTORS = "> **For instructors.** This page holds answers. Keep it away from where learners can read it."


def write_book(folders: Iterable[Path], target: Path, report: Callable[[str], object] = lambda _: None) -> list[Path]:
    """Write ``exercises.html``, ``solutions.html`` and ``teaching.html`` into ``target``; their paths.

    Raises
    ------
    AuthorError
        If a source has an error, or a cell of a lab fails.
    """
    sources = [read_source(folder) for folder in folders]
    target.mkdir(parents=True, exist_ok=True)
    books = {
        "exercises.html": ("Exercise manual", learners_view),
        "solutions.html": ("Solution manual", solution_manual),
        "teaching.html": ("Teaching notes", teaching_notes),
    }
    written = []
    for name, (title, make) in books.items():
        chapters = []
        for source in sources:
            report(f"{title}: {source.name}")
            chapters.append(make(source))
        page = as_html(bound(title, chapters, warn=name != "exercises.html"), title)
        written.append(target / name)
        written[-1].write_text(page, encoding="utf-8")
    return written


def learners_view(source: Source) -> NotebookNode:
    """What learners see who run the lab as it was handed out; it is what the exercise manual prints."""
    return executed(for_learners(source), source.folder)


def solution_manual(source: Source) -> NotebookNode:
    """The same with the solutions in place and all they show."""
    notebook = with_solutions(source)
    notebook.cells = [cell for cell in notebook.cells if "instructor" not in cell.metadata.get("tags", [])]
    for cell in notebook.cells:
        cell.source = "\n".join(line for line in cell.source.splitlines() if BEGIN not in line and END not in line)
    return executed(notebook, source.folder)


def teaching_notes(source: Source) -> NotebookNode:
    """Promises, the author's notes with the section they belong to, and for each exercise what is checked and what goes wrong."""
    cells = [_text(f"# {source.lab.title}"), _text(_section(source, "After this lab you can"))]
    heading = ""
    for cell in source.notebook.cells:
        if "instructor" in cell.metadata.get("tags", []):
            cells += [_text(f"### At: {heading}")] if heading else []
            cells.append(
                nbformat.from_dict(cell) if cell.cell_type == "markdown" else _text(f"```python\n{cell.source}\n```")
            )
        elif cell.cell_type == "markdown" and (found := re.findall(r"^#{2,3} (.+)$", cell.source, re.M)):
            heading = found[-1]
    wrong = load_wrong_answers(source.folder, source.lab)
    cells.append(_text("## What is checked, and what goes wrong"))
    for exercise in source.lab.exercises.values():
        cells.append(_text(_exercise(exercise, [w for w in wrong if w.exercise == exercise.id])))
    return nbformat.v4.new_notebook(cells=cells)


def _exercise(exercise: Exercise, wrong: list) -> str:
    lines = [
        f"### {exercise.id}: {exercise.title} ({exercise.points:g} points)",
        "",
        f"Proves: {exercise.objective}.",
        "",
    ]
    lines += ["| criterion | points | first hint |", "| --- | --- | --- |"]
    for criterion in exercise.criteria:
        nudge = exercise.hints[criterion.hint].nudge if criterion.hint else ""
        lines.append(f"| {_cell(criterion.text)} | {criterion.points:g} | {_cell(nudge)} |")
    if wrong:
        lines += ["", "| likely wrong answer | fails | hint |", "| --- | --- | --- |"]
        texts = {criterion.name: criterion.text for criterion in exercise.criteria}
        for entry in wrong:
            nudge = exercise.hints[entry.hint].nudge if entry.hint else ""
            fails = texts.get(entry.fails, "refused before it is judged")
            lines.append(f"| {_cell(entry.name)} | {_cell(fails)} | {_cell(nudge)} |")
    return "\n".join(lines)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def _section(source: Source, heading: str) -> str:
    shown = (cell for cell in source.notebook.cells if "instructor" not in cell.metadata.get("tags", []))
    text = "\n\n".join(cell.source for cell in shown if cell.cell_type == "markdown")
    found = re.search(rf"^## {re.escape(heading)}\n.*?(?=^## |\Z)", text, re.M | re.S)
    return found[0] if found else ""


def _text(source: str) -> NotebookNode:
    return nbformat.v4.new_markdown_cell(source)


def bound(title: str, chapters: list[NotebookNode], warn: bool) -> NotebookNode:
    """One notebook from several, each beginning on a new page."""
    cells = [_text(STYLE), _text(f"# {title}" + (f"\n\n{FOR_INSTRUCTORS}" if warn else ""))]
    for chapter in chapters:
        cells.append(_text('<div class="new-lab"></div>'))
        cells += [nbformat.from_dict(cell) for cell in chapter.cells]
    book = nbformat.v4.new_notebook(cells=cells)
    for number, cell in enumerate(book.cells):
        cell.id = f"cell-{number}"
    return book


def as_html(notebook: NotebookNode, title: str) -> str:
    """A page with everything inside; formulas are shown as written where there is no network."""
    exporter = HTMLExporter(template_name="lab", exclude_input_prompt=True, exclude_output_prompt=True)
    exporter.embed_images = True
    page, _ = exporter.from_notebook_node(notebook, {"metadata": {"name": title}})
    return page
