"""Pseudonyms: the same learner has the same one for a whole course, and only the course's secret leads back."""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"  # none that is taken for another


def pseudonyms(learners: Iterable[str], secret: bytes, length: int = 4) -> dict[str, str]:
    """Learner to pseudonym, as "L-7QK2"; longer ones if two learners would share one."""
    names = sorted(set(learners))
    found = {name: _pseudonym(name, secret, length) for name in names}
    return found if len(set(found.values())) == len(names) else pseudonyms(names, secret, length + 1)


def _pseudonym(name: str, secret: bytes, length: int) -> str:
    digest = hmac.digest(secret, b"pseudonym\x1f" + name.encode(), hashlib.sha256)
    return "L-" + "".join(LETTERS[byte % len(LETTERS)] for byte in digest[:length])
