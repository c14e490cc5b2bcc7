"""Host registers as attributes: ``rig.host.limit = 900``, ``rig.host.level``."""

from __future__ import annotations

import difflib
from typing import Any, Protocol

from ..netlist import Endpoint, Netlist
from ..units import UnitFault, exact


class HostFault(ValueError):
    """A request that the host side cannot serve: an unknown name, a read-only register, a value out of range."""


class UnknownName(HostFault, AttributeError):
    """The design has nothing of that name for the host."""


class Access(Protocol):
    """What the host side needs of whatever runs the design."""

    @property
    def ticks(self) -> int: ...

    def ask(self, tick: int, port: str, value: int) -> None: ...

    def peek(self, name: str) -> int: ...


class Register:
    """One register, in the numbers that people mean."""

    def __init__(self, endpoint: Endpoint) -> None:
        self.endpoint = endpoint
        self.name = endpoint.name
        self.type = endpoint.type
        self.writable = endpoint.options.get("access", "rw") == "rw"
        self.unit = str(endpoint.options.get("unit", ""))

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
            raise HostFault(f"register {self.name} is {self.type}: {value!r} is outside {low} to {high}"
                            f"{' ' + self.unit if self.unit else ''}")
        return raw


class Host:
    """The host side of a running design: each host register is an attribute.

    Reading gives the value of this instant; what is written arrives at the next tick edge.  Registers of a
    sub-design are attributes of an attribute: ``host.guard.limit``.  ``host["guard.limit"]`` works too.
    """

    def __init__(self, netlist: Netlist, access: Access, prefix: str = "",
                 registers: dict[str, Register] | None = None) -> None:
        if registers is None:
            registers = {e.name: Register(e) for e in netlist.endpoints if e.kind == "host_reg"}
        object.__setattr__(self, "_registers", registers)
        object.__setattr__(self, "_access", access)
        object.__setattr__(self, "_prefix", prefix)
        object.__setattr__(self, "_netlist", netlist)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        full = self._prefix + name
        if any(known.startswith(full + ".") for known in self._registers):
            return Host(self._netlist, self._access, full + ".", self._registers)
        return self[full]

    def __setattr__(self, name: str, value: Any) -> None:
        self[self._prefix + name] = value

    def __getitem__(self, name: str) -> int | float:
        register = self._find(name)
        return register.type.number(self._access.peek(register.endpoint.ports["value"]))

    def __setitem__(self, name: str, value: Any) -> None:
        register = self._find(name)
        if not register.writable:
            raise HostFault(f'register {name} is read-only for the host (access="ro")')
        raw, ports, tick = register.raw(value), register.endpoint.ports, self._access.ticks
        self._access.ask(tick, ports["data"], raw)
        self._access.ask(tick, ports["write"], 1)

    def __dir__(self) -> list[str]:
        own = [name[len(self._prefix):] for name in self._registers if name.startswith(self._prefix)]
        return sorted({name.split(".")[0] for name in own})

    def _find(self, name: str) -> Register:
        if name in self._registers:
            return self._registers[name]
        close = difflib.get_close_matches(name, self._registers, 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise UnknownName(f"the design has no host register {name!r}.{guess} "
                          f"Registers: {', '.join(self._registers) or 'none'}")
