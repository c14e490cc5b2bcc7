"""Signal tools in floating point, to check designs with and to draw pictures.  numpy and scipy do the work."""

from .balance import Influence, permitted_unbalance, phasor, trial_weight, two_plane
from .bearing import BearingOrders, bearing_orders, blade_pass_hz
from .codes import cobs_decode, cobs_encode, crc
from .control import Pid, follow
from .converter import Sine, alias_hz, enob, ideal_snr, jitter_snr, sinad, sine_fit
from .crossing import synchronizer_mtbf, system_mtbf
from .filters import boxcar_gain, cic_gain, cic_growth_bits, one_pole_alpha, one_pole_corner
from .orders import first_order, order_spectrum, synchronous_average, turns_of
from .queues import burst_depth, md1_length, stall_depth
from .rotation import rpm_from_ticks, unbalance_response
from .spectrum import Spectrum, Window, acceleration_to_velocity, spectrum, window
from .thermocouple import emf_mv, sensitivity_mv_per_k, temperature_c
from .uart import uart_divider, uart_tolerance

__all__ = [
    "BearingOrders",
    "Influence",
    "Pid",
    "Sine",
    "Spectrum",
    "Window",
    "acceleration_to_velocity",
    "alias_hz",
    "bearing_orders",
    "blade_pass_hz",
    "boxcar_gain",
    "burst_depth",
    "cic_gain",
    "cic_growth_bits",
    "cobs_decode",
    "cobs_encode",
    "crc",
    "emf_mv",
    "enob",
    "first_order",
    "follow",
    "ideal_snr",
    "jitter_snr",
    "md1_length",
    "one_pole_alpha",
    "one_pole_corner",
    "order_spectrum",
    "permitted_unbalance",
    "phasor",
    "rpm_from_ticks",
    "sensitivity_mv_per_k",
    "sinad",
    "sine_fit",
    "spectrum",
    "stall_depth",
    "synchronizer_mtbf",
    "synchronous_average",
    "system_mtbf",
    "temperature_c",
    "trial_weight",
    "turns_of",
    "two_plane",
    "uart_divider",
    "uart_tolerance",
    "unbalance_response",
    "window",
]
