"""Which cells a grader runs: enough for every answer, and never at the cost of points."""

import dataclasses

import nbformat
import pytest

from instructor.grading.display import SAVED
from instructor.grading.engine import LIMITS, grade_notebook
from instructor.grading.needed import names_of, needed_cells
from instructor.judge import Judges
from instructor.run import PlainRunner
from simkit.check import load_lab
from simkit.check.cells import checked_exercise
from simkit.check.run import Cell
from simkit.check.verdict import MIME
from tests.instructor.conftest import RIGHT


def kept(*sources):
    """The first lines of the cells that are kept."""
    cells = [Cell(i, text, checked_exercise(text)) for i, text in enumerate(sources)]
    return [cell.source.splitlines()[0] for cell in needed_cells(cells)]


@pytest.mark.parametrize(
    ("sources", "left_out"),
    [
        (["a = 1", "plot(a + 1)", "b = a + 1", "check('x', b)"], ["plot(a + 1)"]),
        (["a = [1]", "a.sort()", "check('x', a)"], []),
        (["a = []", "fill(a)", "check('x', a)"], []),
        (["a = {}", "a['k'] = 1", "check('x', a)"], []),
        (["a = P()", "a.k = 1", "check('x', a)"], []),
        (["a = 0", "for i in range(3):\n    a += i", "check('x', a)"], []),
        (["a = 1", "a = 2", "check('x', a)"], ["a = 1"]),
        (["a = 1", "if c: a = 2", "check('x', a)"], []),
        (["a = 1", "a = a + 1", "check('x', a)"], []),
        (["a = 1", "b = 2\na = b", "check('x', a)"], ["a = 1"]),
        (["import m", "def f(): return m.x", "f()", "check('x', f())"], ["f()"]),
        (["a = []", "def f(): a.append(1)", "f()", "check('x', a)"], []),
        (["a = []", "def g(): a.append(1)", "def f(): g()", "f()", "check('x', a)"], []),
        (["class C:\n    n = 3\n    def m(self):\n        self.n = n", "n = 5", "k = C()", "check('x', k)"], []),
        (
            ["class C:\n    def m(self):\n        self.n = 1", "C().m()", "self = 1", "check('x', self)"],
            ["class C:", "C().m()"],
        ),
        (["a = [x for x in y]", "x = 1", "y = 2", "check('z', x)"], ["a = [x for x in y]", "y = 2"]),
        (["a, b = 1, 2", "c = show(b)", "check('x', a)"], ["c = show(b)"]),
        (["with f() as a: pass", "check('x', a)"], []),
        (["if (a := f()): pass", "check('x', a)"], []),
        (["check('x', 1)", "after = 1"], ["after = 1"]),
        (["x = [[]]", "for y in x:\n    y.append(1)", "check('x', x)"], []),
        (["x = [[]]", "[y.append(1) for y in x]", "check('x', x)"], []),
        (["x = []", "y = x", "y.append(1)", "check('x', x)"], []),
        (["class C:\n    def m(self): return n", "k = C()", "n = 5", "check('x', k)"], []),
        (["r = run(1)", "d = {'a': r.a}", "r = run(2)", "check('x', d)"], ["r = run(2)"]),
        (
            ["r = [1]", "@drawn\ndef picture(x):\n    return Figure(x)", "picture({'a': r})", "check('x', r)"],
            ["@drawn", "picture({'a': r})"],
        ),
        (["r = []", "add = r.append", "add(1)", "check('x', r)"], []),
        (["r = []", "add = r.append", "n = add(1)", "check('x', r)"], []),
        (["t = signed(4)", "class C:\n    w = t", "show(C)", "check('x', t)"], ["class C:", "show(C)"]),
        (
            ["def signed(n): return rows", "t = signed(4)", "class C:\n    w = t", "show(C)", "check('x', t)"],
            [],
        ),
        (
            ["for s in 'ab':\n    y = s", "x = []\nfor s in 'cd':\n    y = s\n    x += [y]", "check('x', x)"],
            ["for s in 'ab':"],
        ),
        (["y = 1", "x = []\nfor s in 'cd':\n    x += [y]\n    y = s", "check('x', x)"], []),
        (["y = 1", "if c:\n    y = 2\nelse:\n    y = 3\nx = y", "check('x', x)"], ["y = 1"]),
        (["y = 1", "if c:\n    y = 2\nx = y", "check('x', x)"], []),
        (["y = 1", "for s in z:\n    if s: continue\n    y = 2\nx = y", "check('x', x)"], []),
        (["y = 1", "with a():\n    y = 2\nx = y", "check('x', x)"], []),
        (["r = [1]", "@other\ndef fill(x): pass", "fill({'a': r})", "check('x', r)"], []),
        (["r = [1]", "@drawn\ndef picture(x): pass", "picture(fill(r))", "check('x', r)"], []),
        (["a, b = signed(4), 3", "class C:\n    w = a", "show(C)", "check('x', a)"], ["class C:", "show(C)"]),
        (["a, b = [4], 3", "class C:\n    w = a", "show(C)", "check('x', a)"], []),
        (["a, b = signed(4), [a]", "class C:\n    w = b", "show(C)", "check('x', b)"], []),
        (["a, *b = signed(4), 3", "class C:\n    w = a", "show(C)", "check('x', a)"], []),
        (["import random", "random.seed(1)", "show(1)", "check('x', random.random())"], ["show(1)"]),
        (["import random\nrandom.seed(1)", "import random\nx = random.random()", "check('x', x)"], []),
        (["import random", "def f(): random.seed(2)", "f()", "x = random.random()", "check('x', x)"], []),
        (["import random", "r = random", "r.seed(2)", "x = random.random()", "check('x', x)"], []),
        (["import random", "rng = random.Random(1)", "rng.random()", "x = rng.random()", "check('x', x)"], []),
    ],
)
def test_slices(sources, left_out):
    left = [text.splitlines()[0] for text in sources]
    assert kept(*sources) == [line for line in left if line not in left_out]


