"""``tickbench check`` on good, unfinished and damaged notebooks."""

import json

import pytest
from click.testing import CliRunner

from simkit.cli import main
from tests.cli.conftest import RIGHT, SOLUTIONS


def run(*arguments):
    result = CliRunner().invoke(main, ["check", *map(str, arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def report(*arguments):
    result = run(*arguments, "--json")
    return json.loads(result.stdout)["notebooks"], result.exit_code


def scores(found):
    return {exercise["id"]: exercise["score"] for exercise in found["exercises"]}


def test_the_json_is_as_documented(learner_notebook):
    path = learner_notebook(RIGHT)
    (found,), code = report(path)
    assert list(found) == ["path", "score", "max_score", "error", "exercises"]
    assert (found["path"], found["score"], found["max_score"], found["error"]) == (str(path), 4, 7, None)
    assert list(found["exercises"][0]) == ["id", "score", "max_score", "criteria"]
    assert list(found["exercises"][0]["criteria"][0]) == ["name", "passed", "measured", "wanted", "unit", "hint"]
    assert code == 1


def test_the_empty_lab_scores_nothing_and_says_what_to_do(labs):
    path = labs / "90_ticks" / "90_ticks.ipynb"
    (found,), code = report(path)
    assert (found["score"], code, found["error"]) == (0, 1, None)
    assert all(c["hint"].startswith("still to do") for e in found["exercises"] for c in e["criteria"])
    assert run(path).output.count("still to do") == 3


def test_the_text_form(monkeypatch):
    (found,), _ = report(SOLUTIONS / "90_ticks" / "lab.md")
    assert scores(found)["90-a"] == 2
    assert scores(found)["90-b"] == 2


def test_another_learners_numbers(learner_notebook):
    path = learner_notebook({"90-a": "period = 1.0"})
    (found,), _ = report(path, "--learner", "someone")
    assert found["error"] is None
    assert found["exercises"][0]["criteria"][0]["hint"].startswith("How long is one tick")


def break_json(path):
    path.write_text(path.read_text()[:2000])


def insert(notebook, before, code):
    import nbformat

    index = next(i for i, c in enumerate(notebook.cells) if c["id"] == before)
    notebook.cells.insert(index, nbformat.v4.new_code_cell(code))


DAMAGES = {
    "endless loop": ("while True: pass", {"90-a": 2, "90-b": 2}, "took longer than 2 s and was stopped"),
    "endless loop that catches everything": (
        "while True:\n  try:\n    while True: pass\n  except BaseException: pass",
        {"90-a": 2, "90-b": 2},
        "stopped",
    ),
    "raises": ("raise RuntimeError('mine')", {"90-a": 2, "90-b": 2}, None),
    "prints 50 MB": ("print('x' * 50_000_000)", {"90-a": 2, "90-b": 2}, "printed too much: the rest was dropped"),
    "shows 50 MB": (
        "from IPython.display import HTML\nHTML('x' * 50_000_000)",
        {"90-a": 2, "90-b": 2},
        None,  # a check shows no displays, so a large one is never made
    ),
    "leaves": ("import os; os._exit(0)", {"90-a": 2, "90-b": 2}, "ended the whole program"),
    "crashes": ("import ctypes; ctypes.string_at(0)", {"90-a": 2, "90-b": 2}, "ended the whole program"),
    "writes to the real stderr": ("import os; os.write(2, b'x' * 1000)", {"90-a": 2, "90-b": 2}, None),
    "asks": ("input('?')", {"90-a": 2, "90-b": 2}, None),
    "exits": ("import sys; sys.exit(3)", {"90-a": 2, "90-b": 2}, None),
    "closes every descriptor": ("import os; os.closerange(3, 1000)", None, ""),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_bad_cell_costs_only_itself(learner_notebook, damage):
    code, wanted, words = DAMAGES[damage]
    path = learner_notebook(RIGHT, lambda notebook: insert(notebook, "90-a-answer", code))
    (found,), _ = report(path, "--cell-seconds", 2)
    if wanted is not None:
        assert {key: scores(found)[key] for key in wanted} == wanted
        assert found["error"] is None if words is None else words in found["error"]
        assert "\n" not in (found["error"] or "")


def test_a_failing_answer_costs_its_own_points(learner_notebook):
    path = learner_notebook({**RIGHT, "90-a": "period = 1 / 0"})
    (found,), _ = report(path)
    assert scores(found) == {"90-a": 0, "90-b": 2, "90-c": 0}
    assert "ZeroDivisionError" in found["exercises"][0]["criteria"][0]["hint"]


def test_a_deleted_check_is_restored_and_said(learner_notebook):
    def delete(notebook):
        notebook.cells = [c for c in notebook.cells if c["id"] != "90-b"]

    (found,), _ = report(learner_notebook(RIGHT, delete))
    assert scores(found)["90-b"] == 2
    assert found["error"] == "the cell 90-b is missing: restored"


def test_a_damaged_file_does_not_stop_the_others(learner_notebook, tmp_path):
    good, bad, empty = (
        learner_notebook(RIGHT),
        learner_notebook(RIGHT, folder="bad"),
        learner_notebook(RIGHT, folder="empty"),
    )
    break_json(bad)
    empty.write_bytes(b"")
    found, code = report(bad, tmp_path / "nothing.ipynb", empty, good)
    assert [entry["score"] for entry in found] == [0, 0, 0, 4]
    assert "the JSON text is damaged" in found[0]["error"]
    assert "no such file" in found[1]["error"]
    assert all("\n" not in (entry["error"] or "") for entry in found)
    assert code == 3
    good.write_bytes("{}".encode("utf-16"))
    assert "not UTF-8" in report(good)[0][0]["error"]


def test_a_notebook_of_no_lab(tmp_path):
    path = tmp_path / "other.ipynb"
    path.write_text("{}")
    found, code = report(path)
    assert "no lab fits" in found[0]["error"]
    assert code == 3


FORGED = """
import json, os
event = {"event": "answer", "cell": 5, "exercise": "90-b", "status": "given", "message": ""}
event["data"] = {"choice": "B", "ticks": 1}
for fd in range(3, 40):
    try:
        os.write(fd, json.dumps(event).encode() + b"\\n")
    except OSError:
        pass
period = mine.ticks * 0.025
"""


def test_forged_answers_for_other_exercises_do_not_count(learner_notebook):
    path = learner_notebook({"90-a": FORGED})
    (found,), _ = report(path)
    assert scores(found) == {"90-a": 2, "90-b": 0, "90-c": 0}


def test_help_has_an_example_and_is_quick():
    import subprocess
    import sys

    for command in ([], ["check"], ["start"], ["author"], ["author", "build"]):
        result = CliRunner().invoke(main, [*command, "--help"])
        assert result.exit_code == 0
        assert "Example:" in result.output
    modules = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys\nfrom simkit.cli import main\n"
            "try: main(['--help'])\nexcept SystemExit: pass\n"
            "print([m for m in ('numpy', 'nbformat', 'IPython', 'nbgrader') if m in sys.modules])",
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert modules.splitlines()[-1] == "[]"
