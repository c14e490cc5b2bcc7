"""The scope in a real JupyterLab, with ten million changes."""

import pytest

from tests.view.labserver import open_and_run

DATA = """import numpy as np
from simkit.engines.api import Trace
from simkit.netlist.types import make
from simkit.view import Bus, Curve, Level, Scope, States
n, rng = 10_000_000, np.random.default_rng(1)
ticks, values = np.cumsum(rng.integers(1, 9, n)), rng.integers(-1000, 1000, n)
calm = np.arange(0, ticks[-1], 4_000_000)"""
SCOPE = """scope = Scope([Level(Trace('relay', ticks, np.arange(n) % 2)), Bus(Trace('level', ticks, values), type=make('sfixed', 9, -4)),
    States(Trace('state', calm, np.arange(len(calm)) % 3), names=['idle', 'scale', 'store']),
    Curve(Trace('accel', ticks, values), unit='m/s²')], tick_s=25e-9)
scope"""
DRAG = """async () => {
  const canvas = document.querySelector('.tb-scope canvas'), root = document.querySelector('.tb-scope');
  const box = canvas.getBoundingClientRect(), frames = +root.dataset.drawn, began = performance.now();
  const move = (kind, x) => canvas.dispatchEvent(
    new PointerEvent(kind, {clientX: box.x + x, clientY: box.y + 60, pointerId: 1, bubbles: true}));
  canvas.setPointerCapture = () => {};
  move('pointerdown', 100);
  for (let i = 0; i < 40; i++) { move('pointermove', 100 + i * 8); await new Promise(requestAnimationFrame); }
  move('pointerup', 420);
  return { frames: +root.dataset.drawn - frames, ms: performance.now() - began };
}"""


@pytest.fixture
def opened(lab, page):
    open_and_run(page, lab, lab.notebook("scope.ipynb", DATA, SCOPE), ".tb-scope[data-windows]")
    return page


def press(page, label, times=1):
    for _ in range(times):
        page.get_by_label(label, exact=True).click()


def answered(page, act):
    """Do something and wait until the kernel sent a new window."""
    before = int(page.locator(".tb-scope").get_attribute("data-windows"))
    act()
    page.wait_for_function(f"+document.querySelector('.tb-scope').dataset.windows > {before}", timeout=10_000)


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
def test_scope_in_the_browser(opened, tmp_path):
    page, canvas, readout = opened, opened.locator(".tb-scope canvas"), opened.locator(".tb-readout")
    page.screenshot(path=tmp_path / "all.png")
    answered(page, lambda: press(page, "Zoom in", 8))
    pace = page.evaluate(DRAG)
    assert pace["frames"] >= 30 and pace["ms"] / pace["frames"] < 300, pace  # alone on the machine: 30 ms

    canvas.click(position={"x": 200, "y": 60})
    canvas.click(position={"x": 400, "y": 60}, modifiers=["Shift"])
    page.wait_for_function("document.querySelector('.tb-readout').textContent.includes('B − A')")

    page.get_by_label("Signal to search").select_option(label="level")
    page.get_by_label("What to search for").select_option("equals")
    page.get_by_label("Value to search for").fill("12.5")
    press(page, "Find after the cursor")
    page.wait_for_function("document.querySelector('.tb-readout').textContent.includes('level equals 12.5: tick')")
    page.locator(".tb-name", has_text="level").get_by_text("B 12.5").wait_for(timeout=5_000)

    canvas.focus()
    for key in ("+", "ArrowRight", "-", "b", ".", "Home"):
        page.keyboard.press(key)
    page.wait_for_timeout(400)
    page.screenshot(path=tmp_path / "cursors.png")
    label = canvas.get_attribute("aria-label")
    assert label.startswith("Scope, ticks 0 to 45") and "relay, level, state, accel" in label
    assert readout.get_attribute("role") == "status"
