"""A class on a real JupyterHub: two learners fetch and submit, the instructor collects, grades and returns feedback."""

import json
import os
import shutil
import urllib.error
from pathlib import Path

import nbformat
import pytest

from instructor.classroom import configure
from tests.instructor.conftest import RIGHT, SOURCE
from tests.instructor.hub_world import Hub, proxy_program
from tests.tools import needed

LAB = "90_ticks"


@pytest.fixture
def hub(tmp_path, labs):
    needed("bwrap")
    pytest.importorskip("jupyterhub")
    proxy = proxy_program()
    if proxy is None or os.getuid() != 0:
        pytest.skip("needs root, and configurable-http-proxy from npm (.ci/run fetches it)")
    solutions = shutil.copytree(SOURCE.parent, tmp_path / "solutions")
    with Hub(tmp_path / "hub", labs, Path(solutions), proxy) as running:
        try:
            yield running
        except BaseException:
            print((tmp_path / "hub" / "hub.log").read_text(errors="replace")[-6000:])
            raise


def answer(hub, name, answers):
    """Write answers into the notebook that a learner has fetched, through their own server."""
    path = f"/user/{name}/api/contents/{LAB}/{LAB}.ipynb"
    notebook = nbformat.from_dict(hub.ask("GET", path)["content"])
    for exercise, code in answers.items():
        next(c for c in notebook.cells if c.get("id") == f"{exercise}-answer").source = code
    hub.ask("PUT", path, {"type": "notebook", "content": notebook})


def status(listed):
    return {row["status"] for row in listed["value"] if row["assignment_id"] == LAB}


def test_a_whole_round(hub):
    desk = "/user/teacher/formgrader/api"
    hub.start("teacher")
    for step in ("assign", "release"):
        done = hub.ask("POST", f"{desk}/assignment/{LAB}/{step}", {})
        assert done["success"], done.get("log", done)

    for name, answers in {"ada": RIGHT, "bob": {"90-a": RIGHT["90-a"]}}.items():
        hub.start(name)
        which = {"course_id": "tickbench", "assignment_id": LAB}
        assert status(hub.ask("GET", f"/user/{name}/assignments?course_id=tickbench")) == {"released"}
        assert "fetched" in status(hub.ask("POST", f"/user/{name}/assignments/fetch", which))
        answer(hub, name, answers)
        assert "submitted" in status(hub.ask("POST", f"/user/{name}/assignments/submit", which))

    done = hub.ask("POST", f"{desk}/assignment/{LAB}/collect", {})
    assert done["success"], done.get("log", done)
    for name in ("ada", "bob"):
        done = hub.ask("POST", f"{desk}/submission/{LAB}/{name}/autograde", {})
        assert done["success"], done.get("log", done)
    scores = {row["student"]: row["score"] for row in hub.ask("GET", f"{desk}/submissions/{LAB}")}
    assert (scores["ada"], scores["bob"]) == (7, 2)

    for step in ("generate_feedback", "release_feedback"):
        done = hub.ask("POST", f"{desk}/assignment/{LAB}/{step}", {})
        assert done["success"], done.get("log", done)
    listed = hub.ask("POST", "/user/ada/assignments/fetch_feedback", {"course_id": "tickbench", "assignment_id": LAB})
    (mine,) = [row for row in listed["value"] if row["status"] == "submitted"]
    assert mine["submissions"][0]["has_local_feedback"]
    folder = mine["submissions"][0]["local_feedback_path"]
    page = hub.ask("GET", f"/user/ada/api/contents/{folder}/{LAB}.html?type=file&format=text")["content"]
    assert "90-c  Build a blinker: 3 of 3 points" in page

    with pytest.raises(urllib.error.HTTPError) as refused:
        hub.ask("GET", "/user/ada/formgrader/api/assignments")
    assert refused.value.code == 404, "learners have no form grader"


def test_settings_name_everything_and_hold_no_secret(tmp_path):
    class Any(dict):
        def __getattr__(self, name):
            return self.setdefault(name, Any())

        def __setattr__(self, name, value):
            self[name] = value

    c = Any()
    configure(c, tmp_path / "course", {"teacher"}, {"ada"}, exchange=tmp_path / "x" / "exchange")
    assert (tmp_path / "x" / "exchange").stat().st_mode & 0o7777 == 0o1777
    assert c.Authenticator.allowed_users == {"teacher", "ada"}
    learner = tmp_path / "x" / "settings" / "learner"
    assert "course_id = 'tickbench'" in (learner / "nbgrader_config.py").read_text()
    off = json.loads((learner / "jupyter_server_config.json").read_text())["ServerApp"]["jpserver_extensions"]
    assert off["nbgrader.server_extensions.formgrader"] is False
    with pytest.raises(ValueError, match="both"):
        configure(c, tmp_path, {"ada"}, {"ada"}, exchange=tmp_path / "x" / "exchange")
