"""Air and grain: how warm it gets.

One energy balance for the plenum, C dT/dt = P u - (m cp + UA)(T - T_outside), one for the grain bed,
C_g dT_g/dt = m cp (T - T_g), first law of thermodynamics; air flow m goes with the fans' speed (fan laws, common
practice). All figures are invented; the grain bed is made lighter than a real one so that an exercise ends today.
"""

from __future__ import annotations

from dataclasses import dataclass

from .timebase import BLOCK_S

AIR_CP = 1005.0
"""Specific heat of air in J/(kg K) at room temperature (handbook value, from memory)."""


@dataclass
class Air:
    """Burner, plenum and grain bed.

    Parameters
    ----------
    outside_c : temperature of the air drawn in, degrees C
    burner_w : power of the burner, W
    flow_kg_s : air flow of one fan at its top speed, kg/s
    plenum_j_k, grain_j_k : heat capacities, J/K
    loss_w_k : loss of the plenum's walls, W/K
    limit_c : above this plenum temperature a hard-wired thermostat cuts the burner off, until it is 10 degrees cooler
    """

    outside_c: float = 15.0
    burner_w: float = 60_000.0
    flow_kg_s: float = 1.2
    plenum_j_k: float = 30_000.0
    grain_j_k: float = 120_000.0
    loss_w_k: float = 50.0
    limit_c: float = 110.0

    def __post_init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Everything as cold as outside; probes too."""
        self.plenum_c = self.grain_c = self.outside_c
        self.plenum_probe_c = self.grain_probe_c = self.outside_c
        self.cut_off = False

    def advance(self, burner: float, flow: float) -> None:
        """One block: ``burner`` is the part of full power, ``flow`` the sum of the fans' speeds over their top speeds."""
        self.cut_off = self.plenum_c > self.limit_c or (self.cut_off and self.plenum_c > self.limit_c - 10)
        power = 0.0 if self.cut_off else burner * self.burner_w
        carried = max(flow, 0.02) * self.flow_kg_s * AIR_CP
        rise = self.plenum_c - self.outside_c
        self.plenum_c += BLOCK_S * (power - (carried + self.loss_w_k) * rise) / self.plenum_j_k
        self.grain_c += BLOCK_S * carried * (self.plenum_c - self.grain_c) / self.grain_j_k
        self.plenum_probe_c += BLOCK_S / 0.5 * (self.plenum_c - self.plenum_probe_c)
        self.grain_probe_c += BLOCK_S / 3.0 * (self.grain_c - self.grain_probe_c)
