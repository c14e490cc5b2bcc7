"""Item statistics of classical test theory.

``scores`` is an array of learners by items; NaN is an item that a learner's score does not have.  Rows with NaN are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

Scores = np.ndarray


@dataclass(frozen=True)
class Reliability:
    """Cronbach's alpha (KR-20 where every item is right or wrong) with its interval; ``value`` is NaN where ``why`` says why."""

    value: float
    low: float
    high: float
    learners: int
    items: int
    why: str = ""


def difficulty(scores: Scores, most: np.ndarray) -> np.ndarray:
    """Mean share of the points that learners got, 0 (nobody) to 1 (everybody), for each item."""
    whole = _whole(scores)
    return whole.mean(axis=0) / most if len(whole) else np.full(len(most), np.nan)


def discrimination(scores: Scores) -> np.ndarray:
    """Correlation of each item with the sum of the *others*, -1 to 1: does whoever knows the rest also get this one?

    NaN where one of the two is the same for everybody.
    """
    whole = _whole(scores)
    if len(whole) < 3 or whole.shape[1] < 2:
        return np.full(scores.shape[1], np.nan)
    rest = whole.sum(axis=1, keepdims=True) - whole
    return np.array([_correlation(whole[:, item], rest[:, item]) for item in range(whole.shape[1])])


def _correlation(one: np.ndarray, other: np.ndarray) -> float:
    if np.ptp(one) == 0 or np.ptp(other) == 0:
        return float("nan")
    return float(stats.pearsonr(one, other).statistic)


def reliability(scores: Scores, level: float = 0.95) -> Reliability:
    """Cronbach's alpha, k/(k-1) (1 - sum of the items' variances / variance of the sum), and its interval.

    With items of 0 and 1 it is Kuder and Richardson's formula 20.  The interval is that of L. S. Feldt (Psychometrika 30,
    1965): (1 - alpha)/(1 - sample alpha) has an F distribution with n - 1 and (n - 1)(k - 1) degrees of freedom.
    """
    whole = _whole(scores)
    learners, items = whole.shape
    nan = float("nan")
    if items < 2 or learners < 3:
        return Reliability(nan, nan, nan, learners, items, "it needs two items and three learners at least")
    total = whole.sum(axis=1).var(ddof=1)
    if total == 0:
        return Reliability(nan, nan, nan, learners, items, "everybody has the same score")
    value = items / (items - 1) * (1 - whole.var(axis=0, ddof=1).sum() / total)
    spread = stats.f.ppf([1 - (1 - level) / 2, (1 - level) / 2], learners - 1, (learners - 1) * (items - 1))
    low, high = 1 - (1 - value) * spread
    return Reliability(float(value), float(low), float(high), learners, items)


def _whole(scores: Scores) -> np.ndarray:
    return scores[~np.isnan(scores).any(axis=1)]
