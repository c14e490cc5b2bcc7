"""The response to unbalance: textbook values, an independent ODE solver, and the bench's own mount.

Textbook: S. S. Rao, *Mechanical Vibrations*, rotating unbalance (section from memory; formula also in the Mechanical
Engineer's Data Handbook, p. 82).
"""

import cmath
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from simkit.bench import Converter, Fan, Mount, Weight
from simkit.bench.fan import Shaker
from simkit.dsp import unbalance_response


@pytest.mark.parametrize(
    "damping, ratio, size, lag",
    [
        (0.05, 0.5, 0.3325950526, 3.814075),
        (0.05, 1.0, 10.0, 90.0),
        (0.05, 2.0, 1.3303802105, 176.185925),
        (0.10, 0.5, 0.3304093002, 7.594643),
        (0.10, 1.0, 5.0, 90.0),
        (0.10, 2.0, 1.3216372009, 172.405357),
    ],
)
def test_closed_form(damping, ratio, size, lag):
    got = unbalance_response(ratio, damping)
    assert got[0] == pytest.approx(size, abs=1e-9) and got[1] == pytest.approx(lag, abs=1e-6)


@pytest.mark.parametrize("damping, at, size", [(0.05, 1.00250941, 10.01252349), (0.10, 1.01015254, 5.02518908)])
def test_the_peak_lies_above_the_resonance(damping, at, size):
    best = minimize_scalar(
        lambda r: -unbalance_response(r, damping)[0], bounds=(0.8, 1.3), method="bounded", options={"xatol": 1e-10}
    )
    assert best.x == pytest.approx(at, abs=1e-6) and -best.fun == pytest.approx(size, abs=1e-7)


def test_bench_example_of_the_closed_form():
    """M = 10 kg, m e = 1e-3 kg m, 20 Hz, zeta 0.05, 1500 r/min: 0.2711631 mm, 30.118645 mm/s r.m.s., 6.690681 m/s2."""
    mount = Mount(10.0, 20.0, 0.05)
    w = 2 * math.pi * 25
    x = 1e-3 * w**2 * mount.response(25.0)
    assert abs(x) == pytest.approx(2.711631e-4, rel=1e-6)
    assert abs(x) * w / math.sqrt(2) * 1000 == pytest.approx(30.118645, rel=1e-6)
    assert abs(x) * w**2 == pytest.approx(6.690681, rel=1e-6)
    assert -math.degrees(cmath.phase(x)) == pytest.approx(167.4712, abs=1e-4)


def quiet_fan(speed_rpm):
    fan = Fan("X", [Weight(4.0, 250.0, 30.0)], blade_tone=0.0, flow_noise=0.0, mount=Mount(10.0, 20.0, 0.05))
    fan.hold_speed(speed_rpm)
    return fan


@pytest.mark.parametrize("speed_rpm", [600, 1190, 1500, 2700])
def test_a_fan_at_constant_speed_swings_as_the_closed_form_says(speed_rpm):
    fan = quiet_fan(speed_rpm)
    shaker = Shaker(fan, Converter(), np.random.default_rng(0))
    samples, angles = [], []
    for _ in range(40):
        fan.rotor.advance(0.0)
        into = np.arange(512) / 51200
        samples.append(shaker.acceleration(into))
        angles.append(2 * np.pi * fan.rotor.angle(into))
    a, angle = np.concatenate(samples), np.concatenate(angles)
    phasor = 2 * np.linalg.lstsq(np.column_stack([np.cos(angle), np.sin(angle)]), a, rcond=None)[0] / 2
    got = complex(phasor[0], -phasor[1])
    w = 2 * math.pi * speed_rpm / 60
    wanted = -(w**2) * fan.unbalance * w**2 * fan.mount.response(speed_rpm / 60)
    assert got == pytest.approx(wanted, rel=2e-5)
    assert np.std(a - np.real(got * np.exp(1j * angle))) < 1e-4 * abs(got), "steady from the first sample on"


def test_a_run_up_through_resonance_agrees_with_an_ode_solver():
    """Speed rising by 100 rad/s2 from rest; scipy's solve_ivp integrates the mount's equation independently."""
    mount, moment, rise = Mount(10.0, 20.0, 0.05), 1e-3, 100.0
    rate, seconds = 51200, 2.0
    t = np.arange(int(rate * seconds)) / rate
    force = moment * (rise * t) ** 2 * np.cos(rise * t**2 / 2)
    filtered = mount.filter(1 / rate)
    got = np.concatenate([filtered.run(force[i : i + 51]) for i in range(0, len(force), 51)])
    natural, damping = 2 * math.pi * 20, 0.05

    def slope(at, y):
        push = moment * (rise * at) ** 2 * math.cos(rise * at**2 / 2) / 10.0
        return [y[1], push - natural**2 * y[0] - 2 * damping * natural * y[1]]

    where = t[::997]
    solved = solve_ivp(slope, (0, seconds), [0.0, 0.0], t_eval=where, rtol=1e-9, atol=1e-13, max_step=1e-3)
    wanted = [slope(at, y)[1] for at, y in zip(where, solved.y.T, strict=True)]
    assert np.allclose(got[::997], wanted, atol=2e-4 * np.max(np.abs(wanted)))


def test_vibration_units():
    """At 159.15494 Hz (1000 rad/s) 10 m/s2 are 10 mm/s are 10 um: the usual calibrator point."""
    from simkit.dsp import acceleration_to_velocity, spectrum

    rate, hz = 48_000, 1000 / (2 * math.pi)
    t = np.arange(rate) / rate
    velocity = acceleration_to_velocity(10 * np.cos(2 * np.pi * hz * t), rate)
    line = spectrum(velocity, rate, "flat top")
    assert line.highest()[1] == pytest.approx(10e-3, rel=2e-3)


def test_force_of_a_gram():
    """1 g at 50 mm at 1500 r/min pulls with 1.23370 N."""
    assert abs(Weight(1.0, 50.0, 0.0).moment) * (2 * math.pi * 25) ** 2 == pytest.approx(1.23370, abs=5e-6)
