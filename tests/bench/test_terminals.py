"""What terminals make of a design's outputs, and names."""

import numpy as np
import pytest

from simkit.bench import Bench, BenchFault, FanHouse
from simkit.bench.terminals import Level, find


def level(first, changes, stop=100):
    ticks, values = zip(*changes, strict=True) if changes else ((), ())
    return Level(0, first, 0, stop, np.array(ticks, np.int64), np.array(values, np.int64))


def test_the_mean_of_a_pulsed_line_is_its_duty():
    assert level(1, [(25, 0), (50, 1), (75, 0)]).mean() == 0.5
    assert level(0, []).mean() == 0.0 and level(1, [(10, 1), (30, 0)]).mean() == pytest.approx(0.3)


def test_values_at_ticks_and_at_the_end():
    one = level(3, [(10, 5), (20, -7)])
    assert one.at(np.array([0, 9, 10, 19, 20, 99])).tolist() == [3, 3, 5, 5, -7, -7]
    assert one.last == -7 and Level.still(4).last == 4 and Level.still(4).mean() == 4.0


def test_a_name_that_is_nearly_right_is_guessed():
    terminals = FanHouse().terminals
    with pytest.raises(BenchFault, match='no terminal "fan B bering".*did you mean "fan B bearing"'):
        find("fan B bering", terminals)
    with pytest.raises(BenchFault, match='no terminal "xyz" on this bench. Terminals: fan A speed'):
        find("xyz", terminals)


@pytest.mark.parametrize("seed", [-1, 1.5, True, "a"])
def test_a_seed_is_a_whole_number(seed):
    with pytest.raises(BenchFault, match="seed: a whole number of 0 or more"):
        Bench(seed)


def test_each_name_has_random_numbers_of_its_own():
    a, b = (Bench(3).random(name).integers(0, 10**9, 4).tolist() for name in ("one", "two"))
    assert a != b and a == Bench(3).random("one").integers(0, 10**9, 4).tolist()
    assert a != Bench(4).random("one").integers(0, 10**9, 4).tolist()
