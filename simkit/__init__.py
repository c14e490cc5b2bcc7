"""simkit: hardware for measurement and control, written in Python, run to the exact tick on a simulated bench."""

from .lang import *  # noqa: F403
from .lang import __all__ as _language
from .notebook import install as _install
from .units import Duration, ms, ns, s, us

__all__ = [*_language, "Duration", "ms", "ns", "s", "us"]

_install()
