"""Frequencies that bearings and blades make, as multiples of the turning frequency.

Source: R. B. Randall, J. Antoni, "Rolling element bearing diagnostics - a tutorial", Mech. Syst. Signal Process. 25
(2011) (citation from memory; formulas in many public texts).
"""

from __future__ import annotations

import math
from typing import NamedTuple


class BearingOrders(NamedTuple):
    """Multiples of the shaft's turning frequency, outer ring fixed.

    ``cage`` (FTF), ``outer`` (BPFO), ``inner`` (BPFI), ``ball`` (BSF; a defect on a ball strikes twice per ball turn).
    """

    cage: float
    outer: float
    inner: float
    ball: float


def bearing_orders(balls: int, ball_mm: float, pitch_mm: float, contact_deg: float = 0.0) -> BearingOrders:
    """Orders of a ball bearing; slip makes real ones 1 to 3 % different (common practice).

    Parameters
    ----------
    balls : number of rolling elements
    ball_mm, pitch_mm : ball and pitch circle diameters, any common unit
    contact_deg : contact angle in degrees
    """
    if not 0 < ball_mm < pitch_mm or balls < 1:
        raise ValueError("a bearing has balls, and they are smaller than the pitch circle")
    share = ball_mm / pitch_mm * math.cos(math.radians(contact_deg))
    return BearingOrders(
        (1 - share) / 2, balls * (1 - share) / 2, balls * (1 + share) / 2, (1 - share**2) * pitch_mm / (2 * ball_mm)
    )


def blade_pass_hz(blades: int, speed_rpm: float) -> float:
    """Frequency in Hz at which blades pass a fixed point."""
    return blades * speed_rpm / 60
