"""When a line through past checks reaches a limit, and when a check may first lie beyond it.

The line reaches limit E at d = (E - level)/slope days from its mean day. Its interval are the days
at which E lies in the interval of the line (E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175): with
c = E - level, b the slope, t the factor and v0, vs the variances of `acquire.history.trend`, the
roots of (b^2 - t^2 vs) d^2 - 2 b c d + c^2 - t^2 v0 = 0. They exist as an interval exactly where
the slope is resolved. With v0 grown by the variance of one check, the earlier root is the day from
which the prediction interval reaches E: the date to act before.

A date is told only where the slope is resolved, and of few checks that picks lines that came out
steep: then it comes too early in more than its share, which errs on the side of checking sooner. Of
drifts that half of drawn histories showed the interval held the day in 88, 92, 94 and 96 of 100 by
four, six, eight and ten checks.

There is no date where the slope is not resolved, where it points away, or beyond the horizon: a
line says little of times much longer than those it was seen in. Pure; any thread.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import NamedTuple

from acquire.history.trend import Line


class Reached(StrEnum):
    """What is known of one limit."""

    DATED = "dated"
    """The line reaches it within the horizon."""
    PAST = "past"
    """The line stands beyond it already: its level does, where it tells no way."""
    FAR = "far"
    """Not within the horizon."""
    AWAY = "away"
    """The line goes the other way."""
    UNRESOLVED = "unresolved"
    """Up and down cannot be told apart."""


class Reach(NamedTuple):
    """Days as in the line; None where there is none within the horizon, or none at all.

    `day` is when the line reaches `limit`, between `earliest` and `latest`; `predicted` when the
    interval of one further check does. `earliest` and `predicted` are never before today.
    """

    limit: float
    state: Reached
    day: float | None = None
    earliest: float | None = None
    latest: float | None = None
    predicted: float | None = None


def reach(line: Line, limit: float, today: float, horizon: float) -> Reach:
    """When `line` reaches `limit`: from below if the limit is positive, else from above.

    `today` and `horizon` are days of the line; nothing later than the horizon is given.
    """
    side = -1.0 if limit < 0 else 1.0
    slope, room = side * line.slope, side * (limit - line.level)
    if side * (line.stands(today).value - limit) >= 0:
        return Reach(limit, Reached.PAST, predicted=today)
    if not line.is_resolved:
        return Reach(limit, Reached.UNRESOLVED)
    if slope < 0:
        return Reach(limit, Reached.AWAY)
    # In days, by dividing by the slope: no square of a small figure is ever taken.
    t = line.factor
    far, lean, wide = room / slope, t * line.u_slope / slope, t * line.u_level / slope
    check = math.hypot(wide, t * line.scatter / slope)
    earliest, latest = (line.mean_day + root for root in _roots(far, lean, wide))
    day, predicted = line.mean_day + far, line.mean_day + _roots(far, lean, check)[0]
    is_dated = day <= horizon
    return Reach(
        limit,
        Reached.DATED if is_dated else Reached.FAR,
        day if is_dated else None,
        _within(max(earliest, today), horizon) if is_dated else None,
        _within(latest, horizon) if is_dated else None,
        _within(max(predicted, today), horizon),
    )


def _roots(far: float, lean: float, wide: float) -> tuple[float, float]:
    """Both roots of (1 - lean^2) d^2 - 2 far d + far^2 - wide^2 = 0, lean below 1."""
    if not (math.isfinite(far) and math.isfinite(wide)):
        return math.inf, math.inf
    lead = (1 - lean) * (1 + lean)
    if not lead > 0:
        return -math.inf, math.inf
    half = math.hypot(lean * far, math.sqrt(lead) * wide)
    return (far - half) / lead, (far + half) / lead


def _within(day: float, horizon: float) -> float | None:
    return day if day <= horizon else None
