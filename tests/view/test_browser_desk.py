"""The learner's desk in a real JupyterLab: start page, every lab, a check that fails, a run that is stopped, a kernel that dies."""

import json
import os
import shutil
import signal
import time
import urllib.request
from pathlib import Path

import pytest

from simkit.cli.places import lab_folders
from tests.view.labserver import ALL_RUN, ROOT, open_and_run, open_here, run_all, serious_faults

LABS = [folder.name for folder in lab_folders(ROOT / "labs")]
ANSWER = """from simkit import *
from simkit.check import check, overview, parameters, solution
mine = parameters("05-b")

class Slow(Design):
    lamp = DigitalOut("lamp")
    work = DigitalOut("lamp 2")
    switch = DigitalIn("switch")

    @sequenced
    def turn(self):
        self.lamp = not self.lamp
        self.work = 1
        if self.switch:
            wait(mine.long)
        else:
            wait(mine.short)
        self.work = 0
        wait(mine.period - mine.short)"""
LONG = """from simkit.bench import FanHouse, load
rig = load(Slow, FanHouse(seed=1))
rig.run(s(3600))"""


@pytest.fixture(scope="module")
def course(lab):
    """The labs and the start page in the server's folder, as ``tickbench start`` puts them there."""
    from simkit.cli.start import prepare

    prepare(lab.folder)
    return lab


def kernel_state(lab):
    with urllib.request.urlopen(lab.url("api/kernels")) as reply:
        states = [one["execution_state"] for one in json.load(reply)]
    return "busy" if "busy" in states else states[-1] if states else ""


def saved(page, path):
    """The notebook as saved now."""
    before, end, again = path.stat().st_mtime_ns, time.monotonic() + 60, 0.0
    while path.stat().st_mtime_ns == before:
        if time.monotonic() > again:  # a key that comes while JupyterLab is busy with something else may be lost
            page.keyboard.press("Control+s")
            again = time.monotonic() + 5
        assert time.monotonic() < end, "JupyterLab did not save the notebook"
        page.wait_for_timeout(50)
    while True:  # JupyterLab empties the file before it writes it
        page.wait_for_timeout(200)
        try:
            return json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            assert time.monotonic() < end, "JupyterLab did not write the notebook to its end"


@pytest.fixture(scope="module")
def one_desk(course, browser):
    page = browser.new_page(viewport={"width": 1300, "height": 1000})
    yield page
    page.close()


@pytest.fixture
def desk(course, one_desk):
    """A JupyterLab with nothing open: the one of the test before, which has closed its notebook, or a new one."""
    if one_desk.url == "about:blank" or one_desk.locator(".jp-Notebook").count():
        one_desk.goto(course.url("lab?reset"))
        one_desk.wait_for_function("window.jupyterapp", timeout=60_000, polling=100)
        one_desk.evaluate("async () => { await window.jupyterapp.restored }")
    return one_desk


@pytest.fixture(autouse=True)
def no_kernels_left(lab):
    yield
    lab.end_kernels()


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
def test_start_page(course, page, tmp_path):
    page.goto(course.url("lab/tree/start_here.ipynb?reset"))
    table = page.locator(".jp-OutputArea-output table")
    table.wait_for(timeout=60_000)
    assert table.locator("tbody tr").count() == len(LABS)
    page.screenshot(path=tmp_path / "start.png")
    for ours in (".jp-RenderedMarkdown", ".jp-OutputArea-output"):  # the editor around them is JupyterLab's
        assert serious_faults(page, ours) == []
    link = table.get_by_role("link").first
    link.focus()
    page.keyboard.press("Enter")
    page.locator(f".lm-TabBar-tab[title*='{LABS[0]}.ipynb']").wait_for(timeout=30_000)


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("name", LABS)
def test_each_lab_runs_from_top_to_bottom(course, desk, name):
    path = course.folder / name / f"{name}.ipynb"
    open_here(desk, f"{name}/{name}.ipynb")
    run_all(desk, ALL_RUN, seconds=90)
    cells = [
        cell for cell in saved(desk, path)["cells"] if cell["cell_type"] == "code" and "".join(cell["source"]).strip()
    ]
    desk.evaluate("() => window.jupyterapp.commands.execute('application:close-all')")
    desk.locator(".jp-Notebook").wait_for(state="detached", timeout=30_000)
    assert all(cell["execution_count"] for cell in cells)
    broken = [
        ("".join(cell["source"])[:80], output["evalue"])
        for cell in cells
        if "raises-exception" not in cell["metadata"].get("tags", [])
        for output in cell["outputs"]
        if output["output_type"] == "error"
    ]
    assert broken == []
    checks = [cell for cell in cells if "".join(cell["source"]).strip().startswith("check(")]
    told = {"".join(cell["source"]): json.dumps(cell["outputs"]) for cell in checks}
    friendly = ("still to do", ": 0 of ")  # the second where code is given that runs and does nothing yet
    assert (
        checks and {check: text for check, text in told.items() if not any(words in text for words in friendly)} == {}
    )


