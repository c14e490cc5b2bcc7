"""The look: readable for people with colour-vision deficiency and on both kinds of page."""

import subprocess
import sys

import pytest

from simkit.view import style


@pytest.fixture(autouse=True)
def back_to_default():
    yield
    style.use_theme("any")


def test_contrast_agrees_with_published_values():
    # WCAG 2.2, definition of contrast ratio: black on white is 21:1; #767676 on white is the well-known 4.54:1
    # (W3C, "Understanding success criterion 1.4.3").
    assert style.contrast("#000000", "#ffffff") == pytest.approx(21)
    assert style.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_ink_of_the_open_theme_is_readable_on_both_pages():
    ink = style.THEMES["any"].ink
    assert style.contrast(ink, "#ffffff") >= 4.5
    assert style.contrast(ink, "#111111") >= 4.0


@pytest.mark.parametrize("name", ["light", "dark"])
def test_ink_of_the_opaque_themes(name):
    theme = style.THEMES[name]
    assert style.contrast(theme.ink, theme.paper) >= 7


@pytest.mark.parametrize(
    ("name", "pages"), [("any", ("#ffffff", "#111111")), ("light", ("#ffffff",)), ("dark", ("#111111",))]
)
def test_series_stand_out_from_the_page(name, pages):
    for colour in style.THEMES[name].series:
        for page in pages:
            assert style.contrast(colour, page) >= 2.99, (colour, page)


def test_colours_are_those_of_the_published_set():
    # Okabe and Ito, "Color Universal Design", table of RGB values (0-255).
    published = {(0, 114, 178), (213, 94, 0), (0, 158, 115), (204, 121, 167), (230, 159, 0), (86, 180, 233)}
    ours = {style.BLUE, style.VERMILLION, style.GREEN, style.PURPLE, style.ORANGE, style.SKY}
    assert {tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in ours} == published


def test_nothing_is_told_by_colour_alone():
    for kinds in (style.LINES, style.MARKERS, style.HATCHES):
        assert len({str(kind) for kind in kinds}) == len(style.SERIES)


def test_an_unknown_theme_is_refused():
    with pytest.raises(ValueError, match="no theme 'neon'; themes: any, light, dark"):
        style.use_theme("neon")


def test_no_plotting_library_before_the_first_figure():
    code = (
        "import sys, simkit, simkit.view, simkit.view.style\n"
        "assert not [m for m in sys.modules if m.split('.')[0] in ('matplotlib', 'IPython', 'ipywidgets')]"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_public_name_is_there():
    from simkit import view

    assert all(getattr(view, name) is not None for name in view.__all__)
    with pytest.raises(AttributeError, match="no attribute 'pie_chart'"):
        _ = view.pie_chart
