"""Log-rank scores of lives known as intervals: how much sooner than expected each one ended.

The score of a life is the mean of 1 - H over where it may have ended, weighted by the pooled
estimate, with H the summed hazards p_j / S_{j-1} up to there (J. Sun, Stat. Medicine 15 (1996)
1387; M. P. Fay, Biometrics 52 (1996) 811; "logrank1" of M. P. Fay and P. A. Shaw, J. Stat. Software
36 (2010) no. 2; from memory):

    c = (S(R) H(R) - S(L) H(L)) / (S(L) - S(R)),   S H = 0 where S = 0

For exact and right-censored lives the sum over a group is its observed less its expected failures,
as in the log-rank test; over all groups it is 0. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acquire.analysis.durability.life import Life
from acquire.analysis.durability.nonnegative import Floats
from acquire.analysis.durability.turnbull import IntervalEstimate, interval_estimate, memberships


def log_rank_scores(lives: Sequence[Life]) -> tuple[Floats, IntervalEstimate]:
    """A score for each life, above 0 where it ended sooner than expected, and the pooled estimate.

    All scores are 0 where nothing failed. Raises ValueError without lives.
    """
    left, right = [x.low for x in lives], [x.high for x in lives]
    pooled = interval_estimate(left, right)
    masses = np.array([i.mass if i.mass > 1e-9 else 0.0 for i in pooled.intervals])
    masses /= masses.sum()
    before = np.append(1.0, 1 - np.cumsum(masses))[:-1]
    # What rounding leaves where nobody is left is nobody.
    hazard = np.divide(masses, before, out=np.zeros_like(masses), where=before > 1e-9)
    summed = np.cumsum(hazard)
    ended = 1 - summed
    if np.isinf(pooled.intervals[-1].high):
        # Never seen to end: as in the log-rank test its own end is not counted as one.
        ended[-1] = -summed[-2] if summed.size > 1 else 0.0
    held = memberships(pooled, left, right, closed=False)
    scores = (held * masses) @ ended / (held @ masses)
    return np.asarray(scores - scores.mean(), dtype=np.float64), pooled
