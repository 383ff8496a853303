"""The masses that make what was seen most likely, each record a sum of some of them.

Maximises sum of w_i log((A p)_i) over p >= 0 with sum 1: concave, so that a point at which no mass
would gain (the Kuhn-Tucker conditions, R. Gentleman and C. J. Geyer, Biometrika 81 (1994) 618) is
the maximum. Steps: quadratic models solved under p >= 0, each followed by halving until the
likelihood rises (Y. Wang, J. R. Statist. Soc. B 69 (2007) 185; both from memory). The values (A p)
are always unique, the masses need not be. Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.analysis.durability.nonnegative import Floats, nonnegative_least_squares

_MOST_STEPS = 500
_GAP = 1e-9
"""What the log-likelihood could still gain at most, in units of it."""
_NOTHING = 1e-9
"""A mass below this is none: it would change no printed figure."""


@dataclass(frozen=True, slots=True)
class Mixture:
    """`masses` sum to 1. `gap` bounds what the log-likelihood could still rise by.

    `is_unique` is False where other masses make the records exactly as likely.
    """

    masses: Floats
    log_likelihood: float
    gap: float
    is_unique: bool


def most_likely(members: Floats, weights: Floats) -> Mixture:
    """`members` of shape (records, masses) with 0 or 1, `weights` how often each record was seen.

    Every record has a member and every mass a record. Raises ArithmeticError where it does not
    converge, which the conditions above would tell.
    """
    p = np.full(members.shape[1], 1.0 / members.shape[1])
    total = float(weights.sum())
    value = _log_likelihood(members, weights, p)
    for _ in range(_MOST_STEPS):
        share = members / (members @ p)[:, None]
        gain = share.T @ weights
        gap = float(gain.max()) - total
        if gap <= _GAP:
            unique = _is_unique(members, p, gain / total)
            return Mixture(p, value, max(gap, 0.0), unique)
        # First what one step of expectation and maximisation gives: it never loses.
        p = p * gain / total
        share = members / (members @ p)[:, None]
        value = _log_likelihood(members, weights, p)
        rows = np.sqrt(weights)[:, None] * (share - 2.0)
        design = np.vstack((rows, np.ones(p.size)))
        target = np.append(np.zeros(len(rows)), 1.0)
        aim = nonnegative_least_squares(design, target)
        if not aim.sum() > 0:
            continue
        direction = aim / aim.sum() - p
        rise = float(direction @ (share.T @ weights))
        step = 1.0
        while step > 1e-12:
            there = np.maximum(p + step * direction, 0.0)
            there /= there.sum()
            found = _log_likelihood(members, weights, there)
            if found >= value + step * rise / 3:
                p, value = there, found
                break
            step /= 2
    raise ArithmeticError(f"the masses did not settle in {_MOST_STEPS} steps")


def _log_likelihood(members: Floats, weights: Floats, p: Floats) -> float:
    fitted = members @ p
    return float(weights @ np.log(fitted)) if bool((fitted > 0).all()) else -np.inf


def _is_unique(members: Floats, p: Floats, gain: Floats) -> bool:
    """Whether no other masses give the same (A p): no direction stays at 0 or more.

    Only masses that neither gain nor lose can move; those at 0 can only grow.
    """
    held = p > _NOTHING
    idle = ~held & (gain > 1 - 1e-7)
    kept = members[:, held]
    if np.linalg.matrix_rank(kept) < kept.shape[1]:
        return False
    if not idle.any():
        return True
    grown = members[:, idle]
    rest = grown - kept @ np.linalg.lstsq(kept, grown, rcond=None)[0]
    design = np.vstack((rest, np.ones(rest.shape[1])))
    target = np.append(np.zeros(rest.shape[0]), 1.0)
    found = nonnegative_least_squares(design, target)
    return float(np.abs(rest @ found).max()) > 1e-7 * max(1.0, float(found.sum()))
