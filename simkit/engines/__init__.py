"""Engines: what runs a netlist.  :mod:`.reference` is the meaning, :mod:`.native` the speed."""

from __future__ import annotations

from ..netlist import Netlist
from .api import NO_EVENTS, Engine, EngineFault, Events, Recording, Trace

__all__ = ["NO_EVENTS", "Engine", "EngineFault", "Events", "Recording", "Trace", "make_engine"]


def make_engine(netlist: Netlist, seed: int = 0, kind: str = "native") -> Engine:
    """An engine for a checked netlist.

    ``kind`` is ``"native"`` or ``"reference"``.  A design with a value wider than the native engine takes (256 bits)
    runs in the reference engine: same results, much slower.
    """
    if kind not in ("native", "reference"):
        raise EngineFault(f"there is no engine {kind!r}; write 'native' or 'reference'")
    if kind == "native":
        from .native import NativeEngine
        from .native.layout import too_wide

        if too_wide(netlist) is None:
            return NativeEngine(netlist, seed)
    from .reference import ReferenceEngine

    return ReferenceEngine(netlist, seed)
