"""Netlists that are not what they should be, sent to the judge's process as answers: it lives, within its limits, and judges on."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import psutil
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simkit.check import Answer, collect, load_lab
from simkit.check.run import JudgeProcess, JudgeTask

SOURCE = Path(__file__).parents[1] / "check" / "course" / "solutions" / "90_ticks"
MEMORY = 1536 * 1024**2
PLAIN = """
from simkit import *
class Blinker(Design):
    lamp = DigitalOut('lamp')
    on = Reg(bit)
    @sequenced(every={ticks})
    def blink(self):
        self.on = not self.on
        self.lamp = self.on
"""


def _netlist():
    """The text of a right answer of ada's."""
    lab = load_lab(SOURCE)
    names: dict = {}
    text = PLAIN.format(ticks=lab["90-c"].own("ada").ticks)
    path = Path(__file__).with_name("_fuzzed_design.py")
    import linecache

    linecache.cache[str(path)] = (len(text), None, text.splitlines(True), str(path))
    exec(compile(text, str(path), "exec"), names)
    given_answer = collect(lab["90-c"], names["Blinker"])
    assert given_answer.status == "given", given_answer.message
    return lab["90-c"], given_answer.data


EXERCISE, TEXT = _netlist()
TREE = json.loads(TEXT)


def _places(node, path=()):
    yield path
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in items:
        yield from _places(value, (*path, key))


PLACES = [path for path in _places(TREE) if path]
LEAVES = (
    st.sampled_from(
        [None, True, -1, 0, 1, 2, 31, 63, 64, 65, 256, 257, 2**31, 2**32, 2**63, 2**64, 10**30, -(2**63), 1.5, 1e308]
    )
    | st.sampled_from(
        ["", "x", "add", "mul", "shl", "div", "input", "reg", "lamp", "unsigned(9999999)", "sfixed(0,-5)"]
    )
    | st.sampled_from([[], {}, [[]], [0] * 50, {"a": 1}])
    | st.integers(-5, 40)
)


@st.composite
def mutants(draw):
    """The netlist with one to four places changed, left out, doubled or moved."""
    tree = copy.deepcopy(TREE)
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(PLACES))
        parent = tree
        try:
            for key in path[:-1]:
                parent = parent[key]
            value = parent[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue
        how = draw(st.sampled_from(["set", "set", "set", "drop", "double", "swap", "grow"]))
        if how == "drop" and isinstance(parent, (dict, list)):
            del parent[path[-1]]
        elif how == "double" and isinstance(parent, list):
            parent.append(copy.deepcopy(value))
        elif how == "grow" and isinstance(value, list) and value:
            parent[path[-1]] = value * draw(st.sampled_from([2, 50, 5000]))
        elif how == "swap" and isinstance(parent, list):
            parent.insert(0, parent.pop())
        else:
            parent[path[-1]] = draw(LEAVES)
    return json.dumps(tree)


@pytest.fixture(scope="module")
def judge():
    with JudgeProcess(seconds=15.0, memory=MEMORY) as process:
        yield process


def _judged(judge, data):
    return judge.judge(JudgeTask(SOURCE, EXERCISE, Answer("90-c", "given", data), "ada", 7))


def test_the_right_answer_passes(judge):
    assert _judged(judge, TEXT).passed


def _peak(judge):
    assert judge._process is not None
    status = Path(f"/proc/{judge._process.pid}/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) * 1024


@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutants())
def test_a_changed_netlist_is_judged_or_refused_by_the_same_process(judge, data):
    """No KitFault, no dead judge, no more memory than it may have."""
    _judged(judge, TEXT)
    before = judge._process.pid
    verdict = _judged(judge, data)
    assert 0 <= verdict.score <= verdict.max_score
    if judge._process is None:  # only a budget that ran out may cost the process
        assert "took longer" in verdict.message
        return
    assert judge._process.pid == before and psutil.pid_exists(before)
    assert _peak(judge) < MEMORY


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, len(TEXT) - 1), st.binary(min_size=0, max_size=8), st.integers(0, 40))
def test_damaged_text_is_refused_or_judged(judge, at, new, cut):
    data = TEXT[:at] + new.decode("latin-1") + TEXT[at + cut :]
    assert _judged(judge, data) is not None
    assert judge._process is not None


def test_nothing_is_written_and_files_stay_shut(judge, tmp_path):
    """The judge's process may write no file at all, whatever it is made to do (RLIMIT_FSIZE 0)."""
    import resource

    _judged(judge, TEXT)
    limits = psutil.Process(judge._process.pid)
    assert limits.rlimit(resource.RLIMIT_FSIZE)[0] == 0
    assert limits.rlimit(resource.RLIMIT_DATA)[0] == MEMORY
