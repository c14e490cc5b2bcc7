"""Queues against a naive model, with random stalls; the Gray rule by brute force."""

from __future__ import annotations

import random
from collections import deque

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit import Clock, Design, DigitalIn, Fifo, HardwareError, Reg, bit, clocked, unsigned
from tests.designs.run import netlist_of
from tests.lang.running import Run


def stalls(rng: random.Random, name: str, ticks: int) -> list[tuple[int, str, int]]:
    """A line that is 1 in stretches of random length."""
    events, tick, level = [], 0, rng.randrange(2)
    while tick < ticks:
        events.append((tick, name, level))
        tick += rng.choice((1, 1, 2, 3, rng.randrange(1, 25)))
        level ^= 1
    return events


def make_design(depth: int, clock: Clock | None, width: int = 12) -> type[Design]:
    class Exercise(Design):
        queue = Fifo(unsigned(width), depth)
        give = DigitalIn("give", sync=0)
        want = DigitalIn("want", sync=2)
        n = Reg(unsigned(width))
        took = Reg(bit)
        got = Reg(unsigned(width))
        gave = Reg(bit)

        @clocked
        def putter(self):
            moved = self.queue.try_put(self.n) if self.give else False
            self.gave = moved
            self.n = self.n + 1

        @clocked(clock=clock)
        def getter(self):
            moved = self.queue.try_get() if self.want else False
            self.took = moved
            self.got = self.queue.value

    return Exercise


def series(run: Run, name: str, ticks: int) -> list[int]:
    changes, found, value = dict(run.seen(name)), [], 0
    for tick in range(ticks):
        value = changes.get(tick, value)
        found.append(value)
    return found


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 9), st.integers(0, 10**6))
def test_one_clock_against_a_deque(depth, seed):
    """Exactly: a word can be taken in the tick after it was put; a place is free in the tick after it was taken."""
    rng, ticks = random.Random(seed), 120
    run = Run(make_design(depth, None), ticks, stalls(rng, "give", ticks) + stalls(rng, "want", ticks))
    give = series(run, "give", ticks)
    want = [0, 0, *series(run, "want", ticks)][:ticks]  # two synchroniser registers
    gave, took, got = (series(run, name, ticks) for name in ("gave", "took", "got"))
    model: deque[int] = deque()
    for t in range(ticks - 1):
        may_put, may_get = len(model) < depth, bool(model)
        assert gave[t + 1] == (give[t] and may_put)
        assert took[t + 1] == (want[t] and may_get)
        assert series_count(run, t) == len(model)
        if want[t] and may_get:
            assert got[t + 1] == model.popleft()
        if give[t] and may_put:
            model.append(t)


def series_count(run: Run, tick: int) -> int:
    return run.at("queue.count", tick)


RATES = (40_000_000, 40_000_001, 39_000_000, 13_333_333, 100_000_000, 77_700_000, 250_000_000)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([2, 4, 8, 16]), st.sampled_from(RATES), st.integers(0, 10**6))
def test_two_clocks_against_a_deque(depth, hz, seed):
    """Every word given is taken, once, in order; never more in the queue than it holds; words arrive in 3 to 4 ticks of the reader."""
    rng, ticks = random.Random(seed), 200
    other = Clock(hz, "other")
    run = Run(make_design(depth, other), ticks, stalls(rng, "give", ticks) + stalls(rng, "want", ticks), seed)
    periods = (10**12 / 40_000_000, 10**12 / hz)
    other_ticks = int(ticks * hz / 40_000_000)
    put = [
        (t * periods[0], t - 1) for t, moved in enumerate(series(run, "gave", ticks)) if moved
    ]  # time of the edge, word
    took, got = series(run, "took", other_ticks), series(run, "got", other_ticks)
    taken = [(t * periods[1], got[t]) for t in range(other_ticks) if took[t]]
    assert [word for _, word in taken] == [word for _, word in put[: len(taken)]]
    for number, (when, _) in enumerate(taken):
        assert when > put[number][0]
        if number + depth < len(put):  # a word beyond the depth waits for the place of this one
            assert put[number + depth][0] > when


@pytest.mark.parametrize("hz", RATES)
def test_a_word_is_taken_at_the_third_or_fourth_edge_of_the_reader(hz):
    found = set()
    for at in range(5, 25):
        run = Run(
            make_design(4, Clock(hz, "other")), 80, [(0, "want", 1), (at, "give", 1), (at + 1, "give", 0)], seed=at
        )
        writer, reader = run.netlist.clocks
        put, last = writer.edge_ps(at), next(t for t, moved in run.seen("took") if moved) - 1
        found.add(sum(reader.edge_ps(k) > put for k in range(last + 1)))
    assert 3 in found
    assert found <= {3, 4}


def gray(n: int) -> int:
    return n ^ (n >> 1)


@pytest.mark.parametrize("bits", [1, 2, 3, 4, 5])
def test_gray_rule_for_all_pointer_pairs(bits):
    """Empty: equal codes.  Full: they differ in exactly the two highest bits.  For every pair of counts that can occur."""
    depth, size = 1 << bits, 1 << (bits + 1)
    for get in range(size):
        for words in range(depth + 1):
            put = (get + words) % size
            assert (gray(put) == gray(get)) == (words == 0)
            assert (gray(put) == gray(get) ^ (3 << (bits - 1))) == (words == depth)


@pytest.mark.parametrize("bits", range(1, 11))
def test_gray_code_changes_one_bit_at_a_time(bits):
    size = 1 << bits
    for n in range(size):
        assert (gray(n) ^ gray((n + 1) % size)).bit_count() == 1


def test_the_queue_counts_as_the_rule_says():
    """The registers of a real queue follow gray(n), so that the brute force above is about them."""
    run = Run(make_design(4, Clock(33_000_000, "other")), 120, [(0, "give", 1), (0, "want", 1)])
    counts, codes = series(run, "queue.put_count", 120), series(run, "queue.put_gray", 120)
    assert codes == [gray(n) for n in counts]
    assert max(counts) == 7


@pytest.mark.parametrize(
    "line", ["self.queue.try_put(2)", "self.store[1] = 2", "self.store.request(1)", "self.link.try_get()"]
)
def test_a_second_use_in_one_tick_is_refused(line):
    """It would silently lose the first word."""
    source = f"""
from simkit import *

class Random(Design):
    queue = Fifo(unsigned(8), 4)
    link = Fifo(unsigned(8), 4)
    store = Ram(unsigned(8), 4)
    flag = Reg(bit)

    @sequenced
    def go(self):
        while self.flag:
            {line}
            tick()
        if self.flag:
            {line}
        else:
            {line}
        AGAIN
"""
    netlist_of(source.replace("AGAIN", "tick()"))
    with pytest.raises(HardwareError, match="line (16|18) has used"):
        netlist_of(source.replace("AGAIN", f"if self.flag: {line}"))
