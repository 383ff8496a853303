"""Lives, shares and criteria in words; never a number for a life that has not ended.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.analysis.durability.ending import ZoneLife
from acquire.analysis.durability.life import Life
from acquire.analysis.durability.retention import Kept
from acquire.analysis.figures import limits, rounded
from acquire.model import EndOfLife
from acquire.report.words.wording import listed


def washes(count: float) -> str:
    """``1 wash``, ``5 washes``."""
    return f"{count:g} wash" if count == 1 else f"{count:g} washes"


def life_words(life: Life) -> str:
    """How long it lasted, after a name: ``lasted at least 5 washes``."""
    if life.is_censored:
        if life.low == 0:
            return "lasted a number of washes that is not known"
        return f"lasted at least {washes(life.low)}"
    if life.low == 0:
        return f"was gone by {washes(life.high)}"
    if life.is_exact:
        return f"lasted {washes(life.low)} and was gone after the next"
    return f"lasted {life.low:g} to {washes(life.high)}"


def event_words(end: EndOfLife, symbol: str, *, is_film: bool = False) -> str:
    """What ends a life: ``half of its gain is lost``."""
    if end.lost is not None:
        part = "half" if end.lost == Decimal("0.5") else f"{_plain(100 * end.lost)} %"
        return f"{part} of its gain is lost"
    if is_film:
        below, level = ("below", end.below) if end.below is not None else ("above", end.above)
        return f"it lets {below} {level} % of its blank's light through"
    unit = f" {symbol}" if symbol else ""
    if end.below is not None:
        return f"its gain is below {end.below}{unit}"
    return f"its change is above {end.above}{unit}"


def percent(share: float, reach: float | None = None) -> str:
    """A share in percent, to the second digit of its reach; whole percents without one."""
    if reach is None:
        return f"{100 * share:.0f}".replace("-", "−")
    return rounded(100 * share, 100 * reach)


def kept_words(count: int, kept: Kept, criterion: float = 0.0) -> str:
    """``79 % after 5 washes (57 to 104 %)``; `criterion` is the share that ends a life, or 0."""
    assert kept.share is not None
    after = f"after {washes(count)}"
    if kept.low is None or kept.high is None:
        return f"{percent(kept.share)} % {after} (no interval: {kept.lacking})"
    share, low, high = kept_figures(kept.share, kept.low, kept.high, criterion)
    return f"{share} % {after} ({low} to {high} %)"


def kept_figures(share: float, low: float, high: float, criterion: float) -> tuple[str, str, str]:
    """A share and its interval in percent, the ends on the side of 0, 100 % and the criterion that
    they are on: whether something was lost, all of it, or what ends a life. 0 without one."""
    reach = (high - low) / 2
    beside = (0.0, 100.0, 100 * criterion)
    return percent(share, reach), *limits(100 * low, 100 * high, 100 * reach, beside)


def crossing_words(
    zones: Sequence[ZoneLife], end: EndOfLife, symbol: str, *, is_film: bool = False
) -> str:
    """Where the straight line between two counts meets the criterion; empty where it cannot.

    Of several zones those that have such a place are named with it.
    """
    met = [(z.zone, found) for z in zones if (found := crossing_of_zone(z)) is not None]
    if not met:
        return ""
    event = event_words(end, symbol, is_film=is_film)
    # No interval of the true count: courses bend, so the line has one and the course has the life.
    if len(zones) == 1:
        ((_, (at, limits)),) = met
        return (
            f"By a straight line between the counts {event} at {at} washes (the readings leave "
            f"that line {limits}; how the course bends between the counts is not in it)."
        )
    said = [f"at {at} washes on {zone} ({between})" for zone, (at, between) in met]
    return (
        f"By straight lines between the counts {event} {listed(said, len(said))}; in brackets what "
        "the readings leave of that line, without how the course bends between the counts."
    )


def crossing_of_zone(z: ZoneLife) -> tuple[str, str] | None:
    """At how many washes the line of a zone meets its criterion, and between which that may be."""
    crossing = z.crossing
    if crossing is None or crossing.count is None:
        return None
    low = rounded(crossing.low, crossing.low / 10)
    limits = (
        f"{low} to {rounded(crossing.high, crossing.high / 10)}"
        if crossing.high is not None
        else f"from {low} on"
    )
    return rounded(crossing.count, crossing.count / 10), limits


def _plain(figure: Decimal) -> str:
    return f"{figure.normalize():f}"
