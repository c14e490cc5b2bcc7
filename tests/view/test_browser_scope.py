"""The scope in a real JupyterLab, with ten million changes."""

import re
import time

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
    assert pace["frames"] >= 30, pace

    canvas.click(position={"x": 200, "y": 60})
    canvas.click(position={"x": 400, "y": 60}, modifiers=["Shift"])
    page.wait_for_function("document.querySelector('.tb-readout').textContent.includes('B − A')")

    page.get_by_label("Signal to search").select_option(label="level")
    page.get_by_label("What to search for").select_option("equals")
    page.get_by_label("Value to search for").fill("12.5")
    press(page, "Find after the cursor")
    page.wait_for_function("document.querySelector('.tb-readout').textContent.includes('level equals 12.5: tick')")
    page.locator(".tb-name", has_text="level").get_by_text("B 12.5").wait_for(timeout=5_000)

    page.screenshot(path=tmp_path / "cursors.png")
    assert readout.get_attribute("role") == "status"
    each_key_does_what_the_help_says(page)


def shown(page):
    """The ticks in view, as the diagram tells them to a screen reader."""
    label = page.locator(".tb-scope canvas").get_attribute("aria-label")
    assert "relay, level, state, accel" in label
    told = [number.replace("\u2212", "-") for number in re.search(r"ticks (.+) to (.+?):", label).groups()]
    return [int(re.sub(r"[^\d-]", "", number)) for number in told]


def cursors(page):
    """Ticks of the cursors that are set, by name."""
    told = re.findall(r"([AB]): tick ([\d\u2009]+) =", page.locator(".tb-readout").inner_text())
    return {name: int(re.sub(r"\D", "", tick)) for name, tick in told}


def after(page, key, condition, ask=shown):
    """Press a key and wait until what ``ask`` reads fits the condition; gives what it read."""
    page.keyboard.press(key)
    end = time.monotonic() + 10
    while not condition(ask(page)):
        assert time.monotonic() < end, (key, ask(page))
        page.wait_for_timeout(30)
    return ask(page)


def each_key_does_what_the_help_says(page):
    press(page, "Remove both cursors")
    page.get_by_label("Signal to search").select_option(label="state")
    page.get_by_label("What to search for").select_option("change")
    page.locator(".tb-scope canvas").focus()
    wide = after(page, "Home", lambda now: now[0] == 0 and now[1] > 40_000_000)
    half = after(page, "+", lambda now: abs((now[1] - now[0]) * 2 - wide[1]) < 4)
    assert abs(sum(half) - sum(wide)) < 4, "not about the middle"
    tenth = (half[1] - half[0]) // 10
    after(page, "ArrowRight", lambda now: all(abs(b - a - tenth) < 4 for a, b in zip(half, now, strict=True)))
    after(page, "ArrowLeft", lambda now: all(abs(b - a) < 4 for a, b in zip(half, now, strict=True)))
    after(page, "-", lambda now: abs(now[1] - now[0] - wide[1]) < 4)
    middle = round(sum(shown(page)) / 2)
    (b,) = after(page, "b", lambda now: set(now) == {"B"}, cursors).values()
    assert abs(b - middle) < 4
    following = 4_000_000 * (b // 4_000_000 + 1)  # the state changes every 4 million ticks
    after(page, ".", lambda now: now == {"B": following}, cursors)
    after(page, ".", lambda now: now == {"B": following + 4_000_000}, cursors)
    after(page, ",", lambda now: now == {"B": following}, cursors)
    after(page, "A", lambda now: now.keys() == {"A", "B"}, cursors)
    after(page, ",", lambda now: now == {"A": following - 4_000_000, "B": following}, cursors)
    narrow = shown(page)[1]
    page.locator(".tb-scope canvas").hover()
    page.mouse.wheel(0, -100)
    page.wait_for_function("() => true")
    after(page, "Shift", lambda now: now[1] - now[0] < 0.9 * narrow)
