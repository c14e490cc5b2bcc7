"""Numbers that follow from names: a learner's own parameters and the judge's seeds.

Everything here rests on SHA-256 alone, so that a learner sees the same numbers on every machine and with
every version of Python and numpy.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Draw:
    """A stream of random numbers decided by the names it is made from.

    >>> Draw("ada", "05-a").integer(1, 6) == Draw("ada", "05-a").integer(1, 6)
    True
    """

    def __init__(self, *names: str | int) -> None:
        self._key = "\x1f".join(str(name) for name in names).encode()
        self._count = 0

    def bits64(self) -> int:
        """The next 64 random bits as an integer."""
        block = hashlib.sha256(self._key + b"\x1f" + self._count.to_bytes(8, "big")).digest()
        self._count += 1
        return int.from_bytes(block[:8], "big")

    def integer(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``, both included (at most 2**32 values)."""
        if not 0 <= high - low < 2**32:
            raise ValueError(f"no whole numbers to draw from between {low} and {high}")
        return low + self.bits64() * (high - low + 1) // 2**64

    def real(self, low: float, high: float, step: float = 0.0) -> float:
        """A number from ``low`` up to ``high``; with ``step``, a multiple of it above ``low``."""
        if step:
            return low + step * self.integer(0, round((high - low) / step))
        return low + (high - low) * (self.bits64() >> 11) / 2**53

    def choice(self, items: Sequence[T]) -> T:
        """One of ``items``."""
        return items[self.integer(0, len(items) - 1)]


def public_seed(learner: str, exercise: str) -> int:
    """The seed (63 bits) with which a learner's own check judges; it is no secret."""
    return Draw("check", learner, exercise).bits64() >> 1


def private_seed(secret: bytes, learner: str, exercise: str) -> int:
    """The seed (63 bits) with which the grader judges; it needs the course's secret."""
    text = "\x1f".join(("grade", learner, exercise)).encode()
    return int.from_bytes(hmac.digest(secret, text, "sha256")[:8], "big") >> 1
