"""The outlook of one history: in control or not, since when, and how long until it blocks.

Charts and line are those of the segment that is going on: what was before a re-adjustment says
nothing of the meter as it is now. Whatever the data (one point, equal figures, equal moments, long
gaps) there is an answer: a figure, or a `Lack` that says why not. Never opens or closes the gate.
Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from acquire.history.charting import Charting
from acquire.history.cusum import Cusum, cusum
from acquire.history.ewma import Ewma, ewma
from acquire.history.individuals import Baseline, Individuals, baseline, individuals
from acquire.history.lack import Lack
from acquire.history.point import Point
from acquire.history.reach import Reach, Reached, reach
from acquire.history.runs import Breach, breaches
from acquire.history.segments import Segment, segments
from acquire.history.series import NS_A_DAY, Series
from acquire.history.signal import Signal, standing
from acquire.history.trend import Line, ordinary, weighted

NO_POINTS = Lack("There is no check with a figure yet", "Make the first check")


class Control(StrEnum):
    """What the charts say of the meter as it is now."""

    IN = "in control"
    OUT = "out of control"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True, eq=False)
class Charts:
    """The charts of the points after the baseline; `first` is the place in the series of theirs."""

    first: int
    individuals: Individuals
    breaches: tuple[Breach, ...]
    ewma: Ewma
    cusum: Cusum
    signals: tuple[Signal, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """All there is to say of one history at the moment `now_ns`.

    `current` is the segment going on (None without points), `baseline`, `charts` and `line` are of
    it. `since_ns` is the check at which the oldest standing signal began. `lower` and `upper` are
    the limits less the guard band, `edge` their distance from 0. `days_left` and `checks_left`
    count to the first day on which a check may lie beyond (0 if that may be today); None where no
    such day is in sight. `checks_left` goes by the usual time between checks.
    """

    series: Series
    segments: tuple[Segment, ...]
    now_ns: int
    limit: float
    edge: float
    control: Control
    since_ns: int | None
    baseline: Baseline | Lack
    charts: Charts | None
    line: Line | Lack
    lower: Reach | None
    upper: Reach | None
    days_left: float | None
    checks_left: int | None
    is_near: bool

    @property
    def current(self) -> Segment | None:
        return self.segments[-1] if self.segments else None

    @property
    def is_beyond(self) -> bool:
        """Whether the last check itself lies where no check passes, whatever a line says."""
        last = self.series.deviation[-1:]
        return self.edge > 0 and bool(len(last)) and abs(float(last[0])) > self.edge

    @property
    def reaches(self) -> tuple[Reach, ...]:
        return tuple(r for r in (self.lower, self.upper) if r is not None)


def outlook(
    points: Iterable[Point] | Series,
    *,
    limit: float,
    now_ns: int,
    guard: float = 0.0,
    charting: Charting | None = None,
) -> Outlook:
    """The outlook of a history against the policy's `limit` on |deviation|.

    `guard` is the expanded uncertainty of a check: from `limit` - `guard` on a check is undecided
    and does not open the gate (JCGM 106), so that is where dates aim. Where the guard leaves no
    room there are no dates and every day is near. Raises ValueError for a limit that is not
    positive, a negative guard, or points of several units.
    """
    if not (limit > 0 and guard >= 0):
        raise ValueError(
            f"a limit above 0 and a guard of at least 0 are wanted, got {limit} and {guard}"
        )
    charting = charting or Charting()
    series = points if isinstance(points, Series) else Series.of(points)
    parts = segments(series)
    edge = max(limit - guard, 0.0)
    if not parts:
        return Outlook(
            series, parts, now_ns, limit, edge, Control.UNKNOWN, None, NO_POINTS, None, NO_POINTS,
            None, None, None, None, False,
        )  # fmt: skip
    current = parts[-1]
    base = baseline(current.deviation, charting.baseline, charting.floor)
    charts = _charts(current, base, charting) if isinstance(base, Baseline) else None
    control, since_ns = _control(series, charts)
    today = max((now_ns - int(series.at_ns[0])) / NS_A_DAY, float(series.days[-1]))
    line, interval = _line(series, current, charting, today)
    lower = upper = None
    days_left: float | None = 0.0 if edge == 0 else None
    if isinstance(line, Line) and edge > 0:
        span = line.last_day - line.first_day
        horizon = today + min(charting.horizon_days, charting.horizon_spans * span)
        lower, upper = (reach(line, side * edge, today, horizon) for side in (-1, 1))
        ahead = [r.predicted for r in (lower, upper) if r.predicted is not None]
        days_left = min(ahead) - today if ahead else None
    checks_left = None
    if days_left is not None and interval is not None:
        checks_left = int(days_left / interval)
    return Outlook(
        series=series,
        segments=parts,
        now_ns=now_ns,
        limit=limit,
        edge=edge,
        control=control,
        since_ns=since_ns,
        baseline=base,
        charts=charts,
        line=line,
        lower=lower,
        upper=upper,
        days_left=days_left,
        checks_left=checks_left,
        is_near=days_left is not None
        and (
            days_left < charting.early_days
            or (checks_left is not None and checks_left < charting.early_checks)
        ),
    )


def _charts(current: Segment, base: Baseline, charting: Charting) -> Charts:
    chart = individuals(current.deviation, base)
    found = breaches(chart.z, charting.rules)
    average = ewma(chart.z, charting.ewma_weight, charting.ewma_width)
    sums = cusum(chart.z, charting.cusum_k, charting.cusum_h)
    signals = standing(len(chart.z), found, average, sums, charting)
    return Charts(current.start + base.length, chart, found, average, sums, signals)


def _control(series: Series, charts: Charts | None) -> tuple[Control, int | None]:
    if charts is None or not len(charts.individuals.z):
        return Control.UNKNOWN, None
    if not charts.signals:
        return Control.IN, None
    return Control.OUT, int(series.at_ns[charts.first + charts.signals[0].since])


def _line(
    series: Series, current: Segment, charting: Charting, today: float
) -> tuple[Line | Lack, float | None]:
    """The line through the last part of the segment, and the usual days between its checks."""
    days = series.days[current.start : current.stop]
    taken = days >= days[-1] - charting.trend_days
    used, values = days[taken], current.deviation[taken]
    if charting.is_weighted:
        u = series.u[current.start : current.stop][taken]
        line = weighted(used, values, u, confidence=charting.confidence, floor=charting.floor)
    else:
        line = ordinary(used, values, confidence=charting.confidence, floor=charting.floor)
    if isinstance(line, Line):
        span = line.last_day - line.first_day
        if today - line.last_day > charting.horizon_spans * span:
            line = _too_short(span)
    steps = np.diff(used)
    steps = steps[steps > 0]
    return line, float(np.median(steps)) if len(steps) else None


def _too_short(span_days: float) -> Lack:
    hours = math.ceil(span_days * 24)
    within = f"{math.ceil(span_days)} days" if hours > 48 else f"{hours} hours"
    return Lack(
        "The checks since the meter or the certificate last changed lie within "
        f"{'less than an hour' if hours <= 1 else within}, too short a time to say anything of "
        "today",
        "Check again",
    )


def is_past(found: Reach | None) -> bool:
    """Whether the line stands beyond this limit."""
    return found is not None and found.state is Reached.PAST
