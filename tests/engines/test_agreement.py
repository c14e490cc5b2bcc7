"""A slice of :mod:`tests.agreement`; CI runs more of it from the command line."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.engines.native import engine
from simkit.netlist import OPS
from tests.agreement import GENERATORS, compare, disagreements, first_difference
from tests.netlist.random_netlists import random_netlist
from tests.tools import needed


@pytest.mark.parametrize("first", range(1, 17, 4))
def test_reference_and_native_agree(first: int) -> None:
    report = compare(4, first, False, GENERATORS)
    assert report["mismatches"] == 0, report["examples"]


def test_few_events_and_many_are_taken_in_different_ways_to_the_same_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "FEW", -1)
    assert not [line for seed in range(4) for line in disagreements(random_netlist(seed), seed, False)]
    monkeypatch.setattr(engine, "FEW", 10**6)
    assert not [line for seed in range(4) for line in disagreements(random_netlist(seed), seed, False)]


def test_icarus_agrees() -> None:
    needed("iverilog", "vvp")
    report = compare(6, 30, True, GENERATORS)
    assert report["mismatches"] == 0, report["examples"]


def test_a_wrong_operator_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison can fail: with one wrong row in the native column it does."""
    monkeypatch.setitem(OPS, "xor", dataclasses.replace(OPS["xor"], llvm=lambda b, a, *_: b.or_(*a)))
    assert any(disagreements(random_netlist(seed), seed, False) for seed in range(8))


def test_wrong_verilog_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    needed("iverilog", "vvp")
    monkeypatch.setitem(OPS, "add", dataclasses.replace(OPS["add"], verilog="{0} - {1}"))
    found = [line for seed in range(8) for line in disagreements(random_netlist(seed), seed)]
    assert found and all("Icarus" in line for line in found)


def test_first_difference_names_signal_and_tick() -> None:
    assert first_difference({"a": [(0, 1), (4, 2)]}, {"a": [(0, 1), (4, 3)]}) == "a: (4, 2) against (4, 3)"
    assert first_difference({"a": [(0, 1)]}, {"a": [(0, 1)]}) == ""
