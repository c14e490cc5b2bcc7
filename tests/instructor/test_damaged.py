"""Submissions that came to harm: each graded as far as it can be, with a line that says what was done."""

import json
import os

import nbformat
import pytest

from tests.instructor.conftest import RIGHT
from tests.instructor.test_two_doors import grade, pytestmark, scores  # noqa: F401


def cell(notebook, name):
    return next(c for c in notebook.cells if c["id"] == name)


def without(name):
    def change(notebook):
        notebook.cells = [c for c in notebook.cells if c["id"] != name]

    return change


def doubled(name):
    def change(notebook):
        notebook.cells.append(nbformat.from_dict(cell(notebook, name)))

    return change


def split(notebook):
    first = cell(notebook, "90-c-answer")
    head, tail = first.source.split("class Blinker")
    second = nbformat.from_dict({**first, "id": "other"})
    first.source, second.source = head, "class Blinker" + tail
    notebook.cells.insert(notebook.cells.index(first) + 1, second)


def retyped(notebook):
    answer = cell(notebook, "90-a-answer")
    answer["cell_type"] = "markdown"
    for field in ("outputs", "execution_count"):
        answer.pop(field)


def no_metadata(notebook):
    for c in notebook.cells:
        c.metadata = {}


def no_ids(notebook):
    for c in notebook.cells:
        c["id"] = "x" + c["id"][::-1].replace("-", "")


def edited_check(notebook):
    cell(notebook, "90-b").source = "2.0"


def cheating_metadata(notebook):
    cell(notebook, "90-b").metadata.nbgrader.update(points=200, grade=False, solution=True, locked=False)


def reordered(notebook):
    notebook.cells.append(notebook.cells.pop(notebook.cells.index(cell(notebook, "90-a"))))


def odd_metadata(notebook):
    cell(notebook, "90-a").metadata["nbgrader"] = ["not", "a", "dict"]


DAMAGE = {
    "check deleted": (without("90-b"), "the cell 90-b is missing: restored"),
    "check doubled": (doubled("90-b"), "the cell 90-b is there 2 times"),
    "answer doubled": (doubled("90-a-answer"), "the cell 90-a-answer is there 2 times"),
    "answer split": (split, "the cell 90-c-answer is there 2 times: put together"),
    "answer retyped": (retyped, "turned into markdown: read as code"),
    "metadata gone": (no_metadata, ""),
    "ids gone": (no_ids, ""),
    "check edited": (edited_check, "the locked cell 90-b was edited: restored"),
    "metadata edited": (cheating_metadata, ""),
    "cells reordered": (reordered, ""),
    "odd metadata": (odd_metadata, ""),
    "import cell deleted": (lambda nb: nb.cells.pop(1), "a code cell of the lab is missing: restored"),
}


def test_damaged_notebooks_lose_nothing(course, hand_in):
    for number, (change, _) in enumerate(DAMAGE.values()):
        hand_in(f"learner{number:02}", RIGHT, change)
    found = grade(course)
    for number, (name, (_, words)) in enumerate(DAMAGE.items()):
        entry = found[f"learner{number:02}"]
        assert (entry["score"], name) == (7, name)
        assert words in (entry["error"] or "")
        assert "\n" not in (entry["error"] or "")


def test_points_come_from_the_release(course, hand_in):
    hand_in("ada", {**RIGHT, "90-b": "choice = None"}, cheating_metadata)
    grade(course)
    assert scores(course) == {"ada": [2, 0, 3]}


def test_other_names_are_found(course, hand_in):
    hand_in("ada", RIGHT, name="90_ticks (1).ipynb")
    hand_in("bob", RIGHT, name="solution.IPYNB")
    found = grade(course)
    assert [entry["score"] for entry in found.values()] == [7, 7]
    assert "90_ticks (1).ipynb was taken for 90_ticks.ipynb" in found["ada"]["error"]


def test_what_cannot_be_read_scores_nothing_and_stops_nobody(course, hand_in):
    texts = {
        "cut": lambda p: p.write_text(p.read_text()[:1500]),
        "empty": lambda p: p.write_text(""),
        "list": lambda p: p.write_text("[]"),
        "utf16": lambda p: p.write_bytes(p.read_text().encode("utf-16")),
        "deep": lambda p: p.write_text("[" * 100_000),
        "gone": lambda p: p.unlink(),
    }
    for learner, damage in texts.items():
        damage(hand_in(learner, RIGHT))
    hand_in("zoe", RIGHT)
    found = grade(course)
    assert {name: entry["score"] for name, entry in found.items()} == {**dict.fromkeys(texts, 0), "zoe": 7}
    assert all("no notebook that can be read" in found[name]["error"] for name in texts)
    assert all("\n" not in found[name]["error"] for name in texts)
    assert scores(course) == {**dict.fromkeys(texts, [0, 0, 0]), "zoe": [2, 2, 3]}


