"""Where things stand in the learner's source, and the one way to complain about it.

Every error of the language is a :class:`HardwareError`.  It subclasses ``SyntaxError``, so Python and Jupyter
draw the line and the caret themselves, and it never shows the inside of the kit.
"""

from __future__ import annotations

import ast
import inspect
import linecache
import os
import sys
from collections.abc import Callable
from functools import lru_cache, wraps
from pathlib import Path
from types import FunctionType
from typing import Any, NoReturn, TypeVar

from ..netlist import Loc, TypeFault
from .build import Refused

KIT = str(Path(__file__).resolve().parents[1])


class HardwareError(SyntaxError):
    """The design breaks a rule of the language.

    Attributes
    ----------
    why, instead : str
        What hardware cannot do there; what to write.  ``str(error)`` holds both.
    lineno, offset, text
        As in ``SyntaxError``: line from 1, character from 1, the source line.
    """

    def __init__(self, why: str, instead: str = "", loc: Loc | None = None) -> None:
        message = f"{why} {instead}".strip()
        if loc is None or not loc.line:
            super().__init__(message)
        else:
            super().__init__(message, (loc.file, loc.line, loc.col + 1, loc.text, loc.end_line, loc.end_col + 1))
        self.why = why
        self.instead = instead

    def __reduce__(self) -> tuple[Any, ...]:
        return _rebuild, (
            self.why,
            self.instead,
            self.filename,
            self.lineno,
            self.offset,
            self.text,
            self.end_lineno,
            self.end_offset,
        )

    @property
    def loc(self) -> Loc | None:
        """Where it is; None if it is about the whole design."""
        if self.lineno is None:
            return None
        end, end_offset = self.end_lineno or self.lineno, self.end_offset or 1
        return Loc(self.filename or "", self.lineno, (self.offset or 1) - 1, end, end_offset - 1, self.text or "")


def in_kit(filename: str | None) -> bool:
    """True for the kit's own files."""
    return bool(filename) and str(filename).startswith(KIT + os.sep)


def _rebuild(
    why: str, instead: str, file: str, line: int, offset: int, text: str, end: int, end_offset: int
) -> HardwareError:
    if line is None:
        return HardwareError(why, instead)
    return HardwareError(
        why, instead, Loc(file, line, (offset or 1) - 1, end or line, (end_offset or 1) - 1, text or "")
    )


def caller() -> Loc:
    """The line outside the kit that is running now."""
    frame = sys._getframe(1)
    while frame.f_back is not None and frame.f_code.co_filename.startswith(KIT):
        frame = frame.f_back
    file, line = frame.f_code.co_filename, frame.f_lineno
    text = linecache.getline(file, line, frame.f_globals).rstrip("\n")
    return Loc(file, line, len(text) - len(text.lstrip()), line, len(text), text)


signature_of = lru_cache(maxsize=1024)(inspect.signature)


def fitting(function: Callable[..., Any], name: str, args: tuple[Any, ...], options: dict[str, Any]) -> None:
    """Refuse arguments that ``function``, called ``name``, does not take."""
    signature = signature_of(function)
    try:
        signature.bind(*args, **options)
    except TypeError as error:
        names = [p for p in signature.parameters if p not in ("self", "cls")]
        raise Refused(f"{name}: {error}.", f"It takes {', '.join(names)}." if names else "It takes nothing.") from None


F = TypeVar("F", bound=Callable[..., Any])


def at_caller(function: F) -> F:
    """For what learners call from ordinary Python: a broken rule is reported at *their* line."""

    @wraps(function)
    def wrapper(*args: Any, **options: Any) -> Any:
        try:
            fitting(function, function.__name__, args, options)
            return function(*args, **options)
        except Refused as error:
            raise HardwareError(error.why, error.instead, caller()) from None
        except TypeFault as error:
            raise HardwareError(f"{error}.", "", caller()) from None

    return wrapper  # type: ignore[return-value]


