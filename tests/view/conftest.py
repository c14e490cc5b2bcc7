"""Fixtures of the browser tests; without Chromium or Playwright they are skipped, which CI forbids."""

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    pytest.importorskip("playwright")
    from tests.view import labserver  # only where a browser is wanted

    if not Path(labserver.CHROMIUM).exists():
        assert not os.environ.get("CI"), f"no browser at {labserver.CHROMIUM}"
        pytest.skip(f"no browser at {labserver.CHROMIUM}")
    with labserver.running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


@pytest.fixture(scope="session")
def browser(lab):
    from tests.view import labserver

    with labserver.chromium() as found:
        yield found


@pytest.fixture
def page(browser):
    fresh = browser.new_page(viewport={"width": 1300, "height": 1000})
    yield fresh
    fresh.close()
