"""What a design's endpoints must look like before a bench touches them.

Netlists may come from anywhere; :func:`simkit.netlist.check` knows nothing of channels.  What passes here has all the
ports that the bench and the host use, of the right sort and type, on the fabric clock.
"""

from __future__ import annotations

from ..netlist import Endpoint, Netlist
from ..netlist.check import same_bits
from ..netlist.types import BIT, Type
from .terminals import BenchFault

SAMPLES = {"value": "input", "valid": "strobe"}
ROLES: dict[str, dict[str, str]] = {
    "digital_in": {"value": "input"},
    "digital_out": {"value": "output"},
    "analog_in": SAMPLES,
    "thermocouple_in": SAMPLES,
    "analog_out": {"value": "output", "ready": "strobe"},
    "host_reg ro": {"value": "output"},
    "host_reg rw": {"value": "output", "data": "input", "write": "strobe"},
    "host_stream to_host": {"data": "output", "valid": "output bit", "ready": "strobe"},
    "host_stream from_host": {"data": "input", "valid": "strobe", "ready": "output bit"},
    "interrupt": {"request": "output bit", "acknowledge": "strobe"},
}
"""For each kind of endpoint (with its access or direction) its roles: an input or output of the endpoint's type, a
strobe, an output of one bit."""

MAX_DEPTH = 1 << 20


def check_endpoints(netlist: Netlist) -> None:
    """Raise :class:`BenchFault` for an endpoint that lacks something."""
    inputs = {port.name: port for port in netlist.inputs}
    outputs = {port.name: port for port in netlist.outputs}
    for end in netlist.endpoints:
        for role, sort in _roles(end).items():
            port = (outputs if sort.startswith("output") else inputs).get(end.ports.get(role, ""))
            kind = end.type if sort in ("input", "output") else BIT
            if port is None or port.clock != 0 or not _fits(port, kind, sort):
                raise BenchFault(
                    f"endpoint {end.name!r} ({end.kind}): {role} must be {_article(sort)} of {kind} on the fabric clock"
                )


def _roles(end: Endpoint) -> dict[str, str]:
    kind = end.kind
    if kind == "host_reg":
        kind += f" {end.options.get('access', 'rw')}"
    elif kind == "host_stream":
        kind += f" {end.options.get('direction')}"
        depth = end.options.get("depth")
        if isinstance(depth, bool) or not isinstance(depth, int) or not 1 <= depth <= MAX_DEPTH:
            raise BenchFault(f"endpoint {end.name!r}: a stream is 1 to {MAX_DEPTH} words deep, not {depth!r}")
    if kind not in ROLES:
        raise BenchFault(f"endpoint {end.name!r}: there is no kind {kind!r}")
    return ROLES[kind]


def _article(sort: str) -> str:
    return f"an {sort.split()[0]}" if sort[0] in "io" else f"a {sort}"


def _fits(port: object, kind: Type, sort: str) -> bool:
    strobe = getattr(port, "strobe", False)
    return same_bits(port.type, kind) and strobe == (sort == "strobe")  # type: ignore[attr-defined]
