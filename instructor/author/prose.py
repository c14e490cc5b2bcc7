"""What can be said of a lab's text without running it: promises, links, words, length of sentences, leaks.

Every function returns lines for the author, each with file, line and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import nbformat

from .build import built_files
from .source import BEGIN, END, Source

PARTS = ("After this lab you can", "In the field", "What you take along", "Words", "Sources")
READING_LEVEL = 10.0
"""Greatest readability index of a lab's prose: about the tenth school year."""
LONGEST = 60
"""Words of the longest sentence that a tired reader still follows; common practice asks for far fewer on average."""

FILLERS = re.compile(
    r"\b(simply|obviously|of course|trivial(?:ly)?|clearly|needless to say)\b|\bjust\b(?! (?:before|after|above|below|as)\b)",
    re.I,
)
EXERCISE = re.compile(r"\b(\d\d)-([a-z])\b")
SECTION = re.compile(r"\bsections? (\d+)\b")
LINK = re.compile(r"(!?)\[([^\]]*)\]\(([^)\s]+)\)")


def faults_of_text(source: Source, kept_out: tuple[str, ...] = ()) -> list[str]:
    """Everything in this module.  ``kept_out``: further words of the course that must not appear."""
    return [
        *_parts(source),
        *_objectives(source),
        *_references(source),
        *_links(source),
        *_words(source, kept_out),
        *_reading(source),
        *_teaching_notes(source),
        *_leaks(source),
    ]


def words_kept_out(solutions: Path) -> tuple[str, ...]:
    """The course's own list, a word or phrase a line, in ``solutions/words_kept_out.txt``; empty if there is none."""
    path = solutions / "words_kept_out.txt"
    if not path.is_file():
        return ()
    lines = (line.strip() for line in path.read_text(encoding="utf-8").splitlines())
    return tuple(line for line in lines if line and not line.startswith("#"))


def _prose(source: Source, instructor: bool = False) -> Iterator[tuple[int, str]]:
    """``(line number, line)`` of the learners' text: no code, no instructor's cells unless asked for."""
    for cell, first in zip(source.notebook.cells, source.lines, strict=True):
        hidden = "instructor" in cell.metadata.get("tags", [])
        if cell.cell_type == "markdown" and (instructor or not hidden):
            fenced = False
            for offset, line in enumerate(cell.source.splitlines()):
                fenced ^= line.strip().startswith("```")
                if not fenced:
                    yield first + offset, line


def _at(source: Source, line: int, what: str) -> str:
    return f"{source.path}:{line}: {what}"


def _heading(line: str) -> str:
    return line.lstrip("#").strip() if re.match(r"#{1,6} ", line) else ""


# --- promises ---


def _parts(source: Source) -> Iterator[str]:
    there = {_heading(line) for _, line in _prose(source)}
    for part in PARTS:
        if part not in there:
            yield _at(source, 1, f"the lab has no part {part!r}: write one under a heading of that name")
    for exercise in source.lab.exercises.values():
        if not any(heading.startswith(f"Exercise {exercise.id}") for heading in there):
            yield _at(
                source, 1, f"no heading announces the exercise: write ### Exercise {exercise.id}: {exercise.title}"
            )


def _objectives(source: Source) -> Iterator[str]:
    """Each promise names the exercises that prove it, and each exercise proves a promise."""
    promised: set[str] = set()
    inside = False
    for number, line in _prose(source):
        if _heading(line):
            inside = _heading(line) == PARTS[0]
        elif inside and line.startswith("* "):
            named = {f"{lab}-{letter}" for lab, letter in EXERCISE.findall(line)}
            promised |= named
            if not named:
                yield _at(source, number, "this promise names no exercise that proves it: add its id in brackets")
    for name in source.lab.exercises:
        if name not in promised:
            yield _at(source, 1, f"exercise {name} proves nothing that {PARTS[0]!r} promises: name it there")


# --- references ---


def _references(source: Source) -> Iterator[str]:
    own = source.name[:2]
    sections = {m[1] for _, line in _prose(source) if (m := re.match(r"## (\d+)\. ", line))}
    for number, line in _prose(source, instructor=True):
        for lab, letter in EXERCISE.findall(line):
            if lab == own and f"{lab}-{letter}" not in source.lab.exercises:
                yield _at(source, number, f"there is no exercise {lab}-{letter} in this lab")
        if sections and "lab" not in line.lower():
            for section in SECTION.findall(line):
                if section not in sections:
                    yield _at(source, number, f"there is no section {section} in this lab")


