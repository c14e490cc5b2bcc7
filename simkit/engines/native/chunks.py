"""A large design's expressions as many small functions, because LLVM's time grows faster than a function's size.

A value that another chunk (or the commit) needs goes through the buffer; a register's next value goes straight to
where the commit copies it from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from .expr import Expressions, weight
from .irtext import Builder, Value

if TYPE_CHECKING:
    from .program import Program


class Chunks:
    """The operator nodes that one clock needs, in evaluation order, cut into functions of a limited weight."""

    def __init__(self, program: Program, clock: int, order: Sequence[int]) -> None:
        self.p, self.net, self.clock = program, program.net, clock
        self.owner: dict[int, int] = {}
        self.chunks: list[list[int]] = []
        filled = program.chunk
        for index in order:
            if filled >= program.chunk:
                self.chunks.append([])
                filled = 0
            filled += weight(self.net.nodes[index])
            self.chunks[-1].append(index)
            self.owner[index] = len(self.chunks) - 1

    def emit(self, watched: Iterable[int]) -> set[int]:
        """Write the functions and call them; returns the registers whose next value they store."""
        direct: dict[int, list[int]] = {}
        for i, reg in enumerate(self.net.regs):
            if reg.clock == self.clock and not reg.cross and reg.next in self.owner:
                direct.setdefault(reg.next, []).append(i)
        self.shared = self._shared(watched)
        for number, chunk in enumerate(self.chunks):
            name = f"cone{self.clock}_{number}"
            self.p.functions.append(self._function(name, chunk, direct))
            self.p.b.line(f"call void @{name}(ptr %s)")
        return {i for regs in direct.values() for i in regs}

    def _shared(self, watched: Iterable[int]) -> set[int]:
        """Nodes whose value is needed outside their own chunk."""
        net, clock = self.net, self.clock
        found = set(watched)
        for part, names in (
            ("timers", ("load", "value")),
            ("reads", ("addr", "enable")),
            ("writes", ("addr", "data", "enable")),
        ):
            found |= {getattr(item, name) for item in getattr(net, part) if item.clock == clock for name in names}
        for index, chunk in self.owner.items():
            found |= {a for a in net.nodes[index].args if self.owner.get(a, chunk) != chunk}
        return found

    def _function(self, name: str, chunk: Sequence[int], direct: dict[int, list[int]]) -> str:
        outer, self.p.b = self.p.b, Builder()
        try:
            exprs = Expressions(self.net, self.p.b, self.p.buffer_leaf, self.fetch)
            for index in chunk:
                exprs.emit([index])
                value = exprs.value(index)
                for reg in direct.get(index, ()):
                    self.p.store(self.p.layout.regs[reg] + self.p.ahead, value)
                if index in self.shared:
                    self.p.store(self.p.layout.scratch[index], value)
            outer.long_divisions |= self.p.b.long_divisions
            return "\n".join(
                (
                    f"define internal void @{name}(ptr noalias nocapture %s) noinline {{",
                    *self.p.b.lines,
                    "ret void",
                    "}",
                )
            )
        finally:
            self.p.b = outer

    def fetch(self, index: int) -> Value:
        """A node's value out of the buffer."""
        return self.p.load(self.p.layout.scratch[index], self.net.nodes[index].type.width)
