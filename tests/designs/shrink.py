"""Makes a failing program small: takes out statements for as long as it still fails."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from tests.designs.program import Program
from tests.designs.statements import For, If, Statement, While

Fails = Callable[[Program], bool]


def shrink(program: Program, fails: Fails) -> Program:
    """``program`` itself, cut down in place.  ``fails`` says whether what is left still shows the same fault."""
    changed = True
    while changed:
        changed = _without_loops(program, fails)
        for block in list(_blocks(program)):
            changed |= _shorter(program, block, fails)
    return program


def _without_loops(program: Program, fails: Fails) -> bool:
    """Whole loops and operations."""
    changed = False
    for loop in [loop for loop in program.loops if not loop.name.startswith("counter")]:
        changed |= _try(program, program.loops, program.loops.index(loop), [], fails)
    for index in reversed(range(len(program.operations))):
        changed |= _try(program, program.operations, index, [], fails)
    return changed


def _blocks(program: Program) -> Iterator[list[Statement]]:
    """Every list of statements, outer ones first."""
    waiting = list(program.bodies())
    while waiting:
        block = waiting.pop(0)
        yield block
        waiting += [inner for statement in block for inner in statement.blocks]


def _shorter(program: Program, block: list[Statement], fails: Fails) -> bool:
    changed = False
    for index in reversed(range(len(block))):
        statement = block[index]
        ways: list[list[Statement]] = [[]]
        if isinstance(statement, If | While | For):
            ways += [inner for inner in statement.blocks if inner]
        for instead in ways:
            if _try(program, block, index, instead, fails):
                changed = True
                break
    return changed


def _try(program: Program, items: list, index: int, instead: list, fails: Fails) -> bool:
    before = items[:]
    items[index : index + 1] = instead
    if fails(program):
        return True
    items[:] = before
    return False
