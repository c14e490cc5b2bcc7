"""Failure rates of synchronisers against printed examples.

J. F. Wakerly, *Digital Design*, p. 770 (74ALS74; printed 2.06e11 s and 4.54e15 s), two 74LS74 rows from memory; a public web
example (blog.mbedded.ninja, metastability): 20.1 days.
"""

import pytest

from simkit.dsp import synchronizer_mtbf, system_mtbf


@pytest.mark.parametrize(
    "settling, tau, window, clock, changes, printed",
    [
        (42.5e-9, 1.0e-9, 8.7e-6, 16e6, 1e5, 2.06e11),
        (52.5e-9, 1.0e-9, 8.7e-6, 16e6, 1e5, 4.54e15),
        (80e-9, 1.5e-9, 0.4, 10e6, 1e5, 3.6e11),
        (42.5e-9, 1.5e-9, 0.4, 16e6, 1e5, 3.1),
        (2.3e-9, 0.31e-9, 9.6e-18, 100e6, 1e6, 20.1 * 86400),
    ],
)
def test_printed_examples(settling, tau, window, clock, changes, printed):
    assert synchronizer_mtbf(settling, tau, window, clock, changes) == pytest.approx(printed, rel=0.02)


def test_exact_value_and_sum_of_rates():
    one = synchronizer_mtbf(42.5e-9, 1.0e-9, 8.7e-6, 16e6, 1e5)
    assert one == pytest.approx(2.060043e11, rel=1e-6)
    assert system_mtbf([one] * 4) == pytest.approx(one / 4)
    with pytest.raises(ValueError, match="must be positive"):
        synchronizer_mtbf(1e-9, 0, 1, 1, 1)
