"""Streams of words between design and host.

Design-side there is a queue of the depth that the design declares.  The link moves words between it and a buffer in the
host's memory, in bursts, one word per tick while a burst lasts.  When the host's buffer is full the link stops taking
words, the design's queue fills, and what the design then offers is its loss: it waits (``put``) or counts it
(``try_put``).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence

import numpy as np

from ..netlist import Endpoint
from ..units import Duration, exact, s
from .faults import HostFault, HostTimeout
from .link import Link
from .registers import Register

Changes = tuple[str, np.ndarray, np.ndarray]
"""Changes of an input: port, ticks, raw values."""

Fresh = Mapping[str, tuple[np.ndarray, np.ndarray] | None]
"""For each watched role: ticks and raw values of what changed since last time; None if nothing did."""

POLL_S = 0.2e-3
"""How often a host program that waits looks whether something has come."""

LEAST_RATE = 64_000
"""Words per second that the link is always ready for; for more it needs to have seen that more come."""


class Stream:
    """Base of both directions.

    ``buffer`` is the size of the host's buffer in words; ``moved`` counts the words that have crossed the link;
    ``timeouts`` counts the times that the host waited in vain: for words that did not come, or for room.
    ``level`` names the register that counts the words in the design's queue ("" if there is none).
    """

    watched: tuple[str, ...] = ()

    def __init__(self, endpoint: Endpoint, link: Link, level: str = "", buffer: int = 65536) -> None:
        self.endpoint = endpoint
        self.link = link
        self.name = endpoint.name
        self.type = endpoint.type
        self.depth = int(endpoint.options.get("depth", 1))
        self.level = level
        self.buffer = buffer
        self.moved = 0
        self.timeouts = 0
        every = exact(link.model.burst_s) * 10**12 / link.runner.tick_length.ps
        self._num, self._den = every.numerator, every.denominator
        self._most = int(link.model.words_per_s * link.model.burst_s)

    @property
    def overflow(self) -> int:
        """Words that were offered to a full queue and lost, as the design counts them."""
        if "overflow" not in self.endpoint.ports:
            raise HostFault(f"stream {self.name} counts no overflow")
        return self.link.runner.peek(self.endpoint.ports["overflow"])

    @property
    def underflow(self) -> int:
        """How often the design asked for a word and the host had sent none; only streams from the host count it."""
        if "underflow" not in self.endpoint.ports:
            raise HostFault(
                f"stream {self.name} counts no underflow: only a stream from the host can run empty on the design"
            )
        return self.link.runner.peek(self.endpoint.ports["underflow"])

    @property
    def queued(self) -> int:
        """Words in the design's queue."""
        return self.link.runner.peek(self.level) if self.level else 0

    def burst(self, number: int) -> tuple[int, int]:
        """Burst by number: its first tick, and how many words it may move."""
        tick, following = -(-number * self._num // self._den), -(-(number + 1) * self._num // self._den)
        return tick, min(self._most, following - tick)

    def burst_after(self, tick: int) -> int:
        """Number of the first burst that begins in a tick or later."""
        return (tick - 1) * self._den // self._num + 1

    def plan(self, start: int, stop: int) -> list[Changes]:
        """What the link does in the ticks from ``start`` to before ``stop``, as far as it can be said in advance."""
        return []

    def next_look(self) -> int | None:
        """The tick from now on at which the link looks at the design to decide something (None: no need)."""
        return None

    def look(self) -> None:
        """Decide, in that tick."""

    def collect(self, now: int, fresh: Fresh) -> None:
        """Take in what the design showed in the ticks before ``now``."""

    def _wait(self, limit: Duration, what: str) -> None:
        """Let a little time pass; :class:`HostTimeout` once the instant ``limit`` is over."""
        if self.link.runner.now >= limit:
            self.timeouts += 1
            raise HostTimeout(f"stream {self.name}: {what} by {limit}")
        self.link.pass_time(min(POLL_S, (limit - self.link.runner.now).seconds))


class ReadStream(Stream):
    """Words from the design."""

    watched = ("valid", "data")

    def __init__(self, endpoint: Endpoint, link: Link, level: str = "", buffer: int = 65536) -> None:
        super().__init__(endpoint, link, level, buffer)
        self._strobes = np.empty(0, np.int64)
        self._bursts: list[tuple[int, int]] = []
        self._least = max(int(LEAST_RATE * link.model.burst_s), 1)
        self._ready_for = 4 * self._least
        self._last = {"valid": 0, "data": 0}
        self._moved_at: list[np.ndarray] = []
        self._held: list[np.ndarray] = []
        self.available = 0
        """Words that wait in the host's buffer."""

    def plan(self, start: int, stop: int) -> list[Changes]:
        """The link's strobes: it takes words while the host's buffer has room, about as many as came last time."""
        self._adapt()
        room = self.buffer - self.available - len(self._strobes)
        extra = self.queued
        strobes: list[np.ndarray] = []
        first, last = self.burst_after(start), self.burst_after(stop)
        for number in range(first, last):
            tick, most = self.burst(number)
            if not self.link.up_in(tick):
                continue
            # What room there is in the host's buffer is shared out among the bursts: which of them will find words is
            # not known.
            share = -(-room // (last - number))
            count = max(min(self.depth, self._ready_for + extra, most, share), 0)
            strobes.append(np.arange(tick, tick + count, dtype=np.int64))
            self._bursts.append((tick, count))
            room, extra = room - count, 0
        ticks = np.concatenate([*strobes, self._strobes[:0]])
        self._strobes = np.concatenate([self._strobes, ticks])
        return [(self.endpoint.ports["ready"], ticks, np.ones(len(ticks), np.int64))] if len(ticks) else []

    def _adapt(self) -> None:
        """Be ready for a little more than the fullest of the last bursts moved, for much more if one moved all it
        could; forget slowly."""
        if not self._bursts:
            return
        moved = np.concatenate(self._moved_at) if self._moved_at else np.empty(0, np.int64)
        first, offered = np.array(self._bursts, np.int64).T
        came = np.searchsorted(moved, first + offered) - np.searchsorted(moved, first)
        full = bool(np.any((came == offered) & (offered > 0)))
        most = int(came.max())
        wanted = 4 * self._ready_for if full else max(most + most // 8 + 8, self._ready_for * 7 // 8)
        self._ready_for = min(max(wanted, self._least), self.depth)
        self._bursts, self._moved_at = [], []

    def collect(self, now: int, fresh: Fresh) -> None:
        """Words that moved: there was one, and the link's strobe."""
        cut = int(np.searchsorted(self._strobes, now))
        done, self._strobes = self._strobes[:cut], self._strobes[cut:]
        valid, data = (self._seen(role, fresh[role], done) for role in self.watched)
        there = valid != 0
        if there.any():
            self._held.append(data[there])
            self._moved_at.append(done[there])
            self.available += len(self._held[-1])
            self.moved += len(self._held[-1])

    def _seen(self, role: str, fresh: tuple[np.ndarray, np.ndarray] | None, ticks: np.ndarray) -> np.ndarray:
        """Raw values of an output in the given ticks."""
        last = self._last[role]
        if fresh is None:
            return np.full(len(ticks), last, object if abs(last) >= 2**63 else np.int64)
        changed, values = fresh
        self._last[role] = int(values[-1])
        return np.concatenate(([last], values))[np.searchsorted(changed, ticks, side="right")]

    def read(self, count: int | None = None, timeout: Duration | None = None) -> np.ndarray:
        """The next ``count`` words as numbers, oldest first; without a count: all that are there, without waiting.

        Parameters
        ----------
        count : how many; None for what is there
        timeout : how long to wait for them at most (default 1 s of simulated time)

        Raises
        ------
        HostTimeout
            If fewer have come by then; they stay in the buffer.
        """
        self.link.accesses += 1
        self.link.one_way()
        if count is None:
            count = self.available
        limit = self.link.runner.now + (s(1) if timeout is None else timeout)
        while self.available < count:
            self._wait(limit, f"{self.available} of {count} words had come")
        raw = self._take(count)
        self.link.one_way()
        return raw.astype(float) * float(self.type.step) if self.type.fixed else raw

    def _take(self, count: int) -> np.ndarray:
        words = np.concatenate([np.empty(0, object if self.type.width > 63 else np.int64), *self._held])
        self._held = [words[count:]] if len(words) > count else []
        self.available -= count
        return words[:count]


class WriteStream(Stream):
    """Words to the design."""

    def __init__(self, endpoint: Endpoint, link: Link, level: str = "", buffer: int = 65536) -> None:
        super().__init__(endpoint, link, level, buffer)
        self._scale = Register(endpoint, link)
        self._words: deque[int] = deque()
        self._served = -1

    @property
    def waiting(self) -> int:
        """Words that wait in the host's buffer for room in the design's queue."""
        return len(self._words)

    def next_look(self) -> int | None:
        return self.burst(self._number())[0] if self._words else None

    def _number(self) -> int:
        return max(self.burst_after(self.link.runner.ticks), self._served + 1)

    def look(self) -> None:
        """A burst begins: never more words than the design's queue has room for."""
        runner, ports = self.link.runner, self.endpoint.ports
        self._served = self._number()
        tick, most = self.burst(self._served)
        room = self.depth - self.queued if self.level else 1
        count = min(most, len(self._words), room) if self.link.up() else 0
        for i in range(count):
            runner.ask(tick + i, ports["data"], self._words.popleft())
            runner.ask(tick + i, ports["valid"], 1)
        self.moved += count

    def write(self, values: Sequence[int | float], timeout: Duration | None = None) -> None:
        """Hand words over, oldest first.

        Returns as soon as they are in the host's buffer; waits while that is full.

        Raises
        ------
        HostFault
            If a value does not fit the stream's type; then none is taken.
        HostTimeout
            If the buffer had no room for all of them in time (default 1 s); those that fitted are on their way.
        """
        raw = [self._scale.raw(value) for value in values]
        self.link.accesses += 1
        self.link.one_way()
        limit = self.link.runner.now + (s(1) if timeout is None else timeout)
        for i, word in enumerate(raw):
            while len(self._words) >= self.buffer:
                self._wait(limit, f"there was room for {i} of {len(raw)} words")
            self._words.append(word)
        self.link.one_way()
