"""A second opinion on what a design means: a machine that follows the learner's program statement by statement.

It knows nothing of netlists, states or multiplexers.  Each loop is a Python generator that yields where a tick ends;
registers have an old and a new value; queues are deques.  Numbers are exact (int or Fraction), not bit patterns.
Only one clock: what crosses clocks depends on chance.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Generator, Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from simkit.netlist import Type

Number = int | Fraction
Steps = Generator[None, None, None]


def wrapped(number: Number, kind: Type) -> Number:
    """The value that the bits of ``number`` spell in ``kind``."""
    raw = Fraction(number) / kind.step
    assert raw.denominator == 1, f"{number} is no multiple of {kind.step}"
    span = 1 << kind.width
    raw = raw.numerator % span
    if kind.signed and raw >= span // 2:
        raw -= span
    return raw * kind.step if kind.fixed else raw


def raw_of(number: Number, kind: Type) -> int:
    raw = Fraction(number) / kind.step
    assert raw.denominator == 1 and kind.holds(raw.numerator), f"{number} is not a value of {kind}"
    return raw.numerator


def resized(number: Number, have: Type, want: Type, overflow: str | None, rounding: str | None) -> Number:
    """``resize``: numeric_std's between integers without styles, else fixed_pkg's."""
    if not have.fixed and not want.fixed and overflow is None and rounding is None:
        if not want.signed or want.width >= have.width:
            return wrapped(number, want)
        return (int(number) & ((1 << (want.width - 1)) - 1)) - ((1 << (want.width - 1)) if number < 0 else 0)
    raw = Fraction(number) / want.step
    whole = math.floor(raw) if rounding == "truncate" else round(raw)
    if overflow != "wrap":
        whole = max(want.low, min(want.high, whole))
    return wrapped(whole * want.step, want)


class Left(Exception):
    """Control leaves a loop or a function."""


class Broken(Left):
    pass


class Again(Left):
    pass


class Returned(Left):
    def __init__(self, value: Number | None = None) -> None:
        super().__init__("return")
        self.value = value


@dataclass
class Queue:
    depth: int
    words: deque[Number] = field(default_factory=deque)
    put: list[Number] = field(default_factory=list)
    got: bool = False

    @property
    def valid(self) -> bool:
        return bool(self.words)

    @property
    def ready(self) -> bool:
        return len(self.words) < self.depth

    def commit(self) -> None:
        if self.got:
            self.words.popleft()
        assert len(self.put) <= 1
        self.words.extend(self.put)
        self.put, self.got = [], False


@dataclass
class Memory:
    words: list[Number]
    asked: dict[str, int] = field(default_factory=dict)
    shown: dict[str, Number] = field(default_factory=dict)
    write: tuple[int, Number] | None = None

    def commit(self) -> None:
        for loop, address in self.asked.items():
            self.shown[loop] = self.words[address] if address < len(self.words) else 0
        if self.write is not None and self.write[0] < len(self.words):
            self.words[self.write[0]] = self.write[1]
        self.asked, self.write = {}, None


@dataclass
class Mailbox:
    """An analog input that is read."""

    sample: Number = 0
    unread: bool = False
    taken: bool = False


@dataclass
class Loop:
    name: str
    period: int
    body: Callable[[Context], Steps]
    idle: bool = True
    steps: Steps | None = None


@dataclass
class Context:
    """What a statement sees: the machine, the loop it belongs to, and the locals of the call it is in."""

    machine: Machine
    loop: str
    locals: dict[str, Number] = field(default_factory=dict)

    def call(self, locals_: dict[str, Number]) -> Context:
        return Context(self.machine, self.loop, locals_)


class Machine:
    """Runs a program.  ``seen[name]`` lists ``(tick, value)``: the first value and each change."""

    def __init__(self) -> None:
        self.kinds: dict[str, Type] = {}
        self.old: dict[str, Number] = {}
        self.new: dict[str, Number] = {}
        self.queues: dict[str, Queue] = {}
        self.far: dict[str, str] = {}  # streams: name -> direction
        self.refused: set[str] = set()
        self.memories: dict[str, Memory] = {}
        self.boxes: dict[str, Mailbox] = {}
        self.chains: dict[str, list[Number]] = {}
        self.requests: set[str] = set()
        self.interrupts: list[str] = []
        self.hosted: list[str] = []
        self.inputs: dict[str, Number] = {}
        self.strobes: dict[str, int] = {}
        self.loops: list[Loop] = []
        self.tick = 0
        self.seen: dict[str, list[tuple[int, int]]] = {}

    # --- what it holds ---

    def register(self, name: str, kind: Type, reset: Number = 0) -> None:
        self.kinds[name], self.old[name] = kind, reset

    def assign(self, name: str, number: Number) -> None:
        raw_of(number, self.kinds[name])
        self.new[name] = number

    def strobe(self, name: str) -> bool:
        return bool(self.strobes.get(name))

    # --- running ---

    def run(self, ticks: int, events: Iterable[tuple[int, str, Number, bool]]) -> None:
        """``events``: tick, input, value, whether it is a strobe."""
        due = deque(sorted(events, key=lambda event: event[0]))
        for loop in self.loops:
            loop.steps = self._turns(loop)
        for self.tick in range(ticks):
            self.strobes = {}
            while due and due[0][0] <= self.tick:
                _, name, value, strobe = due.popleft()
                (self.strobes if strobe else self.inputs)[name] = value
            self._note()
            for loop in self.loops:
                if loop.period and self.tick % loop.period == 0 and not loop.idle:
                    self.new[f"{loop.name}.late"] = self.old[f"{loop.name}.late"] + 1
                assert loop.steps is not None
                next(loop.steps)
            self._commit()

    def _turns(self, loop: Loop) -> Steps:
        while True:
            while loop.period and self.tick % loop.period:
                yield
            loop.idle = False
            try:
                yield from loop.body(Context(self, loop.name))
            except Returned:
                pass
            loop.idle = True
            yield

    def _note(self) -> None:
        shown = dict(self.old) | {f"{name}.count": len(queue.words) for name, queue in self.queues.items()}
        for name, value in shown.items():
            raw = raw_of(value, self.kinds[name]) if name in self.kinds else value
            changes = self.seen.setdefault(name, [])
            if not changes or changes[-1][1] != raw:
                changes.append((self.tick, raw))

    def _commit(self) -> None:
        for name in self.hosted:
            if self.strobe(f"{name}.write"):
                self.new[name] = self.inputs.get(f"{name}.data", 0)
        for name in self.interrupts:
            held = self.old[name] and not self.strobe(f"{name}.acknowledge")
            self.new[name] = int(bool(held or name in self.requests))
        for name, box in self.boxes.items():
            self._commit_box(name, box)
        for name, direction in self.far.items():
            self._far_side(name, self.queues[name], direction)
        for name, chain in self.chains.items():
            chain[:] = [self.inputs.get(name, 0), *chain[:-1]]
        for item in (*self.queues.values(), *self.memories.values()):
            item.commit()
        self.old |= self.new
        self.new, self.requests, self.refused = {}, set(), set()

    def _commit_box(self, name: str, box: Mailbox) -> None:
        valid = self.strobe(f"{name}.valid")
        if valid and box.unread:
            self.new[f"{name}.missed"] = self.old[f"{name}.missed"] + 1
        if valid:
            box.sample = self.inputs.get(f"{name}.value", 0)
        box.unread = (valid or box.unread) and not box.taken
        box.taken = False

    def _far_side(self, name: str, queue: Queue, direction: str) -> None:
        """The host's side of a stream."""
        lost = name in self.refused
        if direction == "to_host":
            queue.got = self.strobe(f"{name}.ready") and queue.valid
        elif self.strobe(f"{name}.valid"):
            lost = not queue.ready
            if queue.ready:
                queue.put.append(self.inputs.get(f"{name}.data", 0))
        if lost:
            self.new[f"{name}.overflow"] = self.old[f"{name}.overflow"] + 1
