"""Random designs as learners would write them: source text, stimuli, and a machine that says what they mean.

``random_design(seed)`` gives ``(source, stimuli)``; the class is called ``Random``.  ``random_program(seed)`` gives the
:class:`Program` behind it.  The same seed always gives the same design.  Every fifth one or so has two clocks; those
have no second opinion, because what crosses clocks depends on chance.
"""

from __future__ import annotations

from simkit.netlist import make
from tests.designs.expressions import reader
from tests.designs.program import COUNT, Event, LoopText, Program, Scope
from tests.designs.statements import Do
from tests.designs.supplies import Supplies


class Generator(Supplies):
    """Writes one random program."""

    def make(self) -> Program:
        rng, program = self.rng, self.program
        self._counter()
        for number in range(rng.choice((1, 1, 2, 2, 3))):
            kind = "clocked" if rng.random() < 0.25 else "sequenced"
            period = rng.choice((0, 0, 0, 1, 2, 7, 16, 30)) if kind == "sequenced" else 0
            clock = 1 if program.clocks > 1 and number == 0 else rng.randrange(program.clocks)
            loop = LoopText(f"loop{number}", kind, period, clock)
            program.loops.append(loop)
            self._registers(loop)
            if period:
                self._read(clock, f"self.{loop.name}.late", COUNT, reader(f"{loop.name}.late"))
        self._outside()
        self._links()
        self._functions()
        written = [loop for loop in program.loops if not loop.name.startswith("counter")]
        for loop in written:
            self._operations(loop)
        for loop in written:
            scope = self._scope(loop, loop.kind == "sequenced")
            loop.body[:] = self._locals(scope) + self.block(loop, scope, rng.randrange(3, 8))
            self._use_the_rest(loop, scope)
        return program

    def _use_the_rest(self, loop: LoopText, scope: Scope) -> None:
        """Statements for what the loop has but did not use, so that words flow through its queues and channels."""
        for makers in (self.singles[loop.name], self.waiting[loop.name]):
            for maker in makers:
                if self.rng.random() < 0.8:
                    loop.body.insert(self.rng.randrange(scope.prologue, len(loop.body) + 1), maker(scope))

    def _scope(self, loop: LoopText, waits: bool) -> Scope:
        owned = self.owned[loop.name]
        return Scope(
            list(self.readable[loop.clock]), [target for target, _ in owned], {t.text: k for t, k in owned}, waits
        )

    def _counter(self) -> None:
        for clock in range(self.program.clocks):
            name, loop = f"now{clock}", LoopText(f"counter{clock}", "clocked", 0, clock)
            kind = make("unsigned", 8)
            self._register(name, kind, 0)
            loop.body.append(
                Do(
                    f"self.{name} = self.{name} + 1",
                    lambda c, n=name: c.machine.assign(n, (c.machine.old[n] + 1) % 256),
                )
            )
            self.program.loops.append(loop)
            self._read(clock, f"self.{name}", kind, reader(name))
            self.owned[loop.name] = []


def random_program(seed: int) -> Program:
    """A random program; the same seed always gives the same one."""
    return Generator(seed).make()


def random_design(seed: int) -> tuple[str, list[Event]]:
    """Source text of a design class ``Random``, and stimuli ``(tick, input, raw value)``."""
    program = random_program(seed)
    return program.source(), program.stimuli()
