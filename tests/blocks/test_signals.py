"""Averages, filters, decimation, control, tones: against numpy, scipy and published values, in both engines."""

import math

import numpy as np
import pytest
from scipy import signal

from simkit import AnalogIn, Design, DigitalOut, bit, sequenced, sfixed, signed, unsigned
from simkit.blocks import BiquadChain, Cic, Goertzel, MovingAverage, MovingRms, Pid, SquareRoot
from simkit.dsp import Pid as FloatPid
from simkit.dsp import cic_gain
from tests.blocks.harness import per_sample, stepped

K = signed(16)


def noise(n, size=20_000, seed=1):
    return np.random.default_rng(seed).integers(-size, size, n)


@pytest.mark.parametrize("n", [2, 8, 32])
def test_moving_average_is_the_mean_rounded_down(n):
    x = noise(120)
    got, _ = stepped(MovingAverage(n, K), x, K, K)
    wanted = np.convolve(x, np.ones(n, int))[:120] // n
    assert got == wanted.tolist()


def sampled(block, kind, result):
    """A loop that gives each sample to a block that may take ticks."""

    class Top(Design):
        x = AnalogIn("x", kind)
        y = DigitalOut("y", result)

        def __init__(self):
            self.block = block

        @sequenced
        def go(self):
            x = self.x.read()
            v = self.block.step(x)
            self.y = v

    return Top()


def test_square_root_is_exact_and_takes_half_the_width():
    values = [0, 1, 2, 3, 4, 8, 9, 99, 100, 65535, 65536, 2**32 - 1, 123456789, 65535**2, 65535**2 - 1]
    run = per_sample(lambda: sampled(SquareRoot(32), unsigned(32), unsigned(16)), values, 20)
    got = [run.at("y", 1 + 20 * i + 19) for i in range(len(values))]
    assert got == [math.isqrt(v) for v in values]
    assert run.at("y", 1 + 20 * 14 + 17) != run.at("y", 1 + 20 * 14 + 18), (
        "seen one tick after the 16 of the root and the read"
    )


def test_moving_rms():
    x = (12_000 * np.sin(2 * np.pi * np.arange(70) / 16)).round().astype(int)
    run = per_sample(lambda: sampled(MovingRms(16, K), K, unsigned(16)), x, 24)
    got = [run.at("y", 1 + 24 * i + 23) for i in range(len(x))]
    squares = np.convolve(x.astype(object) ** 2, np.ones(16, int))[:70]
    assert got == [math.isqrt(int(v) >> 4) for v in squares]
    assert got[-1] == pytest.approx(12_000 / math.sqrt(2), rel=1e-3)


@pytest.mark.parametrize("stages, rate", [(1, 2), (3, 16), (4, 5)])
def test_cic_is_exact(stages, rate):
    x = noise(20 * rate, 32_000)
    fresh, run = stepped(Cic(stages, rate, K), x, K)
    taps = np.ones(1, int)
    for _ in range(stages):
        taps = np.convolve(taps, np.ones(rate, int))
    wanted = np.convolve(x, taps)[: len(x)][rate - 1 :: rate]
    values = run.values("block.value")[1:]
    assert [v for v, f in zip(values, fresh, strict=True) if f] == wanted.tolist()
    assert fresh.index(1) == rate - 1


def test_cic_step_response_of_the_literature():
    """A step of 1 through N = 3, R = 16 gives 816, 3536, 4096, 4096 (integer model and convolution agree)."""
    fresh, run = stepped(Cic(3, 16, K), [1] * 64, K)
    assert [v for v, f in zip(run.values("block.value")[1:], fresh, strict=True) if f] == [816, 3536, 4096, 4096]
    assert run.netlist.signals()["block.value"].type.width == 28


def test_cic_wraps_inside_and_is_right_outside():
    fresh, run = stepped(Cic(3, 16, K), [-32768] * 160, K)
    assert run.values("block.value")[-1] == -(2**27)


def test_cic_gain_over_frequency():
    n, rate, f = 1536, 8, 1 / 64
    x = np.rint(30_000 * np.sin(2 * np.pi * f * np.arange(n))).astype(int)
    fresh, run = stepped(Cic(2, rate, K), x, K)
    y = np.array([v for v, g in zip(run.values("block.value")[1:], fresh, strict=True) if g])[64:] / rate**2
    peak = 2 * abs(np.dot(y, np.exp(-2j * np.pi * f * rate * np.arange(len(y))))) / len(y)
    assert peak == pytest.approx(30_000 * cic_gain(f, 2, rate), rel=1e-4)


