"""Near-identical work: a list of places to look, and never a verdict.

Three signs, each only where it stands out from the class: answers that are the same circuit or value though few have it; an answer
that is wrong with one's own numbers and right with those of somebody who gave the same; and text that two learners share and
the others do not.
"""

from __future__ import annotations

import io
import json
import re
import tokenize
import zlib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy import sparse

from simkit.check.rebuild import is_answer

from ..grading.course import KIT, Course
from .cohort import Cohort, LabScores

SHINGLE = 8
"""Tokens in a row that count as one piece of text."""
RARE = 0.06
"""What more than this share of the class has says nothing (but two learners always may)."""
LEAST_SHARED, LEAST_SHARE = 20, 0.5
MANY = 3
"""Rare equal answers that a pair must share to be listed for them alone."""


def places_to_look(course: Course, cohort: Cohort) -> list[str]:
    """Lines for the report, the strongest first, with the cohort's names for learners."""
    lines = []
    for name, scores in cohort.labs.items():
        prints = {learner: _prints(course, learner, name) for learner in scores.learners}
        lines += [f"{name}: {line}" for line in _borrowed(scores, prints, cohort.names)]
        lines += [f"{name}: {line}" for line in _equal(prints, cohort.names)]
        texts = [_answers(course.folder("autograded", learner, name) / f"{name}.ipynb") for learner in scores.learners]
        for one, other, shared, share in alike_texts(texts):
            pair = " and ".join(sorted(cohort.names[scores.learners[i]] for i in (one, other)))
            lines.append(
                f"{name}: {pair} share {shared} pieces of text that few others have ({share:.0%} of the shorter one's)"
            )
    return lines


# --- answers ---


def _prints(course: Course, learner: str, lab: str) -> dict[str, str]:
    try:
        record = json.loads((course.root / KIT / "graded" / learner / f"{lab}.json").read_text(encoding="utf-8"))
        return {str(k): str(v) for k, v in record.get("prints", {}).items() if v}
    except (OSError, ValueError, AttributeError):
        return {}


def _borrowed(scores: LabScores, prints: dict[str, dict[str, str]], names: dict[str, str]) -> Iterator[str]:
    """Answers that fail here and pass for a learner with other numbers who gave the same."""
    for exercise in scores.lab.exercises.values():
        passed: dict[str, list[str]] = defaultdict(list)
        failed: dict[str, list[str]] = defaultdict(list)
        for learner in scores.learners:
            verdict, mark = scores.verdicts.get(learner, {}).get(exercise.id), prints[learner].get(exercise.id, "")
            if verdict is not None and mark:
                (passed if verdict.passed else failed)[mark].append(learner)
        for mark, borrowers in failed.items():
            for borrower in borrowers:
                own = dict(exercise.own(borrower))
                others = [who for who in passed.get(mark, []) if dict(exercise.own(who)) != own]
                if others and own:
                    shown = ", ".join(names[who] for who in others[:3])
                    yield f"the answer of {names[borrower]} to {exercise.id} fits the numbers of {shown}, not their own"


def _equal(prints: dict[str, dict[str, str]], names: dict[str, str]) -> Iterator[str]:
    """Pairs that share several answers that few others gave."""
    holders: dict[tuple[str, str], list[str]] = defaultdict(list)
    answered: dict[str, int] = defaultdict(int)
    for learner, marks in prints.items():
        for exercise, mark in marks.items():
            holders[exercise, mark].append(learner)
            answered[exercise] += 1
    shared: dict[tuple[str, str], list[str]] = defaultdict(list)
    for (exercise, _), who in holders.items():
        if 2 <= len(who) <= max(2, RARE * answered[exercise]):
            for one, other in combinations(sorted(who), 2):
                shared[one, other].append(exercise)
    for (one, other), exercises in sorted(shared.items(), key=lambda item: -len(item[1])):
        if len(exercises) >= MANY:
            pair = " and ".join(sorted((names[one], names[other])))
            yield f"{pair} gave the same answers, which few others gave, to {', '.join(sorted(exercises))}"


# --- text ---


def alike_texts(texts: Sequence[str]) -> list[tuple[int, int, int, float]]:
    """Pairs of texts that share what few others have: ``(one, other, pieces shared, share of the shorter one's)``.

    Time grows with the pieces that few have, not with the square of the class.
    """
    pieces = [_pieces(text) for text in texts]
    columns = {piece: i for i, piece in enumerate(sorted(set().union(*pieces)))} if pieces else {}
    if not columns:
        return []
    rows = np.repeat(np.arange(len(pieces)), [len(p) for p in pieces])
    places = np.fromiter((columns[piece] for own in pieces for piece in own), np.int64)
    has = sparse.csr_matrix((np.ones(len(rows), np.int32), (rows, places)), shape=(len(pieces), len(columns)))
    spread = np.asarray(has.sum(axis=0)).ravel()
    own = has[:, spread <= max(2, RARE * len(pieces))]
    sizes = np.asarray(own.sum(axis=1)).ravel()
    common = sparse.triu(own @ own.T, k=1).tocoo()
    found = [
        (int(i), int(j), int(n), float(n / min(sizes[i], sizes[j])))
        for i, j, n in zip(common.row, common.col, common.data, strict=True)
        if n >= LEAST_SHARED and n >= LEAST_SHARE * min(sizes[i], sizes[j])
    ]
    return sorted(found, key=lambda row: (-row[3], -row[2]))


def _pieces(text: str) -> set[int]:
    words = list(_words(text))
    return {zlib.crc32(" ".join(words[i : i + SHINGLE]).encode()) for i in range(len(words) - SHINGLE + 1)}


def _words(text: str) -> Iterator[str]:
    """Tokens of Python; the words of comments and texts too, for they are nobody's but their writer's."""
    try:
        for token in tokenize.generate_tokens(io.StringIO(text).readline):
            if token.type in (tokenize.COMMENT, tokenize.STRING):
                yield from re.findall(r"\w+", token.string)
            elif token.string.strip():
                yield token.string
    except (tokenize.TokenError, SyntaxError):
        yield from re.findall(r"\w+|[^\w\s]", text)


def _answers(path: Path) -> str:
    """The learner's own code in a graded notebook; "" if it cannot be read."""
    from simkit.check.cells import Unreadable, read_notebook

    try:
        cells = read_notebook(path).cells
    except Unreadable:
        return ""
    return "\n".join(cell.source for cell in cells if cell.cell_type == "code" and is_answer(cell))
