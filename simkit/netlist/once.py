"""What is worked out of a netlist, kept as long as the netlist is there: a judge puts one design on many benches.

Whoever hands a netlist on does not change it any more; the passes never change their input.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable
from typing import Generic, TypeVar

from .check import check
from .model import Netlist
from .passes import expose

T = TypeVar("T")


class Once(Generic[T]):
    """A function of a netlist that is called once for each.  Its result must not hold the netlist itself."""

    def __init__(self, work: Callable[[Netlist], T]) -> None:
        self._work = work
        self._known: dict[int, tuple[weakref.ref[Netlist], T]] = {}

    def __call__(self, netlist: Netlist) -> T:
        key = id(netlist)
        found = self._known.get(key)
        if found is None or found[0]() is not netlist:
            found = weakref.ref(netlist, lambda gone: self._forget(key, gone)), self._work(netlist)
            self._known[key] = found
        return found[1]

    def _forget(self, key: int, gone: weakref.ref[Netlist]) -> None:
        if key in self._known and self._known[key][0] is gone:
            del self._known[key]


exposed = Once(expose)
"""The netlist in which every register can be looked at; the same object each time."""

_keeps_the_rules = Once(lambda netlist: check(netlist) is netlist)


def checked(netlist: Netlist) -> Netlist:
    """The netlist, if it keeps every rule (see :func:`~simkit.netlist.check.check`)."""
    _keeps_the_rules(netlist)
    return netlist
