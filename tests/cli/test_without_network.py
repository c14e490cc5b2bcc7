"""No network, and a home that cannot be written: doctor, start, the start page, a check and a build in a folder with spaces and umlauts.

bubblewrap takes the network away (only the loopback address stays) and makes the home read-only.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ALL = """
import json, os, signal, subprocess, sys, time, urllib.request
from pathlib import Path
said = {}
command = [sys.executable, "-c", "from simkit.cli import main; main()"]

def run(*arguments, **options):
    done = subprocess.run([*command, *arguments], capture_output=True, text=True, **options)
    return [done.returncode, done.stdout, done.stderr[-2000:]]

try:
    urllib.request.urlopen("http://192.0.2.1/", timeout=3)
except OSError as error:
    said["network"] = str(error)
try:
    Path.home().joinpath("x").write_text("")
except OSError as error:
    said["home"] = str(error)
said["doctor"] = run("doctor")
server = subprocess.Popen([*command, "start", "mein Kurs", "--no-browser", "--port", "8899"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          text=True, env={**os.environ, "JUPYTER_TOKEN": "open"})

def get(path, data=None, seconds=60):
    end = time.monotonic() + seconds
    while True:
        try:
            with urllib.request.urlopen(urllib.request.Request(f"http://127.0.0.1:8899/{path}?token=open", data)) as reply:
                return json.load(reply)
        except OSError:
            if time.monotonic() > end:
                server.kill()
                raise SystemExit(server.stdout.read()[-4000:])
            time.sleep(0.2)

said["page"] = json.dumps(get("api/contents/start_here.ipynb")["content"])
said["kernel"] = get("api/kernels", json.dumps({"name": "python3"}).encode())["execution_state"]
server.terminate()
said["server"] = server.communicate()[0]
os.environ["TICKBENCH_CACHE"] = str(Path("mein Kurs/.tickbench/home/cache").resolve())
said["check"] = run("check", "90_ticks/90_ticks.ipynb", cwd="mein Kurs")
said["progress"] = run("progress", "mein Kurs")
code = "from blink import Blink; from simkit.build import build; print(build(Blink)); from simkit.check import check; check('90-a', 1.0)"
environment = {**os.environ, "PYTHONPATH": os.pathsep.join([os.getcwd(), os.environ["PYTHONPATH"]])}
done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd="mein Kurs/90_ticks", env=environment)
said["build"] = [done.returncode, done.stdout, done.stderr[-2000:]]
said["noted"] = Path("mein Kurs/.tickbench/progress.jsonl").read_text(encoding="utf-8")
print(json.dumps(said))
"""


@pytest.fixture
def said(tmp_path, labs):
    """What each command said in there."""
    from simkit.build.tools import cache_folder, warm_up
    from tests.cli.test_elsewhere import DESIGN

    if (
        not shutil.which("bwrap")
        or subprocess.run(["bwrap", "--dev-bind", "/", "/", "--unshare-net", "true"], check=False).returncode
    ):
        pytest.skip("bubblewrap cannot take the network away on this machine")
    warm_up()
    home, folder = tmp_path / "home", tmp_path / "Lüfter haus" / "ä b"
    home.mkdir()
    folder.mkdir(parents=True)
    (folder / "blink.py").write_text(DESIGN, encoding="utf-8")
    prepared = folder / "mein Kurs" / ".tickbench" / "home" / "cache"
    prepared.mkdir(parents=True)
    for tools in cache_folder().glob("tools-*"):  # they take a minute to prepare
        (prepared / tools.name).symlink_to(tools, target_is_directory=True)
    settings = {"HOME": str(home), "PYTHONPATH": str(ROOT), "TICKBENCH_LABS": str(labs)}
    command = [
        "bwrap",
        "--dev-bind",
        "/",
        "/",
        "--unshare-net",
        "--unshare-pid",
        "--proc",
        "/proc",
        "--die-with-parent",
    ]
    command += ["--ro-bind", str(home), str(home)]
    command += [part for name, value in settings.items() for part in ("--setenv", name, value)]
    for name in (
        "XDG_DATA_HOME",
        "XDG_CACHE_HOME",
        "TICKBENCH_CACHE",
        "JUPYTER_RUNTIME_DIR",
        "JUPYTER_CONFIG_DIR",
        "JUPYTER_DATA_DIR",
        "IPYTHONDIR",
    ):
        command += ["--unsetenv", name]
    done = subprocess.run(
        [*command, sys.executable, "-c", ALL], cwd=folder, capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stderr[-4000:]
    return json.loads(done.stdout.splitlines()[-1])


def test_everything_a_learner_does(said):
    assert "unreachable" in said["network"] and "Read-only" in said["home"]
    code, text, _ = said["doctor"]
    assert (
        code == 0
        and "cannot be written (Read-only file system)" in text
        and "tickbench start keeps them in the course folder" in text
    )
    assert "1 lab copied to mein Kurs" in said["server"] and "TICKBENCH_CACHE point into mein Kurs" in said["server"]
    assert "Traceback" not in said["server"].split("received signal")[0]
    assert "Counting ticks" in said["page"] and said["kernel"] in ("starting", "idle")
    assert said["check"][0] == 1 and "90-a  Predict a period: 0 of 2 points" in said["check"][1], said["check"]
    assert "90  Counting ticks" in said["progress"][1]
    code, text, trouble = said["build"]
    assert code == 0 and "MHz" in text and "90-a" in text, trouble
    assert '"exercise": "90-a"' in said["noted"] and "could not be saved" not in text
