"""How much of a gain is kept at each count of washes: the share, with an interval for it.

The share r = (gain at the count) / (first gain) has no simple uncertainty, since both gains have
the bare readings and the control in them. So its interval holds every r that the readings do not
contradict: all r for which gain − r (first gain) does not lie beyond its own reach, with a budget
made anew for each r (E. C. Fieller, J. R. Statist. Soc. B 16 (1954) 175, with this project's limit
in the place of Student's). It is bounded where the first gain itself is shown, and only then is
there anything to keep. Pure; any thread.
"""

from __future__ import annotations

from functools import cache

from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.durability.retention import Kept
from acquire.analysis.laws.root import crossing

_MOST_SHARE = 1e4
"""A share bounded no nearer than this is not; up to here sums of weights keep their digits."""
_PRECISE = 1e-4
"""Of the distance to the share: far below what is printed."""


def first_gain(course: Course, washing: Washing, alpha: float) -> Distance:
    """The gain at the last stage before washing."""
    return course.distance(gain_weights(washing), alpha)


def gain_weights(washing: Washing) -> dict[str, float]:
    """The gain at the last stage before washing, as weights of stages."""
    return {washing.bare: -1.0, washing.start: 1.0}


def kept_at(course: Course, washing: Washing, look: Washed, alpha: float) -> Kept:
    """The share of the first gain kept at a stage, of the zones that were read at all three."""
    count = float(look.washes)
    stages = (washing.bare, washing.start, look.stage)
    if why := course.lacking(stages):
        return Kept(count, None, lacking=why)

    def weights(share: float) -> dict[str, float]:
        return {washing.bare: share - 1.0, washing.start: -share, look.stage: 1.0}

    def less(share: float) -> Distance:
        return course.distance(weights(share), alpha)

    # Of the same zones as above and below the line.
    same = course.read_at(stages)
    gain = first_gain(same, washing, alpha)
    if gain.lacking or gain.estimate is None:
        return Kept(count, None, lacking=gain.lacking)
    if not gain.is_above:
        return Kept(count, None, lacking="no gain was shown before the first wash")
    now = same.distance({washing.bare: -1.0, look.stage: 1.0}, alpha)
    if now.estimate is None:
        return Kept(count, None, lacking=now.lacking)
    share = now.estimate / gain.estimate
    here = less(share)
    if here.u is None or here.reach is None:
        return Kept(count, share, lacking=here.lacking)
    # By first order the edge is one such step away; a little more mostly lies outside at once.
    step = 1.25 * max(here.reach / gain.estimate, 1e-9)

    @cache
    def outside(r: float) -> float:
        found = less(r)
        if found.estimate is None or found.reach is None:
            raise ArithmeticError(f"no budget at a share of {r}: {found.lacking}")
        return abs(found.estimate) - found.reach

    def edge(way: float) -> float | None:
        near, far = 0.0, step
        while abs(share + way * far) <= _MOST_SHARE:
            if outside(share + way * far) > 0:
                return share + way * crossing(
                    lambda s: outside(share + way * s), near, far, rel=_PRECISE
                )
            near, far = far, 2 * far
        return None

    if outside(share) > 0:
        return Kept(count, share, lacking="the readings are known to more digits than figures have")
    low, high = edge(-1.0), edge(1.0)
    if low is None or high is None:
        # The gain is shown by a hair: no share is ruled out.
        return Kept(count, share, lacking="the first gain is known too badly to bound its share")
    what = f"gain at {look.stage} less the share kept of the first"
    table = course.budget(what, weights(share), alpha)
    return Kept(
        count, share, here.u / gain.estimate, low, high, budget=table,
        is_of_one_zone=1 in (len(same.zones), len(same.control)),
    )  # fmt: skip
