"""How often zones of treatments that do not differ show a difference, by drawing their changes.

For designs in which some treatments have one zone and spread otherwise than those that tell for
them: no tables are known for these. Pure; any thread.
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.laws.dunnett import critical
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.laws.studentrange import range_critical
from acquire.analysis.treatments.family import rounded_down


class Unlike(NamedTuple):
    """Treatments with `zones` each of their own, and true `spreads`; the control's come first."""

    zones: tuple[int, ...]
    spreads: tuple[float, ...]


def unlike_rates(case: Unlike, runs: int, seed: int = 1) -> tuple[float, float]:
    """Parts of runs with a false difference against the control, and among all pairs.

    By the rule of results (`acquire.analysis.specimens.zones`), with changes of zones from normal
    laws. A side with one zone has no spread of its own to be the larger one. Raises ValueError
    where no treatment has several zones.
    """
    zones, k = np.array(case.zones), len(case.zones) - 1
    nu = int((zones - 1).sum())
    if nu < 1:
        raise ValueError(f"a treatment with several zones is wanted, got {case.zones}")
    source = np.random.default_rng(seed)
    drawn = [
        source.normal(0, spread, size=(runs, n))
        for n, spread in zip(case.zones, case.spreads, strict=True)
    ]
    means = np.stack([own.mean(axis=1) for own in drawn])
    squares = np.stack([own.var(axis=1, ddof=1) if own.shape[1] > 1 else np.zeros(runs)
                        for own in drawn])  # fmt: skip
    pool = (zones - 1) @ squares / nu

    def is_apart(one: int, other: int, limit: float) -> NDArray[np.bool_]:
        square = pool * (1 / zones[one] + 1 / zones[other])
        if min(zones[one], zones[other]) > 1:
            own = squares[one] / zones[one] + squares[other] / zones[other]
            square = np.maximum(square, own)
        found: NDArray[np.bool_] = np.abs(means[one] - means[other]) > limit * np.sqrt(square)
        return found

    parts = sorted(rounded_down(n / (n + zones[0])) for n in case.zones[1:])
    t = -t_quantile(0.025, nu)
    d = critical(tuple(float(np.sqrt(p)) for p in parts), nu) if k > 1 else t
    q = t if k <= 2 else range_critical(k, nu, 0.05) / np.sqrt(2)
    of_control = [is_apart(0, n, d) for n in range(1, k + 1)]
    of_pairs = [is_apart(a, b, q) for a, b in itertools.combinations(range(1, k + 1), 2)]
    return (
        float(np.any(of_control, axis=0).mean()),
        float(np.any(of_pairs, axis=0).mean()) if of_pairs else 0.0,
    )
