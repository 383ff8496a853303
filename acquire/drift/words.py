"""A history in words, for terminal, page and report. Pure; any thread.

Days are of UTC, as everywhere in reports. Nothing here decides anything.
"""

from __future__ import annotations

import math

from acquire.analysis.figures import rounded, signed, suffix, with_reach
from acquire.drift.history import Seen
from acquire.history.lack import Lack
from acquire.history.outlook import Control
from acquire.history.reach import Reach, Reached
from acquire.history.segments import Cut, Segment
from acquire.history.series import NS_A_DAY
from acquire.history.warnings import dated
from acquire.model import from_utc_ns

REASONS = {
    Cut.FIRST: "first check",
    Cut.READJUSTED: "re-adjusted",
    Cut.CERTIFICATE: "certificate changed",
}
"""Why a stretch of the history begins."""


def day(utc_ns: int) -> str:
    return from_utc_ns(utc_ns).date().isoformat()


def state(seen: Seen) -> str:
    """Beyond where a check passes, in control, out of control since a day, or not known."""
    found = seen.outlook
    if found.is_beyond:
        return "does not pass"
    if found.control is Control.OUT and found.since_ns is not None:
        return f"{found.control.value} since {day(found.since_ns)}"
    return found.control.value


def latest(seen: Seen) -> str:
    """The last deviation, to the digits that its uncertainty leaves."""
    return signed(float(seen.history.series.deviation[-1]), seen.history.guard)


def last(seen: Seen) -> str:
    """The last deviation with its uncertainty, and the limit that it must keep."""
    history, series = seen.history, seen.history.series
    unit = suffix(series.unit)
    u = history.guard
    return (
        f"{latest(seen)} ± {rounded(u, u)}{unit} on "
        f"{day(int(series.at_ns[-1]))} (check {series.checks[-1]}); limit "
        f"±{_setting(history.limit)}{unit}"
    )


def trend(seen: Seen) -> str:
    """How fast it drifts, and where the next check will lie; or why that is not known."""
    line = seen.outlook.line
    if isinstance(line, Lack):
        return f"{line.why}. {line.next_step}."
    unit = suffix(seen.history.series.unit)
    span = line.last_day - line.first_day
    per, name = next(
        (days, word)
        for days, word in ((30.0, "month"), (7.0, "week"), (1.0, "day"), (1 / 24, "hour"),
                           (1 / 1440, "minute"))
        if span >= 2 * days or word == "minute"
    )  # fmt: skip
    half = line.factor * line.u_slope * per
    slope, reach = with_reach(line.slope * per, half)
    drift = f"{slope} ± {reach}{unit} a {name}"
    told = (
        f"drifts by {drift}" if line.is_resolved else f"no drift stands out of the scatter: {drift}"
    )
    today = (seen.outlook.now_ns - int(seen.history.series.at_ns[0])) / NS_A_DAY
    at = line.at(max(today, line.last_day))
    between = f"{signed(at.low, line.scatter)} and {signed(at.high, line.scatter)}{unit}"
    return f"{told} ({line.count} checks); the next check is expected between {between}"


def ahead(seen: Seen) -> list[str]:
    """When a limit will be reached and how many checks are left, or why there is no such day."""
    found = seen.outlook
    told = [dated(found, r) for r in found.reaches if r.state is not Reached.AWAY]
    if found.reaches and all(r.state is Reached.UNRESOLVED for r in found.reaches):
        return ["no date for a limit: no drift stands out of the scatter of the checks"]
    return told + ([f"left: {left(seen)}"] if found.days_left is not None else [])


def left(seen: Seen) -> str:
    """Days and checks until one may lie beyond the limit."""
    found = seen.outlook
    assert found.days_left is not None, "only what is in sight is counted"
    days = math.floor(found.days_left)
    text = "less than a day" if days == 0 else f"{days} day{'' if days == 1 else 's'}"
    if found.checks_left:
        text += f", about {found.checks_left} check{'' if found.checks_left == 1 else 's'}"
    return text


def nearest(seen: Seen) -> Reach | None:
    """The limit that is reached first, if one is in sight."""
    reached = [r for r in seen.outlook.reaches if r.predicted is not None]
    return min(reached, key=lambda r: r.predicted or 0.0, default=None)


def cuts(seen: Seen) -> list[str]:
    """Each stretch of the history and why it begins, the latest first."""
    return [cut_words(seen, segment) for segment in reversed(seen.outlook.segments)]


def cut_words(seen: Seen, segment: Segment) -> str:
    series = seen.history.series
    count = len(segment)
    return (
        f"{REASONS[segment.cut]} {day(int(series.at_ns[segment.start]))}: "
        f"{count} check{'' if count == 1 else 's'}"
    )


def adjustments(seen: Seen) -> list[tuple[str, str, str]]:
    """Day, as found (the last check before) and as left (the first one after) of re-adjustments."""
    series, u = seen.history.series, seen.history.guard
    unit = suffix(series.unit)
    return [
        (
            day(int(series.at_ns[s.start])),
            f"{signed(float(series.deviation[s.start - 1]), u)}{unit}",
            f"{signed(float(series.deviation[s.start]), u)}{unit}",
        )
        for s in seen.outlook.segments
        if s.cut is Cut.READJUSTED
    ]


def _setting(value: float) -> str:
    """A figure that somebody set, without zeros that a measured one would have."""
    text = rounded(value, None)
    return text.rstrip("0").rstrip(".") if "." in text else text
