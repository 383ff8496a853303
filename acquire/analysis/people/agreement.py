"""How far people who rate the same things agree: kappa for scales, Kendall's W for orders.

Kappa is the agreement beyond what the raters' own habits would make by chance, over the most there
could be: 1 where all agree, 0 where chance alone would do, below 0 where they oppose one another.
A scale is always taken with all of its steps, also those that nobody used: renumbering the used
ones changes weighted kappa. Where everybody used one step there is nothing to tell chance from
agreement; kappa is None then, and the share of agreement says all there is. It removes nobody's
rating. Pure; any thread.

Sources, from memory, figures held against reference cases: J. Cohen, Educ. Psychol. Measurement 20
(1960) 37 and Psychol. Bulletin 70 (1968) 213 (weights); J. L. Fleiss, J. Cohen and B. S. Everitt,
Psychol. Bulletin 72 (1969) 323 (standard errors); J. L. Fleiss, Psychol. Bulletin 76 (1971) 378;
J. J. Randolph (2005) for the kind free of margins; M. G. Kendall and B. Babington Smith, Ann. Math.
Statist. 10 (1939) 275; W. J. Conover, Practical Nonparametric Statistics (1999) for ties and F.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from acquire.analysis.laws.special import chdtrc, fdtrc
from acquire.analysis.laws.student import t_factor

ONE = 1e-12
"""Chance agreement this near to 1 leaves nothing to agree beyond."""


class Weights(StrEnum):
    """What two steps of a scale that differ count for."""

    NONE = "none"
    """Nothing: only the same step is agreement. For steps without an order."""
    LINEAR = "linear"
    """Less by the number of steps between them."""
    QUADRATIC = "quadratic"
    """Less by its square."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement of two raters over `n` things, or of several.

    `observed` is the (weighted) share of agreement and `expected` that by chance, parts of 1.
    `kappa` is None where chance alone would agree wholly. `se` is the standard error for an
    interval and `se_none` that where raters agree by chance alone; both hold for many things and
    are None where not known.
    """

    n: int
    observed: float
    expected: float
    kappa: float | None
    se: float | None = None
    se_none: float | None = None

    @property
    def z(self) -> float | None:
        """Kappa over its standard error under chance: beyond 1.96 it is more than chance."""
        return self.kappa / self.se_none if self.kappa is not None and self.se_none else None

    def interval(self, confidence: float = 0.95) -> tuple[float, float] | None:
        """The interval by the normal law, not beyond -1 and 1; None without a standard error."""
        if self.kappa is None or self.se is None:
            return None
        half = t_factor(math.inf, confidence) * self.se
        return max(-1.0, self.kappa - half), min(1.0, self.kappa + half)


def table_of(
    first: Sequence[object], second: Sequence[object], scale: Sequence[object]
) -> list[list[int]]:
    """How often the first rater gave step i and the second step j of the whole `scale`.

    Raises ValueError where the raters rated different numbers of things, or off the scale.
    """
    if len(first) != len(second):
        raise ValueError(f"both rate the same things, got {len(first)} and {len(second)} ratings")
    if len(set(scale)) != len(scale) or len(scale) < 2:
        raise ValueError(f"a scale of 2 or more different steps is wanted, got {list(scale)}")
    strange = [r for r in (*first, *second) if r not in scale]
    if strange:
        raise ValueError(f"{strange[0]!r} is no step of the scale {list(scale)}")
    found = Counter(zip(first, second, strict=True))
    return [[found[a, b] for b in scale] for a in scale]


def cohen_kappa(table: Sequence[Sequence[int]], weights: Weights = Weights.NONE) -> Kappa:
    """Two raters; ``table[i][j]`` counts things of step i by the first and j by the second.

    Raises ValueError for a table that is not square, is empty, or has counts below zero.
    """
    k = len(table)
    if k < 2 or any(len(row) != k for row in table):
        raise ValueError(f"a square table of 2 or more steps is wanted, got {k} rows")
    counts = np.array(table, float)
    n = float(counts.sum())
    if not (np.isfinite(counts).all() and (counts >= 0).all() and n > 0):
        raise ValueError("counts of 0 or more, and at least one thing that both rated, are wanted")
    p = counts / n
    row, column = p.sum(axis=1), p.sum(axis=0)
    apart = np.abs(np.subtract.outer(np.arange(k), np.arange(k))) / (k - 1)
    w = {
        Weights.NONE: (apart == 0).astype(float),
        Weights.LINEAR: 1 - apart,
        Weights.QUADRATIC: 1 - apart**2,
    }[weights]
    by_chance = np.outer(row, column)
    observed, expected = float((w * p).sum()), float((w * by_chance).sum())
    if 1 - expected < ONE:
        return Kappa(round(n), observed, expected, None)
    kappa = (observed - expected) / (1 - expected)
    habits = np.add.outer(w @ column, row @ w)
    square = float((p * (w - habits * (1 - kappa)) ** 2).sum())
    square -= (kappa - expected * (1 - kappa)) ** 2
    by_none = float((by_chance * (w - habits) ** 2).sum()) - expected**2
    room = (1 - expected) * math.sqrt(n)
    return Kappa(
        round(n), observed, expected, kappa,
        math.sqrt(max(0.0, square)) / room, math.sqrt(max(0.0, by_none)) / room,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ManyRaters:
    """Several raters; chance is by how often each step was used (`fixed`) or all alike (`free`)."""

    fixed: Kappa
    free: Kappa


def fleiss_kappa(counts: Sequence[Sequence[int]]) -> ManyRaters:
    """``counts[i][j]`` is how many raters gave thing i the step j; each thing as many raters.

    Raises ValueError for no thing, fewer than two steps or raters, or unequal numbers of raters.
    """
    if not counts or len(counts[0]) < 2 or any(len(row) != len(counts[0]) for row in counts):
        raise ValueError("things with the same 2 or more steps are wanted")
    if any(c < 0 for row in counts for c in row):
        raise ValueError("counts of 0 or more are wanted")
    raters = {sum(row) for row in counts}
    m = max(raters)
    if len(raters) > 1 or m < 2:
        raise ValueError(f"each thing is rated by the same 2 or more people, got {sorted(raters)}")
    things, steps = len(counts), len(counts[0])
    agreeing = sum(c * (c - 1) for row in counts for c in row)
    observed = agreeing / (things * m * (m - 1))
    used = [sum(row[j] for row in counts) / (things * m) for j in range(steps)]
    fixed, free = math.fsum(u * u for u in used), 1 / steps
    return ManyRaters(_beyond(things, observed, fixed), _beyond(things, observed, free))


def _beyond(things: int, observed: float, expected: float) -> Kappa:
    none = 1 - expected < ONE
    kappa = None if none else (observed - expected) / (1 - expected)
    return Kappa(things, observed, expected, kappa)


@dataclass(frozen=True, slots=True)
class Concordance:
    """Kendall's W: 0 where judges order things at random, 1 where all order them alike.

    `rank_sums` of each thing, `s` the sum of their squared deviations. `chi2` and `p` are
    Friedman's test of whether there is any agreement, `f` and `p_f` the same by the F law, which is
    nearer for few judges. Tied ranks are corrected for. W and what follows are None where every
    judge calls all things equal, `f` also where all order them alike.
    """

    judges: int
    rank_sums: tuple[float, ...]
    s: float
    w: float | None
    chi2: float | None
    p: float | None
    f: float | None
    p_f: float | None


def kendall_w(scores: Sequence[Sequence[float]]) -> Concordance:
    """``scores[i][j]`` is what judge j gives thing i: ranks, or ratings that are ranked here.

    Equal scores of one judge share the mean of their ranks. Raises ValueError for fewer than two
    things or judges, or scores that are not finite.
    """
    n, m = len(scores), len(scores[0]) if scores else 0
    if n < 2 or m < 2 or any(len(row) != m for row in scores):
        raise ValueError(f"2 or more things with scores of 2 or more judges, got {n} and {m}")
    if not all(math.isfinite(v) for row in scores for v in row):
        raise ValueError("every judge gives every thing a finite score; leave out who did not")
    by_judge = [[row[j] for row in scores] for j in range(m)]
    ranks = [_ranks(column) for column in by_judge]
    sums = tuple(math.fsum(r[i] for r in ranks) for i in range(n))
    s = math.fsum((total - m * (n + 1) / 2) ** 2 for total in sums)
    ties = sum(t**3 - t for column in by_judge for t in Counter(column).values())
    most = (m * m * (n**3 - n) - m * ties) / 12
    if most <= 0:
        return Concordance(m, sums, s, None, None, None, None, None)
    w = s / most
    chi2 = m * (n - 1) * w
    p = float(chdtrc(n - 1, chi2))
    if 1 - w < ONE:
        return Concordance(m, sums, s, w, chi2, p, None, None)
    f = (m - 1) * w / (1 - w)
    return Concordance(m, sums, s, w, chi2, p, f, float(fdtrc(n - 1, (n - 1) * (m - 1), f)))


def _ranks(values: Sequence[float]) -> list[float]:
    """Ranks from 1, equal values at the mean of theirs."""
    order = sorted(values)
    return [(order.index(v) + 1 + len(order) - order[::-1].index(v)) / 2 for v in values]
