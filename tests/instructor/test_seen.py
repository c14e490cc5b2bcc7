"""What people see, in a browser without a network: formulas in feedback and in a running form grader; axe on both pages."""

import os
import re
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest
from click.testing import CliRunner

from simkit.cli import main
from tests.instructor.conftest import RIGHT
from tests.instructor.nbgrader_commands import nbgrader

pytestmark = pytest.mark.xdist_group("seen")
TEXT = "The level is $\\sqrt{a^2}$; *well*."
HEIGHT = "Math.min(...[...document.querySelectorAll('math')].map(m => m.getBoundingClientRect().height))"


@pytest.fixture(scope="module")
def browser():
    pytest.importorskip("playwright") if not os.environ.get("CI") else None
    from tests.view import labserver

    if not Path(labserver.CHROMIUM).exists():
        assert not os.environ.get("CI"), f"no browser at {labserver.CHROMIUM}"
        pytest.skip(f"no browser at {labserver.CHROMIUM}")
    with labserver.chromium() as found:
        yield found


@pytest.fixture
def page(browser):
    """A page that reaches the loopback address only; ``page.refused`` lists what it asked for beyond that."""
    fresh = browser.new_page(viewport={"width": 1300, "height": 1000})
    fresh.refused = []

    def gate(route):
        if re.match(r"(http://127\.0\.0\.1|file:|data:|blob:)", route.request.url):
            return route.continue_()
        fresh.refused.append(route.request.url)
        return route.abort()

    fresh.route("**/*", gate)
    yield fresh
    fresh.close()


def run(*words):
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output


MADE = []  # the course, once it is there: it takes ten seconds, and no test changes it


@pytest.fixture
def seen(request):
    """A graded course with feedback, in which a learner wrote a formula into a cell of their own."""
    if not MADE:
        MADE.append(make(request.getfixturevalue("course"), request.getfixturevalue("hand_in")))
    return MADE[0]


def make(course, hand_in):
    def write(notebook):
        notebook.cells.append(nbformat.v4.new_markdown_cell(TEXT))

    hand_in("ada", RIGHT, write)
    nbgrader(course, "generate_assignment", "90_ticks")
    run("grade", course)
    nbgrader(course, "generate_feedback", "90_ticks")
    return course


def test_feedback_needs_no_network_and_can_be_read_by_all(seen, page):
    from tests.view.labserver import serious_faults

    path = seen / "feedback" / "ada" / "90_ticks" / "90_ticks.html"
    text = path.read_text()
    assert not re.findall(r"<(?:script|link|img|iframe)[^>]*(?:src|href)=\"(?:https?:)?//", text)
    page.goto(path.as_uri())
    assert page.locator("math").count() >= 1
    assert page.evaluate(HEIGHT) > 8, "drawn, not only there"
    assert page.refused == []
    assert serious_faults(page, "body") == []


def test_the_report_can_be_read_by_all(seen, page, tmp_path):
    from tests.view.labserver import serious_faults

    run("report", seen, "--output", tmp_path / "report.html")
    page.goto((tmp_path / "report.html").as_uri())
    assert page.refused == []
    assert serious_faults(page, "body") == []


@contextmanager
def form_grader(course, folder):
    """The form grader in a server on the loopback address; gives its address."""
    from tests.view.labserver import TOKEN, free_port

    port = free_port()
    command = [
        sys.executable,
        "-m",
        "jupyter_server",
        "--no-browser",
        "--ip=127.0.0.1",
        f"--port={port}",
        "--allow-root",
    ]
    command += [f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={course}", "--ServerApp.port_retries=0"]
    command += ["--ServerApp.jpserver_extensions={'nbgrader.server_extensions.formgrader': True}"]
    environment = {**os.environ, "JUPYTER_CONFIG_DIR": str(folder / "c"), "JUPYTER_RUNTIME_DIR": str(folder / "r")}
    with open(folder / "server.log", "w") as log:
        server = subprocess.Popen(command, cwd=course, env=environment, stdout=log, stderr=subprocess.STDOUT)
        try:
            until = time.monotonic() + 40
            while True:
                try:
                    urllib.request.urlopen(f"http://127.0.0.1:{port}/api/status?token={TOKEN}").close()
                    break
                except OSError:
                    assert time.monotonic() < until, (folder / "server.log").read_text()[-2000:]
                    time.sleep(0.2)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()
            server.wait(20)


def test_the_form_grader_draws_formulas_without_a_network(seen, page, tmp_path):
    from nbgrader.api import Gradebook

    from tests.view.labserver import TOKEN

    with Gradebook(f"sqlite:///{seen / 'gradebook.db'}") as book:
        where = book.find_submission_notebook("90_ticks", "90_ticks", "ada").id
    with form_grader(seen, tmp_path) as address:
        page.goto(f"{address}/formgrader/submissions/{where}/?token={TOKEN}")
        page.wait_for_selector("math", timeout=20_000)
        assert page.evaluate(HEIGHT) > 8, "drawn, not only there"
        assert page.refused == []
