"""The PID controller against scipy and published tuning examples.

Method of anti-windup: K. J. Astrom, T. Hagglund, *PID Controllers* (from memory).
"""

import math

import numpy as np
import pytest
from scipy import signal

from simkit.dsp import Pid, follow

A = math.exp(-0.1)
B = 1 - A


def test_worked_step_agrees_with_a_transfer_function():
    """PI, backward difference, Kp 2, Ki 1, T 0.1 on 1/(s+1) with a zero-order hold; closed loop also by scipy's dstep."""
    y = follow(Pid(2.0, 1.0, period_s=0.1), A, B, 60)
    assert y[:11] == pytest.approx(
        [
            0,
            0.199841422,
            0.350245083,
            0.463893577,
            0.550198546,
            0.616144930,
            0.666917294,
            0.706364471,
            0.737344274,
            0.761979223,
            0.781846263,
        ],
        abs=6e-10,
    )
    assert y[[20, 30, 40, 60]] == pytest.approx([0.873823837, 0.914528776, 0.941353009, 0.972333434], abs=6e-10)
    _, (step,) = signal.dstep(([B * 2.1, -B * 2.0], [1, -1 - A + B * 2.1, A - B * 2.0], 0.1), n=61)
    assert np.allclose(step[:, 0], y, atol=1e-12)


def test_proportional_only_leaves_an_offset_and_has_its_limit():
    assert follow(Pid(2.0, period_s=0.1), A, B, 500)[-1] == pytest.approx(2 / 3)
    limit = (1 + A) / B
    assert limit == pytest.approx(20.016663890, abs=5e-9)
    assert abs(follow(Pid(limit * 1.02, period_s=0.1), A, B, 500)[-1]) > 10
    assert abs(follow(Pid(limit * 0.98, period_s=0.1), A, B, 500)[-1] - 0.95) < 0.1


@pytest.mark.parametrize(
    "method, peak, at", [("none", 1.182005308, 42), ("hold", 1.006140224, 29), ("track", 1.025136438, 23)]
)
def test_anti_windup(method, peak, at):
    y = follow(Pid(2.0, 4.0, period_s=0.1, low=0.0, high=1.2, anti_windup=method, tracking_s=0.5), A, B, 200)
    assert y.max() == pytest.approx(peak, abs=6e-10) and int(np.argmax(y)) == at


def test_derivative_is_a_backward_difference():
    """Velocity form of (Kp, Ki, Kd, T) = (2, 1, 0.5, 0.1): q0, q1, q2 = 7.1, -12, 5."""
    pid = Pid(2.0, 1.0, 0.5, period_s=0.1)
    outputs = [pid.step(e) for e in (1.0, 0.0, 0.0, 0.0)]
    assert np.diff([0.0, *outputs]) == pytest.approx([7.1, -12.0, 5.0, 0.0])


def test_an_unknown_method_is_refused():
    with pytest.raises(ValueError, match="anti_windup"):
        Pid(1.0, anti_windup="clamp")
