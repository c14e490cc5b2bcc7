"""Imports nbformat without the part that takes longest: a grammar of internet names, which no notebook needs.

jsonschema loads ``rfc3987_syntax`` if it is installed, and that takes more than a second; it does without it otherwise.
"""

from __future__ import annotations

import sys

SLOW = "rfc3987_syntax"

if "jsonschema" not in sys.modules and SLOW not in sys.modules:
    sys.modules[SLOW] = None  # type: ignore[assignment]  # makes "import rfc3987_syntax" fail
    try:
        import nbformat
    finally:
        del sys.modules[SLOW]
else:
    import nbformat

__all__ = ["nbformat"]
