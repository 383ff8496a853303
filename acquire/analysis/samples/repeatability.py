"""The scatter of single readings as a study on this bench found it, lent to results.

Rule. The scatter of a mean of n readings is the larger of their own and the study's, over the root
of n. Where the study's is the larger one, as it is for a zone that was read once, it has the
study's degrees of freedom, and is one estimate for all such zones. Where their own is the larger
one, the study's degrees of freedom count beside theirs, for two readings that lie apart by chance
tell hardly more than one; beyond what chance has once in a thousand (Fisher's F) they are judged by
themselves, for then the zone itself is restless.

Their own few degrees of freedom alone would discard what the study knows: an interval of two
readings a zone was 7 times as wide as that of one. To pool both figures would lend a restless zone
the quiet of the study; the larger of two errs on the safe side where readings scatter as the study
found (2 to 3 of 100 drawn trials have a false difference). Where zones scatter by 1.5 to 3 times
as much, all or one of them, up to 12 have with two readings, 7 with three and 6 with five or more,
where a zone read once has up to 88, since nothing shows it (``python -m tests.unit.analysis.lent``
draws them); among all pairs 12, 8, 7 and 92. False equalities are then 19 of 100 with one reading
and 5 with more. The larger of two honest figures is too large by 3 % with ten readings and 6 % with
twenty.

The figure of the study itself is the mean over its spots; where the scatter rose with the level it
is that of the worst end. It is lent only between the levels that were read, a tenth beyond them
(our choice), and not at all where the zones of a trial scatter more than the study: then something
else than the meter is at work. Readings that stand out by the study's figure are flagged, where
their own few hide them; flagged is all they are.

GUM (JCGM 100:2008), 4.2.4 and 4.3.2, has such figures of past work stand beside few readings;
ISO 5725-6:1994 uses them for single results. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from acquire.analysis.figures import rounded, suffix
from acquire.analysis.laws.quadrature import scatter_nodes
from acquire.analysis.laws.special import bdtrc, chdtrc, fdtri

BEYOND = 0.1
BY_CHANCE = 0.001
"""How often chance lets readings that scatter as the study scatter more than `far` has it."""


@dataclass(frozen=True, slots=True)
class Repeatability:
    """`sd` in the unit of the readings with `nu` degrees of freedom, between two levels.

    `source` names the study: ``study 3 of 2026-11-20``.
    """

    sd: float
    nu: float
    low: float
    high: float
    source: str

    def covers(self, mean: float) -> bool:
        """Whether a mean lies where the study read, or a tenth beyond."""
        below, above = BEYOND * abs(self.low), BEYOND * abs(self.high)
        return self.low - below <= mean <= self.high + above

    def stands_for(self, sd: float | None) -> bool:
        """Whether it stands for readings with this standard deviation; None of a single one."""
        return sd is None or sd <= self.sd

    def nu_beside(self, sd: float, n: int) -> float:
        """Degrees of freedom of a larger standard deviation of `n` readings; n above 1."""
        own = n - 1
        return own if sd > far(n, self.nu) * self.sd else self.nu + own

    def said(self, unit: str) -> str:
        """The figure with where it is from: ``0.21 GU from study 3 of 2026-11-20 (45 ...)``."""
        return (
            f"{rounded(self.sd, self.sd)}{suffix(unit)} from {self.source} "
            f"({self.nu:g} degrees of freedom)"
        )


@lru_cache(maxsize=256)
def far(n: int, nu: float) -> float:
    """The ratio to a study with `nu` beyond which chance alone does not let `n` readings scatter.

    n is above 1. Beyond it their zone is restless, and what the study knows does not count for it.
    """
    return math.sqrt(float(fdtri(n - 1, nu, 1 - BY_CHANCE)))


@dataclass(frozen=True, slots=True)
class Lent:
    """What a study lends to each channel of a measure, and what is said where none does.

    `missing` has, for a channel without a study, why and what to do, in a sentence.
    """

    known: Mapping[str, Repeatability] = field(default_factory=dict)
    missing: Mapping[str, str] = field(default_factory=dict)


NOTHING = Lent()


def is_exceeded(known: Repeatability, sds: Sequence[float], nus: Sequence[float]) -> bool:
    """Whether zones scatter more than the study says, by their number and not by their size.

    Of zones that scatter as the study's spots do, half lie above the median of Fisher's F. That
    more do is tested at 5 % (sign test, one-sided): one outlier does not move it, and a texture
    that no study of marked spots has in it does. All are held against one estimate, so where that
    came out small by chance more lie above it: the chance of their number is that at each size of
    the study's error, over all of these. As if they were independent, up to 33 of 100 drawn trials
    of 12 products with 10 degrees of freedom were said to scatter more.
    """
    medians = {nu: float(fdtri(nu, known.nu, 0.5)) for nu in set(nus)}
    above = sum(sd > known.sd * math.sqrt(medians[nu]) for sd, nu in zip(sds, nus, strict=True))
    # Fewer than that happen too often whatever the study's error is.
    if 2 * above <= len(sds):
        return False
    r, weight = scatter_nodes(known.nu)
    # Numbers of readings that differ have chances that do; by their mean many above are no rarer
    # (W. Hoeffding, Annals of Mathematical Statistics 27 (1956) 713, from memory).
    each = sum(nus.count(nu) * chdtrc(nu, nu * m * r * r) for nu, m in medians.items()) / len(nus)
    return float(weight @ bdtrc(above - 1, len(sds), each)) <= 0.05


def rule_of(
    known: Repeatability | None, missing: str, unit: str, *, exceeded: bool
) -> tuple[str, ...]:
    """What the reader is told of the repeatability in use; empty where nothing is known of it.

    `exceeded` says that the zones scatter more than the study.
    """
    if known is None:
        return (missing,) if missing else ()
    level = (
        f"{rounded(known.low, known.sd)} to {rounded(known.high, known.sd)}{suffix(unit)}"
        if known.high > known.low
        else f"{rounded(known.low, known.sd)}{suffix(unit)}"
    )
    if exceeded:
        return (
            f"The repeatability of {known.said(unit)} is that of the meter on marked spots. More "
            "zones of this trial scatter beyond it than chance would have, so something else than "
            "the meter scatters (texture, swirls, handling): the figure is not lent to zones that "
            "were read once, and flags nothing. Each zone is judged by its own scatter.",
        )
    return (
        f"Repeatability in use: {known.said(unit)}, read at {level}. The scatter of a mean is the "
        "larger of this and that of its own readings, over the root of their number. Where this "
        "is the larger one, as for zones that were read once, it has these degrees of freedom, "
        "and where their own is, these count beside theirs; readings that scatter more than "
        "chance alone lets them once in 1000 are judged by themselves. So more readings of a zone "
        "say more; of ten or more a zone, the larger of two costs 2 to 6 % of an interval's width. "
        "Zones that truly scatter more than the study's spots make false differences from the "
        "control more often: in up to 12 of 100 drawn trials with two readings, 7 with three and 6 "
        "with five or more where they do by 1.5 to 3 times, all or one of them; with one reading, "
        "which shows nothing of it, in up to 88, and in 92 among all pairs. Of differences that "
        "are just the margin up to 19 of 100 are then called equal with one reading, 5 with two or "
        "more. It is lent to means no more than a tenth beyond those levels.",
    )
