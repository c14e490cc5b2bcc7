"""nbgrader's configuration for courses with labs of this kit.

A course's own ``nbgrader_config.py`` (``tickbench course DIR`` writes one) calls :func:`configure`; used as a
configuration file itself, this file configures the folder in which nbgrader was started.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

# A bare ``pass`` stands in any place where a statement may, prints nothing, and simkit.check knows it for unfinished.
STUB = "pass  # your work goes here"
TEXT_STUB = "*Your answer goes here.*"
OWN = "nbgrader.preprocessors."


def configure(c: Any, root: str | Path, course_id: str = "tickbench") -> None:
    """Set everything that grading with the judge needs, for the course folder ``root``."""
    root = Path(root).resolve()
    c.CourseDirectory.root = str(root)
    c.CourseDirectory.course_id = course_id
    c.CourseDirectory.db_url = f"sqlite:///{root / 'gradebook.db'}?timeout=60"
    _hand_out(c)
    # Structure and ids come from what was handed out, scores from the judge: see instructor/grading/steps.py.
    c.Autograde.sanitize_preprocessors = ["instructor.grading.steps.Rebuild", OWN + "CheckCellMetadata"]
    c.Autograde.autograde_preprocessors = [
        "instructor.grading.steps.RunAndJudge",
        OWN + "SaveAutoGrades",
        OWN + "AssignLatePenalties",
        OWN + "CheckCellMetadata",
    ]
    # Hidden tests of other assignments must not show in feedback, which nbgrader does by default.
    c.GenerateFeedback.preprocessors = [
        OWN + "GetGrades",
        OWN + "ClearHiddenTests",
        "nbconvert.preprocessors.CSSHTMLHeaderPreprocessor",
    ]
    # Formulas as MathML, drawn by the browser itself: nbconvert's own way fetches a program from the network.
    c.HTMLExporter.filters = {"markdown2html": "instructor.grading.formulas.to_html"}
    c.HTMLExporter.extra_template_basedirs = [str(Path(__file__).parent / "grading" / "templates"), _their_templates()]


def _their_templates() -> str:
    """nbgrader's pages for feedback and for the form grader."""
    from nbgrader.server_extensions.formgrader import handlers

    return handlers.template_path


def _hand_out(c: Any) -> None:
    """Cells for the instructor stay behind; the placeholder is one that runs and that the checks know."""
    c.GenerateAssignment.preprocessors = [
        "nbconvert.preprocessors.TagRemovePreprocessor",
        *(
            OWN + name
            for name in (
                "IncludeHeaderFooter",
                "InstantiateTests",
                "LockCells",
                "ClearSolutions",
                "ClearOutput",
                "CheckCellMetadata",
                "ComputeChecksums",
                "SaveCells",
                "ClearHiddenTests",
                "ClearMarkScheme",
                "ComputeChecksums",
                "CheckCellMetadata",
            )
        ),
    ]
    c.TagRemovePreprocessor.enabled = True
    c.TagRemovePreprocessor.remove_cell_tags = {"instructor"}
    c.ClearSolutions.code_stub = {"python": STUB}
    c.ClearSolutions.text_stub = TEXT_STUB


if "get_config" in globals():  # nbgrader reads this file itself
    configure(get_config(), Path.cwd())  # type: ignore[name-defined]  # noqa: F821
