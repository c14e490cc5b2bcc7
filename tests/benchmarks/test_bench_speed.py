"""The benchmark runs and says the same twice; how fast it was is for a quiet machine to tell."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_the_benchmark_reports_as_json():
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.bench_speed", "--seconds", "1", "--memory-seconds", "2", "--json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    result = json.loads(done.stdout)
    assert result["deterministic"] and result["engines_agree"]
    assert result["realtime_factor"] > 0 and result["cpu_factor"] > 0
    assert result["memory_growth_mb"] < 10
