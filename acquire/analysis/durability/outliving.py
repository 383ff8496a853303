"""Whether one treatment outlives another, from several specimens of each.

A log-rank test for lives known as intervals: the scores of `scores`, summed by treatment, against
all ways to deal them out (`permutation`). It asks that specimens of all treatments were looked at
by the same plan, since with other checkpoints intervals differ by the looking alone. Several pairs
are adjusted by S. Holm, Scand. J. Statist. 6 (1979) 65: the chance of even one false "outlived" is
at most 5 %. For many specimens the chi-square figure of the same scores is given beside it. Pure;
any thread.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from acquire.analysis.durability.life import Life, Relation, relation_words
from acquire.analysis.durability.permutation import Chance, chance_of
from acquire.analysis.durability.scores import log_rank_scores
from acquire.analysis.durability.turnbull import IntervalEstimate
from acquire.analysis.figures import probability
from acquire.analysis.laws.special import chdtrc

ALPHA = 0.05
Key = TypeVar("Key")


@dataclass(frozen=True, slots=True)
class LivesTest:
    """One test of two or more groups of lives, in the order given.

    `sums` are the scores summed by group: failures observed less expected, above 0 where lives
    ended sooner than those of all groups together. `chi2` and `p_many` belong to many specimens;
    `chance` has the p that counts. The last three are None with `lacking` saying why.
    """

    sizes: tuple[int, ...]
    sums: tuple[float, ...]
    pooled: IntervalEstimate
    chi2: float | None
    p_many: float | None
    chance: Chance | None
    lacking: str = ""

    @property
    def rule(self) -> str:
        if self.chance is None:
            return f"No test: {self.lacking}."
        how = (
            "all ways to deal the lives to the treatments counted"
            if self.chance.exact
            else "ways to deal the lives to the treatments drawn from a fixed start, since there "
            "are too many to count"
        )
        return f"Log-rank scores for intervals (Sun 1996) by permutation, {how}."


def lives_test(groups: Sequence[Sequence[Life]]) -> LivesTest:
    """Two or more groups at once. Raises ValueError for fewer, or a group without a life."""
    if len(groups) < 2 or any(not g for g in groups):
        raise ValueError("two or more groups with a life or more each are wanted")
    scores, pooled = log_rank_scores([x for g in groups for x in g])
    sizes = tuple(len(g) for g in groups)
    ends = np.cumsum([0, *sizes]).tolist()
    parts = [scores[a:b] for a, b in itertools.pairwise(ends)]
    sums = tuple(float(p.sum()) for p in parts)
    lacking = _lacking(groups, float(np.abs(scores).max()))
    if lacking:
        return LivesTest(sizes, sums, pooled, None, None, None, lacking)
    n = scores.size
    spread = float((scores**2).sum()) / (n - 1)
    chi2 = sum(s * s / size for s, size in zip(sums, sizes, strict=True)) / spread
    p_many = float(chdtrc(len(groups) - 1, chi2))
    return LivesTest(sizes, sums, pooled, chi2, p_many, chance_of(parts))


@dataclass(frozen=True, slots=True)
class LivesPair:
    """Treatment `first` against `second`; `p` is adjusted for all pairs, None where refused.

    `smallest` is the least adjusted p that these lives could have given, however they had fallen to
    the two treatments, with the other pairs as they are.
    """

    first: str
    second: str
    found: Relation
    test: LivesTest
    p: float | None
    smallest: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class LivesCompared:
    """All treatments at once (`overall`), and each pair; in the order of the treatments given."""

    overall: LivesTest
    pairs: tuple[LivesPair, ...]


def compare_lives(lives: Mapping[str, Sequence[Life]], alpha: float = ALPHA) -> LivesCompared:
    """Compare the lives of each treatment's specimens; the level of a decision is `alpha`.

    Raises ValueError for fewer than two treatments, or one without a life.
    """
    overall = lives_test(list(lives.values()))
    tests = {
        (one, other): lives_test([lives[one], lives[other]])
        for one, other in itertools.combinations(lives, 2)
    }
    ps = {k: t.chance.p for k, t in tests.items() if t.chance is not None}
    adjusted = holm(ps)
    pairs = []
    for names, test in tests.items():
        p, smallest = adjusted.get(names), None
        if test.chance is not None:
            smallest = holm({**ps, names: test.chance.smallest})[names]
        found = Relation.NOT_SHOWN
        if p is not None and p <= alpha:
            # Fewer failures than expected is a longer life.
            found = Relation.OUTLIVED if test.sums[0] < 0 else Relation.OUTLIVED_BY
        text = _sentence(names, lives, test, found, (p, smallest, len(ps)), alpha)
        pairs.append(LivesPair(*names, found, test, p, smallest, text))
    return LivesCompared(overall, tuple(pairs))


def holm(ps: Mapping[Key, float]) -> dict[Key, float]:
    """Each p adjusted for all of them together; equal p stay equal."""
    result: dict[Key, float] = {}
    largest = 0.0
    for place, (key, p) in enumerate(sorted(ps.items(), key=lambda item: item[1])):
        largest = max(largest, min(1.0, (len(ps) - place) * p))
        result[key] = largest
    return result


def _lacking(groups: Sequence[Sequence[Life]], largest: float) -> str:
    every = [x for g in groups for x in g]
    if all(x.is_censored for x in every):
        return "no specimen failed before washing stopped"
    if all(len(g) == 1 for g in groups):
        return "one specimen of each treatment tells nothing of how specimens differ"
    if largest < 1e-9:
        return "all lives are the same interval, or their intervals all overlap"
    return ""


def _sentence(
    names: tuple[str, str],
    lives: Mapping[str, Sequence[Life]],
    test: LivesTest,
    found: Relation,
    figures: tuple[float | None, float | None, int],
    alpha: float,
) -> str:
    one, other = names
    n, m = test.sizes
    p, smallest, many = figures
    if p is None or smallest is None:
        if n == m == 1:
            seen = relation_words(names, lives[one][0], lives[other][0])
            return f"{seen} These two specimens only: {test.lacking}."
        return f"{one} and {other}: not shown which lives longer, because {test.lacking}."
    for_all = f", adjusted for {many} pairs" if many > 1 else ""
    figure = f"p {probability(p)}{for_all}, {n} specimens of {one}, {m} of {other}"
    if found is not Relation.NOT_SHOWN:
        longer, shorter = (one, other) if found is Relation.OUTLIVED else (other, one)
        return f"{longer} outlived {shorter} ({figure})."
    text = f"{one} and {other}: not shown which lives longer ({figure})."
    if smallest > alpha:
        text += (
            " Such lives could not have shown it, however they had fallen to the two: p would be "
            f"at least {smallest:.2g}. More specimens are wanted."
        )
    return text
