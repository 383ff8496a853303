"""The charts of one history: individuals, moving ranges, EWMA, CUSUM and the trend. Pure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acquire.drift.foreseen import Block
from acquire.drift.history import Seen
from acquire.drift.words import REASONS, day
from acquire.history.outlook import Charts, Outlook
from acquire.history.segments import Cut
from acquire.history.series import NS_A_DAY, Floats
from acquire.history.trend import Line
from acquire.model import from_utc_ns
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.timeline import Timeline
from acquire.units import symbol

MOST_CUTS = 6
"""More words than these would lie upon each other."""

OPENING = 30
"""After so many checks the limits of an EWMA with a weight of a fifth stand still."""


def trend_plot(seen: Seen, past: Sequence[Block] = (), paper: Paper = SCREEN) -> str:
    """All deviations over time, the limits, and the line with the interval of one further check.

    While the last stretch has too few checks for a line, that by which the last of the `past`
    blocks was foreseen.
    """
    series, found = seen.history.series, seen.outlook
    limit = seen.history.limit
    shown, offset = _line(seen, past)
    line = shown.line if shown is not None and isinstance(shown.line, Line) else None
    end = float(series.days[-1])
    if shown is not None and line is not None:
        end = max(end, offset + line.last_day + max((line.last_day - line.first_day) * 0.25, 1e-6))
        reached = [offset + r.day for r in shown.reaches if r.day is not None]
        end = max(end, min((d * 1.02 for d in reached), default=end))
    days = np.linspace(offset + line.first_day, end, 12) if line is not None else np.zeros(0)
    predicted = [line.at(float(d) - offset) for d in days] if line is not None else []
    plot = Timeline(0.0, end, [*_ends(series.deviation), limit, -limit], paper=paper)
    if predicted:
        plot.area(days.tolist(), [p.low for p in predicted], [p.high for p in predicted])
    for side in (-1, 1):
        plot.level(side * limit, Ink.TEXT)
        if 0 < found.edge < limit:
            plot.level(side * found.edge, Ink.SOFT, is_dashed=True)
    cuts = [s for s in found.segments if s.cut is not Cut.FIRST]
    for segment in cuts:
        word = REASONS[segment.cut] if len(cuts) <= MOST_CUTS else ""
        plot.upright(float(series.days[segment.start]), word)
    for segment in found.segments:
        own = slice(segment.start, segment.stop)
        plot.course(series.days[own], series.deviation[own])
    beyond = np.abs(series.deviation) > limit * (1 + 1e-9)
    plot.crosses(series.days[beyond], series.deviation[beyond])
    if predicted:
        ends = days[[0, -1]]
        plot.course(
            ends, np.array([predicted[0].value, predicted[-1].value]), Ink.TEXT, is_dashed=True
        )
    plot.foot(_labels([(x, series.moment(x)) for x in _apart(0.0, end)]))
    unit = symbol(series.unit) if series.unit else ""
    return plot.svg(f"Trend of {_title(seen)}: deviation{f', {unit}' if unit else ''}")


def _line(seen: Seen, past: Sequence[Block]) -> tuple[Outlook | None, float]:
    """Whose line is drawn, and the day of the series from which its own days count."""
    if isinstance(seen.outlook.line, Line):
        return seen.outlook, 0.0
    series = seen.history.series
    for block in reversed(past):
        if block.line is not None and block.seen is not None:
            return block.seen, float((block.seen.series.at_ns[0] - series.at_ns[0]) / NS_A_DAY)
    return None, 0.0


def control_plots(seen: Seen) -> list[tuple[str, str]]:
    """Captions and drawings of the control charts of the stretch that is going on; maybe none."""
    charts, current = seen.outlook.charts, seen.outlook.current
    if charts is None or current is None or not len(charts.individuals.z):
        return []
    return [
        ("Each check: individuals chart", _individuals(seen, charts, current.deviation)),
        ("From check to check: moving range chart", _ranges(seen, charts, current.deviation)),
        ("Weighted average: EWMA chart", _ewma(seen, charts, len(current))),
        ("Running sums: CUSUM chart", _cusum(seen, charts, len(current))),
    ]


def _individuals(seen: Seen, charts: Charts, values: Floats) -> str:
    base = charts.individuals.baseline
    plot = Timeline(0, len(values) - 1, [*_ends(values), base.lower, base.upper])
    plot.shade(0, base.length - 1)
    for value in (base.lower, base.upper):
        plot.level(value, Ink.LEFT_OUT, is_dashed=True)
    plot.level(base.centre, Ink.SOFT)
    plot.course(np.arange(float(len(values))), values)
    is_broken = np.zeros(len(values), bool)
    is_broken[[base.length + p for b in charts.breaches for p in b.points]] = True
    broken = np.flatnonzero(is_broken)
    plot.crosses(broken.astype(float), values[broken])
    _days(plot, seen, len(values))
    return plot.svg(f"Individuals chart of {_title(seen)}")


def _ranges(seen: Seen, charts: Charts, values: Floats) -> str:
    base = charts.individuals.baseline
    ranges = np.abs(np.diff(values))
    plot = Timeline(0, len(values) - 1, [*_ends(ranges), 0.0, base.range_upper])
    plot.shade(0, base.length - 1)
    plot.level(base.range_upper, Ink.LEFT_OUT, is_dashed=True)
    plot.level(base.mean_range, Ink.SOFT)
    plot.course(np.arange(1.0, len(values)), ranges)
    broken = np.flatnonzero(charts.individuals.range_breaches) + base.length
    plot.crosses(broken.astype(float), ranges[broken - 1])
    _days(plot, seen, len(values))
    return plot.svg(f"Moving range chart of {_title(seen)}")


def _ewma(seen: Seen, charts: Charts, count: int) -> str:
    base, chart = charts.individuals.baseline, charts.ewma
    average = base.centre + base.sigma * chart.average
    low, high = (base.centre + side * base.sigma * chart.half_width for side in (-1, 1))
    outer = [base.centre + side * base.sigma * chart.asymptote for side in (-1, 1)]
    plot = Timeline(0, count - 1, [*_ends(average), *outer])
    xs = np.arange(float(len(average))) + base.length
    plot.level(base.centre, Ink.SOFT)
    # The limits open within a few checks and are level from there on.
    places = [*range(min(OPENING, len(xs) - 1)), len(xs) - 1]
    for limit in (low, high):
        plot.course(xs[places], limit[places], Ink.LEFT_OUT, is_dashed=True, width=1.3)
    plot.course(xs, average)
    plot.crosses(xs[chart.beyond], average[chart.beyond])
    _days(plot, seen, count)
    return plot.svg(f"EWMA chart of {_title(seen)}")


def _cusum(seen: Seen, charts: Charts, count: int) -> str:
    base, chart = charts.individuals.baseline, charts.cusum
    xs = np.arange(float(len(chart.upper))) + base.length
    # A sum that runs on for years after its alarm would press all else flat.
    most = 4 * chart.h
    upper, lower = np.minimum(chart.upper, most), -np.minimum(chart.lower, most)
    plot = Timeline(0, count - 1, [*_ends(upper), *_ends(lower), chart.h, -chart.h])
    plot.level(0.0, Ink.SOFT)
    for value in (-chart.h, chart.h):
        plot.level(value, Ink.LEFT_OUT, is_dashed=True)
    for sums in (upper, lower):
        plot.course(xs, sums)
        beyond = np.abs(sums) > chart.h * (1 + 1e-9)
        plot.crosses(xs[beyond], sums[beyond])
    _days(plot, seen, count)
    return plot.svg(f"CUSUM chart of {_title(seen)}")


def _days(plot: Timeline, seen: Seen, count: int) -> None:
    """The days of some checks below a drawing that has one place a check."""
    current, series = seen.outlook.current, seen.history.series
    assert current is not None, "only a stretch with checks is drawn"
    places = _apart(0.0, float(count - 1))
    at_ns = [int(series.at_ns[current.start + round(place)]) for place in places]
    plot.foot(_labels(list(zip(places, at_ns, strict=True))))


def _labels(moments: Sequence[tuple[float, int]]) -> list[tuple[float, str]]:
    """Days, or hours (UTC) where all lies within a few days."""
    is_short = moments[-1][1] - moments[0][1] < 3 * NS_A_DAY
    return [
        (place, f"{from_utc_ns(ns):%m-%d %H:%M}" if is_short else day(ns)) for place, ns in moments
    ]


def _ends(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _apart(low: float, high: float) -> Sequence[float]:
    return (low, (low + high) / 2, high)


def _title(seen: Seen) -> str:
    return f"{seen.history.place}, read by {seen.history.instrument}"
