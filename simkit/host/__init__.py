"""The host side of a design: registers, streams and interrupts over a link that takes time, all in simulated time."""

from .faults import HostFault, HostTimeout, LinkDown, UnknownName
from .host import Host
from .interrupts import Interrupt
from .link import Link
from .models import DESKTOP, IDEAL, MODELS, REAL_TIME, HostModel
from .register_map import register_map, to_markdown, to_systemrdl
from .registers import Register
from .streams import ReadStream, Stream, WriteStream

__all__ = [
    "DESKTOP",
    "IDEAL",
    "MODELS",
    "REAL_TIME",
    "Host",
    "HostFault",
    "HostModel",
    "HostTimeout",
    "Interrupt",
    "Link",
    "LinkDown",
    "ReadStream",
    "Register",
    "Stream",
    "UnknownName",
    "WriteStream",
    "register_map",
    "to_markdown",
    "to_systemrdl",
]
