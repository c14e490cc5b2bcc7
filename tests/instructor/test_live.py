"""Answers that are code, judged over the line into each sandbox: right ones count, and a bad one costs its own points only."""

from __future__ import annotations

import os
import secrets
import shutil
import textwrap
import time
from pathlib import Path

import pytest

from instructor.judge import Judges
from instructor.run import BubblewrapRunner, LandlockRunner, PlainRunner, ZygoteRunner
from simkit.check import load_lab
from simkit.check.collected import answers_of, live_of
from simkit.check.draw import private_seed
from simkit.check.run import Cell, Job, Limits

SOURCE = Path(__file__).parents[1] / "check" / "live_lab.py"
LIMITS = Limits(cell_seconds=20.0, seconds=90.0, reply_seconds=2.5, live_seconds=6.0, restarts=2)
SECRET = b"secret"

RIGHT = {
    "91-a": """
        def watch(host, limit):
            host.limit = limit
            host.alarm.wait()
            host.alarm.acknowledge()
            return host.count
        check("91-a", watch)""",
    "91-b": """
        def level(samples):
            return float(np.sqrt(np.mean(samples ** 2)))
        check("91-b", level)""",
    "91-c": """
        from exercises import Counter
        def count(host):
            host.wait(ms(1))
            return host.count
        check("91-c", {"design": Counter, "program": count})""",
}
START = """
    import os, sys, time, signal, json
    import numpy as np
    from simkit.check import check
    from simkit.units import ms
"""


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    folder = tmp_path_factory.mktemp("live") / "91_live"
    folder.mkdir()
    os.chmod(folder.parent, 0o755)
    shutil.copy(SOURCE, folder / "exercises.py")
    return folder


RUNNERS = [ZygoteRunner, BubblewrapRunner, LandlockRunner, PlainRunner]
fastest = pytest.mark.parametrize("runner", RUNNERS[:1], indirect=True, ids=lambda kind: kind.__name__)
"""For what happens between the judge and the copy of the process, which is the same code in every sandbox."""


@pytest.fixture(scope="module", params=RUNNERS, ids=lambda kind: kind.__name__)
def runner(request):
    made = request.param()
    why = made.missing()
    if why:
        made.close()
        pytest.skip(why)
    yield made
    made.close()


@pytest.fixture(scope="module")
def judges():
    with Judges(SECRET) as made:
        yield made


@pytest.fixture
def grade(lab, runner, judges):
    """``grade(cells)``: verdicts by exercise, and the run's result."""

    def run(*sources, **answers):
        code = {**RIGHT, **{name.replace("_", "-")[1:]: text for name, text in answers.items()}}
        texts = [START, *code.values(), *sources]
        cells = [Cell(i, textwrap.dedent(text), _exercise(text)) for i, text in enumerate(texts)]
        loaded = load_lab(lab)
        call = judges.calling(loaded, lab, "ada", "ada")
        result = runner.run(Job(cells, str(lab), "ada", LIMITS, show=False), call)
        found = judges.judge(loaded, lab, answers_of(loaded, cells, result), "ada", "ada", live_of(cells, result))
        return found, result

    return run


def _exercise(text):
    return text.split('check("')[1].split('"')[0] if 'check("' in text else ""


def scores(verdicts):
    return [verdict.score for verdict in verdicts.values()]


def test_right_answers_get_full_marks(grade):
    verdicts, _ = grade()
    assert scores(verdicts) == [2, 2, 1], [v.text() for v in verdicts.values()]


BAD = {
    "ends its process": ("os._exit(0)", "ended its process"),
    "is killed": ("os.kill(os.getpid(), signal.SIGKILL)", "ended its process"),
    "stalls": ("while True: pass", "took longer than"),
    "sleeps through signals": (
        "signal.pthread_sigmask(signal.SIG_BLOCK, range(1, 65)); time.sleep(1000)",
        "took longer than",
    ),
    "gives too much": ("return 'x' * (1 << 27)", ""),
    "floods": (
        "import gc, socket\n            while True: [o.send(b'x' * 65536) for o in gc.get_objects() if isinstance(o, socket.socket)]",
        "",
    ),
    "says nonsense": (
        "import gc, socket\n            [o.send(b'}{\\n[1]\\n5\\n') for o in gc.get_objects() if isinstance(o, socket.socket)]\n            os._exit(0)",
        "",
    ),
}
"""What a program does to its process or to the line, and what is said of it: each sandbox has its own way to end that."""