def in_lab_05(course, name, *cells):
    """A notebook of these cells beside lab 05's exercises."""
    made = course.notebook(name, *cells)
    shutil.move(course.folder / made, course.folder / "05_keeping_time" / name)
    return f"05_keeping_time/{name}"


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
def test_a_failed_check_shows_the_moment(course, page, tmp_path):
    open_and_run(page, course, in_lab_05(course, "card.ipynb", ANSWER, 'check("05-b", Slow)'), ".tb-card")
    card = page.locator(".tb-card")
    assert "measured" in card.inner_text() and "failed" in card.inner_text()
    picture = card.locator("img").first
    assert not picture.is_visible()
    show = card.locator("summary", has_text="Show me").first
    show.focus()
    page.keyboard.press("Enter")
    picture.wait_for(state="visible", timeout=5_000)
    assert "yours and expected first differ in tick" in picture.get_attribute("alt")
    for step in ("A nudge", "The idea", "A worked step"):
        summary = card.locator("summary", has_text=step).first
        summary.focus()
        page.keyboard.press("Space")
    assert card.get_by_text("paper with the tick number").first.is_visible()
    card.scroll_into_view_if_needed()
    page.screenshot(path=tmp_path / "card.png")
    assert serious_faults(page, ".tb-card") == []
    assert page.locator(".jp-Notebook .jp-CodeCell").count() == 2, "a key meant for the card changed the notebook"
    keep = os.environ.get("TICKBENCH_PICTURES")
    if keep:
        shutil.copy(tmp_path / "card.png", Path(keep) / "card.png")


def pid_of(course, page):
    end = time.monotonic() + 60
    path = course.folder / "05_keeping_time" / "pid"
    while not path.is_file() or not path.read_text():
        assert time.monotonic() < end
        page.wait_for_timeout(100)
    return int(path.read_text())


@pytest.mark.slow
@pytest.mark.xdist_group("browser")
def test_stop_a_run_then_lose_the_kernel(course, page, tmp_path):
    first = f'{ANSWER}\nimport os; open("pid", "w").write(str(os.getpid()))\ncheck("05-b", Slow)'
    name = in_lab_05(course, "stop.ipynb", first, LONG, "overview('..')")
    running = ".jp-OutputArea-output progress"
    progress = page.locator(running)
    open_and_run(page, course, name, running)
    page.get_by_text("s left").wait_for(timeout=10_000)
    page.locator(".jp-Notebook .jp-CodeCell").nth(2).locator(".cm-content").click()  # the page is alive meanwhile
    page.keyboard.type("# my work\n")
    page.locator("[data-jp-item-name=interrupt]").click()
    page.get_by_text("stopped before 3600 s").wait_for(timeout=5_000)
    page.get_by_text("KeyboardInterrupt").first.wait_for(timeout=5_000)
    saved(page, course.folder / name)

    page.locator(".jp-Notebook .jp-CodeCell").nth(1).locator(".cm-content").click()
    page.keyboard.press("Control+Enter")
    progress.wait_for(timeout=60_000)
    os.kill(pid_of(course, page), signal.SIGKILL)
    end = time.monotonic() + 60
    while kernel_state(course) != "idle":  # the server starts a new one by itself
        assert time.monotonic() < end
        page.wait_for_timeout(200)
    page.keyboard.press("Escape")
    open_and_run(page, course, name, running)  # the work runs again in the new kernel
    page.locator("[data-jp-item-name=interrupt]").click()
    page.get_by_text("stopped before 3600 s").wait_for(timeout=5_000)
    assert "# my work" in "".join(saved(page, course.folder / name)["cells"][2]["source"])
    page.locator(".jp-Notebook .jp-CodeCell").nth(2).locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.type("from simkit.check import overview; overview('..')")
    page.keyboard.press("Control+Enter")
    table = page.locator(".jp-OutputArea-output table")
    table.wait_for(timeout=60_000)
    assert "0 of 9 exercises done" in table.inner_text()
    noted = [json.loads(line) for line in (course.folder / ".tickbench" / "progress.jsonl").read_text().splitlines()]
    assert [row["event"] for row in noted if row["exercise"] == "05-b"].count("check") >= 2  # one of each kernel
