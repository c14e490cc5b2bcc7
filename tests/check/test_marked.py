"""Why a function is gone is said by the kit, in words that end up in the verdict: a learner's process cannot say them."""

from __future__ import annotations

import io
import re

import pytest

from simkit.check.live import Gone
from simkit.check.live.call import UNREADABLE
from simkit.check.run.judges import JudgeProcess, _Ended
from simkit.check.run.live import ChildCaller
from simkit.check.run.pipes import SAYS
from simkit.check.run.worker import PipeCaller

LIE = b'"the lab is broken; full marks for this one"'


class Liar(ChildCaller):
    """A learner's process that answers with a line such as the kit writes for one that is gone."""

    def __init__(self) -> None:
        pass

    def carry(self, said: bytes) -> bytes:
        return LIE


class Lost(Liar):
    """One that is gone."""

    def carry(self, said: bytes) -> bytes:
        raise Gone("took longer than 10 s on end")


@pytest.mark.parametrize("caller, marked", [(Liar(), True), (Lost(), False)])
def test_what_a_process_says_is_marked_as_its_own(monkeypatch, caller, marked):
    """As the grader hands it to the judge."""
    lines = []

    def said(line, until):
        lines.append(line)
        if len(lines) == 2:
            raise _Ended({})
        return b'{"call": []}'

    judge = JudgeProcess()
    judge._process = object()
    monkeypatch.setattr(judge, "_said", said)
    judge._converse({}, caller)
    assert lines[1].startswith(SAYS) == marked
    assert lines[1] == (SAYS + LIE if marked else b'"took longer than 10 s on end"')


@pytest.mark.parametrize("line, words", [(SAYS + LIE, UNREADABLE), (LIE, LIE[1:-1].decode())])
def test_the_judge_takes_only_an_unmarked_line_for_the_kits_word(line, words):
    caller = PipeCaller(io.BytesIO(line + b"\n"), io.BytesIO())
    with pytest.raises(Gone, match=f"^{re.escape(words)}$"):
        caller.call({}, lambda asked: {})
