"""Formulas in feedback and in the form grader as MathML, which browsers draw themselves: nothing is fetched from the network.

``instructor/nbgrader_config.py`` puts :func:`to_html` in the place of nbconvert's filter of the same purpose.  A formula may be
a learner's, so the MathML is built as a tree and written out escaped, with nothing in it that acts.
"""

from __future__ import annotations

import html
from typing import Any
from xml.etree.ElementTree import Element, tostring

from jinja2 import pass_context
from latex2mathml.converter import convert_to_element
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

HARMLESS = {  # attributes that may stay: sizes and shapes, no addresses, no handlers, no styles
    *("xmlns", "display", "displaystyle", "scriptlevel", "mathvariant", "stretchy", "symmetric", "fence", "separator"),
    *(
        "form",
        "accent",
        "accentunder",
        "linethickness",
        "columnalign",
        "rowspacing",
        "columnspacing",
        "lspace",
        "rspace",
    ),
    *("minsize", "maxsize", "movablelimits", "width", "height", "depth"),
}
LONGEST = 2000  # characters of one formula


def mathml(latex: str, display: str = "inline") -> str:
    """A formula as MathML; what is no formula, or too long, as the text itself."""
    latex = html.unescape(latex)
    try:
        if len(latex) > LONGEST:
            raise ValueError("too long")
        tree = convert_to_element(latex, display=display)
    except Exception:  # noqa: BLE001  the converter raises many kinds; whatever it cannot read is shown as it was written
        return f"<code>{html.escape(latex)}</code>"
    return tostring(_harmless(tree), encoding="unicode")


def _harmless(tree: Element) -> Element:
    for node in tree.iter():
        node.text, node.tail = html.unescape(node.text or ""), html.unescape(node.tail or "")
        for name in set(node.attrib) - HARMLESS:
            del node.attrib[name]
    return tree


class _Renderer(IPythonRenderer):
    def inline_math(self, body: str) -> str:
        return mathml(body)

    def block_math(self, body: str) -> str:
        return mathml(body, "block")

    def latex_environment(self, name: str, body: str) -> str:
        return mathml(f"\\begin{{{name}}}{body}\\end{{{name}}}", "block")


@pass_context
def to_html(context: Any, source: str) -> str:
    """A Markdown cell as HTML; a filter for nbconvert's templates."""
    renderer = _Renderer(
        escape=False,
        attachments=context.get("cell", {}).get("attachments", {}),
        path=context.get("resources", {}).get("metadata", {}).get("path", ""),
        exclude_anchor_links=True,
    )
    return MarkdownWithMath(renderer=renderer).render(source)
