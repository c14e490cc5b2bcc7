"""``tickbench author new``, ``preview`` and ``book``."""

import re

import nbformat
import pytest
from click.testing import CliRunner

from instructor.author.book import teaching_notes
from instructor.author.mutants import survey
from instructor.author.new import new_lab
from instructor.author.slides import slides, write_slides
from instructor.author.source import read_source
from instructor.author.verify import verify
from simkit.check import AuthorError
from simkit.cli import main


def run(*words):
    done = CliRunner().invoke(main, ["author", *map(str, words)])
    assert done.exit_code == 0, done.output
    return done.output


def test_a_new_lab_is_in_order_from_the_start(tmp_path):
    assert "13_two_fans_in_step" in run("new", "13", "Two fans in step", "--solutions", tmp_path)
    proof = verify(tmp_path / "13_two_fans_in_step")
    assert proof.faults == []
    assert (proof.exercises, proof.wrong_answers, proof.wrong_answers_caught) == (2, 5, 5)
    assert survey(tmp_path / "13_two_fans_in_step").of("escaped") == []


@pytest.mark.parametrize(
    ("number", "title", "words"),
    [("1", "x", "two digits"), ("13", "?!", "no name"), ("13", 'a "b"', "quotation"), ("90", "x", "taken by 90_ticks")],
)
def test_a_lab_that_cannot_begin(source, number, title, words):
    with pytest.raises(AuthorError, match=words):
        new_lab(number, title, source.parent)


def test_the_three_books(source, tmp_path):
    run("book", "--solutions", source.parent, "--output", tmp_path / "book")
    pages = {name: (tmp_path / "book" / f"{name}.html").read_text() for name in ("exercises", "solutions", "teaching")}
    text = {name: re.sub(r"<[^>]+>", "", page) for name, page in pages.items()}
    assert "mine.ticks * 0.025" in text["solutions"] and "mine.ticks * 0.025" not in text["exercises"]
    assert "BEGIN SOLUTION" not in text["solutions"]
    assert "In class: let everyone guess first" in text["teaching"]
    assert all("In class: let everyone guess" not in text[name] for name in ("exercises", "solutions"))
    assert "one tick forgotten" in text["teaching"] and "How long is one tick" in text["teaching"]
    assert "still to do" not in text["exercises"]
    assert all('lang="en"' in page for page in pages.values())
    assert (tmp_path / "book" / "slides" / "90_ticks.slides.html").is_file()


def test_notes_say_where_they_belong(source):
    notes = [cell.source for cell in teaching_notes(read_source(source)).cells]
    where = next(i for i, text in enumerate(notes) if text.startswith("In class"))
    assert notes[where - 1] == "### At: After this lab you can"
    assert sum("In class" in text for text in notes) == 1


def test_slides(source):
    kinds = [cell.metadata["slideshow"]["slide_type"] for cell in slides(read_source(source)).cells]
    assert kinds[0] == "slide" and "subslide" in kinds and kinds.count("notes") == 1
    assert all("BEGIN SOLUTION" not in cell.source for cell in slides(read_source(source)).cells)


def test_slides_without_a_network(source, tmp_path):
    modules = tmp_path / "node_modules"
    for part in ("reveal.js/dist/reveal.js", "reveal.js/plugin/notes/notes.js", "requirejs/require.js"):
        (modules / part).parent.mkdir(parents=True, exist_ok=True)
        (modules / part).write_text("// stands for the real one")
    page = write_slides(source, tmp_path / "out", modules).read_text()
    assert "parts/requirejs/require.js" in page and "unpkg.com/reveal" not in page
    assert (tmp_path / "out" / "parts" / "reveal.js" / "dist" / "reveal.js").is_file()
    with pytest.raises(AuthorError, match="npm install"):
        write_slides(source, tmp_path / "out", tmp_path)


def test_a_preview_shows_what_learners_see(source, tmp_path):
    run("preview", "90_ticks", "--solutions", source.parent, "--output", tmp_path / "p.html", "--no-open")
    page = re.sub(r"<[^>]+>", "", (tmp_path / "p.html").read_text())
    assert "Your loop has" in page and "mine.ticks * 0.025" not in page


def test_a_cell_that_fails_is_said(source, tmp_path):
    lab = source / "lab.md"
    lab.write_text(lab.read_text().replace("mine = parameters", "1 / 0\nmine = parameters"))
    done = CliRunner().invoke(main, ["author", "preview", "90_ticks", "--solutions", str(source.parent), "--no-open"])
    assert done.exit_code == 1 and "ZeroDivisionError" in done.output


def test_the_page_of_a_notebook_is_one_file(source, tmp_path):
    from instructor.author.book import as_html

    page = as_html(nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell("# A page")]), "A page")
    assert "<title>A page</title>" in page and "A page" in page
