"""The tools are prepared once for all tests; finished builds go into a folder of the test's own."""

from __future__ import annotations

import pytest

from simkit.build import cache, tools, warm_up


@pytest.fixture(scope="session", autouse=True)
def _warm():
    warm_up()


@pytest.fixture
def builds(tmp_path, monkeypatch):
    """An empty folder for finished builds."""
    folder = tmp_path / "builds"
    compiled = tools._compiled()
    monkeypatch.setattr(tools, "_compiled", lambda: compiled)
    monkeypatch.setattr(cache, "builds_folder", lambda: folder)
    return folder