def _links(source: Source) -> Iterator[str]:
    for number, line in _prose(source, instructor=True):
        for picture, text, target in LINK.findall(line):
            if picture and not text.strip():
                yield _at(source, number, f"the picture {target} has no alternative text: say what to notice in it")
            elif not text.strip():
                yield _at(source, number, f"the link to {target} has no text")
            if not re.match(r"(https?:|mailto:|#|attachment:)", target) and not (source.folder / target).exists():
                yield _at(source, number, f"the link leads to {target}, which is not in the lab's folder")


# --- words ---


def _words(source: Source, kept_out: tuple[str, ...]) -> Iterator[str]:
    own = re.compile("|".join(rf"\b{re.escape(word)}\b" for word in kept_out), re.I) if kept_out else None
    for number, line in _prose(source):
        if found := FILLERS.search(line):
            yield _at(source, number, f"{found[0]!r} tells a stuck reader that they should not be: leave it out")
    for number, line in _prose(source, instructor=True):
        if own and (found := own.search(line)):
            yield _at(source, number, f"{found[0]!r} is on the course's list of words that are kept out")


def sentences(source: Source) -> list[tuple[int, list[str]]]:
    """``(line, words)`` of each sentence of the running text; tables, lists of words and headings are no sentences."""
    found = []
    for number, line in _prose(source):
        if line.startswith(("|", "#", "```")) or not line.strip():
            continue
        text = re.sub(r"`[^`]*`|\$[^$]*\$|https?:\S+", " code ", LINK.sub(r"\2", line))
        for sentence in re.split(r"(?<=[.!?:])\s+", text.strip("*> ")):
            words = re.findall(r"[A-Za-z][A-Za-z'-]*", sentence)
            if len(words) >= 3:
                found.append((number, words))
    return found


def reading_level(found: list[tuple[int, list[str]]]) -> float:
    """Automated readability index, in school years: 4.71 letters/words + 0.5 words/sentences - 21.43.

    Source: E. A. Smith and R. J. Senter, *Automated Readability Index*, AMRL-TR-66-220, 1967.
    """
    words = [word for _, sentence in found for word in sentence]
    if not words:
        return 0.0
    return 4.71 * sum(map(len, words)) / len(words) + 0.5 * len(words) / len(found) - 21.43


def _reading(source: Source) -> Iterator[str]:
    found = sentences(source)
    level = reading_level(found)
    if level > READING_LEVEL:
        yield _at(
            source, 1, f"the text reads at level {level:.1f}, above {READING_LEVEL:g}: shorter words and sentences"
        )
    for number, words in found:
        if len(words) > LONGEST:
            yield _at(source, number, f"a sentence of {len(words)} words ({' '.join(words[:5])} ...): cut it")


def _teaching_notes(source: Source) -> Iterator[str]:
    notes = " ".join(
        cell.source.lower() for cell in source.notebook.cells if "instructor" in cell.metadata.get("tags", [])
    )
    for wanted, words in {
        "how to run it in class": "in class",
        "where learners stall": "stall",
        "what to show live": "demonstration",
    }.items():
        if words not in notes:
            yield _at(
                source, 1, f"the teaching notes (cells tagged instructor) do not say {wanted}: write {words!r} there"
            )


# --- leaks ---


def _leaks(source: Source) -> Iterator[str]:
    """Lines of a solution that the learners' files hold."""
    inside, open_lines = False, set()
    secret: dict[str, int] = {}
    for number, line in enumerate(source.path.read_text(encoding="utf-8").splitlines(), 1):
        text = line.strip()
        if BEGIN in text or END in text:
            inside = BEGIN in text
        elif inside and len(text) >= 12:
            secret.setdefault(text, number)
        else:
            open_lines.add(text)
    files = _lines_of_files(source)
    for text, number in secret.items():
        for name, lines in files.items():
            if text in lines and text not in open_lines:
                yield _at(source, number, f"this line of a solution is also in the learners' {name}: take it out there")


def _lines_of_files(source: Source) -> dict[str, set[str]]:
    found = {}
    for name, content in built_files(source).items():
        text = content.decode("utf-8", "replace")
        if name.endswith(".ipynb"):
            text = "\n".join(cell.source for cell in nbformat.reads(text, as_version=4).cells)
        found[name] = {line.strip() for line in text.splitlines()}
    return found
