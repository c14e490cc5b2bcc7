"""The page on which JupyterLab opens: a notebook that lists the labs.  It is written anew by every ``tickbench start``."""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path
from typing import Any

NAME = "start_here.ipynb"
TEXT = """# Your labs

Open a lab by its name in the table. Work from top to bottom: predict, run, explain. To see where you stand today, click the
cell below and press Shift and Enter.

This page is written anew by each `tickbench start`; keep notes of your own elsewhere. The fan house and all its data are invented."""
CODE = "from simkit.check import overview\noverview()"


def write(folder: Path) -> Path:
    """Write the page into the learner's folder; its table is that of this moment."""
    from ..check.desk import overview

    shown: Any = overview(folder)
    output = {
        "output_type": "execute_result",
        "execution_count": 1,
        "metadata": {},
        "data": {"text/plain": repr(shown), "text/html": shown._repr_html_()},
    }
    book = {
        "nbformat": 4,
        "nbformat_minor": 5,
        "metadata": {
            "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
            "language_info": {"name": "python"},
        },
        "cells": [
            {"cell_type": "markdown", "id": "start-text", "metadata": {}, "source": TEXT},
            {
                "cell_type": "code",
                "id": "start-table",
                "metadata": {},
                "source": CODE,
                "execution_count": 1,
                "outputs": [output],
            },
        ],
    }
    path = folder / NAME
    beside = path.with_suffix(".new")
    beside.write_text(json.dumps(book, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    os.replace(beside, path)
    _trust(path)
    return path


def _trust(path: Path) -> None:
    """Sign the page, so that JupyterLab shows its table as it is; without the signature it shows a plainer one."""
    from ..check.quick import nbformat

    with contextlib.suppress(OSError, ImportError):
        from nbformat.sign import NotebookNotary

        NotebookNotary().sign(nbformat.read(path, as_version=4))
