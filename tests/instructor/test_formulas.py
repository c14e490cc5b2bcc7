"""Formulas in feedback need no network, and a learner's formula cannot act in a reader's browser."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from instructor.grading.formulas import mathml


def test_a_formula_is_mathml():
    """Presentation MathML as in the W3C's MathML Core: a fraction is an mfrac of two rows."""
    tree = ElementTree.fromstring(mathml(r"\frac{a+1}{2}"))
    assert tree.tag.endswith("math")
    assert [node.tag.rsplit("}")[-1] for node in tree.iter()].count("mfrac") == 1
    assert "".join(tree.itertext()) == "a+12"


@pytest.mark.parametrize(
    "latex",
    [
        r"\text{<script>alert(1)</script>}",
        r"\text{&lt;img src=x onerror=alert(1)&gt;}",
        r"\href{javascript:alert(1)}{x}",
        r"\style{background:url(//x)}{x}",
        "a<b onclick=1>c",
        "\\frac{",
        "x" * 5000,
        "{" * 1500,
    ],
)
def test_a_formula_does_nothing_but_show(latex):
    shown = mathml(latex)
    ElementTree.fromstring(shown)  # well-formed: what looks like markup is text
    assert "<script" not in shown and "<img" not in shown and "href=" not in shown and "<b " not in shown


def test_feedback_and_form_grader_use_it(tmp_path):
    import nbformat
    from nbconvert.exporters import HTMLExporter
    from traitlets.config import Config

    from instructor.nbgrader_config import configure

    config = Config()
    configure(config, tmp_path)
    cell = nbformat.v4.new_markdown_cell("The level is $\\sqrt{a^2}$ and\n\n$$\\frac{1}{2}$$\n\n`$code$`, 5 \\$.")
    page, _ = HTMLExporter(config=config).from_notebook_node(nbformat.v4.new_notebook(cells=[cell]))
    assert "<msqrt>" in page and "<mfrac>" in page and "<code>$code$</code>" in page


def test_a_formula_that_a_cell_displays_is_mathml_and_can_do_nothing():
    import nbformat

    from instructor.grading.display import make_harmless

    evil = "$\\displaystyle \\frac{1}{2} \\text{<script>alert(1)</script>}$"
    output = nbformat.v4.new_output("display_data", data={"text/latex": evil, "text/plain": "1/2"})
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("show()", outputs=[output])])
    make_harmless(book, nbformat.v4.new_notebook())
    [shown] = book.cells[0].outputs
    assert "text/latex" not in shown.data
    assert "<mfrac>" in shown.data["text/html"] and "<script" not in shown.data["text/html"]
