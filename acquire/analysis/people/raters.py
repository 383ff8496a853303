"""How far the raters of one scale agree, with an interval, or why nothing can be said.

Two people by Cohen's kappa with quadratic weights, over the things that both rated; several by
Krippendorff's alpha, over all that two or more rated. The interval is a bootstrap over the things
with a fixed start, so that the same ratings always give the same figures. It is about more things
such as these, with the same treatments: there 94 to 97 of 100 drawn intervals held the truth (six
treatments with two or four zones); zones of one treatment are rated much alike, and for other
treatments it would be 74 to 87. Where everybody agreed about everything no draw differs, and what
may still be unlike is told by the number of things alone. Pure; any thread.

Sources, from memory: J. Cohen, Psychol. Bulletin 70 (1968) 213; B. Efron and R. J. Tibshirani, An
Introduction to the Bootstrap (1993), percentile intervals. `FEWEST` things: common practice, no
source; with fewer a percentile interval is known to be too short.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.durability.demonstration import failures_seen
from acquire.analysis.people.agreement import Weights, cohen_kappa, table_of
from acquire.analysis.people.krippendorff import alpha_of, coincidences, krippendorff_alpha

FEWEST = 10
DRAWS = 2_000
MOST_UNDEFINED = 0.05
"""A larger part of draws without a figure leaves no interval worth the name."""
_SEED = 1

Thing = TypeVar("Thing")
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of `raters` people over `things` things that two or more of them rated.

    `measure` names the figure. `same` is the share of pairs of ratings of a thing that are the same
    step, parts of 1. `value`, `low` and `high` are None with `lacking` saying why.
    """

    raters: int
    things: int
    measure: str
    same: float | None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    lacking: str = ""


def agreement_of(ratings: Mapping[str, Mapping[Thing, int]], steps: int) -> Agreement | None:
    """Of ratings by rater and thing, steps from 1; None where nobody can agree with anybody.

    Raises ValueError for a step off the scale.
    """
    if any(not 1 <= s <= steps for own in ratings.values() for s in own.values()):
        raise ValueError(f"steps of 1 to {steps} are wanted")
    people = [own for own in ratings.values() if own]
    if len(people) < 2:
        return None
    every = dict.fromkeys(thing for own in people for thing in own)
    shared = [t for t in every if sum(t in own for own in people) >= 2]
    measure = "weighted kappa" if len(people) == 2 else "Krippendorff's alpha"
    if not shared:
        return Agreement(len(people), 0, measure, None, lacking="nobody rated the same thing")
    counts = [
        [sum(own.get(thing) == step for own in people) for step in range(1, steps + 1)]
        for thing in shared
    ]
    each = coincidences(counts)
    same = float(np.trace(each.sum(axis=0)) / each.sum())
    if len(people) == 2:
        first, second = ([own[t] for t in shared] for own in people)
        table = table_of(first, second, range(1, steps + 1))
        value = cohen_kappa(table, Weights.QUADRATIC).kappa
    else:
        value = krippendorff_alpha(counts)
    found = Agreement(len(people), len(shared), measure, same, value)
    if value is None:
        return _without(found, "all ratings are the same step, so nothing tells agreement from "
                        "chance")  # fmt: skip
    if len(shared) < FEWEST:
        few = "1 thing is" if len(shared) == 1 else f"{len(shared)} things are"
        return _without(found, f"{few} too few to say how sure that is", value)
    if same == 1:
        most = failures_seen(len(shared)).upper
        why = (
            f"none was rated unlike, which leaves that up to {100 * most:.0f} % of such things "
            "may be (95 %, one-sided)"
        )
        return _without(found, why, value)
    low_high = _interval(people, shared, steps, each)
    if low_high is None:
        return _without(found, "nearly all ratings are the same step, too few differ to say how "
                        "sure that is", value)  # fmt: skip
    return Agreement(found.raters, found.things, measure, same, value, *low_high)


def _without(found: Agreement, lacking: str, value: float | None = None) -> Agreement:
    return Agreement(found.raters, found.things, found.measure, found.same, value, lacking=lacking)


def _interval(
    people: Sequence[Mapping[Thing, int]], shared: Sequence[Thing], steps: int, each: Floats
) -> tuple[float, float] | None:
    """The middle 95 % of the figure over things drawn anew."""
    n = len(shared)
    drawn = np.random.default_rng(_SEED).multinomial(n, [1 / n] * n, size=DRAWS).astype(float)
    if len(people) == 2:
        cells = np.zeros((n, steps, steps))
        for i, thing in enumerate(shared):
            cells[i, people[0][thing] - 1, people[1][thing] - 1] = 1
        figures = _kappas(np.tensordot(drawn, cells, axes=1))
    else:
        figures = alpha_of(np.tensordot(drawn, each, axes=1))
    defined = figures[~np.isnan(figures)]
    if defined.size < (1 - MOST_UNDEFINED) * DRAWS:
        return None
    low, high = np.quantile(defined, (0.025, 0.975))
    return float(low), float(high)


def _kappas(tables: Floats) -> Floats:
    """Kappa with quadratic weights of each table, as `cohen_kappa` has it; NaN where undefined."""
    steps = tables.shape[-1]
    apart = np.subtract.outer(np.arange(steps), np.arange(steps)) ** 2
    p = tables / tables.sum(axis=(-2, -1), keepdims=True)
    row, column = p.sum(axis=-1), p.sum(axis=-2)
    seen = (p * apart).sum(axis=(-2, -1))
    by_chance = (row[..., :, None] * column[..., None, :] * apart).sum(axis=(-2, -1))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(
            np.where(by_chance > 1e-12, 1 - seen / by_chance, np.nan), dtype=np.float64
        )
