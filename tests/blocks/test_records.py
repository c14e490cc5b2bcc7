"""Triggers, recorder, serial lines, transform."""

import math
import random

import numpy as np
import pytest

from simkit import (
    AnalogIn,
    Design,
    DigitalIn,
    DigitalOut,
    Fifo,
    Reg,
    resize,
    sequenced,
    sfixed,
    signed,
    unsigned,
    until,
)
from simkit.blocks import LevelTrigger, LineTrigger, Recorder, SpiController, UartReceiver, UartSender, WindowedFft
from simkit.dsp import window
from tests.blocks.harness import per_sample, stepped
from tests.lang.running import Run

K = signed(16)


def test_a_level_trigger_fires_once_per_crossing():
    rng = np.random.default_rng(5)
    x = np.rint(8000 * np.sin(np.arange(160) / 12) + rng.normal(0, 900, 160)).astype(int)
    armed, wanted = False, []
    for v in x:
        wanted.append(int(armed and v >= 3000))
        armed = not wanted[-1] and (armed or v < -1000)
    got, _ = stepped(LevelTrigger(K, 3000, 4000), x, K)
    assert got == wanted and sum(got) == 2
    assert sum(stepped(LevelTrigger(K, 3000), x, K)[0]) > 2, "without hysteresis the noise triggers too"


def test_a_line_trigger_fires_when_the_pattern_begins():
    lines = [0b000, 0b101, 0b101, 0b111, 0b001, 0b111, 0b101, 0b000]
    got, _ = stepped(LineTrigger(3, 0b101, 0b101), lines, unsigned(3))
    assert got == [0, 1, 0, 0, 0, 1, 0, 0]


@pytest.mark.parametrize("before", [0, 5, 15])
@pytest.mark.parametrize("first", [3, 20, 37])
def test_a_record_holds_what_came_before_its_trigger(before, first):
    """Sample n is n + 100; the trigger comes with sample ``first`` and again later; then the record is read out."""

    class Top(Design):
        x = AnalogIn("x", K)
        y = DigitalOut("y", K)
        n = Reg(unsigned(8))

        def __init__(self):
            self.keep = Recorder(K, 16, before)

        @sequenced
        def go(self):
            while not self.keep.done:
                x = self.x.read()
                self.keep.step(x, x == first + 100 or x == first + 120)
            for i in range(16):
                v = self.keep.read(unsigned(4)(i))
                self.y = v
            until(False)

    samples = [n + 100 for n in range(70)]
    run = per_sample(Top, samples, 4)
    start = next(n for n in (first, first + 20) if n >= before)
    wanted = [100 + start - before + i for i in range(16)]
    assert [value for _, value in run.done("y")] == wanted


def uart_top(divider_out, divider_in):
    class Top(Design):
        out = DigitalOut("serial out", reset=1)
        line = DigitalIn("serial in")
        to_send = Fifo(unsigned(8), 4)
        received = Fifo(unsigned(8), 32)

        def __init__(self):
            self.sender = UartSender(self.out, self.to_send, divider_out)
            self.receiver = UartReceiver(self.line, self.received, divider_in)

        @sequenced
        def feed(self):
            for i in range(6):
                self.to_send.put(resize(resize(i, unsigned(8)) * 37 + 5, unsigned(8)))
            until(False)

        got = DigitalOut("got", unsigned(8))

        @sequenced
        def drain(self):
            v = self.received.get()
            self.got = v

    return Top()


SENT = [(n * 37 + 5) % 256 for n in range(6)]


def test_a_sender_makes_ten_bits_of_its_length_without_pauses():
    run = Run(uart_top(16, 16), 6 * 160 + 40)
    line = run.values("out")
    start = line.index(0)
    for i, byte in enumerate(SENT):
        bits = [0, *((byte >> b) & 1 for b in range(8)), 1]
        for b, level in enumerate(bits):
            begin = start + 160 * i + 16 * b
            assert line[begin : begin + 16] == [level] * 16


def edges(levels, ticks):
    """Events of a line that takes ``levels``, each for ``ticks`` (may be a fraction)."""
    return [(round(100 + i * ticks), "line", level) for i, level in enumerate(levels)]


def frames(data):
    return [level for byte in data for level in (0, *((byte >> b) & 1 for b in range(8)), 1)]


@pytest.mark.parametrize("off", [-0.04, 0.0, 0.04])
def test_a_receiver_takes_bytes_from_a_clock_a_few_per_cent_off(off):
    """Tolerance of 8N1 with sampling in the middle: 5.3 % less the uncertainty of the start edge (see tests/outside)."""
    data = [0x55, 0x00, 0xFF, 0xA7, 0x31]
    run = Run(uart_top(16, 32), 2200, [(0, "line", 1), *edges(frames(data) + [1], 32 * (1 + off))])
    assert [value for _, value in run.done("got")] == data or [v for _, v in run.seen("got")][1:] == _changes(data)
    assert run.values("receiver.errors")[-1] == 0


