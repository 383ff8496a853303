"""Treatments with several zones that do not differ: how often is a difference shown?

One standard deviation of zones for all treatments, or that of the two sides where it is larger (the
rule of results, by Dunnett's limit), stands beside the same by Student's at Sidak's level, one for
all (Dunnett, Tukey) and each side's own (Welch at the least known line), with the mean half width
in true standard deviations of a zone.

``python -m tests.unit.analysis.zonepools [RUNS]`` prints the rates over zones and over who spreads
by how much; with 40,000 runs each it takes some seconds.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.reach import shared_level
from acquire.analysis.laws.dunnett import critical, equal_loadings
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.laws.studentrange import range_critical
from acquire.analysis.rules.lonedraws import Unlike, unlike_rates

Floats = NDArray[np.float64]


class Case(NamedTuple):
    """`spreads` are true standard deviations of zones, the control's first."""

    zones: int
    spreads: tuple[float, ...]

    @property
    def treatments(self) -> int:
        return len(self.spreads) - 1


class Rates(NamedTuple):
    """Parts of runs with a false difference against the control, by rule, and half widths.

    `pairs` is the part with one among all pairs of treatments, by the rule of results.
    """

    results: float
    sidak: float
    pooled: float
    own: float
    width: float
    width_own: float
    pairs: float


def rates(case: Case, runs: int, seed: int = 1) -> Rates:
    """By drawing changes of zones from normal laws."""
    z, k = case.zones, case.treatments
    source = np.random.default_rng(seed)
    changes = source.normal(size=(runs, k + 1, z)) * np.array(case.spreads)[None, :, None]
    means, squares = changes.mean(axis=2), changes.var(axis=2, ddof=1)
    nu = (k + 1) * (z - 1)
    level = shared_level(0.05, k)
    t, t_own = (-t_quantile(level / 2, n) for n in (nu, z - 1))
    normal = -t_quantile(level / 2, 1e9)
    pooled = np.sqrt(2 * squares.mean(axis=1) / z)[:, None]
    both = (squares[:, 1:] + squares[:, :1]) / z
    least = np.maximum(squares[:, 1:], squares[:, :1]) / z
    d = critical(equal_loadings(k), nu) if k > 1 else t
    half = d * np.maximum(pooled, np.sqrt(both))
    half_own = np.sqrt(normal**2 * both + (t_own**2 - normal**2) * least)
    apart = np.abs(means[:, 1:] - means[:, :1])
    larger = half / d
    q = t if k == 1 else range_critical(k, nu, 0.05) / np.sqrt(2)
    is_any = np.zeros(runs, dtype=bool)
    for one, other in itertools.combinations(range(1, k + 1), 2):
        own = np.sqrt((squares[:, one] + squares[:, other]) / z)
        is_any |= np.abs(means[:, one] - means[:, other]) > q * np.maximum(pooled[:, 0], own)
    return Rates(
        float((apart > half).any(axis=1).mean()),
        float((apart > t * larger).any(axis=1).mean()),
        float((apart > d * pooled).any(axis=1).mean()),
        float((apart > half_own).any(axis=1).mean()),
        float(half.mean()),
        float(half_own.mean()),
        float(is_any.mean()),
    )


def unlike_cases() -> Iterator[Unlike]:
    """One product or the control with one zone or two, beside others with more of them."""
    for few, n, k in itertools.product((1, 2), (2, 3, 4, 6, 10), (1, 2, 3, 5, 8, 12)):
        if n > few:
            for spread in (1.0, 2.0, 3.0):
                yield Unlike((n, *(n,) * (k - 1), few), (*(1.0,) * k, spread))
                yield Unlike((few, *(n,) * k), (spread, *(1.0,) * k))
    for n, k in itertools.product((3, 4, 6, 10), (1, 2, 3, 5, 8, 12)):
        yield Unlike((n, *(1,) * k), (1.0, *(3.0,) * k))


def cases() -> Iterator[Case]:
    """All zones alike, one treatment or the control more restless, halves apart."""
    for zones, k in itertools.product((2, 3, 5), (2, 5)):
        for who in (
            (1.0,) * (k + 1),
            (*(1.0,) * k, 2.0),
            (*(1.0,) * k, 3.0),
            (2.0, *(1.0,) * k),
            (3.0, *(1.0,) * k),
            (1 / 3, *(1.0,) * k),
            (*(1.0,) * (k // 2 + 1), *(3.0,) * (k - k // 2)),
        ):
            yield Case(zones, who)


def main(runs: int = 40_000) -> None:
    """Print the table."""
    heads = "res.   sidak  pool.  own    pairs  width  own"
    print(f"zones  {'spreads':<31}  {heads}")  # noqa: T201
    for case in cases():
        r = rates(case, runs)
        spreads = " ".join(f"{s:.2g}" for s in case.spreads)
        parts = (r.results, r.sidak, r.pooled, r.own, r.pairs)
        said = "  ".join(f"{part:.3f}" for part in parts)
        print(  # noqa: T201
            f"{case.zones:<5}  {spreads:<31}  {said}  {r.width:.2f}   {r.width_own:.2f}"
        )
    print("against the control, among pairs; zones, spreads")  # noqa: T201
    for unlike in unlike_cases():
        of_control, of_pairs = unlike_rates(unlike, runs)
        print(f"{of_control:.3f}  {of_pairs:.3f}  {unlike.zones} {unlike.spreads}")  # noqa: T201


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:2]))
