"""``tickbench doctor``: says what is wrong, and how to mend it."""

import errno
import importlib.metadata
import os
import socket
import subprocess
import sys

import pytest
from click.testing import CliRunner

from simkit.cli import computer, home, main
from simkit.cli.computer import findings


def said(*options):
    return CliRunner().invoke(main, ["doctor", *options])


def faults():
    return [found for found in findings() if found.needed and not found.fine]


def test_this_computer_can_run_the_labs():
    assert faults() == []
    done = said()
    assert done.exit_code == 0 and "ok       Python 3" in done.output and "MISSING" not in done.output


def test_a_missing_package_and_its_fix(monkeypatch):
    # What the build tools ask once is kept, and decides whether they are prepared anew: so the other versions are the true ones.
    true = importlib.metadata.version

    def version(name):
        if name == "llvmlite":
            raise importlib.metadata.PackageNotFoundError(name)
        return true(name)

    monkeypatch.setattr(importlib.metadata, "version", version)
    done = said()
    assert done.exit_code == 1
    assert "MISSING  llvmlite" in done.output and "-m pip install llvmlite" in done.output


def test_no_port(monkeypatch):
    def bind(self, address):
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(computer.socket, "socket", type("Shut", (socket.socket,), {"bind": bind}))
    assert [("Permission denied" in found.text, "firewall" in found.fix) for found in faults()] == [(True, True)]


def test_a_full_disk(monkeypatch):
    monkeypatch.setattr(
        computer.shutil, "disk_usage", lambda path: computer.shutil._ntuple_diskusage(10**9, 10**9, 10**6)
    )
    assert faults() and all("make room" in found.fix for found in faults())


def test_a_folder_that_cannot_be_written(monkeypatch, tmp_path):
    """As on a read-only home: root may write everywhere, so the refusal is the operating system's own words."""

    def refuse(dir):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(home.tempfile, "NamedTemporaryFile", refuse)
    found = {one.fix for one in findings() if not one.fine and "course folder instead" in one.fix}
    assert any("TICKBENCH_CACHE" in fix for fix in found) and any("JUPYTER_RUNTIME_DIR" in fix for fix in found)
    assert [one.text.split(":")[0] for one in faults()] == ["the present folder"]


def test_no_browser(monkeypatch):
    import webbrowser

    def nothing(using=None):
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(webbrowser, "get", nothing)
    done = said()
    assert done.exit_code == 0 and "tickbench start --no-browser prints an address" in done.output


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="as root nothing else refuses")
def test_labs_work_with_a_home_that_cannot_be_written(tmp_path):
    """A check with a home that is no folder at all: nothing can be made in it, not even by root."""
    home = tmp_path / "home"
    home.write_text("not a folder")
    folder = tmp_path / "mein Kurs für Äpfel"
    environment = {
        **os.environ,
        "HOME": str(home),
        "TICKBENCH_CACHE": str(tmp_path / "cache"),
        "IPYTHONDIR": str(tmp_path / "i"),
    }
    environment.pop("XDG_DATA_HOME", None)
    made = subprocess.run(
        [sys.executable, "-c", "from simkit.cli import main; main()", "start", str(folder), "--copy-only"],
        env=environment,
        capture_output=True,
        text=True,
    )
    assert made.returncode == 0, made.stderr
    code = "from simkit.check import check; print(check('90-a', 1.0).status)"
    checked = subprocess.run(
        [sys.executable, "-c", code], env=environment, cwd=folder / "90_ticks", capture_output=True, text=True
    )
    assert checked.stdout.strip().endswith("judged"), checked.stderr
    assert (folder / ".tickbench" / "progress.jsonl").is_file() and "could not be saved" not in checked.stdout
    alone = subprocess.run(  # outside of a course folder the progress would go to the home
        [sys.executable, "-c", code],
        env=environment,
        cwd=_copy(folder / "90_ticks", tmp_path / "alone"),
        capture_output=True,
        text=True,
    )
    assert "could not be saved" in alone.stdout and alone.stdout.strip().endswith("judged"), alone.stderr


def _copy(source, target):
    target.mkdir()
    (target / "exercises.py").write_bytes((source / "exercises.py").read_bytes())
    return target