MISTAKEN = {
    "raises": ("raise ValueError('no')", "raised ValueError"),
    "recurs without end": ("return watch(host, limit)", "raised RecursionError"),
    "gives no value": ("return object()", "gave something else than"),
    "exits": ("sys.exit(0)", "ended itself"),
    "uses up its simulated time": ("host.wait(ms(1000000))", "used up its time"),
    "asks without end": ("while True: host.count", "stopped"),
}
"""What is told over the line as a right answer is, whichever sandbox it comes from."""


@pytest.mark.parametrize("name", BAD)
def test_a_bad_program_costs_only_its_own_points(grade, name):
    judged_alone(grade, *BAD[name])


@fastest
@pytest.mark.parametrize("name", MISTAKEN)
def test_a_mistaken_program_costs_only_its_own_points(grade, name):
    judged_alone(grade, *MISTAKEN[name])


def judged_alone(grade, body, said):
    verdicts, _ = grade(
        _91_a=f"""
        def watch(host, limit):
            {body}
        check("91-a", watch)"""
    )
    assert scores(verdicts) == [0, 2, 1], [v.text() for v in verdicts.values()]
    assert said in verdicts["91-a"].message


@fastest
def test_what_was_judged_before_the_end_counts(grade):
    verdicts, _ = grade(
        _91_b="""
        def level(samples):
            if samples.any(): os._exit(0)
            return 0.0
        check("91-b", level)"""
    )
    assert scores(verdicts) == [2, 1, 1]


@fastest
def test_the_function_is_called_as_it_was_when_checked(grade):
    verdicts, _ = grade("level = watch = None; np = None; os = None")
    assert scores(verdicts) == [2, 2, 1]


def test_a_cell_that_dies_after_the_check_leaves_the_program(grade):
    verdicts, result = grade("os._exit(1)")
    assert scores(verdicts) == [2, 2, 1] and any("ended the whole program" in note for note in result.notes)


@fastest
def test_the_last_check_counts(grade):
    verdicts, _ = grade('check("91-b", lambda samples: 0.0)')
    assert scores(verdicts) == [2, 1, 1]


def test_private_inputs_reach_no_output(grade, lab):
    """Neither by what is printed, nor by what later cells find, nor by what an exception says."""
    import numpy as np

    seen = f"seen-{secrets.token_hex(8)}"  # a name of its own: without a sandbox the file stays in /tmp
    first = f"{np.random.default_rng(private_seed(SECRET, 'ada', '91-b')).normal(size=256)[0]:.6f}"
    verdicts, result = grade(
        f"""
        for place in ("/tmp", "."):
            try: print(open(place + "/{seen}").read())
            except OSError: pass
        print(SEEN)""",
        _91_b="""
        SEEN = []
        def level(samples):
            text = " ".join(f"{x:.6f}" for x in samples)
            SEEN.append(text)
            print(text)
            for place in ("/tmp", "."):
                try: open(place + "/NAME", "a").write(text)
                except OSError: pass
            if samples.any(): raise KeyError(text)
            return 0.0
        check("91-b", level)""".replace("NAME", seen),
    )
    Path("/tmp", seen).unlink(missing_ok=True)
    told = str(result.outputs) + str([v.as_plain() for v in verdicts.values()]) + str(result.notes)
    assert verdicts["91-b"].score == 1 and first not in told


def test_a_copy_outlives_nobody(grade):
    grade(
        _91_a="""
        def watch(host, limit):
            import subprocess
            subprocess.Popen(["sleep", "86398.25"])
            while True: pass
        check("91-a", watch)"""
    )
    until = time.monotonic() + 3
    while _running("86398.25"):
        assert time.monotonic() < until, "it lives on"
        time.sleep(0.02)


def _running(word):
    found = []
    for entry in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = entry.read_bytes().decode("utf-8", "replace").split("\0")
        except OSError:
            continue
        found += [words] if word in words else []
    return found


def test_a_judge_that_says_nothing_in_time_is_replaced(lab, judges):
    """The bench's own time is limited, too."""
    from instructor.judge import Judges as Fresh
    from simkit.check import collect

    loaded = load_lab(lab)
    with Fresh(SECRET, seconds=1.0) as slow:
        given = collect(loaded["91-a"], lambda host, limit: time.sleep(1.5))
        verdict = slow.calling(loaded, lab, "ada", "ada")(given, None)
        assert verdict.score == 0 and "took longer than 1 s" in verdict.message
        slow._process.seconds = 60.0
        right = collect(loaded["91-b"], lambda samples: (samples**2).mean() ** 0.5)
        assert slow.calling(loaded, lab, "ada", "ada")(right, None).passed