def _changes(data):
    return [value for before, value in zip([0, *data], data, strict=False) if value != before]


def test_a_receiver_refuses_a_clock_ten_per_cent_off():
    data = [0x80, 0x80, 0x80]
    run = Run(uart_top(16, 32), 2200, [(0, "line", 1), *edges(frames(data) + [1], 32 * 1.1)])
    assert [v for _, v in run.seen("got")][1:] != [0x80]


def test_a_receiver_counts_broken_frames_and_ignores_glitches():
    broken = [0, 1, 1, 1, 1, 1, 1, 1, 1, 0]
    run = Run(
        uart_top(16, 32),
        2400,
        [(0, "line", 1), (20, "line", 0), (24, "line", 1), *edges(broken + [1] * 4 + frames([0x3C]) + [1], 32)],
    )
    assert run.values("receiver.errors")[-1] == 1
    assert [v for _, v in run.seen("got")][1:] == [0x3C]


@pytest.mark.parametrize("mode", [0, 1, 2, 3])
def test_a_serial_bus_exchanges_words_in_every_mode(mode):
    """A device on the other side, written as plain Python, shifts on the edges that the mode says."""

    class Top(Design):
        clk = DigitalOut("clk", reset=mode >> 1)
        sel = DigitalOut("sel", reset=1)
        out = DigitalOut("out")
        inp = DigitalIn("inp")
        got = Reg(unsigned(8))

        def __init__(self):
            self.bus = SpiController(self.clk, self.sel, self.out, self.inp, width=8, half=8, mode=mode)

        @sequenced
        def go(self):
            v = self.bus.exchange(0xB2)
            self.got = v
            until(False)

    quiet = Run(Top(), 200)
    clk, sel, out = (quiet.values(name) for name in ("clk", "sel", "out"))
    rest, late = mode >> 1, mode & 1
    sampled, events, answer = [], [], 0x6D
    first = sel.index(0)
    if not late:
        events.append((first + 1, "inp", answer >> 7))
    edges_seen = 0
    for t in range(first + 1, 200):
        if sel[t] or clk[t] == clk[t - 1]:
            continue
        leading = clk[t] != rest
        if leading != bool(late):
            sampled.append(out[t])
        else:
            edges_seen += 1
            shift = 7 - edges_seen + late
            if shift >= 0:
                events.append((t + 1, "inp", answer >> shift & 1))
    assert sampled == [0xB2 >> b & 1 for b in range(7, -1, -1)]
    assert Run(Top(), 220, events).at("got", 210) == answer
    assert sel[first:].index(1) == 17 * 8 and clk[0] == rest


@pytest.mark.parametrize("n, name", [(8, "rectangular"), (64, "hann"), (32, "hann")])
def test_the_transform_is_that_of_numpy(n, name):
    class Top(Design):
        x = AnalogIn("x", K)
        real = DigitalOut("re", sfixed(15, -4))
        at = DigitalOut("at", unsigned(8), reset=255)

        def __init__(self):
            self.fft = WindowedFft(n, K, name)

        @sequenced
        def go(self):
            full = False
            while not full:
                x = self.x.read()
                full = self.fft.load(x)
            self.fft.transform()
            for k in range(n):
                v = self.fft.line(k)
                self.real = v
                self.at = resize(k, unsigned(8))
            until(False)

    rng = random.Random(n)
    x = np.array([rng.randrange(-30_000, 30_000) for _ in range(n)])
    run = per_sample(Top, x.tolist() + [0] * (n * int(math.log2(n)) // 2 + n), 4)
    shown = [tick for tick, _ in run.seen("at")[1:]]
    assert len(shown) == n
    got = np.array([complex(run.at("real", t), run.at("fft.imag", t)) for t in shown]) / 16
    wanted = np.fft.fft(x * window(name, n).samples) / n
    assert np.max(np.abs(got - wanted)) < 0.5


def test_bad_parameters_are_refused():
    for make, words in (
        (lambda: LevelTrigger(K, 10, -1), "level 10 less -1"),
        (lambda: LineTrigger(2, 4, 0), "mask 0x4"),
        (lambda: Recorder(K, 12, 0), "power of two"),
        (lambda: Recorder(K, 16, 16), "before is 16"),
        (lambda: UartSender(None, None, 3), "divider is 3"),
        (lambda: WindowedFft(2, K), "n is 2"),
        (lambda: SpiController(None, None, None, None, mode=4), "mode 4"),
    ):
        with pytest.raises(ValueError, match=words):
            make()
