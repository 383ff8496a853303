"""Several groups of readings, all held against one another: Tukey, Games and Howell, or Welch.

Which rule is due is settled by what was known before the readings, never by a test on them:

* scatters separate, the default: each group by its own. Two groups by Welch's test, more by the
  studentized range with separate scatters (P. A. Games and J. F. Howell, J. Educational Statist. 1
  (1976) 113).
* one scatter for all, only where that was settled beforehand (one study of the instrument, one
  method): Tukey's limit, for groups of different size by C. Y. Kramer, Biometrics 12 (1956) 307.

To test first whether the scatters differ and to choose by the outcome keeps neither rule's error
rate: with few readings the test misses just the differences that matter (D. W. Zimmerman, British
J. Math. Statist. Psychol. 57 (2004) 173). Where scatters are alike, to keep them separate costs
little. All sources from memory; figures held against reference cases and other libraries.

Games and Howell's limit errs too often with few readings (in 8 of 100 trials of five groups of
three, in 14 of eight groups of two), so the limit that decides is that of the least known scatter
(`acquire.analysis.reach`), which is never narrower; theirs stands beside it. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from acquire.analysis.anova import one_way
from acquire.analysis.pair import Variances
from acquire.analysis.reach import reach_of
from acquire.analysis.studentrange import range_p
from acquire.analysis.summary import summarise
from acquire.analysis.uncertainty import (
    Distribution,
    Kind,
    Term,
    rectangular,
    welch_satterthwaite,
)


class Rule(StrEnum):
    """By whose limit groups are held against one another."""

    WELCH = "Welch"
    STUDENT = "Student"
    GAMES_HOWELL = "Games and Howell"
    TUKEY = "Tukey and Kramer"


@dataclass(frozen=True, slots=True)
class Apart:
    """Group `first` less group `second`, counted from 0, in the unit of the readings.

    `half_width` is that of the interval which holds for all pairs together and decides;
    `textbook_half_width` and `textbook_p` are those of the rule by its name, at `df` degrees of
    freedom. All but the estimate are None where `lacking` says, as a part of a sentence, why the
    two cannot be judged.
    """

    first: int
    second: int
    estimate: float
    se: float | None
    df: float | None
    half_width: float | None
    textbook_half_width: float | None
    textbook_p: float | None
    lacking: str = ""

    @property
    def interval(self) -> tuple[float, float] | None:
        if self.half_width is None:
            return None
        return self.estimate - self.half_width, self.estimate + self.half_width

    @property
    def is_difference_shown(self) -> bool:
        return self.half_width is not None and abs(self.estimate) > self.half_width


@dataclass(frozen=True, slots=True)
class AllPairs:
    """Every pair of groups, first group first. `why` says which rule was used, and why."""

    rule: Rule
    why: str
    pairs: tuple[Apart, ...]


def all_pairs(
    groups: Sequence[Sequence[float]],
    variances: Variances = Variances.SEPARATE,
    *,
    alpha: float = 0.05,
    resolution: float = 0.0,
) -> AllPairs:
    """Hold every group against every other; the level `alpha` is that of all pairs together.

    `resolution` is the step of the display in the unit of the readings: it stands for a scatter
    that hides below it. Raises ValueError for fewer than two groups, an empty one, readings that
    are paired, or values that are not finite.
    """
    if variances is Variances.PAIRED:
        raise ValueError("groups are not paired; compare the differences of pairs instead")
    if len(groups) < 2 or any(not g for g in groups):
        raise ValueError(
            f"2 groups or more with readings are wanted, got {[len(g) for g in groups]}"
        )
    if variances is Variances.POOLED:
        return _of_one_scatter(groups, alpha, resolution)
    return _of_separate_scatters(groups, alpha, resolution)


def _of_separate_scatters(
    groups: Sequence[Sequence[float]], alpha: float, resolution: float
) -> AllPairs:
    k = len(groups)
    rule = Rule.WELCH if k == 2 else Rule.GAMES_HOWELL
    read = [summarise(g) for g in groups]
    found = []
    for i, j in itertools.combinations(range(k), 2):
        estimate = _mean(groups[i]) - _mean(groups[j])
        single = [n + 1 for n in (i, j) if read[n].sd is None]
        if single:
            why = f"group {single[0]} has only one reading, so its scatter is unknown"
            found.append(Apart(i, j, estimate, None, None, None, None, None, why))
            continue
        terms = [
            Term(f"scatter of group {n + 1}", Kind.A, (read[n].sd or 0.0) / math.sqrt(read[n].n),
                 read[n].n - 1, 1.0, Distribution.NORMAL, "")
            for n in (i, j)
        ]  # fmt: skip
        terms.append(_display(read[i].n, read[j].n, resolution))
        found.append(_apart(i, j, estimate, terms, k, alpha))
    why = (
        "Each group is judged by its own scatter. Whether scatters are alike was not tested first: "
        "to choose the rule by such a test spoils its error rate (Zimmerman 2004)."
    )
    first = (
        "Two groups, by Welch's test. "
        if k == 2
        else f"All pairs of {k} groups, by the studentized range with separate scatters (Games and "
        "Howell 1976). "
    )
    last = " The limit is that of the least known scatter, which is never narrower."
    return AllPairs(rule, first + why + last, tuple(found))


def _of_one_scatter(groups: Sequence[Sequence[float]], alpha: float, resolution: float) -> AllPairs:
    k = len(groups)
    rule = Rule.STUDENT if k == 2 else Rule.TUKEY
    why = (
        f"All pairs of {k} groups, by "
        + ("Student's test" if k == 2 else "the studentized range (Tukey 1953, Kramer 1956)")
        + " with one scatter for all: that they scatter alike was settled before the readings."
    )
    counts = [len(g) for g in groups]
    pooled = one_way(groups) if max(counts) > 1 else None
    found = []
    for i, j in itertools.combinations(range(k), 2):
        estimate = _mean(groups[i]) - _mean(groups[j])
        if pooled is None:
            lacking = "every group has one reading, so nothing tells how readings scatter"
            found.append(Apart(i, j, estimate, None, None, None, None, None, lacking))
            continue
        share = math.sqrt(1 / counts[i] + 1 / counts[j])
        scatter = Term("scatter of all groups", Kind.A, pooled.residual_sd, pooled.df_within, share,
                       Distribution.NORMAL, "")  # fmt: skip
        terms = [scatter, _display(counts[i], counts[j], resolution)]
        found.append(_apart(i, j, estimate, terms, k, alpha))
    return AllPairs(rule, why, tuple(found))


def _apart(i: int, j: int, estimate: float, terms: Sequence[Term], k: int, alpha: float) -> Apart:
    combined = welch_satterthwaite([t.contribution for t in terms], [t.nu for t in terms])
    if combined.u == 0:
        why = "their readings have no scatter and no step of the display is known"
        return Apart(i, j, estimate, None, None, None, None, None, why)
    q = math.sqrt(2) * abs(estimate) / combined.u
    # The textbook takes all lines for one, known as well as their effective degrees of freedom say.
    as_one = Term("scatter", Kind.A, combined.u, combined.nu, 1.0, Distribution.NORMAL, "")
    decides, textbook = (reach_of(lines, k).half_width(alpha) for lines in (terms, [as_one]))
    return Apart(
        i, j, estimate, combined.u, combined.nu, decides, textbook, range_p(q, k, combined.nu)
    )


def _display(first: int, second: int, resolution: float) -> Term:
    share = math.sqrt(1 / first + 1 / second)
    return rectangular("display", resolution / 2, "", sensitivity=share)


def _mean(values: Sequence[float]) -> float:
    mean = summarise(values).mean
    assert mean is not None
    return mean
