"""The life of one zone: at each count, whether it surely passed, surely failed, or neither.

A look passes where the gain lies above its criterion by more than its reach, fails where it lies
below by more, and is open between, as a check of an instrument is (JCGM 106:2012, guarded). The
life goes from the last count that surely passed to the first that surely failed: an open look
makes it wider and never wrong. Passes are taken from the first look on and end at the first look
that is none, failures from the last look back: in such a fixed order each look may be judged at the
full level, and all of them together still err no more often than one (closed tests: R. Marcus, E.
Peritz and K. R. Gabriel, Biometrika 63 (1976) 655; fixed order: W. Maurer, L. A. Hothorn and W.
Lehmacher (1995); both from memory). Where the line between the counts meets the criterion is told
beside it, with an interval that holds the same relations. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.durability.criterion import Criterion
from acquire.analysis.durability.crossing import Crossing, crossing_of
from acquire.analysis.durability.keeping import first_gain, gain_weights
from acquire.analysis.durability.life import Life
from acquire.analysis.laws.student import t_factor

_BY_ITSELF = (
    "its gain is shown of all zones together and of this zone by itself not, so it cannot be told "
    "what this one lost: "
)
_TOO_FEW = (
    "{had} of each zone and stage are too few for that; {wanted} that scatter alike would show it"
)
_TOO_WIDE = "its readings, or zones from stage to stage, scatter too much for that"


class Verdict(StrEnum):
    """What a look shows."""

    PASSED = "passed"
    FAILED = "failed"
    OPEN = "too near to tell"
    UNREAD = "not judged"


class Look(NamedTuple):
    """A zone at a count: `distance` from the criterion, above 0 where it is met."""

    at: Washed
    distance: Distance
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class ZoneLife:
    """What is known of the life of a zone; `life` is None with `lacking` saying why.

    `gain` is the first gain; `has_no_gain` is set where a share of it should be lost and the
    treatment's is not shown, `is_unshown` where that is and the zone's by itself is not: looks mean
    nothing then. `crossing` is where the straight line between counts meets
    the criterion, None where the life has not ended or a look contradicts another. `remark` is a
    sentence where a later look passed again.
    """

    zone: str
    treatment: str
    gain: Distance
    looks: tuple[Look, ...]
    life: Life | None
    lacking: str
    crossing: Crossing | None
    remark: str = ""
    has_no_gain: bool = False
    is_unshown: bool = False

    @property
    def is_told(self) -> bool:
        """Whether more is known than that it did not fail before the first wash."""
        return self.life is not None and not (self.life.is_censored and self.life.low == 0)


def zone_life(
    zone: str, treatment: str, course: Course, washing: Washing, criterion: Criterion, alpha: float,
    whole: Distance | None = None,
) -> ZoneLife:  # fmt: skip
    """The life of the one zone of `course`, each look at the two-sided level `alpha`.

    `whole` is the first gain of the treatment where it has several zones: one that is not shown of
    it cannot be lost by one of them, however far that one lies from the control.
    """
    gain = first_gain(course, washing, alpha)
    looks = tuple(_look(course, washing, look, criterion, alpha) for look in washing.looks)
    if whole is not None and not whole.lacking and (why := _no_gain(whole, criterion)):
        return ZoneLife(zone, treatment, gain, looks, None, why, None, has_no_gain=True)
    if why := _no_gain(gain, criterion):
        if whole is None or gain.lacking:
            return ZoneLife(zone, treatment, gain, looks, None, why, None, has_no_gain=True)
        why = _BY_ITSELF + _why_unshown(course, washing, alpha)
        return ZoneLife(zone, treatment, gain, looks, None, why, None, is_unshown=True)
    life, lacking = _life_of(looks)
    remark, found = _remark(looks), None
    # Of a life that has not ended no count is told, not even one that the line would give.
    if life is not None and not life.is_censored and not remark:
        found = _crossing(course, washing, looks, criterion, alpha)
    return ZoneLife(zone, treatment, gain, looks, life, lacking, found, remark)


def _life_of(looks: Sequence[Look]) -> tuple[Life | None, str]:
    """The life by looks in the order of their counts, or why there is none."""
    judged = [x for x in looks if x.verdict is not Verdict.UNREAD]
    if not judged or judged[0].at.washes > 0:
        why = next((x.distance.lacking for x in looks if x.distance.lacking), "it was not read")
        return None, why
    passed = list(itertools.takewhile(lambda x: x.verdict is Verdict.PASSED, judged))
    failed = list(itertools.takewhile(lambda x: x.verdict is Verdict.FAILED, reversed(judged)))
    if judged[0].verdict is Verdict.FAILED:
        return None, "it failed the criterion before the first wash"
    if not passed:
        return None, "it is not shown that it met the criterion before the first wash"
    low = float(passed[-1].at.washes)
    return (Life(low, float(failed[-1].at.washes)) if failed else Life(low)), ""


def _remark(looks: Sequence[Look]) -> str:
    """A sentence where a look that surely passed comes after one that surely failed."""
    failed = next((x.at.washes for x in looks if x.verdict is Verdict.FAILED), None)
    if failed is None:
        return ""
    again = [x.at.washes for x in looks if x.verdict is Verdict.PASSED and x.at.washes > failed]
    if not again:
        return ""
    return (
        f"It failed at {failed} washes and passed again at {' and '.join(map(str, again))}: one of "
        "these looks may be wrong; look at both."
    )


def _no_gain(gain: Distance, criterion: Criterion) -> str:
    """Why a share of the gain cannot be lost; empty where it can, or a level is the criterion."""
    if not criterion.share:
        return ""
    if gain.lacking:
        return gain.lacking
    if gain.is_below:
        return "the treatment made it worse before the first wash, so there is no gain to lose"
    if not gain.is_above:
        return "no gain was shown before the first wash, so there is none to lose"
    return ""


def _why_unshown(course: Course, washing: Washing, alpha: float) -> str:
    """What keeps the gain of a zone by itself from being shown, as a part of a sentence."""
    wanted = course.readings_that_show(gain_weights(washing), alpha)
    if wanted is None:
        return _TOO_WIDE
    sides = (*course.zones.values(), *course.control.values())
    least = min(z[s].n for z in sides for s in (washing.bare, washing.start) if s in z)
    had = "1 reading" if least == 1 else f"{least} readings"
    return _TOO_FEW.format(had=had, wanted=wanted)


def _weights(washing: Washing, stage: str, criterion: Criterion) -> dict[str, float]:
    """The gain at `stage` less the share of the first gain, as weights of stages."""
    share = criterion.share
    found = {washing.bare: share - 1.0, washing.start: -share}
    found[stage] = found.get(stage, 0.0) + 1.0
    return found


def _look(course: Course, washing: Washing, at: Washed, criterion: Criterion, alpha: float) -> Look:
    found = course.distance(_weights(washing, at.stage, criterion), alpha, criterion.level)
    verdict = Verdict.OPEN
    if found.lacking:
        verdict = Verdict.UNREAD
    elif found.is_above:
        verdict = Verdict.PASSED
    elif found.is_below:
        verdict = Verdict.FAILED
    return Look(at, found, verdict)


def _crossing(
    course: Course,
    washing: Washing,
    looks: Sequence[Look],
    criterion: Criterion,
    alpha: float,
) -> Crossing | None:
    """Where the line between the looks meets the criterion.

    How the looks are related is taken from the uncertainty of each stage by itself, which is one
    error for all looks that have it; how far each reaches, from its own budget.
    """
    judged = [x for x in looks if x.verdict is not Verdict.UNREAD]
    # Without a control the levels of the stages share the meter's errors in unknown parts.
    if len(judged) < 2 or not course.control:
        return None
    stages = [washing.bare, *(x.stage for x in washing.looks)]
    us = [_stage_u(course, s, alpha) for s in stages]
    rows = np.array([_row(stages, _weights(washing, x.at.stage, criterion)) for x in judged])
    plain = (rows * np.array(us) ** 2) @ rows.T
    z = t_factor(math.inf, 1 - alpha)
    reaches = np.array([x.distance.reach or 0.0 for x in judged]) / z
    root = np.sqrt(np.diag(plain))
    scale = np.divide(reaches, root, out=np.zeros_like(root), where=root > 0)
    table = plain * np.outer(scale, scale)
    np.fill_diagonal(table, reaches**2)
    values = [x.distance.estimate or 0.0 for x in judged]
    counts = [float(x.at.washes) for x in judged]
    return crossing_of(counts, values, 0.0, covariance=table.tolist(), confidence=1 - alpha)


def _stage_u(course: Course, stage: str, alpha: float) -> float:
    """The standard uncertainty of treated less control at one stage; 0 where it is not known."""
    return course.distance({stage: 1.0}, alpha).u or 0.0


def _row(stages: Sequence[str], weights: Mapping[str, float]) -> list[float]:
    return [weights.get(s, 0.0) for s in stages]
