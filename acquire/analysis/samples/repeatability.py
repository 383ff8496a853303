"""The scatter of single readings as a study on this bench found it, lent to results.

Rules, all of them on the safe side. A zone that was read once has no scatter of its own: that of
the study stands for it, with the study's degrees of freedom, and the result says so. A zone that
was read several times is judged by its own scatter as before, but its mean is never taken for
surer than the study's figure makes it: where its readings agree by luck, its standard deviation is
raised until its own t times it reaches t of the study times that of the study. An interval that
holds the interval of the zone's own readings covers at least as often, so that no study, however
good the day it was made on, makes a decision easier for zones read twice or more. The figure of
the study itself is the mean over its spots; where the scatter rose with the level it is that of
the worst end. It is lent only between the levels that were read, a tenth beyond them (our choice),
and not at all where the zones of a trial scatter more than the study: then something else than the
meter is at work. Readings that stand out by the study's figure are flagged, where their own few
hide them; flagged is all they are.

GUM (JCGM 100:2008), 4.2.4 and 4.3.2, has such figures of past work stand beside few readings;
ISO 5725-6:1994 uses them for single results. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from acquire.analysis.figures import rounded, suffix
from acquire.analysis.laws.special import bdtrc, fdtri
from acquire.analysis.laws.student import t_factor

BEYOND = 0.1


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

    def floor(self, n: int) -> float:
        """The standard deviation below which that of `n` readings is not taken; n above 1."""
        return self.sd * t_factor(self.nu) / t_factor(n - 1)

    def said(self, unit: str) -> str:
        """The figure with where it is from: ``0.21 GU from study 3 of 2026-11-20 (45 ...)``."""
        return (
            f"{rounded(self.sd, self.sd)}{suffix(unit)} from {self.source} "
            f"({self.nu:g} degrees of freedom)"
        )


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
    that no study of marked spots has in it does.
    """
    above = sum(
        sd > known.sd * math.sqrt(float(fdtri(nu, known.nu, 0.5)))
        for sd, nu in zip(sds, nus, strict=True)
    )
    return above > 0 and float(bdtrc(above - 1, len(sds), 0.5)) <= 0.05


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
        f"Repeatability in use: {known.said(unit)}, read at {level}. It stands for the scatter of "
        "zones that were read once; zones read more often are judged by their own scatter, and "
        "the mean of none is taken for surer than this figure makes it. It is lent to means no "
        "more than a tenth beyond those levels.",
    )
