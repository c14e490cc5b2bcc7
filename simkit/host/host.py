"""The host side of a running design as attributes of one object."""

from __future__ import annotations

import difflib
from typing import Any

import numpy as np

from ..netlist import Netlist
from ..units import Duration
from .faults import HostFault, UnknownName
from .interrupts import Interrupt
from .link import Link, Runner
from .models import MODELS, HostModel
from .registers import Register
from .streams import ReadStream, Stream, WriteStream

Item = Register | Stream | Interrupt


class Host:
    """What the design shows to the host: registers, streams, interrupts, each an attribute by its name.

    ``host.limit = 900`` writes a register, ``host.level`` reads one, ``host.log.read(100)`` reads a stream,
    ``host.alarm.wait()`` waits for an interrupt.  What belongs to a sub-design is an attribute of an attribute:
    ``host.guard.limit``; ``host["guard.limit"]`` works too.  ``host.now`` is the simulated time since reset, unless the design
    has a register of that name.  Every access takes the simulated time that the host model
    says.
    """

    def __init__(self, netlist: Netlist, runner: Runner, model: str | HostModel, random: np.random.Generator) -> None:
        if isinstance(model, str):
            if model not in MODELS:
                raise HostFault(f"there is no host {model!r}; hosts: {', '.join(MODELS)}")
            model = MODELS[model]
        link = Link(runner, model, random)
        self.__dict__.update(link=link, items=_items(netlist, link), _prefix="")

    @classmethod
    def _inside(cls, host: Host, prefix: str) -> Host:
        part = cls.__new__(cls)
        part.__dict__.update(link=host.link, items=host.items, _prefix=prefix)
        return part

    def wait(self, duration: Duration) -> None:
        """Let time pass, as a program that sleeps does: the host wakes up late by its reaction time."""
        self.link.pass_time(duration.seconds)
        self.link.react()

    # --- by name ---

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        full = self._prefix + name
        if any(known.startswith(full + ".") for known in self.items):
            return Host._inside(self, full + ".")
        if name == "now" and full not in self.items:  # a register of that name goes first
            return self.link.runner.now
        return self[full]

    def __setattr__(self, name: str, value: Any) -> None:
        self[self._prefix + name] = value

    def __getitem__(self, name: str) -> Any:
        item = self._find(name)
        return item.read() if isinstance(item, Register) else item

    def __setitem__(self, name: str, value: Any) -> None:
        item = self._find(name)
        if not isinstance(item, Register):
            raise HostFault(f"{name} is no register: nothing can be assigned to it")
        item.write(value)

    def __dir__(self) -> list[str]:
        own = {name[len(self._prefix) :].split(".")[0] for name in self.items if name.startswith(self._prefix)}
        return sorted(own | {"link", "now", "wait"})

    def _find(self, name: str) -> Item:
        if name in self.items:
            return self.items[name]
        close = difflib.get_close_matches(name, self.items, 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise UnknownName(
            f"the design shows the host nothing called {name!r}.{guess} There is: {', '.join(self.items) or 'nothing'}"
        )

    def streams(self) -> list[Stream]:
        """All streams of the design."""
        return [item for item in self.items.values() if isinstance(item, Stream)]


def _items(netlist: Netlist, link: Link) -> dict[str, Item]:
    found: dict[str, Item] = {}
    registers = {reg.name for reg in netlist.regs}
    for endpoint in netlist.endpoints:
        if endpoint.kind == "host_reg":
            found[endpoint.name] = Register(endpoint, link)
        elif endpoint.kind == "host_stream":
            to_host = endpoint.options.get("direction") == "to_host"
            level = f"{endpoint.name}.count" if f"{endpoint.name}.count" in registers else ""
            found[endpoint.name] = (ReadStream if to_host else WriteStream)(endpoint, link, level)
        elif endpoint.kind == "interrupt":
            found[endpoint.name] = Interrupt(endpoint, link)
    return found
