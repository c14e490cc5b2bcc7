"""A JupyterLab on the loopback address and a browser before it, for tests of what a learner sees."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import nbformat
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).parents[2]
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
TOKEN = "loopback"
SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "docmanager-extension/plugin": {"autosave": False},
    "notebook-extension/tracker": {"windowingMode": "none"},  # all cells are in the page, so that a test can see them
}


def free_port() -> int:
    """A port on the loopback address that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Lab:
    """A running server; ``folder`` is what it serves."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port

    def url(self, path: str) -> str:
        """Address of a page, with the token."""
        return f"http://127.0.0.1:{self.port}/{path}{'&' if '?' in path else '?'}token={TOKEN}"

    def wait(self, seconds: float = 40) -> None:
        """Until the server answers."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                urllib.request.urlopen(self.url("api/status")).close()
                return
            except OSError:
                time.sleep(0.2)
        raise TimeoutError(f"JupyterLab did not answer within {seconds} s")

    def theme(self, name: str) -> None:
        """``JupyterLab Light`` or ``JupyterLab Dark``, for pages opened from now on."""
        body = json.dumps({"raw": json.dumps({"theme": name})}).encode()
        where = self.url("lab/api/settings/@jupyterlab/apputils-extension:themes")
        headers = {"Content-Type": "application/json"}
        urllib.request.urlopen(urllib.request.Request(where, body, headers, method="PUT")).close()

    def end_kernels(self) -> None:
        """End all kernels, so that one learner at a time works on this machine."""
        with urllib.request.urlopen(self.url("api/kernels")) as reply:
            for kernel in json.load(reply):
                request = urllib.request.Request(self.url(f"api/kernels/{kernel['id']}"), method="DELETE")
                urllib.request.urlopen(request).close()

    def notebook(self, name: str, *cells: str) -> str:
        """Write a notebook of code cells; gives its name."""
        kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
        book = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(cell) for cell in cells], metadata={"kernelspec": kernel}
        )
        nbformat.write(book, self.folder / name)
        return name


@contextmanager
def running_lab(folder: Path) -> Iterator[Lab]:
    """A server with settings of its own, ended afterwards together with its kernels."""
    served, settings = folder / "work", folder / "settings"
    served.mkdir()
    for name, values in SETTINGS.items():
        path = settings / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(values))
    lab = Lab(served, free_port())
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--no-browser",
        "--ip=127.0.0.1",
        f"--port={lab.port}",
        "--allow-root",
        f"--IdentityProvider.token={TOKEN}",
        f"--ServerApp.root_dir={served}",
        "--ServerApp.port_retries=0",
        "--LabApp.expose_app_in_browser=True",  # so that a page can be asked whether its kernel answers
    ]
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "JUPYTERLAB_SETTINGS_DIR": str(settings),
        "JUPYTER_CONFIG_DIR": str(folder / "config"),
        "JUPYTER_RUNTIME_DIR": str(folder / "runtime"),
        "JUPYTERLAB_WORKSPACES_DIR": str(folder / "workspaces"),
        "IPYTHONDIR": str(folder / "ipython"),
    }
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(command, env=environment, stdout=log, stderr=subprocess.STDOUT, cwd=served)
        try:
            lab.wait()
            yield lab
        finally:
            server.terminate()
            server.wait(20)


@contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's Chromium without a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def open_and_run(page: Page, lab: Lab, name: str, shows: str, seconds: float = 60) -> None:
    """Open a notebook in a new JupyterLab, run all of its cells and wait until ``shows``, a selector or a JavaScript condition, is there."""
    page.goto(lab.url(f"lab/tree/{name}?reset"))
    run_all(page, shows, seconds)


def open_here(page: Page, name: str) -> None:
    """Open a notebook in the JupyterLab that the page shows."""
    page.evaluate("path => window.jupyterapp.commands.execute('docmanager:open', {path})", name)


def run_all(page: Page, shows: str, seconds: float = 60) -> None:
    """Run all cells of the notebook in front and wait until ``shows`` is there.

    JupyterLab shows a kernel as idle before it has answered, and forgets cells that are run then: they stay without a number for ever.
    """
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=60_000)
    page.wait_for_function(KERNEL, timeout=60_000, polling=100)
    page.evaluate(f"async () => {{ await {KERNEL}.info }}")
    page.locator(".lm-MenuBar-item", has_text="Run").click()
    page.locator("[data-command='runmenu:run-all']").click()
    _wait(page, shows, seconds)


KERNEL = "window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel"


def _wait(page: Page, shows: str, seconds: float) -> None:
    if shows.startswith("() =>"):
        page.wait_for_function(shows, timeout=seconds * 1000, polling=250)  # each frame would look at all cells again
    else:
        page.locator(shows).first.wait_for(timeout=seconds * 1000)


ALL_RUN = """() => [...document.querySelectorAll('.jp-Notebook .jp-CodeCell')].every(cell =>
  /\\[\\d+\\]/.test(cell.querySelector('.jp-InputPrompt').textContent) || !cell.querySelector('.cm-content').textContent.trim())"""


def serious_faults(page: Page, part: str) -> list[str]:
    """What axe-core finds serious or critical in a part of the page: rule and element."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, context=part).response["violations"]
    return [
        f"{one['id']}: {node['html'][:160]}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]
