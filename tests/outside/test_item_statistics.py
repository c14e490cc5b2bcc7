"""Item statistics against published results.

The data are the five items of section VI of a law school admission test, 1000 people: R. D. Bock and M. Lieberman, *Fitting a
response model for n dichotomously scored items*, Psychometrika 35 (1970), 179-197, as numbers of people by pattern of answers.
The results are those that D. Rizopoulos prints for them in *ltm: An R Package for Latent Variable Modeling and Item Response
Theory Analyses*, Journal of Statistical Software 17(5), 2006 (patterns and results from memory; they fit each other).
"""

import numpy as np
import pytest

from instructor.report.statistics import difficulty, discrimination, reliability

PATTERNS = """
00000:3 00001:6 00010:2 00011:11 00100:1 00101:1 00110:3 00111:4 01000:1 01001:8 01010:0 01011:16 01100:0 01101:3
01110:2 01111:15 10000:10 10001:29 10010:14 10011:81 10100:3 10101:28 10110:15 10111:80 11000:16 11001:56 11010:21
11011:173 11100:11 11101:61 11110:28 11111:298
"""


@pytest.fixture(scope="module")
def answers():
    rows = [row.split(":") for row in PATTERNS.split()]
    return np.array([[int(bit) for bit in bits] for bits, count in rows for _ in range(int(count))], float)


def test_the_data_are_whole(answers):
    assert answers.shape == (1000, 5)


def test_difficulty(answers):
    assert difficulty(answers, np.ones(5)) == pytest.approx([0.924, 0.709, 0.553, 0.763, 0.870])


def test_discrimination_is_the_point_biserial_correlation_without_the_item(answers):
    assert discrimination(answers) == pytest.approx([0.1128, 0.1532, 0.1728, 0.1444, 0.1216], abs=6e-5)


def test_kr_20(answers):
    assert reliability(answers).value == pytest.approx(0.2950, abs=5e-5)


def test_kr_20_without_one_item(answers):
    without = [reliability(np.delete(answers, item, axis=1)).value for item in range(5)]
    assert without == pytest.approx([0.2754, 0.2376, 0.2168, 0.2459, 0.2663], abs=5e-5)


def test_the_interval_of_feldt():
    """The example of function ci.cronbach in the R package statpsych (D. G. Bonett): alpha 0.85 of 7 items and 89 people lies
    between 0.7971 and 0.8931 with 95 percent confidence, by L. S. Feldt, Psychometrika 30 (1965), 357-370.
    """
    rng = np.random.default_rng(3)
    scores = rng.normal(size=(89, 1)) + 1.12 * rng.normal(size=(89, 7))
    found = reliability(scores)
    spread = (1 - found.low) / (1 - found.value), (1 - found.high) / (1 - found.value)
    assert 1 - 0.15 * np.array(spread) == pytest.approx([0.7971254, 0.8931436], abs=1e-4)