@pytest.mark.parametrize(
    "design",
    [
        signal.butter(2, 0.2, output="sos"),
        signal.butter(4, 0.1, output="sos"),
        signal.ellip(4, 1, 40, 0.3, output="sos"),
        signal.butter(2, [0.1, 0.2], "bandpass", output="sos"),
    ],
)
def test_biquads_follow_scipy(design):
    x = noise(300, 12_000)
    got, _ = stepped(BiquadChain(design.tolist(), K, fraction_bits=12), x, K, K)
    wanted = signal.sosfilt(design, x)
    assert np.max(np.abs(np.array(got) - wanted)) <= 0.75, (
        "half a count of rounding at the end, and a little on the way"
    )


def test_biquads_saturate():
    gain_4 = [[3.9, 0, 0, 1, 0, 0]]
    got, _ = stepped(BiquadChain(gain_4, K), [30_000, -30_000, 100], K, K)
    assert got == [32767, -32768, 390]


OUT = sfixed(15, -8)


def test_pid_follows_the_float_controller():
    errors = noise(200, 300)
    got, _ = stepped(Pid(2.0, 0.125, 0.5, K, OUT), errors, K, OUT)
    pid = FloatPid(2.0, 0.125, 0.5, 1.0, OUT.low * 2.0**-8, OUT.high * 2.0**-8, "hold")
    wanted = np.array([pid.step(float(e)) for e in errors])
    assert np.max(np.abs(np.array(got) / 256 - wanted)) <= 2.0**-9


def test_pid_does_not_wind_up():
    """Gains of the worked example in tests/outside/test_control.py: the integral is held while the output is at its limit."""
    errors = [1000] * 60 + [-100] * 40
    got, _ = stepped(Pid(2.0, 0.4, 0.0, K, OUT, low=0.0, high=1200.0), errors, K, OUT)
    pid = FloatPid(2.0, 0.4, 0.0, 1.0, 0.0, 1200.0, "hold")
    wanted = [pid.step(float(e)) for e in errors]
    assert np.allclose(np.array(got) / 256, wanted, atol=0.02)
    assert got[59] == 1200 * 256 and got[60] < 1200 * 256, "back at once when the error turns"


@pytest.mark.parametrize("hz, n", [(50, 100), (125, 64), (10, 200)])
def test_goertzel_is_a_line_of_the_transform(hz, n):
    rate = 1000
    x = noise(2 * n, 8000) + np.rint(9000 * np.cos(2 * np.pi * hz / rate * np.arange(2 * n) + 1)).astype(int)
    fresh, run = stepped(Goertzel(hz, rate, n, K), x, K)
    ends = [i for i, f in enumerate(fresh) if f]
    assert ends == [n - 1, 2 * n - 1]
    for end in ends:
        block = x[end - n + 1 : end + 1]
        k = np.arange(n)
        got = complex(run.values("block.real")[end + 1], run.values("block.imag")[end + 1]) / 256
        assert abs(got - np.sum(block * np.exp(2j * np.pi * hz / rate * (n - k)))) < 1e-6 * n * 9000 + 1
        if hz * n % rate == 0:
            assert abs(got - np.fft.fft(block)[hz * n // rate]) < 1e-6 * n * 9000 + 1


def test_bad_parameters_are_refused():
    for make, words in (
        (lambda: MovingAverage(6, K), "n is 6; a power of two"),
        (lambda: MovingRms(4, bit), "not bit"),
        (lambda: SquareRoot(7), "width is 7"),
        (lambda: Cic(0, 4, K), "0 stages"),
        (lambda: BiquadChain([[1, 2]], K), "rows of"),
        (lambda: Goertzel(600, 1000, 8, K), "below half"),
        (lambda: BiquadChain([[5, 0, 0, 1, 0, 0]], K), "smaller than 4"),
        (lambda: Pid(-1, 0, 0, K, OUT), "gains from 0"),
        (lambda: Pid(1, 0, 0, unsigned(4), OUT), "signed"),
    ):
        with pytest.raises(ValueError, match=words):
            make()
