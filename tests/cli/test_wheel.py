"""What is installed works without the checkout, and holds nothing that learners must not have."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheels(tmp_path_factory):
    """The wheels of the kit and of the solutions, by the first word of their name."""
    folder = tmp_path_factory.mktemp("wheels")
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder)]
    for project in (ROOT, ROOT / "solutions"):
        subprocess.run([*command, str(project)], check=True, capture_output=True)
    return {path.name.split("-")[0]: path for path in folder.glob("*.whl")}


def names(wheel):
    return zipfile.ZipFile(wheel).namelist()


def test_the_kit_holds_the_labs_and_no_solutions(wheels):
    inside = names(wheels["tickbench"])
    labs = {p.parent.name for p in (ROOT / "labs").glob("*/exercises.py")}
    assert {Path(n).parts[2] for n in inside if n.startswith("simkit/_labs/") and n.endswith("exercises.py")} == labs
    assert not [n for n in inside if "wrong_answers" in n or n.endswith("lab.md") or "solutions" in n]
    assert any(n.endswith("licenses/LICENSE") for n in inside)
    assert any(n.endswith("licenses/LICENSE-LABS") for n in inside)


def test_the_solutions_are_a_distribution_of_their_own(wheels):
    inside = names(wheels["tickbench_solutions"])
    for source in (ROOT / "solutions").glob("*/lab.md"):
        assert f"tickbench_solutions/{source.parent.name}/lab.md" in inside
    assert "tickbench_solutions/pyproject.toml" not in inside


def test_an_installed_kit_runs_away_from_the_checkout(wheels, tmp_path):
    home = tmp_path / "env"
    venv.create(home, with_pip=False, symlinks=True)
    site = next((home / "lib").glob("python3*")) / "site-packages"
    with zipfile.ZipFile(wheels["tickbench"]) as wheel:
        wheel.extractall(site)
    # The dependencies are this environment's; its own editable copy of the kit is not found over a .pth file.
    dependencies = next(p for p in sys.path if p.endswith("site-packages"))
    (site / "dependencies.pth").write_text(dependencies)
    environment = {
        k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "TICKBENCH_LABS", "TICKBENCH_SOLUTIONS")
    }
    python = home / "bin" / "python"
    where = subprocess.run(
        [python, "-c", "import simkit; print(simkit.__file__)"],
        cwd=tmp_path,
        env=environment,
        text=True,
        capture_output=True,
        check=True,
    ).stdout
    assert where.startswith(str(home))
    run = subprocess.run(
        [python, "-c", "from simkit.cli import main; main()", "start", "mine", "--copy-only"],
        cwd=tmp_path,
        env=environment,
        text=True,
        capture_output=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    labs = {p.parent.name for p in (ROOT / "labs").glob("*/exercises.py")}
    assert {p.parent.name for p in (tmp_path / "mine").glob("*/exercises.py")} == labs
