"""Where a learner stands in all labs of a folder, and what to do next: as text, and as a page in a notebook."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from . import journal
from .find import load_lab
from .identity import learner
from .journal import Standing
from .model import AuthorError, Lab

NEEDS = re.compile(r"You need labs? (\d\d(?:(?:, | and |, and )\d\d)*)")
MINUTES = re.compile(r"(\d+)(?: to (\d+))? minutes")


@dataclass
class LabState:
    """A lab in the learner's folder.

    ``needs`` are the numbers of labs that it builds on, ``minutes`` the planned time as text: both as the lab's own introduction
    says, "" where it does not.  ``fault`` says why a lab cannot be used.
    """

    folder: Path
    name: str
    title: str = ""
    needs: tuple[str, ...] = ()
    minutes: str = ""
    rows: list[tuple[str, str, Standing]] = field(default_factory=list)  # exercise, its title, standing
    fault: str = ""

    @property
    def number(self) -> str:
        return self.name.split("_")[0]

    @property
    def notebook(self) -> Path:
        return self.folder / f"{self.name}.ipynb"

    @property
    def score(self) -> float:
        return sum(standing.score for _, _, standing in self.rows)

    @property
    def points(self) -> float:
        return sum(standing.max_score for _, _, standing in self.rows)

    @property
    def done(self) -> int:
        return sum(standing.done for _, _, standing in self.rows)

    @property
    def state(self) -> str:
        if self.fault:
            return self.fault
        if self.rows and self.done == len(self.rows):
            return "done"
        begun = any(standing.checks for _, _, standing in self.rows)
        return f"{self.done} of {len(self.rows)} exercises done" if begun else "not begun"

    @property
    def next(self) -> str:
        """The first exercise that is not done, with its title; "" if all are."""
        return next((f"{name} {title}" for name, title, standing in self.rows if not standing.done), "")


def states(folder: Path) -> list[LabState]:
    """The labs in a folder, in order, with the learner's standing in each."""
    known = journal.standings(journal.read(_journal(folder)), learner())
    return [_state(path.parent, known) for path in sorted(folder.glob("*/exercises.py"))]


def _journal(folder: Path) -> Path:
    own = folder / journal.FOLDER / journal.FILE
    return own if (folder / journal.FOLDER / journal.EDITIONS).is_file() else journal.place()


def _state(folder: Path, known: dict[tuple[str, str], Standing]) -> LabState:
    state = LabState(folder, folder.name)
    try:
        lab = load_lab(folder)
    except (AuthorError, OSError) as error:
        state.fault = f"cannot be read: {error}"
        return state
    state.name, state.title = lab.name, lab.title
    if not state.notebook.is_file():
        state.fault = "its notebook is missing: run tickbench start again"
    text = _introduction(state.notebook)
    needs, minutes = NEEDS.search(text), MINUTES.search(text)
    state.needs = tuple(re.findall(r"\d\d", needs[1])) if needs else ()
    state.minutes = (f"{minutes[1]} to {minutes[2]}" if minutes[2] else minutes[1]) if minutes else ""
    state.rows = list(_rows(lab, known))
    return state


def _rows(lab: Lab, known: dict[tuple[str, str], Standing]) -> Iterator[tuple[str, str, Standing]]:
    for name, exercise in lab.exercises.items():
        standing = known.get((lab.name, name)) or Standing(lab.name, name)
        standing.worth(exercise.points)
        yield name, exercise.title, standing


def _introduction(notebook: Path) -> str:
    """What the notebook says before its first code cell."""
    try:
        cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    text = ""
    for cell in cells:
        if not isinstance(cell, dict) or cell.get("cell_type") != "markdown":
            break
        text += "".join(cell.get("source", "")) + "\n"
    return text


def advice(labs: list[LabState]) -> str:
    """What to do next: go on in the lab that was begun, else the first one whose prerequisites are done."""
    done = {lab.number for lab in labs if lab.state == "done"}
    left = [lab for lab in labs if lab.next and not lab.fault]
    if not left:
        return "everything here is done" if labs else "there are no labs in this folder: run tickbench start"
    begun = [lab for lab in left if any(standing.checks for _, _, standing in lab.rows)]
    ready = [lab for lab in left if set(lab.needs) <= done]
    lab = (begun or ready or left)[0]
    return f"next: exercise {lab.next}, in lab {lab.number} ({lab.title})"


def needed(lab: LabState, there: set[str]) -> str:
    """The labs that it builds on, as text; those that are not in the folder are said to be missing."""
    return ", ".join(number if number in there else f"{number} (not here)" for number in lab.needs)


def text(labs: list[LabState], exercises: bool = True) -> str:
    """The standing in lines of text."""
    out = []
    there = {lab.number for lab in labs}
    for lab in labs:
        more = [f"about {lab.minutes} min" * bool(lab.minutes), f"after lab {needed(lab, there)}" * bool(lab.needs)]
        out.append(f"{lab.number}  {lab.title}: {lab.state}, {lab.score:g} of {lab.points:g} points")
        out[-1] += f"  ({'; '.join(part for part in more if part)})" if any(more) else ""
        begun = any(standing.checks for _, _, standing in lab.rows)
        out += [_line(*row) for row in lab.rows] if exercises and begun else []
    return "\n".join([*out, advice(labs)])


def _line(name: str, title: str, standing: Standing) -> str:
    mark = "✓ done" if standing.done else "  begun" if standing.checks else "  to do"
    parts = [f"{standing.score:g} of {standing.max_score:g} points"]
    parts += [f"{standing.checks} check{'s' * (standing.checks != 1)}"] if standing.checks else []
    parts += [f"passed {standing.first_pass[:16].replace('T', ' ')} UTC"] if standing.first_pass else []
    parts += [f"about {max(round(standing.active_s / 60), 1)} min of work"] if standing.active_s else []
    parts += ["solution opened"] if standing.solution else []
    return f"      {mark:8} {name}  {title}: {', '.join(parts)}"


def page(labs: list[LabState], folder: Path) -> str:
    """The standing as an HTML table, with links that JupyterLab opens; ``folder`` is where the page lies."""
    there, said = {lab.number for lab in labs}, advice(labs)
    head = "".join(
        f'<th scope="col" style="text-align:left">{one}</th>'
        for one in ("Lab", "Builds on", "Minutes", "State", "Points")
    )
    rows = "".join(f"<tr>{_cells(lab, folder, there)}</tr>" for lab in labs)
    return (
        f"<p><strong>{html.escape(said[:1].upper() + said[1:])}.</strong></p>"
        f"<table><caption>The labs in this folder</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    )


def _cells(lab: LabState, folder: Path, there: set[str]) -> str:
    name = html.escape(f"{lab.number} {lab.title}")
    if lab.notebook.is_file():
        name = f'<a href="{quote(lab.notebook.relative_to(folder).as_posix())}">{name}</a>'
    rest = [
        html.escape(needed(lab, there)) or "-",
        lab.minutes or "-",
        html.escape(lab.state),
        f"{lab.score:g} of {lab.points:g}",
    ]
    return f'<th scope="row" style="text-align:left">{name}</th>' + "".join(
        f'<td style="text-align:left">{one}</td>' for one in rest
    )


class Overview:
    """What ``overview()`` gives: a table in a notebook, lines of text elsewhere."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._labs = states(folder)

    def __repr__(self) -> str:
        return text(self._labs)

    def _repr_html_(self) -> str:
        return page(self._labs, self._folder)


def overview(folder: Path | str = ".") -> Overview:
    """The labs in a folder with prerequisites, planned time and the learner's own state; what to do next."""
    return Overview(Path(folder).resolve())
