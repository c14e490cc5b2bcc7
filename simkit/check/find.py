"""Finding a lab: loading ``exercises.py`` from a folder, and the lab that a notebook's check belongs to."""

from __future__ import annotations

import hashlib
import importlib.util
import sys
from pathlib import Path

from .model import AuthorError, Lab

_loaded: dict[tuple[str, int, int], Lab] = {}


def load_lab(folder: Path | str) -> Lab:
    """The lab whose ``exercises.py`` lies in ``folder``.

    Raises
    ------
    FileNotFoundError
        If there is no ``exercises.py``.
    AuthorError
        If it does not run, or makes no ``lab``; file and line are given.
    """
    path = Path(folder).resolve() / "exercises.py"
    state = path.stat()
    key = (str(path), state.st_mtime_ns, state.st_size)
    if key not in _loaded:
        _loaded[key] = _run(path)
    return _loaded[key]


def _run(path: Path) -> Lab:
    name = f"tickbench_lab_{path.parent.name}_{hashlib.sha256(str(path).encode()).hexdigest()[:8]}"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # so that the language can read the source of designs defined there
    try:
        spec.loader.exec_module(module)
    except Exception as error:
        sys.modules.pop(name, None)
        raise AuthorError(f"{type(error).__name__}: {error}", str(path), _line_in(error, str(path))) from error
    lab = getattr(module, "lab", None)
    if not isinstance(lab, Lab):
        raise AuthorError("makes no lab: write lab = Lab(...) at the end", str(path), 1)
    return lab


def _line_in(error: BaseException, path: str) -> int:
    """The last line of ``path`` that took part in the error."""
    if isinstance(error, SyntaxError) and error.filename == path:
        return error.lineno or 0
    line, trace = 0, error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == path:
            line = trace.tb_lineno
        trace = trace.tb_next
    return line
