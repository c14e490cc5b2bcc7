"""A PID controller in fixed point."""

from __future__ import annotations

from ..lang import Design, Reg, const, operation, resize, sfixed
from ..netlist import Type, make


class Pid(Design):
    """u = kp e + sum(ki e) + kd (e - e before), limited, the integral held while the limit would be pushed further.

    ``step(e)`` takes the error as ``kind`` (sfixed or signed) and returns u as ``result`` (sfixed), rounded half to
    even, between ``low`` and ``high``.  The same rule as ``simkit.dsp.Pid`` with ``anti_windup="hold"``.

    Latency 0 ticks; three multiplications in one tick.  Call it once per sample period T: ki here is ki T, kd is kd /
    T.

    Parameters
    ----------
    kp, ki, kd : gains per step, each at least 0 and below 2**15; rounded to ``gain_bits`` fraction bits
    kind, result : types of error and output
    low, high : limits of the output; without them the range of ``result``
    """

    def __init__(
        self,
        kp: float,
        ki: float,
        kd: float,
        kind: Type,
        result: Type,
        *,
        low: float | None = None,
        high: float | None = None,
        gain_bits: int = 20,
    ) -> None:
        if not (kind.signed and result.signed and result.fixed):
            raise ValueError(f"Pid: the error is signed or sfixed and the output sfixed, not {kind} and {result}")
        if not all(0 <= g < 2**15 for g in (kp, ki, kd)):
            raise ValueError("Pid: gains from 0 to below 2**15 are possible")
        gain = sfixed(15, -gain_bits)
        self.kp, self.ki, self.kd = (const(float(g), gain) for g in (kp, ki, kd))
        step = float(result.step)
        self.low = const(result.low * step if low is None else low, result)
        self.high = const(result.high * step if high is None else high, result)
        self.kind = make("sfixed", kind.left, kind.right)
        self.result = result
        self.inner = make("sfixed", result.left + 2, self.kind.right - gain_bits)
        self.integral = Reg(self.inner)
        self.before = Reg(self.kind)

    @operation
    def step(self, error):
        e = self.kind(error)
        integral = resize(self.integral + self.ki * e, self.inner)
        wanted = self.kp * e + integral + self.kd * (e - self.before)
        high, low = wanted > self.high, wanted < self.low
        u = self.high if high else self.low if low else resize(wanted, self.result)
        self.before = e
        if not ((high and e > 0) or (low and e < 0)):
            self.integral = integral
        return u
