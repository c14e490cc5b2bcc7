"""Grading on a Dask cluster: a real scheduler, two workers as processes, one of them killed on the way."""

import os
import signal
import threading
import time

import pytest

from tests.instructor.conftest import CLASS, SCORES
from tests.instructor.test_two_doors import grade, scores

distributed = pytest.importorskip("distributed")


@pytest.fixture
def cluster():
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        yield made


def test_a_killed_worker_loses_nothing(course, hand_in, cluster):
    wanted = {}
    for number in range(3):
        for learner, answers in CLASS.items():
            hand_in(f"{learner}{number}", answers)
            wanted[f"{learner}{number}"] = SCORES[learner]
    victim = next(iter(cluster.workers.values())).pid

    def kill_when_at_work():
        until = time.monotonic() + 120
        while time.monotonic() < until and not list((course / "autograded").glob("*/90_ticks/*.ipynb")):
            time.sleep(0.05)
        os.kill(victim, signal.SIGKILL)

    killer = threading.Thread(target=kill_when_at_work)
    killer.start()
    found = grade(course, "--scheduler", cluster.scheduler_address)
    killer.join()
    assert all(entry["graded"] for entry in found.values()), found
    assert scores(course) == wanted


def test_no_scheduler(course, hand_in):
    from click.testing import CliRunner

    from simkit.cli import main

    hand_in("ada", {})
    result = CliRunner().invoke(main, ["grade", str(course), "--scheduler", "not-an-address"])
    assert result.exit_code == 3
    assert "no Dask scheduler answers at not-an-address" in result.output
