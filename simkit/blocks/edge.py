"""Edges and clean levels of a line."""

from __future__ import annotations

from ..lang import Design, Reg, bit, operation, unsigned


class Edge(Design):
    """Tells in which step a line rises, falls, or does either.

    ``step(x)`` returns a bit: 1 in the step in which ``x`` differs from the step before in the way asked for.

    Latency 0 ticks (combinational); one register.  The line counts as 0 before the first step.

    Parameters
    ----------
    kind : ``"rising"``, ``"falling"`` or ``"both"``
    """

    before = Reg(bit)

    def __init__(self, kind: str = "rising") -> None:
        if kind not in ("rising", "falling", "both"):
            raise ValueError(f'Edge: kind is "rising", "falling" or "both", not {kind!r}')
        self.up = kind != "falling"
        self.down = kind != "rising"

    @operation
    def step(self, x):
        before = self.before
        self.before = x
        return (self.up and x and not before) or (self.down and before and not x)


class Debounce(Design):
    """The level of a contact that bounces.

    ``step(x)`` returns the clean level: it follows ``x`` once ``x`` has been different for ``steps`` steps on end.

    Latency: a lasting change is returned in the ``steps``-th step that shows it (common practice: 5 to 20 ms for a
    push button).  Shorter pulses never show.  The level is 0 at reset.

    Parameters
    ----------
    steps : how many steps on end, 1 to 2**32 - 1
    """

    level = Reg(bit)

    def __init__(self, steps: int) -> None:
        if not 1 <= steps < 2**32:
            raise ValueError(f"Debounce: steps is {steps}; 1 to 2**32 - 1 is possible")
        self.last = steps - 1
        self.seen = Reg(unsigned(max(steps.bit_length(), 1)))

    @operation
    def step(self, x):
        changed = x != self.level
        done = changed and self.seen == self.last
        self.seen = self.seen + 1 if changed and not done else 0
        level = x if done else self.level
        self.level = level
        return level
