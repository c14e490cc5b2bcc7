"""What the host side refuses or gives up on."""


class HostFault(ValueError):
    """A request that the host side cannot serve: a read-only register, a value out of range."""


class UnknownName(HostFault, AttributeError):
    """The design has nothing of that name for the host."""


class HostTimeout(HostFault, TimeoutError):
    """What was waited for did not come in time."""


class LinkDown(HostFault, ConnectionError):
    """The link between host and design is interrupted."""