@pytest.mark.parametrize(
    "text",
    [
        "%matplotlib inline",
        "exec('a = 1')",
        "globals()['a'] = 1",
        "from m import *",
        "del a",
        "!ls",
        "import os\nos.environ['a'] = 'b'",
        "def f():\n    global a\n    a = 1",
        "a = (",
        "import sys",
        "import random as r",
        "from random import seed",
        "def f():\n    import random\n    random.seed(1)",
        "try:\n    import random\nexcept ImportError: pass",
        "import random, os",
    ],
)
def test_a_cell_that_cannot_be_seen_through_keeps_all(text):
    assert names_of(text).opaque
    assert kept("b = 1", text, "show(b)", "check('x', 1)") == [
        "b = 1",
        text.splitlines()[0],
        "show(b)",
        "check('x', 1)",
    ]


class Counting:
    """A runner that notes how many cells it was given."""

    protects = ""

    def __init__(self, inner):
        self.inner, self.jobs = inner, []

    def run(self, job, judge=None):
        self.jobs.append(len(job.cells))
        return self.inner.run(job, judge)


@pytest.mark.parametrize(
    ("hidden", "score", "runs"),
    [
        ("decoration = 1", 7, 1),  # no answer depends on it
        ("n = type('N', (), {'v': 1})()\nvars_ = [n]\nfor x in vars_: setattr_ = x", 7, 1),
        ("exec('period = mine.ticks * 0.025')", 7, 1),  # cannot be seen through: everything is run at once
    ],
)
def test_points_do_not_depend_on_what_was_left_out(labs, hidden, score, runs):
    folder = labs / "90_ticks"
    release = nbformat.read(str(folder / "90_ticks.ipynb"), as_version=4)
    work = _solved(folder)
    work.cells.insert(5, nbformat.v4.new_code_cell(hidden))
    runner = Counting(PlainRunner())
    with Judges(b"s") as judges:
        graded = grade_notebook(
            load_lab(folder), folder, release, work, "ada", runner, judges, dataclasses.replace(LIMITS)
        )
        assert (graded.score, len(runner.jobs)) == (score, runs)
        # A way to reach a name that no look at the text can find: the quick run fails, the full one counts.
        work.cells[
            5
        ].source = "import functools\nnames = print.__self__.__dict__['glo' 'bals']()\nnames['secret'] = 0.025"
        answer = next(c for c in work.cells if c["id"] == "90-a-answer")
        answer.source = "period = mine.ticks * secret"
        runner.jobs.clear()
        graded = grade_notebook(
            load_lab(folder), folder, release, work, "ada", runner, judges, dataclasses.replace(LIMITS)
        )
        assert (graded.score, len(runner.jobs)) == (7, 2)
        assert runner.jobs[0] < runner.jobs[1]


