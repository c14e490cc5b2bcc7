"""The host side of a design: registers (and, over a link, streams and interrupts), in simulated time."""

from .registers import Host, HostFault

__all__ = ["Host", "HostFault"]