def shown(filename: str) -> str:
    """A file's name as netlists keep it: the same on every machine and in every session, for notebook cells too."""
    return "cell" if "ipykernel_" in filename or filename.startswith("<ipython") else Path(filename).name


class Text:
    """One source file or notebook cell, parsed whole, so that line numbers are the learner's own."""

    def __init__(self, filename: str, lines: tuple[str, ...]) -> None:
        self.filename = filename
        self.shown = shown(filename)
        self.lines = lines
        self.functions: dict[int, ast.FunctionDef] = {}
        for node in ast.walk(ast.parse("".join(lines))):
            if isinstance(node, ast.FunctionDef):
                first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
                self.functions[first] = node

    def line(self, number: int) -> Loc:
        """The whole of a line."""
        text = self.lines[number - 1].rstrip("\n")
        return Loc(self.filename, number, len(text) - len(text.lstrip()), number, len(text), text)

    def loc(self, node: ast.AST) -> Loc:
        """The place of a syntax node; columns in characters (``ast`` counts UTF-8 bytes)."""
        line, end = node.lineno, node.end_lineno or node.lineno  # type: ignore[attr-defined]
        first, last = self.lines[line - 1], self.lines[end - 1]
        start_col = _characters(first, node.col_offset)  # type: ignore[attr-defined]
        end_col = _characters(last, node.end_col_offset)  # type: ignore[attr-defined]
        if end != line:  # the caret would run over several lines: mark the first one only
            end, end_col = line, len(first.rstrip("\n"))
        return Loc(self.shown, line, start_col, end, end_col, first.rstrip("\n"))


def _characters(line: str, count: int) -> int:
    """How many characters the first ``count`` bytes of a line are."""
    return count if line.isascii() else len(line.encode()[:count].decode(errors="ignore"))


@lru_cache(maxsize=256)
def _parsed(filename: str, lines: tuple[str, ...]) -> Text:
    return Text(filename, lines)


class Code:
    """A function of the learner's: its syntax tree, its text and the names it sees.

    Raises :class:`HardwareError` if the source text cannot be found.
    """

    def __init__(self, function: FunctionType) -> None:
        code = function.__code__
        linecache.checkcache(code.co_filename)
        lines = tuple(linecache.getlines(code.co_filename, function.__globals__))
        try:
            self.text = _parsed(code.co_filename, lines)
        except SyntaxError:
            self.text = None  # type: ignore[assignment]
        node = self.text.functions.get(code.co_firstlineno) if self.text else None
        if node is None or node.name != function.__name__:
            raise HardwareError(
                f"the source text of {function.__qualname__} cannot be found.",
                "Define the design in a notebook cell or a .py file, and run that cell or file again after editing it.",
                Loc(code.co_filename, code.co_firstlineno),
            )
        self.tree = node
        self.calls: dict[ast.AST, list[ast.Call]] = {}  # calls within a node, found once
        self.function = function
        self.assigned = {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
        self.cells = dict(zip(code.co_freevars, function.__closure__ or (), strict=True))

    def loc(self, node: ast.AST) -> Loc:
        """The place of a node of this function's tree."""
        return self.text.loc(node)

    def refuse(self, node: ast.AST, why: str, instead: str = "") -> NoReturn:
        """Raise the error for a node of this function."""
        raise HardwareError(why, instead, self.loc(node)._replace(file=self.text.filename)) from None

    def outer(self, name: str) -> Any:
        """The Python object that ``name`` means outside this function; KeyError if none."""
        if name in self.cells:
            try:
                return self.cells[name].cell_contents
            except ValueError:
                raise KeyError(name) from None
        if name in self.function.__globals__:
            return self.function.__globals__[name]
        builtins = self.function.__globals__["__builtins__"]
        table = builtins if isinstance(builtins, dict) else vars(builtins)
        return table[name]


@lru_cache(maxsize=1024)
def _code_of(function: FunctionType, key: object) -> Code:
    return Code(function)


def code_of(function: FunctionType) -> Code:
    """The :class:`Code` of a function, parsed once for each state of its file."""
    return _code_of(function, function.__code__)
