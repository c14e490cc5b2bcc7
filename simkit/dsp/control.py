"""A PID controller in floating point, and a loop to try it in.

u = K (e + 1/Ti integral of e + Td de/dt), in samples by the backward difference.  Anti-windup by back-calculation:
K. J. Astrom, T. Hagglund, *PID Controllers* (cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass
class Pid:
    """PID with limits.

    Parameters
    ----------
    kp, ki, kd : gains; ki per second, kd in seconds
    period_s : sample period T
    low, high : limits of the output
    anti_windup : ``"none"``; ``"hold"``: the integral stands still while the output is limited and the error would push
        it further; ``"track"``: back-calculation, I += ki T e + T / tracking_s (u - v)
    """

    kp: float
    ki: float = 0.0
    kd: float = 0.0
    period_s: float = 1.0
    low: float = -np.inf
    high: float = np.inf
    anti_windup: str = "none"
    tracking_s: float = 1.0
    _integral: float = field(default=0.0, repr=False)
    _error: float = field(default=0.0, repr=False)

    def __post_init__(self) -> None:
        if self.anti_windup not in ("none", "hold", "track"):
            raise ValueError(f'anti_windup is "none", "hold" or "track", not {self.anti_windup!r}')

    def step(self, error: float) -> float:
        """The output for the next error."""
        before = self._integral
        self._integral += self.ki * self.period_s * error
        wanted = self.kp * error + self._integral + self.kd / self.period_s * (error - self._error)
        given = float(np.clip(wanted, self.low, self.high))
        if self.anti_windup == "hold" and (wanted - given) * error > 0:
            self._integral = before
        elif self.anti_windup == "track":
            self._integral += self.period_s / self.tracking_s * (given - wanted)
        self._error = error
        return given


def follow(pid: Pid, a: float, b: float, steps: int, setpoint: float = 1.0) -> np.ndarray:
    """The plant y[k+1] = a y[k] + b u[k] under a controller, from rest to ``setpoint``; y[0] to y[steps]."""
    y = np.zeros(steps + 1)
    for k in range(steps):
        y[k + 1] = a * y[k] + b * pid.step(setpoint - y[k])
    return y
