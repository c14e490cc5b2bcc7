"""The guide's fan-house notebook runs and shows what its text says."""

import importlib.util
import sys
from pathlib import Path

import jupytext
import pytest

GUIDE = Path(__file__).parents[2] / "instructor" / "guide" / "fan_house.md"


def test_the_demonstration_shows_what_it_says(tmp_path, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "Agg")
    cells = jupytext.read(GUIDE).cells
    path = tmp_path / "fan_house_cells.py"
    path.write_text("\n\n".join(cell.source for cell in cells if cell.cell_type == "code"), encoding="utf-8")
    spec = importlib.util.spec_from_file_location("fan_house_cells", path)
    shown = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "fan_house_cells", shown)
    spec.loader.exec_module(shown)
    assert shown.lag == pytest.approx(90, abs=4)
    assert shown.residual < shown.permitted
    assert shown.broken == 2**23 - 1 and shown.mended < 2**22
    assert shown.lost == shown.gap > 0
