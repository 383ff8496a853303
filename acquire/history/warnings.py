"""Warnings of an outlook in plain words: one sentence what, one what to do next.

For a reader who knows nothing of charts; the name of meter and piece stands before them wherever
they are shown. Worst first. No colour, no sign, no abbreviation carries meaning alone. Any thread.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.figures import limits, rounded, signed, suffix, with_plus
from acquire.history.charting import Charting
from acquire.history.individuals import Baseline
from acquire.history.lack import Lack
from acquire.history.outlook import Outlook, is_past
from acquire.history.reach import Reach, Reached
from acquire.history.series import NS_A_DAY
from acquire.history.trend import Line
from acquire.model.instant import from_utc_ns

_MEND = (
    "Clean the piece and check again; if that does not help, re-adjust the meter and make a full "
    "check."
)


class Concern(StrEnum):
    """What a warning is about."""

    NO_ROOM = "no room"
    BEYOND = "beyond"
    LIMIT_PASSED = "limit passed"
    LIMIT_NEAR = "limit near"
    OUT_OF_CONTROL = "out of control"
    LIMIT_AHEAD = "limit ahead"
    SCATTER = "scatter"
    RESTLESS = "restless baseline"
    GAP = "gap"
    LITTLE = "little data"


class Warned(NamedTuple):
    """A whole warning."""

    concern: Concern
    what: str
    next_step: str


def warnings(seen: Outlook, charting: Charting | None = None) -> tuple[Warned, ...]:
    """What to tell of `seen`; empty when there is nothing to do."""
    charting = charting or Charting()
    found = [_room(seen), _limit(seen), _control(seen), _scatter(seen)]
    found += [_restless(seen), _gap(seen, charting), _little(seen)]
    return tuple(w for w in found if w is not None)


def dated(seen: Outlook, found: Reach) -> str:
    """One sentence on when the line reaches a limit, or why there is no date."""
    limit = _limit_text(seen, found)
    match found.state:
        case Reached.PAST:
            return f"The line through the checks already lies beyond {limit}."
        case Reached.UNRESOLVED:
            return f"No date for {limit}: no drift stands out of the scatter of the checks."
        case Reached.AWAY:
            return f"No date for {limit}: the deviations move away from it."
        case Reached.FAR if found.predicted is not None:
            return (
                f"The line does not reach {limit} within the time it can be trusted for, but from "
                f"{_date(seen, found.predicted)} on a single check may lie beyond."
            )
        case Reached.FAR:
            return f"No date for {limit}: not reached within the time the line can be trusted for."
    until = (
        f"and {_date(seen, found.latest)}"
        if found.latest is not None
        else "and a day too far ahead to tell"
    )
    single = (
        f"; a single check may lie beyond from {_date(seen, found.predicted)} on"
        if found.predicted is not None
        else ""
    )
    return (
        f"The deviation reaches {limit} on about {_date(seen, found.day)} (between "
        f"{_date(seen, found.earliest)} {until}){single}."
    )


def _room(seen: Outlook) -> Warned | None:
    if seen.edge > 0 or not len(seen.series):
        return None
    return Warned(
        Concern.NO_ROOM,
        "The uncertainty of a check is as large as the limit, so no check can pass.",
        "Take more readings of the piece, get a better certificate, or widen the limit in the "
        "check policy.",
    )


def _beyond(seen: Outlook) -> Warned:
    """What the last check alone says, be there a line or not."""
    last, unit = float(seen.series.deviation[-1]), suffix(seen.series.unit)
    return Warned(
        Concern.BEYOND,
        f"The last check found it {signed(last, seen.limit - seen.edge or None)}{unit} off, where "
        f"a check no longer passes (from about {seen.edge:.2g}{unit} on).",
        _MEND,
    )


def _limit(seen: Outlook) -> Warned | None:
    if seen.edge == 0:
        return None
    past = next((r for r in seen.reaches if is_past(r)), None)
    is_drift = isinstance(seen.line, Line) and seen.line.is_resolved
    if past is not None and (is_drift or not seen.is_beyond):
        return Warned(
            Concern.LIMIT_PASSED,
            f"The deviation has drifted to {_now(seen, past)}, beyond {_limit_text(seen, past)}, "
            "from where on a check does not pass.",
            _MEND,
        )
    if seen.is_beyond:
        return _beyond(seen)
    ahead = [r for r in seen.reaches if r.predicted is not None]
    if not ahead or seen.days_left is None:
        return None
    first = min(ahead, key=lambda r: r.predicted or math.inf)
    if not seen.is_near and first.state is not Reached.DATED:
        return None
    return Warned(
        Concern.LIMIT_NEAR if seen.is_near else Concern.LIMIT_AHEAD,
        f"{dated(seen, first).removesuffix('.')}; {_left(seen)}.",
        "Clean the piece and check again now, and plan a re-adjustment of the meter before that "
        "day."
        if seen.is_near
        else "Nothing is needed yet; plan a re-adjustment of the meter before that day.",
    )


def _control(seen: Outlook) -> Warned | None:
    if seen.charts is None or not seen.charts.signals or seen.since_ns is None:
        return None
    signals = seen.charts.signals
    rules = " and ".join(f"{s.what} ({s.by})" for s in signals[:2])
    more = f" and {len(signals) - 2} more" if len(signals) > 2 else ""
    return Warned(
        Concern.OUT_OF_CONTROL,
        f"The meter no longer repeats its earlier checks, since {_day(seen.since_ns)}: {rules}"
        f"{more}.",
        "Look for a cause on that day (piece dirty or scratched, lamp, warm-up, temperature, a "
        "knock), clean the piece and check again.",
    )


def _scatter(seen: Outlook) -> Warned | None:
    """A meter that stands still and yet fails: two sigma reach beyond the limit."""
    base = seen.baseline
    if not isinstance(base, Baseline) or not 0 < seen.edge < 2 * base.sigma + abs(base.centre):
        return None
    unit = suffix(seen.series.unit)
    return Warned(
        Concern.SCATTER,
        f"Checks lie at {signed(base.centre, base.sigma)} ± "
        f"{rounded(2 * base.sigma, 2 * base.sigma)}{unit} without any drift, so more than one in "
        "forty will not pass by chance.",
        "Clean the piece and take more readings at each check, or widen the limit in the check "
        "policy.",
    )


def _restless(seen: Outlook) -> Warned | None:
    base = seen.baseline
    if not isinstance(base, Baseline) or not base.restless:
        return None
    return Warned(
        Concern.RESTLESS,
        f"Among the {base.length} checks that set the control limits some jump by more than chance "
        "explains, so the limits are wider than they should be.",
        "Look at those checks; after the next re-adjustment new limits are set from quiet ones.",
    )


def _gap(seen: Outlook, charting: Charting) -> Warned | None:
    if not len(seen.series):
        return None
    days = (seen.now_ns - int(seen.series.at_ns[-1])) / NS_A_DAY
    if not days > charting.gap_days:
        return None
    return Warned(
        Concern.GAP,
        f"The last check was {days:.0f} days ago, and what the meter did since is not known.",
        "Make a check before trusting any date given here.",
    )


def _little(seen: Outlook) -> Warned | None:
    lack = next((x for x in (seen.baseline, seen.line) if isinstance(x, Lack)), None)
    return Warned(Concern.LITTLE, f"{lack.why}.", f"{lack.next_step}.") if lack else None


def _now(seen: Outlook, past: Reach) -> str:
    """Where the line stands, with the digits that show it beyond that limit."""
    line = seen.line
    assert isinstance(line, Line), "without a line no limit is passed"
    today = (seen.now_ns - int(seen.series.at_ns[0])) / NS_A_DAY
    at = line.stands(max(today, float(seen.series.days[-1])))
    half = (at.line_high - at.line_low) / 2
    unit = suffix(seen.series.unit)
    value, _ = limits(at.value, at.value, half, (past.limit,))
    return f"{with_plus(value)} ± {rounded(half, half)}{unit}"


def _left(seen: Outlook) -> str:
    days = math.floor(seen.days_left or 0.0)
    text = "that may be today" if days == 0 else f"{days} day{'' if days == 1 else 's'} are left"
    if days == 1:
        text = "1 day is left"
    if days and seen.checks_left is not None:
        text += f", about {seen.checks_left} check{'' if seen.checks_left == 1 else 's'}"
    return text


def _limit_text(seen: Outlook, found: Reach) -> str:
    """A limit is a setting, printed without the zeros a measured figure would have."""
    text = signed(found.limit, None)
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text + suffix(seen.series.unit)


def _date(seen: Outlook, day: float | None) -> str:
    assert day is not None, "only a day that is there is printed"
    return _day(seen.series.moment(day))


def _day(utc_ns: int) -> str:
    return from_utc_ns(utc_ns).date().isoformat()
