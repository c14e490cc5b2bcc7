"""Figures in a real JupyterLab."""

import pytest

from tests.view.labserver import open_and_run

SETUP = """import numpy as np
from simkit import view
from simkit.engines.api import Trace
def trace(name, *changes):
    return Trace(name, np.array([t for t, _ in changes]), np.array([v for _, v in changes]))"""
TIMING = """view.timing_diagram(
    [view.Level(trace('relay', (0, 0), (219, 1), (1000, 0)), expected=trace('relay', (0, 0), (230, 1), (1000, 0))),
     trace('over', (0, 0), (40, 1), (300, 7))], 0, 1100, ('tick', 'us'), tick_s=25e-9, marks=[(219, 1000)], title='Relay')"""


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_alternative_text_reaches_the_page(lab, page, theme, tmp_path):
    lab.theme(theme)
    open_and_run(page, lab, lab.notebook("figures.ipynb", SETUP, TIMING), ".jp-OutputArea-output img")
    image = page.locator(".jp-OutputArea-output img")
    assert "recorded and expected first differ in tick 219" in image.get_attribute("alt")
    assert image.bounding_box()["width"] > 500
    page.screenshot(path=tmp_path / "figures.png")