def test_a_byte_order_mark_does_no_harm(course, hand_in):
    path = hand_in("ada", RIGHT)
    path.write_text(path.read_text(), encoding="utf-8-sig")
    assert grade(course)["ada"]["score"] == 7


def test_links_and_devices_are_refused(course, hand_in, tmp_path):
    path = hand_in("ada", RIGHT)
    secret = tmp_path / "secret.txt"
    secret.write_text("private")
    (path.parent / "link.txt").symlink_to(secret)
    (path.parent / "folder").symlink_to(tmp_path)
    os.mkfifo(path.parent / "pipe")
    (course / "submitted" / "zoe").symlink_to(course / "submitted" / "ada")
    found = grade(course)
    assert set(found) == {"ada"}
    assert found["ada"]["score"] == 7
    for words in ("link.txt: a link", "folder: a link", "pipe: not a regular file"):
        assert words in found["ada"]["error"]
    kept = [p.read_bytes() for p in (course / ".tickbench" / "attempts" / "files").rglob("*") if p.is_file()]
    assert b"private" not in kept


def test_another_labs_notebook(course, hand_in):
    def other(notebook):
        notebook.cells = [nbformat.v4.new_code_cell("1 + 1")]

    hand_in("ada", {}, other)
    found = grade(course)
    assert found["ada"]["score"] == 0
    assert "holds none of this lab's graded cells" in found["ada"]["error"]


# Binds a name that later cells use, so that the cell is run although no answer seems to need it.
NEEDED = "parameters = parameters\n"
BAD_CELLS = {
    "loop": ("import time\nwhile True: time.sleep(1)", "took longer than"),
    "noise": ("print('x' * 50_000_000)", "printed too much"),
    "exit": ("import os; os._exit(1)", "ended the whole program"),
    "memory": ("x = bytearray(50 * 1024**3)", ""),
    "raises": ("1 / 0", ""),
}


@pytest.fixture
def short_limits(monkeypatch):
    import dataclasses

    from instructor.grading import hands

    monkeypatch.setattr(hands, "LIMITS", dataclasses.replace(hands.LIMITS, cell_seconds=6.0))


def test_bad_cells_cost_only_themselves(course, hand_in, short_limits):
    for name, (code, _) in BAD_CELLS.items():
        hand_in(name, RIGHT, lambda nb, code=code: nb.cells.insert(2, nbformat.v4.new_code_cell(NEEDED + code)))
    found = grade(course, "--jobs", "2")
    for name, (_, words) in BAD_CELLS.items():
        assert (found[name]["score"], name) == (7, name)
        assert words in (found[name]["error"] or "")
        size = (course / "autograded" / name / "90_ticks" / "90_ticks.ipynb").stat().st_size
        assert size < 1_000_000


SCRIPTS = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "[x](javascript:alert(1))<iframe src=//x></iframe>",
]


def test_nothing_of_a_learners_runs_in_a_readers_browser(course, hand_in):
    def change(notebook):
        notebook.cells += [nbformat.v4.new_markdown_cell(text) for text in SCRIPTS]
        notebook.cells.append(
            nbformat.v4.new_code_cell(
                "from IPython.display import HTML, Javascript, SVG, display\n"
                + "\n".join(f"display(HTML({text!r}))" for text in SCRIPTS)
                + "\ndisplay(Javascript('alert(2)'), {'image/svg+xml': '<svg onload=alert(3)/>'}, raw=False)"
            )
        )

    hand_in("mal", RIGHT, change)
    assert grade(course)["mal"]["score"] == 7
    raw = json.loads((course / "autograded" / "mal" / "90_ticks" / "90_ticks.ipynb").read_text())
    shown = [text for c in raw["cells"] if c["cell_type"] == "markdown" for text in c["source"]]
    shown += [str(o.get("data", {}).get("text/html", "")) for c in raw["cells"] for o in c.get("outputs", [])]
    assert not any(bad in text for text in shown for bad in ("<script", "<img", "<iframe"))
    mimes = {mime for c in raw["cells"] for o in c.get("outputs", []) for mime in o.get("data", {})}
    assert mimes <= {"text/plain", "text/html", "image/png"}
