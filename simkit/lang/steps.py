"""Words of the language that are functions: what costs ticks, and logic that has no operator of its own.

Inside a loop the kit reads them as hardware.  Called from Python they have nothing to act on, and say so;
only :func:`const` also works outside a loop.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, NoReturn

from ..netlist import Type
from . import arithmetic
from .build import Refused
from .constants import Constant
from .source import at_caller


def _only_in_loops(name: str) -> NoReturn:
    raise Refused(f"{name} is hardware and works only inside a loop or an operation of a Design.")


@at_caller
def tick() -> None:
    """End this tick; what follows is done in the next one."""
    _only_in_loops("tick()")


@at_caller
def wait(n: Any) -> None:
    """What follows is done ``n`` ticks later (a whole number of at least 1, a signal, or a duration such as ``us(10)``)."""
    _only_in_loops("wait()")


@at_caller
def until(condition: Any) -> None:
    """What follows is done in the tick after the first tick, this one included, in which ``condition`` holds."""
    _only_in_loops("until()")


@at_caller
def resize(x: Any, kind: Type, *, overflow: str | None = None, round: str | None = None) -> Any:
    """``x`` as another type of the same signedness.

    ``overflow`` is ``"saturate"`` (stick at the end of the range) or ``"wrap"`` (drop the high bits); ``round`` is ``"nearest"``
    (halves go to the even neighbour) or ``"truncate"`` (down).  Without styles, fixed point saturates and rounds as IEEE 1076
    ``fixed_pkg`` does, and integers follow ``numeric_std.resize``, which keeps the sign bit and drops high bits.
    """
    _only_in_loops("resize()")


@at_caller
def bits(x: Any, hi: int, lo: int) -> Any:
    """Bits ``hi`` down to ``lo`` of ``x`` as unsigned(hi - lo + 1)."""
    _only_in_loops("bits()")


@at_caller
def cat(*xs: Any) -> Any:
    """The bits of all values side by side, the first one highest, as one unsigned value."""
    _only_in_loops("cat()")


@at_caller
def rem(x: Any, y: Any) -> Any:
    """Remainder of ``x / y`` with the sign of ``x`` (``x % y`` has the sign of ``y``)."""
    _only_in_loops("rem()")


@at_caller
def scalb(x: Any, n: int) -> Any:
    """``x`` times 2**n by moving the binary point: costs no hardware."""
    _only_in_loops("scalb()")


@at_caller
def unsafe_cross(x: Any) -> Any:
    """Sample a register of another clock with one register of this loop's clock, with no protection.

    A bit that changes within the set-up and hold window comes out at random, each bit by itself.  It is here to show what goes wrong.
    """
    _only_in_loops("unsafe_cross()")


@at_caller
def const(number: int | float | Fraction, kind: Type) -> Fraction:
    """The value of ``kind`` nearest to ``number``, exactly: ``const(0.1, sfixed(0, -15))``."""
    return Constant.make(arithmetic.const_rounded(number, kind), kind)