def test_a_learner_who_saw_more_is_run_in_full(labs):
    """A slice may take a wrong value for the right one; what the learner saw says that there is something to look at."""
    work = _solved(labs / "90_ticks")
    # The text says that secret is 1, but a way around the names makes it 0.025 before the answer is worked out.
    work.cells.insert(5, nbformat.v4.new_code_cell("secret = 1"))
    work.cells.insert(6, nbformat.v4.new_code_cell("print.__self__.__dict__['glo' 'bals']()['secret'] = 0.025"))
    next(c for c in work.cells if c["id"] == "90-a-answer").source = "period = mine.ticks * secret"
    unseen = _counted(labs / "90_ticks", work)
    check = next(c for c in work.cells if c.cell_type == "code" and "check(" in c.source and "90-a" in c.source)
    said = {"id": "90-a", "score": 100.0}  # the learner's to write: more work, no points
    check.outputs = [nbformat.v4.new_output("display_data", data={MIME: said, "text/plain": "1"})]
    seen = _counted(labs / "90_ticks", work)
    assert (unseen, seen) == ((unseen[0], 1), (7, 2)) and unseen[0] < 7


def _solved(folder):
    work = nbformat.read(str(folder / f"{folder.name}.ipynb"), as_version=4)
    for cell in work.cells:
        if cell["id"].endswith("-answer"):
            cell.source = RIGHT[cell["id"].removesuffix("-answer")]
    return work


def _counted(folder, work):
    """The score of a submission, and how often it was run."""
    release = nbformat.read(str(folder / f"{folder.name}.ipynb"), as_version=4)
    runner = Counting(PlainRunner())
    with Judges(b"s") as judges:
        return grade_notebook(load_lab(folder), folder, release, work, "ada", runner, judges).score, len(runner.jobs)


def _with_a_part_by_hand(labs, kind, outputs):
    """A release with a part that a person grades, and a submission of it with a cell for the eyes and its saved outputs."""
    folder = labs / "90_ticks"
    release, work = nbformat.read(str(folder / "90_ticks.ipynb"), as_version=4), _solved(folder)
    mark = {"grade": True, "solution": True, "locked": False, "points": 2, "grade_id": "90-m", "schema_version": 3}
    for notebook, text in ((release, "pass"), (work, "reading = period * 2\nprint('read', reading)")):
        show = nbformat.v4.new_code_cell("print('for the eyes')", id="for-eyes")
        part = (nbformat.v4.new_code_cell if kind == "code" else nbformat.v4.new_markdown_cell)(text, id="90-m")
        part.metadata["nbgrader"] = {**mark, "cell_type": kind}
        notebook.cells += [show, part]
    work.cells[-2].outputs = outputs
    return folder, release, work


def _graded(folder, release, work):
    runner = Counting(PlainRunner())
    with Judges(b"s") as judges:
        graded = grade_notebook(load_lab(folder), folder, release, work, "ada", runner, judges)
    assert graded.score == 7
    return graded.notebook.cells[-2:], runner.jobs


def test_a_text_that_a_person_grades_runs_nothing_and_is_read_beside_the_saved_pictures(labs):
    saved = [
        nbformat.v4.new_output("display_data", data={"image/png": "aGk=", "text/html": "<b>x</b><script>y</script>"}),
        nbformat.from_dict({"output_type": "display_data", "data": {"text/plain": "z" * 600_000}, "metadata": {}}),
        nbformat.from_dict({"output_type": "unheard of", "data": 5}),
    ]
    folder, release, work = _with_a_part_by_hand(labs, "markdown", saved)
    (show, _), jobs = _graded(folder, release, work)
    assert jobs == [_cells_run(folder, _solved(folder))]  # as many cells as without that part
    assert [output.output_type for output in show.outputs] == ["stream", "display_data"]
    assert show.outputs[0].text == SAVED
    assert show.outputs[1].data["image/png"] == "aGk=" and "<script" not in show.outputs[1].data["text/html"]


def test_code_that_a_person_grades_is_run_with_what_it_needs(labs):
    folder, release, work = _with_a_part_by_hand(labs, "code", [])
    (show, part), jobs = _graded(folder, release, work)
    assert jobs == [_cells_run(folder, _solved(folder)) + 1]
    assert show.outputs == [] and part.outputs[0].text.startswith("read ")


def _cells_run(folder, work):
    release, runner = nbformat.read(str(folder / "90_ticks.ipynb"), as_version=4), Counting(PlainRunner())
    with Judges(b"s") as judges:
        grade_notebook(load_lab(folder), folder, release, work, "ada", runner, judges)
    return runner.jobs[0]
