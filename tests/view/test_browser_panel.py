"""The bench panel in a real JupyterLab: it runs, the page stays alive, stop stops, the keyboard suffices."""

import inspect
import time

import pytest

from tests.view import test_panel
from tests.view.labserver import open_and_run, serious_faults

SETUP = """from simkit import AnalogIn, AnalogOut, Design, DigitalIn, DigitalOut, HostReg, bit, clocked, ms, sequenced, signed
from simkit.bench import FanHouse, load
from simkit.view import Panel, Scope
from ipywidgets import VBox
"""
CELL = """rig = load(House, FanHouse(seed=3), record=['lamp', 'last', 'drive.state'])
scope = Scope(rig, follow=True)
panel = Panel(rig, scope=scope)
VBox([panel, scope])"""


def tick(page):
    return int(page.locator(".tb-panel").get_attribute("data-tick"))


def until(page, condition, seconds=15):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, page.locator(".tb-panel").inner_text()
        page.wait_for_timeout(50)


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
def test_panel_in_the_browser(lab, page, tmp_path):
    name = lab.notebook("panel.ipynb", SETUP + inspect.getsource(test_panel.House), CELL)
    open_and_run(page, lab, name, ".tb-panel[data-tick]")
    panel = page.locator(".tb-panel")

    panel.get_by_role("button", name="Start").click()
    until(page, lambda: tick(page) > 20_000_000)
    turned = [
        page.locator(".tb-fan svg g").nth(1).get_attribute("transform")
        for _ in range(3)
        if page.wait_for_timeout(120) is None
    ]
    assert len(set(turned)) == 3, "fan B does not turn"
    assert "real time" in panel.locator(".tb-status").inner_text()
    panel.get_by_role("button", name="press switch", exact=True).click()
    panel.get_by_label("Fault of fan B bearing").select_option("loose")
    panel.get_by_label("Hold fan A at a speed").check()
    until(page, lambda: "1500 1/min" in panel.inner_text())
    windows = int(page.locator(".tb-scope").get_attribute("data-windows"))
    until(page, lambda: int(page.locator(".tb-scope").get_attribute("data-windows")) > windows)
    page.screenshot(path=tmp_path / "running.png")
    assert serious_faults(page, ".tb-panel") == []
    assert serious_faults(page, ".tb-scope") == []

    began = time.monotonic()
    panel.get_by_role("button", name="Stop").click()
    until(page, lambda: panel.get_by_role("button", name="Stop").is_disabled(), 3)
    assert time.monotonic() - began < 2
    still = tick(page)
    page.wait_for_timeout(300)
    assert tick(page) == still

    panel.get_by_label("Length of a step").select_option("1 tick")
    panel.get_by_role("button", name="Step").focus()
    page.keyboard.press("Enter")
    until(page, lambda: tick(page) == still + 1)

    panel.get_by_label("New value of wanted").fill("99999")
    page.keyboard.press("Enter")
    until(page, lambda: "outside -32768 to 32767" in panel.get_by_role("alert").inner_text())

    panel.get_by_label("Pace", exact=True).select_option("10 × slower")
    panel.get_by_role("button", name="Run for").click()
    until(page, lambda: panel.locator("progress").is_visible() and "s left" in panel.inner_text())
    page.screenshot(path=tmp_path / "progress.png")
    assert page.locator(".jp-Notebook .jp-CodeCell").count() == 2, "a key meant for the panel changed the notebook"
    panel.get_by_role("button", name="Reset").click()
    until(page, lambda: tick(page) == 0)
