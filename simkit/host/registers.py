"""Host registers, in the numbers that people mean."""

from __future__ import annotations

from typing import Any

from ..netlist import Endpoint
from ..units import UnitFault, exact
from .faults import HostFault
from .link import Link


class Register:
    """One register of the design, seen from the host."""

    def __init__(self, endpoint: Endpoint, link: Link) -> None:
        self.endpoint = endpoint
        self.link = link
        self.name = endpoint.name
        self.type = endpoint.type
        self.writable = endpoint.options.get("access", "rw") == "rw"
        self.unit = str(endpoint.options.get("unit", ""))

    def read(self) -> int | float:
        """The value, sampled half-way through the time that the access takes."""
        self.link.accesses += 1
        self.link.one_way()
        value = self.type.number(self.link.runner.peek(self.endpoint.ports["value"]))
        self.link.one_way()
        return value

    def write(self, value: Any) -> None:
        """Write a number; the design sees it from the tick after the one in which it arrives."""
        if not self.writable:
            raise HostFault(f'register {self.name} is read-only for the host (access="ro")')
        raw, ports, runner = self.raw(value), self.endpoint.ports, self.link.runner
        self.link.accesses += 1
        self.link.one_way()
        runner.ask(runner.ticks, ports["data"], raw)
        runner.ask(runner.ticks, ports["write"], 1)
        self.link.one_way()

    def raw(self, value: Any) -> int:
        """The raw value for a number, or :class:`HostFault`.  Fixed point rounds half to even."""
        if isinstance(value, bool):
            value = int(value)
        try:
            number = exact(value)
        except UnitFault as error:
            raise HostFault(f"register {self.name}: {error}") from None
        scaled = number / self.type.step
        if scaled.denominator != 1 and not self.type.fixed:
            raise HostFault(f"register {self.name} is {self.type}: {value!r} is not a whole number")
        raw = round(scaled)
        if not self.type.holds(raw):
            low, high = self.type.number(self.type.low), self.type.number(self.type.high)
            raise HostFault(
                f"register {self.name} is {self.type}: {value!r} is outside {low} to {high}"
                f"{' ' + self.unit if self.unit else ''}"
            )
        return raw
