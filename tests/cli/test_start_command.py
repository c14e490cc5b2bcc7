"""``tickbench start``: labs arrive, work stays, Jupyter answers."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from simkit.cli import main
from simkit.cli.copy import copy_labs


def outcomes(copied):
    return {path.name: outcome for path, outcome in copied}


@pytest.fixture
def edition(labs, tmp_path):
    """A copy of the labs that a test may bring out anew."""
    return Path(shutil.copytree(labs, tmp_path / "edition"))


def test_first_and_second_time(edition, tmp_path):
    folder = tmp_path / "mine"
    assert outcomes(copy_labs(edition, folder, "1")) == {"90_ticks.ipynb": "new", "exercises.py": "new"}
    assert outcomes(copy_labs(edition, folder, "1")) == {"90_ticks.ipynb": "same", "exercises.py": "same"}


def test_work_is_never_overwritten(edition, tmp_path):
    folder = tmp_path / "mine"
    copy_labs(edition, folder, "1")
    mine = folder / "90_ticks" / "90_ticks.ipynb"
    mine.write_text("my work")
    assert outcomes(copy_labs(edition, folder, "1"))["90_ticks.ipynb"] == "same"
    (edition / "90_ticks" / "90_ticks.ipynb").write_text("second edition")
    (edition / "90_ticks" / "exercises.py").write_text("lab = 2")
    second = copy_labs(edition, folder, "2")
    assert outcomes(second) == {"90_ticks.edition-2.ipynb": "beside", "exercises.py": "updated"}
    assert mine.read_text() == "my work"
    assert mine.with_name("90_ticks.edition-2.ipynb").read_text() == "second edition"
    mine.with_name("90_ticks.edition-2.ipynb").write_text("worked on, too")
    again = copy_labs(edition, folder, "2")
    assert mine.with_name("90_ticks.edition-2.ipynb").read_text() == "worked on, too"
    assert sorted(outcomes(again).values()) == ["beside", "same"]


def test_a_folder_made_without_a_record_counts_as_work(edition, tmp_path):
    mine = tmp_path / "mine" / "90_ticks" / "90_ticks.ipynb"
    mine.parent.mkdir(parents=True)
    mine.write_text("from elsewhere")
    copy_labs(edition, tmp_path / "mine", "1")
    assert mine.read_text() == "from elsewhere"


def test_the_command_says_what_it_did(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, ["start", "Übung eins", "--copy-only", "--learner", "ada"])
    assert result.exit_code == 0
    assert "1 lab copied to Übung eins" in result.output
    assert (tmp_path / "Übung eins" / ".tickbench" / "learner").read_text() == "ada\n"
    assert "your labs are in" in CliRunner().invoke(main, ["start", "Übung eins", "--copy-only"]).output


def test_a_folder_that_cannot_be_used(tmp_path):
    (tmp_path / "file").write_text("")
    result = CliRunner().invoke(main, ["start", str(tmp_path / "file" / "below"), "--copy-only"])
    assert result.exit_code == 1
    assert result.output.startswith("Error: the folder")


def test_a_taken_port_is_said(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = CliRunner().invoke(main, ["start", str(tmp_path / "x"), "--no-browser", "--port", str(port)])
    assert result.exit_code == 1
    assert f"port {port} is in use" in result.output


def test_jupyter_answers_and_shows_the_lab(tmp_path):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable,
        "-c",
        "from simkit.cli import main; main()",
        "start",
        "Übung eins",
        "--no-browser",
        "--port",
        str(port),
    ]
    server = subprocess.Popen(
        command,
        cwd=tmp_path,
        env={**os.environ, "JUPYTER_TOKEN": "open"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        page = wait_for(f"http://127.0.0.1:{port}/api/contents/90_ticks/90_ticks.ipynb?token=open")
        assert b"Counting ticks" in page
    finally:
        os.killpg(server.pid, signal.SIGKILL)
        server.wait()


def wait_for(url):
    until = time.monotonic() + 40
    while True:
        try:
            with urllib.request.urlopen(url, timeout=5) as reply:
                return reply.read()
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.3)
