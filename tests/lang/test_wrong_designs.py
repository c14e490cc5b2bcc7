"""The corpus ``wrong/``: small designs that break a rule, each with what the learner must read and at which line.

A file begins with ``# wanted:`` (part of what is said to be wrong) and mostly ``# advice:`` (part of what to write
instead); ``# <-`` marks the line.  No mark: the whole design is meant.
"""

from __future__ import annotations

import traceback
from pathlib import Path

import pytest

from simkit.lang import HardwareError, compile_design

CORPUS = sorted(Path(__file__).with_name("wrong").glob("*.py"))


def refusal(path: Path) -> HardwareError:
    """The error that a file's design draws, while it is defined or while it is compiled."""
    names: dict[str, object] = {"__name__": f"wrong.{path.stem}"}
    with pytest.raises(HardwareError) as caught:
        exec(compile(path.read_text(encoding="utf-8"), str(path), "exec"), names)  # noqa: S102 - our own corpus
        compile_design(names["Wrong"])  # type: ignore[arg-type]
    return caught.value


def wanted(path: Path, key: str) -> str:
    """What the file says after ``# key:``; empty if it says nothing."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return next((line.removeprefix(f"# {key}: ") for line in lines if line.startswith(f"# {key}: ")), "")


def marked(path: Path) -> int | None:
    """Number of the marked line."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return next((number for number, line in enumerate(lines, 1) if "# <-" in line), None)


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_wrong_design(path: Path) -> None:
    error = refusal(path)
    assert wanted(path, "wanted") and wanted(path, "wanted") in error.why
    assert wanted(path, "advice") in error.instead
    assert error.lineno == marked(path)
    if error.lineno:
        line = path.read_text(encoding="utf-8").splitlines()[error.lineno - 1]
        assert (error.filename, error.text) == (str(path), line)
        assert 1 <= error.offset <= error.end_offset <= len(line) + 1  # type: ignore[operator]
        shown = "".join(traceback.format_exception_only(error)).splitlines()
        assert line.strip() in shown[1] and "^" in shown[2]


def test_the_corpus_is_large_and_each_file_says_what_is_wanted() -> None:
    assert len(CORPUS) >= 200
    assert [path.stem for path in CORPUS if not wanted(path, "wanted")] == []


def test_no_message_shows_the_inside_of_the_kit() -> None:
    """No addresses, no class names that a learner never wrote, no empty or unfinished sentence."""
    for path in CORPUS:
        error = refusal(path)
        text = str(error.msg)
        for inside in ("<simkit", " object at 0x", "Part ", "NoneType", "Traceback"):
            assert inside not in text, (path.stem, text)
        assert text.endswith((".", "?", ")")), (path.stem, text)
        assert error.__suppress_context__ or error.__context__ is None, path.stem


def test_a_design_that_grows_out_of_hand_stops_at_the_line_that_makes_it_grow(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from simkit.lang import Design, Reg, clocked, execute, unsigned

    class Growing(Design):
        n = Reg(unsigned(8))

        @clocked
        def go(self):  # type: ignore[no-untyped-def]
            x = self.n
            for _ in range(100):
                for _ in range(100):
                    x = x + 1
            self.n = x

    monkeypatch.setattr(execute, "MAX_COPIES", 500)
    with pytest.raises(HardwareError, match="the design is too large here: 501 lines") as caught:
        compile_design(Growing)
    assert caught.value.text.strip() == "x = x + 1"
