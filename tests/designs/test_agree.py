"""A slice of the comparison that ``python -m tests.designs.agree`` runs at length, and tests of its own parts."""

from __future__ import annotations

import pytest

from tests.designs.agree import difference, verdict
from tests.designs.generate import random_design, random_program
from tests.designs.shrink import shrink
from tests.tools import needed


@pytest.mark.parametrize("first", range(0, 45, 15))
def test_oracle_and_engines_agree(first):
    for seed in range(first, first + 15):
        assert verdict(random_program(seed), with_icarus=False) == [], f"python -m tests.designs.agree --shrink {seed}"


def test_icarus_agrees():
    needed("iverilog", "vvp")
    for seed in range(500, 508):
        assert verdict(random_program(seed)) == [], f"python -m tests.designs.agree --shrink {seed}"


def test_the_same_seed_gives_the_same_design():
    assert random_design(17) == random_design(17)
    assert random_design(17) != random_design(18)


def test_every_construct_turns_up():
    text = "".join(random_design(seed)[0] for seed in range(400))
    for word in (
        "while ",
        "for ",
        "range(",
        "break",
        "continue",
        "return",
        "else:",
        "tick()",
        "wait(",
        "until(",
        ".read()",
        ".read(",
        ".write(",
        ".get()",
        ".put(",
        ".try_get()",
        ".try_put(",
        ".request()",
        ".pending",
        ".late",
        ".missed",
        ".overflow",
        ".valid",
        ".ready",
        "Reg(",
        "Regs(",
        "Ram(",
        "Rom(",
        "Fifo(",
        "Handshake(",
        "Synchronizer(",
        "unsafe_cross(",
        "HostReg(",
        'access="ro"',
        '"to_host"',
        '"from_host"',
        "Interrupt(",
        "DigitalIn(",
        "DigitalOut(",
        "AnalogIn(",
        "AnalogOut(",
        "@clocked",
        "@sequenced",
        "every=",
        "clock=other",
        "@operation",
        "@combinational",
        "bits(",
        "cat(",
        "resize(",
        "rem(",
        "const(",
        "min(",
        "max(",
        "abs(",
        "sum(",
        " in (",
        " += ",
        " if ",
        " and ",
        " or ",
        "not ",
        "<<",
        ">>",
        "sfixed",
        "ufixed",
        "saturate",
        "truncate",
        ": unsigned",
    ):
        assert word in text, word


def test_difference_names_the_first_tick_that_parts():
    assert difference({"a": [(0, 1), (4, 2)]}, {"a": [(0, 1), (4, 2)]}) == ""
    assert difference(
        {"a": [(0, 1), (9, 2)], "b": [(0, 0), (5, 1)]}, {"a": [(0, 1)], "b": [(0, 0), (6, 1)]}
    ).startswith("tick 5: b")


def test_a_planted_fault_is_found_and_made_small(monkeypatch):
    """until() that looks one tick too late: the oracle notices, and what is left still holds an operation that waits."""
    from simkit.lang.operations import Operations

    right = Operations._do_wait

    def wrong(self, node, wait, here, put):
        wait.check_now = False
        right(self, node, wait, here, put)

    monkeypatch.setattr(Operations, "_do_wait", wrong)
    seed = next(seed for seed in range(100) if _oracle_differs(random_program(seed)))
    program = random_program(seed)
    before = len(program.source().splitlines())
    small = shrink(program, _oracle_differs).source()
    assert len(small.splitlines()) < before / 2
    assert any(word in small for word in (".put(", ".get(", "until(", ".read("))
    monkeypatch.undo()
    assert not _oracle_differs(program)


def _oracle_differs(program):
    return any(line.startswith("oracle") for line in verdict(program, with_icarus=False))
