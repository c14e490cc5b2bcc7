"""Ordinary Python called inside a loop: what may run once, while the design is built, and why the rest may not."""

from __future__ import annotations

import builtins
import sysconfig
from collections.abc import Callable
from types import FunctionType
from typing import Any, NoReturn

from .build import Refused
from .declare import Declared
from .design import Design
from .source import HardwareError
from .things import describe

READING_METHODS = {"index", "count", "keys", "values", "items", "get", "bit_length", "copy", "startswith", "endswith"}
LIBRARIES = tuple({sysconfig.get_path(name) for name in ("stdlib", "purelib", "platlib")})
MARK_IT = "Mark it @combinational (logic) or, as a method, @operation, so that the kit reads it as hardware."
GROW = "Keep the last values in Regs, many values in a Ram, or send them on through a Fifo."
RUN_ONCE = {
    "time": "Let time pass with wait(us(20)) or tick() in a sequenced loop.",
    "datetime": "Count ticks in a register.",
    "random": "Draw the numbers in __init__ if they may be fixed, or build a shift register with feedback.",
}
"""Modules whose functions a learner calls for what they do when the hardware runs."""


def attribute(base: Any, name: str) -> Any:
    """``base.name``, which may be a property of the learner's; AttributeError if there is none."""
    found = getattr(type(base), name, None)
    if isinstance(found, property) and found.fget is not None and isinstance(base, Design):
        return _call(found.fget, f"the property {name}", [base], {}, True)
    return getattr(base, name)


def refuse_signals(function: Any) -> NoReturn:
    """Say why ``function`` cannot work on signals."""
    name = getattr(function, "__qualname__", repr(function))
    owner = getattr(function, "__self__", None)
    if isinstance(owner, list | dict | set):
        raise Refused(
            f"{name}() would make a Python {type(owner).__name__} grow while the hardware runs; hardware cannot grow.",
            GROW,
        )
    if function in (print, str, repr, format):
        raise Refused(
            f"{name}() makes text; wires carry numbers.",
            "Record the signal when you run the design and print it in Python.",
        )
    if function in (int, float, bool, round):
        raise Refused(
            f"{name}() works on numbers known when the design is built; this is a signal.",
            "Use resize(x, type) to change the type of a signal, or compare it to get a bit.",
        )
    if function is range:
        raise Refused(
            "how often a for loop goes round is known when the design is built; range() got a signal.",
            "Write while i < n: with a tick inside, or range(most) and an if in the body.",
        )
    if not _is_learners(function):
        raise Refused(
            f"{name}() is a library function and cannot work on a signal.",
            "Build it from operators, abs(), min(), max() and if; or look its values up in a Rom.",
        )
    raise Refused(f"{name}() is ordinary Python and cannot work on a signal.", MARK_IT)


def _is_learners(function: Any) -> bool:
    function = getattr(function, "__func__", function)
    return isinstance(function, FunctionType) and not function.__code__.co_filename.startswith(LIBRARIES)


def run(function: Any, args: list[Any], options: dict[str, Any], alone: bool) -> Any:
    """What the function returns, called once, now.  ``alone``: its result is not used, so it could only act."""
    name = getattr(function, "__qualname__", repr(function))
    if not callable(function):
        raise Refused(f"{describe(function)} cannot be called.")
    _refuse_what_acts(function, name)
    owner = getattr(function, "__self__", None)
    if alone:
        mark = (
            "Mark it @operation to make it hardware."
            if isinstance(owner, Design)
            else "Do it in __init__, or leave it out."
        )
        raise Refused(
            f"{name}() is ordinary Python: it would run once, while the design is built, and do nothing in hardware.",
            mark,
        )
    return _call(function, name, args, options, isinstance(owner, Design))


def _call(function: Callable[..., Any], name: str, args: list[Any], options: dict[str, Any], of_design: bool) -> Any:
    try:
        return function(*args, **options)
    except Refused:
        raise
    except HardwareError as error:
        raise Refused(error.why, error.instead) from None
    except Exception as error:  # noqa: BLE001 - the learner's own function: whatever it raises is reported at this line
        mark = "If it is meant to be hardware, mark it @operation." if of_design else ""
        text = f"{type(error).__name__}: {error}".removesuffix(".")
        what = name if name.startswith("the ") else f"{name}()"
        raise Refused(f"{what} failed while the design was being built: {text}.", mark) from None


def _refuse_what_acts(function: Any, name: str) -> None:
    """Refuse what makes no sense done once, before the hardware exists."""
    owner = getattr(function, "__self__", None)
    if isinstance(owner, list | dict | set) and function.__name__ not in READING_METHODS:
        raise Refused(
            f"{name}() would change a Python {type(owner).__name__} while the design is being built, once, "
            "not while it runs.",
            GROW,
        )
    if function is print:
        raise Refused(
            "print() makes text; wires carry numbers.",
            "Record the signal when you run the design and print it in Python.",
        )
    if function in (builtins.input, builtins.open):
        raise Refused(f"{name}() talks to the computer; hardware has channels and host registers.")
    if function in (setattr, delattr, exec, eval):
        raise Refused(f"{name}() is not part of the language.", "Write the assignment or the expression itself.")
    if function is super:
        raise Refused(
            "super() is not part of the language.", "Give the inherited operation a name of its own and call that."
        )
    if isinstance(function, type) and issubclass(function, Design | Declared):
        raise Refused(
            f"{name} is hardware that would have to appear while the hardware runs.",
            "Make it an attribute of the design: in the class, or in __init__ (self.name = …).",
        )
    module = (getattr(function, "__module__", None) or type(owner).__module__).split(".")[0]
    if module in RUN_ONCE:
        raise Refused(f"{name}() would run once, while the design is built, not in hardware.", RUN_ONCE[module])
