"""Edges, debounce, tachometer, PWM, watchdog, arbiter, checksum: against plain Python or published values."""

import random

import pytest
from crccheck import crc as crccheck

from simkit import Design, DigitalIn, DigitalOut, bit, clocked, unsigned
from simkit.blocks import Checksum, Debounce, Edge, Pwm, RoundRobin, Tachometer, Watchdog
from tests.blocks.harness import stepped
from tests.lang.running import Run

LINE = [0, 1, 1, 0, 1, 0, 0, 1, 1, 1, 0]


@pytest.mark.parametrize(
    "kind, wanted",
    [
        ("rising", [0, 1, 0, 0, 1, 0, 0, 1, 0, 0, 0]),
        ("falling", [0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1]),
        ("both", [0, 1, 0, 1, 1, 1, 0, 1, 0, 0, 1]),
    ],
)
def test_edges(kind, wanted):
    assert stepped(Edge(kind), LINE)[0] == wanted


@pytest.mark.parametrize("steps", [1, 2, 3, 5])
def test_debounce_follows_what_lasts(steps):
    rng = random.Random(steps)
    line = [bit for _ in range(40) for bit in [rng.randrange(2)] * rng.randrange(1, 9)]
    level, seen, wanted = 0, 0, []
    for x in line:
        seen = seen + 1 if x != level else 0
        if seen == steps:
            level, seen = x, 0
        wanted.append(level)
    assert stepped(Debounce(steps), line)[0] == wanted


def test_a_tachometer_measures_every_period_and_notices_a_stall():
    gaps = [7, 3, 20, 2, 5, 40, 6, 6]
    line = [0, 0]
    for gap in gaps:
        line += [1] + [0] * (gap - 1)
    line += [1, 0, 0]
    fresh, run = stepped(Tachometer(longest=25), line)
    period = run.values("block.period")[1:]
    got = [p for f, p in zip(fresh, period, strict=True) if f]
    assert got == [7, 3, 20, 2, 5, 6, 6], "the period of 40 is longer than the counter: it is no measurement"
    stalled = run.values("block.stalled")
    first = 2
    assert stalled[first + 8] == 0 and stalled[first + 37 + 24] == 0 and stalled[first + 37 + 26] == 1


@pytest.mark.parametrize("period", [2, 5, 16])
def test_pwm_is_on_for_its_duty_in_every_period(period):
    for duty in range(period + 1):
        line, _ = stepped(Pwm(period), [duty] * (4 * period), unsigned(period.bit_length()))
        assert line == ([1] * duty + [0] * (period - duty)) * 4


def test_pwm_takes_a_new_duty_only_at_the_beginning():
    line, _ = stepped(Pwm(8), [2] * 5 + [6] * 19, unsigned(4))
    assert line == [1, 1] + [0] * 6 + ([1] * 6 + [0] * 2) * 2


@pytest.mark.parametrize("latch", [False, True])
def test_a_watchdog_expires_without_life(latch):
    alive = [1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0]
    wanted = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1] + ([1, 1] if latch else [0, 0])
    assert stepped(Watchdog(4, latch), alive)[0] == wanted


@pytest.mark.parametrize("n", [2, 5, 8])
def test_an_arbiter_grants_in_turn(n):
    rng = random.Random(n)
    requests = [rng.randrange(2**n) for _ in range(200)] + [2**n - 1] * (3 * n)
    grants, _ = stepped(RoundRobin(n), requests, unsigned(n), unsigned(n))
    last = -1
    for asked, grant in zip(requests, grants, strict=True):
        order = [(last + 1 + i) % n for i in range(n)] if last >= 0 else list(range(n))
        wanted = next((i for i in order if asked >> i & 1), None)
        assert grant == (0 if wanted is None else 1 << wanted)
        last = last if wanted is None else wanted
    assert sorted(grants[-n:]) == [1 << i for i in range(n)], "nobody waits for more than n - 1 others"


@pytest.mark.parametrize(
    "name, other",
    [
        ("CRC-8/SMBUS", "Crc8Smbus"),
        ("CRC-16/MODBUS", "Crc16Modbus"),
        ("CRC-16/IBM-3740", "Crc16Ibm3740"),
        ("CRC-32/ISO-HDLC", "Crc32IsoHdlc"),
    ],
)
def test_checksums_agree_with_a_package(name, other):
    """Check value of the RevEng catalogue for "123456789", and crccheck for random bytes."""
    width = {"8": 8, "1": 16, "3": 32}[name[4]]

    class Top(Design):
        x = DigitalIn("x", unsigned(8), sync=0)
        y = DigitalOut("y", unsigned(width))

        def __init__(self):
            self.crc = Checksum(name)

        @clocked
        def go(self):
            self.crc.step(self.x)
            self.y = self.crc.result()

    data = b"123456789" + random.Random(3).randbytes(40)
    run = Run(Top(), len(data) + 2, [(tick, "x", byte) for tick, byte in enumerate(data)])
    results = run.values("y")
    calc = getattr(crccheck, other).calc
    assert [results[n + 1] for n in range(1, len(data) + 1)] == [calc(data[:n]) for n in range(1, len(data) + 1)]


def test_bad_parameters_are_refused():
    for make, words in (
        (lambda: Edge("up"), 'kind is "rising"'),
        (lambda: Debounce(0), "steps is 0"),
        (lambda: Tachometer(1), "longest is 1"),
        (lambda: Pwm(1), "period is 1"),
        (lambda: Watchdog(0), "steps is 0"),
        (lambda: RoundRobin(1), "n is 1"),
        (lambda: Checksum("CRC-7"), "unknown checksum 'CRC-7'"),
    ):
        with pytest.raises(ValueError, match=words):
            make()


def test_an_edge_is_a_bit():
    assert stepped(Edge(), [1])[1].netlist.endpoints[-1].type == bit
