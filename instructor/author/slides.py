"""Slides for the classroom from a lab's source: a section a slide, its pictures below, the author's notes for the speaker.

nbconvert writes them for reveal.js, which the browser fetches from the network, or from beside the slides if
``modules`` names a ``node_modules`` folder made by  ``npm install reveal.js@4 requirejs@2``.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import nbformat
from nbconvert import SlidesExporter
from nbformat.notebooknode import NotebookNode

from simkit.check import AuthorError

from .book import solution_manual
from .source import Source, read_source

TAGS = ("slide", "no-slide")
"""An author's own word: ``slide`` puts a whole cell on a slide of its own, ``no-slide`` keeps its picture off."""

HIDDEN = "<style>aside.notes { display: none; }</style>\n\n"
"""The speaker's notes stay hidden even where reveal.js cannot be loaded."""


def write_slides(folder: Path, target: Path, modules: Path | None = None) -> Path:
    """Write ``target/NN_name.slides.html``; with ``modules`` also ``target/parts``, and the slides need no network.

    Raises
    ------
    AuthorError
        If ``modules`` does not hold what is needed, or a cell of the lab fails.
    """
    source = read_source(folder)
    exporter = SlidesExporter(exclude_input_prompt=True, exclude_output_prompt=True)
    if modules is not None:
        _copy_parts(modules, target / "parts")
        exporter.reveal_url_prefix, exporter.require_js_url = "parts/reveal.js", "parts/requirejs/require.js"
    page, _ = exporter.from_notebook_node(slides(source), {"metadata": {"name": source.lab.title}})
    target.mkdir(parents=True, exist_ok=True)
    path = target / f"{source.name}.slides.html"
    path.write_text(page, encoding="utf-8")
    return path


def _copy_parts(modules: Path, target: Path) -> None:
    for part in ("reveal.js/dist", "reveal.js/plugin/notes", "requirejs/require.js"):
        here, there = modules / part, target / part
        if not here.exists():
            raise AuthorError(f"there is no {part} in {modules}: run  npm install reveal.js@4 requirejs@2  there")
        there.parent.mkdir(parents=True, exist_ok=True)
        if here.is_dir():
            shutil.copytree(here, there, dirs_exist_ok=True)
        else:
            shutil.copyfile(here, there)


def slides(source: Source) -> NotebookNode:
    """The notebook of the slides."""
    shown = iter(solution_manual(source).cells)
    cells: list[NotebookNode] = []
    for cell in source.notebook.cells:
        if "instructor" in cell.metadata.get("tags", []):
            if cell.cell_type == "markdown":
                cells.append(_as(nbformat.v4.new_markdown_cell(cell.source), "notes"))
            continue
        own = next(shown)
        if cell.cell_type == "markdown":
            cells += _of_text(own)
        elif own.get("outputs") and "no-slide" not in cell.metadata.get("tags", []):
            cells += _of_code(own, whole="slide" in cell.metadata.get("tags", []))
    if cells:
        cells[0].source = HIDDEN + cells[0].source
    return nbformat.v4.new_notebook(cells=cells)


def _of_text(cell: NotebookNode) -> list[NotebookNode]:
    """For each heading a slide with the heading and what comes first below it."""
    found = []
    for part in re.split(r"^(?=#{1,3} )", cell.source, flags=re.M):
        head = re.match(r"(#{1,3}) (.+)", part)
        if not head:
            continue
        below = [block for block in part[head.end() :].strip().split("\n\n") if block]
        text = "\n\n".join([head[0], *below[: 2 if _is_list(below[1:2]) else 1]])
        found.append(_as(nbformat.v4.new_markdown_cell(text), "slide" if len(head[1]) < 3 else "subslide"))
    if "slide" in cell.metadata.get("tags", []):
        return [_as(nbformat.v4.new_markdown_cell(cell.source), "slide")]
    return found


def _is_list(blocks: list[str]) -> bool:
    return bool(blocks) and blocks[0].startswith(("* ", "| "))


def _of_code(cell: NotebookNode, whole: bool) -> list[NotebookNode]:
    """A picture on a slide of its own, without the code that made it unless the author wants it."""
    pictures = [output for output in cell.outputs if "image/png" in output.get("data", {})]
    if whole:
        return [_as(cell, "subslide")]
    if not pictures:
        return []
    tags = " ".join(str(output["data"].get("text/html", "")) for output in pictures)
    return [_as(nbformat.v4.new_markdown_cell(tags), "subslide")] if tags.strip() else []


def _as(cell: NotebookNode, kind: str) -> NotebookNode:
    cell.metadata["slideshow"] = {"slide_type": kind}
    return cell
